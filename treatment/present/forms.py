"""Plain coloured shapes and labels: what a painter needs to know, and nothing else.

Groups, by which a viewer shows and hides things: ``room``, ``opening``, ``keep-out``, ``obstacle``,
``equipment``, ``seat``, ``panel``, ``path-before``, ``path-after``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from treatment.bands import Array, frozen


@dataclass(frozen=True, eq=False)
class Face:
    """A flat coloured area.

    Parameters
    ----------
    rings : tuple of numpy.ndarray
        Outline, then holes, each (k, 3), m.
    normal : numpy.ndarray
        Shape (3,): the side that is painted. Whoever looks from behind does not see it.
    colour : str
        ``#rrggbb``.
    opacity : float
        0 to 1.
    name : str
        Thing it belongs to.
    group : str
        See the module.
    detail : tuple of str
        Lines to show on demand.
    facing : numpy.ndarray or None
        For a face of something that hangs on a surface: the surface's normal.
    """

    rings: tuple[Array, ...]
    normal: Array
    colour: str
    opacity: float
    name: str
    group: str
    detail: tuple[str, ...] = ()
    facing: Array | None = None


@dataclass(frozen=True, eq=False)
class Line:
    """A coloured polyline: the path of a sound.

    Parameters
    ----------
    points : numpy.ndarray
        Shape (k, 3), m.
    colour : str
        ``#rrggbb``.
    level : float
        Level re the direct sound, dB.
    name : str
        What it is.
    group : str
        See the module.
    source, seat : str
        Ends of the path.
    detail : tuple of str
        Lines to show on demand.
    levels : tuple of float
        Level re the direct sound in each octave, dB.
    """

    points: Array
    colour: str
    level: float
    name: str
    group: str
    source: str
    seat: str
    detail: tuple[str, ...] = ()
    levels: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Dot:
    """A ball.

    Parameters
    ----------
    position : numpy.ndarray
        Centre, shape (3,), m.
    radius : float
        In m.
    colour : str
        ``#rrggbb``.
    name : str
        What it is.
    group : str
        See the module.
    detail : tuple of str
        Lines to show on demand.
    """

    position: Array
    radius: float
    colour: str
    name: str
    group: str
    detail: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Label:
    """Text at a place.

    Parameters
    ----------
    position : numpy.ndarray
        Shape (3,), m.
    text : str
        One line.
    group : str
        See the module.
    rank : int
        Low ranks are placed first where room is short.
    normal : numpy.ndarray or None
        Side from which it may be seen; None for every side.
    """

    position: Array
    text: str
    group: str
    rank: int
    normal: Array | None = None


@dataclass(frozen=True, eq=False)
class Drawables:
    """Everything to paint.

    Parameters
    ----------
    title : str
        Of the room.
    faces, lines, dots, labels : tuple
        Shapes.
    bounds : numpy.ndarray
        Lowest and highest corner of the room, shape (2, 3), m.
    """

    title: str
    faces: tuple[Face, ...]
    lines: tuple[Line, ...]
    dots: tuple[Dot, ...]
    labels: tuple[Label, ...]
    bounds: Array

    def with_paths(self, group: str, seat: str, most: int) -> Drawables:
        """Return the shapes with the strongest paths of one group to one seat only.

        Parameters
        ----------
        group : str
            ``path-before`` or ``path-after``.
        seat : str
            Name of the seat.
        most : int
            How many paths.

        Returns
        -------
        Drawables
            Fewer lines.
        """
        mine = [x for x in self.lines if x.group == group and x.seat == seat]
        kept = tuple(sorted(mine, key=lambda x: -x.level)[:most])
        return Drawables(self.title, self.faces, kept, self.dots, self.labels, self.bounds)

    def without(self, *groups: str) -> Drawables:
        """Return the shapes that are not in some groups.

        Parameters
        ----------
        *groups : str
            Groups to leave out.

        Returns
        -------
        Drawables
            The rest.
        """
        return Drawables(
            self.title,
            tuple(f for f in self.faces if f.group not in groups),
            tuple(x for x in self.lines if x.group not in groups),
            tuple(x for x in self.dots if x.group not in groups),
            tuple(x for x in self.labels if x.group not in groups),
            self.bounds,
        )


def block(
    base: Array,
    top: Array,
    *,
    colour: str,
    opacity: float,
    name: str,
    group: str,
    detail: tuple[str, ...] = (),
    facing: Array | None = None,
) -> list[Face]:
    """Make the faces of a solid between two parallel four-cornered faces.

    Parameters
    ----------
    base, top : numpy.ndarray
        Corners in the same order, shape (4, 3), m.
    colour, opacity, name, group, detail, facing
        As in `Face`.

    Returns
    -------
    list of Face
        Six faces; normals point out of the solid.
    """
    middle = (base.mean(axis=0) + top.mean(axis=0)) / 2.0

    def face(points: Array) -> Face:
        normal = np.cross(points[1] - points[0], points[2] - points[1])
        normal = normal / max(float(np.linalg.norm(normal)), 1e-12)
        if normal @ (points.mean(axis=0) - middle) < 0.0:
            normal = -normal
        return Face((frozen(points),), frozen(normal), colour, opacity, name, group, detail, facing)

    sides = [np.array([base[i], base[(i + 1) % 4], top[(i + 1) % 4], top[i]]) for i in range(4)]
    return [face(points) for points in (top, base, *sides)]
