"""From where a room is looked at, and where its points fall in a picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from treatment.bands import Array
from treatment.present.forms import Drawables, Face

#: Vertical opening of a picture from outside, degrees.
VIEW_ANGLE = 26.0
_ELEVATION = 34.0
#: Groups that are painted on the side of the room only: what stands between the eye and the room is cut
#: away. A soffit goes with its wall; a post is closed and looks the same from every side.
ONE_SIDED = ("room", "opening", "obstacle", "zone", "reach")
#: Opacity of what hangs on a wall that is cut away.
THINNED = 0.4
#: Share of a picture that is kept free for its texts: left, right, top, bottom.
Margins = tuple[float, float, float, float]
_PICTURE_MARGINS: Margins = (0.22, 0.04, 0.08, 0.04)


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
    """Tell whether a face shows its painted side; only surfaces that bound the room have just one.

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
    if face.group not in ONE_SIDED:
        return True
    return bool((position - face.rings[0].mean(axis=0)) @ face.normal > 0.0)


def choose_camera(drawables: Drawables, size: tuple[int, int], margins: Margins = _PICTURE_MARGINS) -> Camera:
    """Choose the upper corner from which most panels face the viewer, and step back until all fits.

    Parameters
    ----------
    drawables : Drawables
        The room.
    size : tuple of int
        Picture in pixels.
    margins : tuple of float
        Left, right, top and bottom share of the picture to keep free.

    Returns
    -------
    Camera
        A view from behind the seats unless another corner shows more.
    """
    panels = {f.name: f for f in drawables.faces if f.group == "panel"}
    best: tuple[float, Camera] | None = None
    # 30 degrees off the long axis shows the front wall and one side; both sides are tried.
    for azimuth, handicap in ((32.0, 0.0), (-32.0, 0.1), (148.0, 2.0), (-148.0, 2.1)):
        camera = framed(drawables, azimuth, _ELEVATION, size, margins)
        away = sum(1 for f in panels.values() if hides_room(f, camera.position))
        cost = away / max(len(panels), 1) * 10.0 + handicap
        if best is None or cost < best[0]:
            best = (cost, camera)
    return best[1] if best else camera


def shown_opacity(face: Face, position: Array) -> float:
    """How opaque a face is in a picture from outside.

    Parameters
    ----------
    face : Face
        Any face.
    position : numpy.ndarray
        Of the camera, shape (3,), m.

    Returns
    -------
    float
        0 for what is left out. Panels, doors and windows of a wall that is cut away are thinned, not left
        out; far walls need not be translucent once the near ones are cut away.
    """
    if not faces_camera(face, position):
        return THINNED if face.group == "opening" else 0.0
    if face.group == "panel" and hides_room(face, position):
        return THINNED
    return 1.0 if face.group in ONE_SIDED else face.opacity


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


def toward(azimuth: float, elevation: float) -> Array:
    """Direction from the room to whoever looks at it.

    Parameters
    ----------
    azimuth : float
        Degrees about the vertical: 0 looks at the front wall, 90 at the left wall.
    elevation : float
        Degrees above the horizon.

    Returns
    -------
    numpy.ndarray
        Unit vector, shape (3,).
    """
    a, e = np.radians(azimuth), np.radians(elevation)
    return np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])


def framed(
    drawables: Drawables, azimuth: float, elevation: float, size: tuple[int, int], margins: Margins
) -> Camera:
    """Step back and aside until what is seen fills the picture inside its margins.

    Parameters
    ----------
    drawables : Drawables
        The room.
    azimuth, elevation : float
        As in `toward`.
    size : tuple of int
        Picture in pixels.
    margins : tuple of float
        Left, right, top and bottom share of the picture to keep free.

    Returns
    -------
    Camera
        Outside the room, looking at it from that direction.
    """
    low_corner, high_corner = drawables.bounds
    reach = float(np.linalg.norm(high_corner - low_corner))
    direction = toward(azimuth, elevation)
    distance, focus = 2.5 * reach, (low_corner + high_corner) / 2.0
    left, right = margins[0] * size[0], margins[1] * size[0]
    top, bottom = margins[2] * size[1], margins[3] * size[1]
    camera = Camera(focus + distance * direction, focus, VIEW_ANGLE, size, (0.1, 12.0 * reach))
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
        scale = float(at[:, 2].mean()) * np.tan(np.radians(VIEW_ANGLE / 2.0)) / (size[1] / 2.0)
        _, across, up = _axes(camera.position, camera.focus)
        focus = focus + scale * (off[0] * across - off[1] * up)
        camera = Camera(focus + distance * direction, focus, VIEW_ANGLE, size, (0.1, 12.0 * reach))
    return camera
