"""What stands under the pointer: lines and balls by their distance on the screen, areas by a ray."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from treatment.bands import Array
from treatment.present.camera import ONE_SIDED, Camera
from treatment.present.forms import Dot, Face
from treatment.present.triangles import triangles_of

#: A line is hit this near to it, in pixels.
NEAR_PX = 6.0
#: A point counts as seen when nothing stands this far before it, m.
_SLACK = 0.03


@dataclass(frozen=True, eq=False)
class Hit:
    """An area under the pointer.

    Parameters
    ----------
    face : Face
        The area.
    point : numpy.ndarray
        Where, shape (3,), m.
    distance : float
        From the eye, m.
    """

    face: Face
    point: Array
    distance: float


@dataclass(frozen=True, eq=False)
class Targets:
    """Areas as triangles, ready to be hit.

    Parameters
    ----------
    faces : tuple of Face
        The areas.
    corners : numpy.ndarray
        Triangles of all of them, shape (t, 3, 3), m.
    owner : numpy.ndarray
        Face of each triangle, shape (t,).
    """

    faces: tuple[Face, ...]
    corners: Array
    owner: np.ndarray


def targets_of(faces: Sequence[Face]) -> Targets:
    """Prepare areas.

    Parameters
    ----------
    faces : sequence of Face
        What can be clicked.

    Returns
    -------
    Targets
        For `hit_face`.
    """
    parts = [triangles_of(f) for f in faces]
    corners = np.array([t for p in parts for t in p]).reshape(-1, 3, 3)
    owner = np.repeat(np.arange(len(faces)), [len(p) for p in parts])
    return Targets(tuple(faces), corners, owner)


def ray(camera: Camera, x: float, y: float) -> Array:
    """Direction in which a pixel looks.

    Parameters
    ----------
    camera : Camera
        The camera.
    x, y : float
        Pixel from the upper left corner.

    Returns
    -------
    numpy.ndarray
        Unit vector, shape (3,).
    """
    ahead = (camera.focus - camera.position) / np.linalg.norm(camera.focus - camera.position)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right = right / np.linalg.norm(right)
    up = np.cross(right, ahead)
    focal = camera.size[1] / 2.0 / np.tan(np.radians(camera.view_angle / 2.0))
    way = ahead + right * (x - camera.size[0] / 2.0) / focal - up * (y - camera.size[1] / 2.0) / focal
    return np.asarray(way / np.linalg.norm(way))


def hit_face(
    targets: Targets, camera: Camera, x: float, y: float, shown: np.ndarray | None = None
) -> Hit | None:
    """First area under a pixel; walls that are cut away are looked through.

    Parameters
    ----------
    targets : Targets
        What can be clicked.
    camera : Camera
        The camera.
    x, y : float
        Pixel from the upper left corner.
    shown : numpy.ndarray, optional
        Which areas are shown, shape (f,), bool; all by default.

    Returns
    -------
    Hit or None
        None where there is only air (Moeller and Trumbore, J. Graphics Tools 2 (1997) 21; from memory).
    """
    if len(targets.corners) == 0:
        return None
    way = ray(camera, x, y)
    a = targets.corners[:, 0]
    ab, ac = targets.corners[:, 1] - a, targets.corners[:, 2] - a
    across = np.cross(way, ac)
    flat = np.einsum("ij,ij->i", ab, across)
    with np.errstate(divide="ignore", invalid="ignore"):
        from_a = camera.position - a
        u = np.einsum("ij,ij->i", from_a, across) / flat
        turned = np.cross(from_a, ab)
        v = (turned @ way) / flat
        distance = np.einsum("ij,ij->i", ac, turned) / flat
    one_sided = np.array([f.group in ONE_SIDED for f in targets.faces])[targets.owner]
    seen = ~one_sided | (np.array([f.normal for f in targets.faces])[targets.owner] @ way < 0.0)
    if shown is not None:
        seen &= shown[targets.owner]
    inside = (np.abs(flat) > 1e-12) & (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (distance > 1e-6) & seen
    if not inside.any():
        return None
    best = int(np.argmin(np.where(inside, distance, np.inf)))
    way_along = float(distance[best])
    return Hit(targets.faces[int(targets.owner[best])], camera.position + way_along * way, way_along)


def hit_dot(dots: Sequence[Dot], camera: Camera, x: float, y: float) -> tuple[Dot, float] | None:
    """Nearest ball under a pixel.

    Parameters
    ----------
    dots : sequence of Dot
        Balls.
    camera : Camera
        The camera.
    x, y : float
        Pixel from the upper left corner.

    Returns
    -------
    tuple of (Dot, float) or None
        The ball and its distance from the eye, m.
    """
    found = []
    way = ray(camera, x, y)
    for dot in dots:
        toward = np.asarray(dot.position) - camera.position
        along = float(toward @ way)
        if along > 0.0 and float(np.linalg.norm(toward - along * way)) <= dot.radius:
            found.append((along, dot))
    if not found:
        return None
    distance, dot = min(found, key=lambda f: f[0])
    return dot, distance


def hit_line(points: Array, camera: Camera, x: float, y: float, before: float = np.inf) -> int | None:
    """Nearest line under a pixel; the last ones lie on top.

    Parameters
    ----------
    points : numpy.ndarray
        Lines of as many points each, shape (n, k, 3), m.
    camera : Camera
        The camera.
    x, y : float
        Pixel from the upper left corner.
    before : float
        Only what is nearer than this is seen, m.

    Returns
    -------
    int or None
        Index of the line.
    """
    if len(points) == 0:
        return None
    at = camera.pixels(points.reshape(-1, 3)).reshape(*points.shape)
    a, b = at[:, :-1], at[:, 1:]
    step = b[..., :2] - a[..., :2]
    length = np.einsum("...i,...i", step, step)
    to = np.array([x, y]) - a[..., :2]
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.clip(np.nan_to_num(np.einsum("...i,...i", to, step) / length), 0.0, 1.0)
    off = np.linalg.norm(to - part[..., None] * step, axis=-1)
    # Depths are along the view, the other distances from the eye: near the pixel's ray they agree.
    way = ray(camera, x, y)
    ahead = (camera.focus - camera.position) / np.linalg.norm(camera.focus - camera.position)
    depth = (a[..., 2] + part * (b[..., 2] - a[..., 2])) / float(way @ ahead)
    hidden = (np.minimum(a[..., 2], b[..., 2]) < 0.05) | (depth > before + _SLACK)
    best = np.where(hidden, np.inf, off).min(axis=1)
    near = np.flatnonzero(best <= NEAR_PX)
    if len(near) == 0:
        return None
    return int(near[np.lexsort((-near, np.round(best[near])))[0]])


@dataclass(frozen=True, eq=False)
class Found:
    """What stands under the pointer.

    Parameters
    ----------
    kind, name : str
        Group and name of a thing; empty for none.
    line : int or None
        Index of a line that lies on top of it.
    point : numpy.ndarray or None
        On a surface of the room, where one is hit first.
    """

    kind: str = ""
    name: str = ""
    line: int | None = None
    point: Array | None = None


def thing_at(
    camera: Camera,
    at: tuple[float, float],
    targets: Targets,
    shown: np.ndarray,
    solid: np.ndarray,
    dots: Sequence[Dot],
    lines: Array | None,
) -> Found:
    """Find what is seen at a pixel.

    Parameters
    ----------
    camera : Camera
        The camera.
    at : tuple of float
        Pixel from the upper left corner.
    targets : Targets
        Areas.
    shown : numpy.ndarray
        Which of them are shown, shape (f,), bool.
    solid : numpy.ndarray
        Which of them hide lines behind them, shape (f,), bool.
    dots : sequence of Dot
        Balls that are shown.
    lines : numpy.ndarray or None
        As in `hit_line`.

    Returns
    -------
    Found
        A line where one is near and not hidden, else the nearest ball or area.
    """
    area = hit_face(targets, camera, *at, shown)
    ball = hit_dot(dots, camera, *at)
    nearest = min(area.distance if area else np.inf, ball[1] if ball else np.inf)
    line = None
    if lines is not None:
        hiding = hit_face(targets, camera, *at, shown & solid)
        before = min(hiding.distance if hiding else np.inf, ball[1] if ball else np.inf)
        line = hit_line(lines, camera, *at, before)
    if ball and ball[1] <= nearest:
        return Found(ball[0].group, ball[0].name, line)
    if area is None:
        return Found(line=line)
    point = area.point if area.face.group in ("room", "opening", "obstacle") else None
    return Found(area.face.group, area.face.name, line, point)
