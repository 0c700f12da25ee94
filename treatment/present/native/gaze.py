"""From where the window looks: turning, moving, coming nearer, and views to go back to."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from treatment.bands import Array, frozen
from treatment.present.camera import VIEW_ANGLE, Camera, Margins, choose_camera, framed, toward
from treatment.present.forms import Drawables

#: Share of the window that texts need: the legend stands at the bottom, what was clicked at the top left.
MARGINS: Final[Margins] = (0.04, 0.04, 0.07, 0.17)
#: Azimuth and elevation of the views that look at the room from outside, degrees.
_OUTSIDE: Final = {
    "plan": (0.0, 88.9),
    "front": (0.0, 4.0),
    "back": (180.0, 4.0),
    "left": (90.0, 4.0),
    "right": (-90.0, 4.0),
}
_HIGHEST: Final = 88.9
_LOWEST: Final = -60.0
#: Opening of the view from a seat: about what one sees without moving the head.
_SEATED_ANGLE: Final = 62.0


@dataclass(frozen=True, eq=False)
class Gaze:
    """A place to look from.

    Parameters
    ----------
    focus : numpy.ndarray
        What is turned about; from a seat, the eye. Shape (3,), m.
    azimuth, elevation : float
        Direction back from what is looked at, as in `camera.toward`, degrees.
    distance : float
        From the focus, m.
    view_angle : float
        Vertical opening, degrees.
    reach : float
        Diagonal of the room, m.
    inside : bool
        True where the eye stays and the head turns.
    """

    focus: Array
    azimuth: float
    elevation: float
    distance: float
    view_angle: float
    reach: float
    inside: bool = False

    def camera(self, size: tuple[int, int]) -> Camera:
        """Camera for a picture.

        Parameters
        ----------
        size : tuple of int
            Width and height in pixels.

        Returns
        -------
        Camera
            Upright.
        """
        back = toward(self.azimuth, self.elevation)
        if self.inside:
            return Camera(self.focus, self.focus - back, self.view_angle, size, (0.05, 4.0 * self.reach))
        eye = self.focus + self.distance * back
        # Near and far close about the room: depths are told apart to a fraction of a millimetre.
        span = (max(self.distance - 1.5 * self.reach, 0.05), self.distance + 1.5 * self.reach)
        return Camera(eye, self.focus, self.view_angle, size, span)


def turned(gaze: Gaze, right: float, up: float) -> Gaze:
    """Turn the room, or the head.

    Parameters
    ----------
    gaze : Gaze
        Before.
    right, up : float
        How far the picture goes to the right and upwards, degrees.

    Returns
    -------
    Gaze
        After; it never tips over.
    """
    sense = -1.0 if gaze.inside else 1.0  # a head turns against its picture
    elevation = min(max(gaze.elevation - sense * up, _LOWEST), _HIGHEST)
    azimuth = (gaze.azimuth - sense * right + 180.0) % 360.0 - 180.0
    return replace(gaze, azimuth=azimuth, elevation=elevation)


def zoomed(gaze: Gaze, factor: float) -> Gaze:
    """Come nearer or step back.

    Parameters
    ----------
    gaze : Gaze
        Before.
    factor : float
        Of the distance, or of the view's opening where the eye stays.

    Returns
    -------
    Gaze
        After, within what is sensible.
    """
    if gaze.inside:
        return replace(gaze, view_angle=min(max(gaze.view_angle * factor, 15.0), 95.0))
    return replace(gaze, distance=min(max(gaze.distance * factor, 0.3 * gaze.reach), 8.0 * gaze.reach))


def moved(gaze: Gaze, right: float, down: float, height: int) -> Gaze:
    """Move the picture across the window.

    Parameters
    ----------
    gaze : Gaze
        Before.
    right, down : float
        In pixels.
    height : int
        Of the window, pixels.

    Returns
    -------
    Gaze
        After; where the eye stays, it turns.
    """
    if gaze.inside:
        k = gaze.view_angle / height
        return turned(gaze, k * right, -k * down)
    back = toward(gaze.azimuth, gaze.elevation)
    across = np.cross([0.0, 0.0, 1.0], back)
    across = across / np.linalg.norm(across)
    upward = np.cross(back, across)
    scale = 2.0 * gaze.distance * np.tan(np.radians(gaze.view_angle / 2.0)) / height
    focus = gaze.focus - scale * (right * across - down * upward)
    return replace(gaze, focus=frozen(focus))


def saved_gaze(
    name: str,
    drawables: Drawables,
    size: tuple[int, int],
    eye: Array | None = None,
    ahead: Array | None = None,
) -> Gaze:
    """One of the views to go back to.

    Parameters
    ----------
    name : str
        One of `state.VIEWS`.
    drawables : Drawables
        The room.
    size : tuple of int
        Width and height of the picture in pixels.
    eye, ahead : numpy.ndarray, optional
        For the view from a seat: the ears, and what is looked at, shape (3,), m.

    Returns
    -------
    Gaze
        ``seat`` without an eye is the view from a corner.
    """
    low, high = drawables.bounds
    reach = float(np.linalg.norm(high - low))
    if name == "seat" and eye is not None:
        target = np.array([low[0], (low[1] + high[1]) / 2.0, eye[2]]) if ahead is None else ahead
        back = np.asarray(eye) - target
        flat = float(np.hypot(back[0], back[1]))
        return Gaze(
            frozen(eye),
            float(np.degrees(np.arctan2(back[1], back[0]))) if flat > 1e-6 else 0.0,
            float(np.degrees(np.arctan2(back[2], max(flat, 1e-6)))),
            reach,
            _SEATED_ANGLE,
            reach,
            inside=True,
        )
    if name in _OUTSIDE:
        camera = framed(drawables, *_OUTSIDE[name], size, MARGINS)
    else:
        camera = choose_camera(drawables, size, MARGINS)
    back = camera.position - camera.focus
    distance = float(np.linalg.norm(back))
    return Gaze(
        frozen(camera.focus),
        float(np.degrees(np.arctan2(back[1], back[0]))),
        float(np.degrees(np.arcsin(back[2] / distance))),
        distance,
        VIEW_ANGLE,
        reach,
    )
