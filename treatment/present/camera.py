"""From where a room is looked at, and where its points fall in a picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from treatment.bands import Array
from treatment.present.forms import Drawables, Face

_VIEW_ANGLE = 26.0
_ELEVATION = 34.0


@dataclass(frozen=True, eq=False)
class Camera:
    """A camera with z upright in its picture.

    Parameters
    ----------
    position, focus : numpy.ndarray
        Shape (3,), m.
    view_angle : float
        Vertical opening in degrees.
    size : tuple of int
        Picture in pixels.
    clipping : tuple of float
        Nearest and farthest distance that is painted, m.
    """

    position: Array
    focus: Array
    view_angle: float
    size: tuple[int, int]
    clipping: tuple[float, float]

    def pixels(self, points: Array) -> Array:
        """Place points in the picture.

        Parameters
        ----------
        points : numpy.ndarray
            Shape (k, 3), m.

        Returns
        -------
        numpy.ndarray
            Column, row and distance, shape (k, 3).
        """
        ahead, right, up = _axes(self.position, self.focus)
        d = points - self.position
        depth = d @ ahead
        focal = self.size[1] / 2.0 / np.tan(np.radians(self.view_angle / 2.0))
        return np.stack(
            [
                self.size[0] / 2.0 + focal * (d @ right) / depth,
                self.size[1] / 2.0 - focal * (d @ up) / depth,
                depth,
            ],
            axis=-1,
        )


def _axes(position: Array, focus: Array) -> tuple[Array, Array, Array]:
    ahead = (focus - position) / np.linalg.norm(focus - position)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right = right / np.linalg.norm(right)
    return ahead, right, np.cross(right, ahead)


def faces_camera(face: Face, position: Array) -> bool:
    """Tell whether a face shows its painted side; only the room's own surfaces have just one.

    Parameters
    ----------
    face : Face
        Any face.
    position : numpy.ndarray
        Of the camera, shape (3,), m.

    Returns
    -------
    bool
        False for a wall that stands between the camera and the room.
    """
    if face.group not in ("room", "opening"):
        return True
    return bool((position - face.rings[0].mean(axis=0)) @ face.normal > 0.0)


def choose_camera(drawables: Drawables, size: tuple[int, int]) -> Camera:
    """Choose the upper corner from which most panels face the viewer, and step back until all fits.

    Parameters
    ----------
    drawables : Drawables
        The room.
    size : tuple of int
        Picture in pixels.

    Returns
    -------
    Camera
        A view from behind the seats unless another corner shows more.
    """
    low, high = drawables.bounds
    panels = {f.name: f for f in drawables.faces if f.group == "panel"}
    best: tuple[float, Camera] | None = None
    # 30 degrees off the long axis shows the front wall and one side; both sides are tried.
    for azimuth, handicap in ((32.0, 0.0), (-32.0, 0.1), (148.0, 2.0), (-148.0, 2.1)):
        direction = np.array(
            [
                np.cos(np.radians(_ELEVATION)) * np.cos(np.radians(azimuth)),
                np.cos(np.radians(_ELEVATION)) * np.sin(np.radians(azimuth)),
                np.sin(np.radians(_ELEVATION)),
            ]
        )
        camera = _framed(drawables, (low + high) / 2.0, float(np.linalg.norm(high - low)), direction, size)
        away = sum(1 for f in panels.values() if hides_room(f, camera.position))
        cost = away / max(len(panels), 1) * 10.0 + handicap
        if best is None or cost < best[0]:
            best = (cost, camera)
    return best[1] if best else camera


def hides_room(face: Face, position: Array) -> bool:
    """Tell whether a panel hangs on a wall that is cut away, so that its back is seen.

    Parameters
    ----------
    face : Face
        A face of a panel.
    position : numpy.ndarray
        Of the camera, shape (3,), m.

    Returns
    -------
    bool
        True when the panel's wall stands between the camera and the room.
    """
    return face.facing is not None and bool((position - face.rings[0].mean(axis=0)) @ face.facing <= 0.0)


def _framed(
    drawables: Drawables, middle: Array, reach: float, direction: Array, size: tuple[int, int]
) -> Camera:
    """Step back and aside until what is seen fills the picture inside its margins."""
    distance, focus = 2.5 * reach, middle
    left, right, top, bottom = 0.22 * size[0], 0.04 * size[0], 0.08 * size[1], 0.04 * size[1]
    camera = Camera(focus + distance * direction, focus, _VIEW_ANGLE, size, (0.1, 12.0 * reach))
    for _ in range(4):
        seen = np.concatenate(
            [f.rings[0] for f in drawables.faces if faces_camera(f, camera.position)] or [drawables.bounds]
        )
        at = camera.pixels(seen)
        low, high = at[:, :2].min(axis=0), at[:, :2].max(axis=0)
        wanted = np.array([size[0] - left - right, size[1] - top - bottom])
        distance *= float(np.max((high - low) / wanted))
        # Move the focus by what the middle of the seen is off the middle of the free area.
        off = (low + high) / 2.0 - [(left + size[0] - right) / 2.0, (top + size[1] - bottom) / 2.0]
        scale = float(at[:, 2].mean()) * np.tan(np.radians(_VIEW_ANGLE / 2.0)) / (size[1] / 2.0)
        _, across, up = _axes(camera.position, camera.focus)
        focus = focus + scale * (off[0] * across - off[1] * up)
        camera = Camera(focus + distance * direction, focus, _VIEW_ANGLE, size, (0.1, 12.0 * reach))
    return camera
