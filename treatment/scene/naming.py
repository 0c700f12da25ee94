"""Names of surfaces that nobody has named: by the side of the room where they are."""

from __future__ import annotations

import numpy as np

from treatment.bands import Array


def side_of(direction: Array) -> str:
    """Side of the room that a direction points to, for someone who faces the screen.

    Parameters
    ----------
    direction : numpy.ndarray
        Shape (3,), not vertical.

    Returns
    -------
    str
        ``front``, ``back``, ``left`` or ``right``.
    """
    x, y = float(direction[0]), float(direction[1])
    if abs(x) > abs(y):
        return "back" if x > 0.0 else "front"
    return "right" if y > 0.0 else "left"


def surface_name(normal: Array) -> str:
    """Name of a surface by the way it faces.

    Parameters
    ----------
    normal : numpy.ndarray
        Unit normal into the room, shape (3,).

    Returns
    -------
    str
        ``floor``, ``ceiling``, a side, or ``slope-`` and the side where a sloping ceiling comes down.
    """
    climb = float(normal[2])
    if climb > np.cos(np.radians(30.0)):
        return "floor"
    if climb < -np.cos(np.radians(3.0)):
        return "ceiling"
    # The wall on the left faces right.
    side = side_of(-np.asarray(normal))
    return f"slope-{side}" if climb < -0.05 else side


def numbered(names: list[str]) -> list[str]:
    """Make names differ: the first of its kind keeps it, the next get ``-2``, ``-3``, ...

    Parameters
    ----------
    names : list of str
        Names, some of them equal.

    Returns
    -------
    list of str
        All different.
    """
    taken: set[str] = set(names)
    seen: dict[str, int] = {}
    made = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        new = name
        if seen[name] > 1:
            while new in taken:
                new = f"{name}-{seen[name]}"
                seen[name] += new in taken
            taken.add(new)
        made.append(new)
    return made
