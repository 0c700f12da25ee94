"""Where obstacles may stand: in the room, apart from each other, and not across all of it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import Any, Final

import numpy as np
import shapely

from treatment.bands import Array
from treatment.errors import Finding
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import AREA_TOLERANCE, PLANE_TOLERANCE, Polygon
from treatment.geometry.roof import ceiling_height
from treatment.geometry.shapes import PARALLEL_TOLERANCE, solid_box
from treatment.measures import area_words, small_words, volume_words
from treatment.scene.codes import finding
from treatment.scene.outline import Shell
from treatment.scene.schema import ObstacleEntry
from treatment.units import UNITS, format_length

#: A gap below this between an obstacle and a surface is most likely none (m).
LIKELY_CONTACT: Final = 0.02
THINNEST_OBSTACLE: Final = 0.02
LARGEST_FILL: Final = 0.5


def listed(values: Sequence[float] | Array, unit: str) -> str:
    """Write metres as a list for the scene file, in the file's unit.

    Parameters
    ----------
    values : sequence of float
        In m.
    unit : str
        Unit of plain numbers.

    Returns
    -------
    str
        ``[2.6, 1.7, 0]``.
    """
    # Adding nothing turns -0 into 0.
    return "[" + ", ".join(f"{round(float(v) / UNITS[unit], 4) + 0.0:.10g}" for v in values) + "]"


def outside_area(inner: Any, outer: Any) -> bool:
    """Tell whether one shape reaches out of another by more than a tenth of a millimetre.

    Parameters
    ----------
    inner, outer : shapely geometry
        In the same coordinates.

    Returns
    -------
    bool
        True when it does.
    """
    return bool(inner.difference(outer).area > PLANE_TOLERANCE * inner.length)


def solid_of(entry: ObstacleEntry, shell: Shell) -> tuple[Polygon, ...]:
    """Surfaces of an obstacle; a sloping ceiling cuts its top.

    Parameters
    ----------
    entry : ObstacleEntry
        The obstacle.
    shell : Shell
        The room.

    Returns
    -------
    tuple of Polygon
        Normals into the room's air.
    """
    return solid_box(entry.at, entry.size, shell.planes if _is_cut(entry, shell) else None)


def check_obstacle(i: int, entry: ObstacleEntry, shell: Shell, unit: str) -> list[Finding]:
    """Check whether one obstacle fits the room.

    Parameters
    ----------
    i : int
        Its index in the file.
    entry : ObstacleEntry
        The obstacle.
    shell : Shell
        The room.
    unit : str
        For messages.

    Returns
    -------
    list of Finding
        What is wrong or worth knowing.
    """
    where = f"obstacles[{i}]"
    at, size = np.array(entry.at), np.array(entry.size)
    top = at + size
    if size.min() < THINNEST_OBSTACLE:
        thin, least = (format_length(float(x), unit) for x in (size.min(), THINNEST_OBSTACLE))
        message = f'"{entry.name}" is {thin} thin; an obstacle has at least {least}'
        hint = "leave it out: the material of the surface stands for what lies flat on it"
        return [finding("obstacle-too-thin", f"{where}.size", message, hint)]
    low, high = shell.enclosure.bounds
    beyond = bool(np.any(at < low - PLANE_TOLERANCE) or np.any(top > high + PLANE_TOLERANCE))
    if beyond or not _fits(entry, shell):
        message = (
            f'"{entry.name}" reaches from {listed(at, unit)} to {listed(top, unit)} {unit}, out of the room, '
            f"which ends at {listed(high, unit)}"
        )
        hint = _intended_size(at, size, _inside(entry, shell), shell, unit)
        highest = None if beyond else _highest(entry, shell)
        if highest is not None and top[2] > highest + PLANE_TOLERANCE:
            message = (
                f'"{entry.name}" is {format_length(float(top[2]), unit)} high, the ceiling above it '
                f"{format_length(highest, unit)} at its highest"
            )
            hint = "let it end at the highest place of the ceiling above it; the slope cuts the rest"
        return [finding("obstacle-outside-room", where, message, hint)]
    if shell.plan is None or (shell.recesses and outside_area(_footprint(entry), shell.plan)):
        return []
    if _is_cut(entry, shell):
        message = f'"{entry.name}" reaches through the sloping ceiling: it is cut where the slope begins'
        return [finding("obstacle-cut", where, message, "nothing need be done, if it ends at the ceiling")]
    gaps = {"floor": at[2], "the ceiling": _lowest(entry, shell) - top[2], **_wall_gaps(entry, shell)}
    return [
        finding(
            "obstacle-gap",
            where,
            f'"{entry.name}" stands {small_words(float(gap), unit, 1)} off {name}',
            f"if it touches, let at + size end there exactly ({format_length(float(gap), unit)} more)",
        )
        for name, gap in gaps.items()
        if PLANE_TOLERANCE < gap < LIKELY_CONTACT
    ]


def check_together(good: dict[int, ObstacleEntry], shell: Shell, unit: str) -> list[Finding]:
    """Check what obstacles do together.

    Parameters
    ----------
    good : dict of int to ObstacleEntry
        Those that fit the room, by index in the file.
    shell : Shell
        The room.
    unit : str
        For messages.

    Returns
    -------
    list of Finding
        Obstacles that share space, fill the room or divide it.
    """
    if not good:
        return []
    findings = []
    for i, j in combinations(good, 2):
        if _share_space(good[i], good[j]):
            message = f'"{good[j].name}" and "{good[i].name}" share space'
            findings.append(
                finding("obstacles-overlap", f"obstacles[{j}]", message, "let them touch, or make them one")
            )
    volume, room = sum(float(np.prod(e.size)) for e in good.values()), shell.enclosure.volume
    if volume > LARGEST_FILL * room:
        filled, whole = (volume_words(v, unit) for v in (volume, room))
        message = f"the obstacles fill {filled} of {whole}; {LARGEST_FILL:.0%} is the limit"
        hint = 'draw the outline around them: shape = "plan"'
        return [*findings, finding("obstacle-fills-room", f"obstacles[{max(good)}]", message, hint)]
    return findings + _division(good, shell, unit) + _closed_mouths(good, shell)


def _closed_mouths(good: dict[int, ObstacleEntry], shell: Shell) -> list[Finding]:
    """Recesses that obstacles before them shut off from the room."""
    findings = []
    for mouth in shell.recesses:
        host = shell.whole(mouth.surface)
        shut = {
            i: face.in_frame_of(host)
            for i, entry in good.items()
            for face in solid_of(entry, shell)
            if face.normal @ host.normal < PARALLEL_TOLERANCE - 1.0
            and 0.0 <= float(host.height_above(face.origin)) + PLANE_TOLERANCE < LIKELY_CONTACT
        }
        left = mouth.rectangle.shape().difference(shapely.union_all(list(shut.values())))
        if shut and left.area < AREA_TOLERANCE:
            message = f'it shuts "{mouth.name}", and the air in it, off from the room'
            hint = "leave the recess out, or a part of its mouth open"
            findings.append(finding("obstacle-divides-room", f"obstacles[{min(shut)}]", message, hint))
    return findings


def _division(good: dict[int, ObstacleEntry], shell: Shell, unit: str) -> list[Finding]:
    if shell.plan is None:
        return []
    full = [e for e in good.values() if e.at[2] + e.size[2] >= _lowest(e, shell) - LIKELY_CONTACT]
    full = [e for e in full if e.at[2] < LIKELY_CONTACT]
    if not full:
        return []
    solid = shapely.union_all([_footprint(e) for e in full]).buffer(PLANE_TOLERANCE, join_style="mitre")
    parts = [p for p in shapely.get_parts(shell.plan.difference(solid)) if p.area > 0.01]
    if len(parts) < 2:
        return []
    index = next(i for i, e in good.items() if e in full)
    areas = " and ".join(area_words(p.area, unit) for p in parts)
    return [
        finding(
            "obstacle-divides-room",
            f"obstacles[{index}]",
            f"from floor to ceiling and wall to wall, it leaves parts of {areas}",
            "describe the part that you treat; a passage between the two is an opening",
        )
    ]


def _footprint(entry: ObstacleEntry) -> Any:
    (x, y, _), (dx, dy, _) = entry.at, entry.size
    return shapely.box(x, y, x + dx, y + dy)


def _lowest(entry: ObstacleEntry, shell: Shell) -> float:
    """Least height of the ceiling over an obstacle: over a corner, for a ceiling has no valleys."""
    if shell.planes is None:
        return float(shell.enclosure.bounds[1, 2])
    return float(ceiling_height(shell.planes, np.asarray(_footprint(entry).exterior.coords)).min())


def _highest(entry: ObstacleEntry, shell: Shell) -> float | None:
    """Greatest height of a ceiling over an obstacle; None where that is no matter of slopes."""
    if shell.planes is None or outside_area(_footprint(entry), shell.plan):
        return None
    if entry.at[2] > _lowest(entry, shell) - THINNEST_OBSTACLE or not _sloping(shell):
        return None
    tops = [p for p in solid_box(entry.at, (*entry.size[:2], 1e3), shell.planes) if p.normal[2] > 0.05]
    return max(float(p.to_room(p.edges[:, 0])[:, 2].max()) for p in tops)


def _sloping(shell: Shell) -> bool:
    return shell.planes is not None and float(np.abs(shell.planes[:, :2]).max()) > 1e-9


def _is_cut(entry: ObstacleEntry, shell: Shell) -> bool:
    high = _sloping(shell) and entry.at[2] + entry.size[2] > _lowest(entry, shell) + PLANE_TOLERANCE
    # What stands in the air of a dormer is not under the slope.
    return high and not (bool(shell.recesses) and _in_mesh(entry, shell.enclosure))


def _fits(entry: ObstacleEntry, shell: Shell) -> bool:
    """Tell whether an obstacle within the room's bounds lies in the room, but for what a slope cuts."""
    if (shell.plan is None or shell.recesses) and _in_mesh(entry, shell.enclosure):
        return True
    if shell.plan is None or outside_area(_footprint(entry), shell.plan):
        return False
    if not _is_cut(entry, shell):
        return entry.at[2] + entry.size[2] <= _lowest(entry, shell) + PLANE_TOLERANCE
    highest = _highest(entry, shell)
    return highest is not None and entry.at[2] + entry.size[2] <= highest + PLANE_TOLERANCE


def _in_mesh(entry: ObstacleEntry, enclosure: Enclosure) -> bool:
    faces = solid_box(entry.at, entry.size)
    starts = np.concatenate([p.to_room(p.edges[:, 0]) for p in faces])
    ends = np.concatenate([p.to_room(p.edges[:, 1]) for p in faces])
    # A corner of the room inside the obstacle would stay unseen by its edges.
    low, high = np.array(entry.at) + PLANE_TOLERANCE, np.add(entry.at, entry.size) - PLANE_TOLERANCE
    corners = np.concatenate([p.to_room(p.edges[:, 0]) for p in enclosure.polygons])
    if bool(np.all((corners > low) & (corners < high), axis=1).any()):
        return False
    inside = enclosure.contains(starts[::2], margin=-PLANE_TOLERANCE)
    return bool(inside.all()) and not bool(enclosure.blocked(starts, ends, slack=PLANE_TOLERANCE).any())


def _inside(entry: ObstacleEntry, shell: Shell) -> Array | None:
    """First and last corner of the part inside, shape (2, 3); None where that is no box, or all of it."""
    at, (low, high) = np.array(entry.at), shell.enclosure.bounds
    part = np.array([np.maximum(at, low), np.minimum(at + np.array(entry.size), high)])
    if shell.plan is not None:
        # An inner corner, or what lies beside a recess, is within the bounds of the room and not in it.
        inner = _footprint(entry).intersection(shell.plan)
        if inner.is_empty or outside_area(shapely.box(*inner.bounds), inner):
            return None
        part[:, :2] = np.reshape(inner.bounds, (2, 2))
    whole = np.abs(part - [at, at + np.array(entry.size)]).max() <= PLANE_TOLERANCE
    return None if whole or np.any(part[1] - part[0] < THINNEST_OBSTACLE) else part


def _intended_size(at: Array, size: Array, part: Array | None, shell: Shell, unit: str) -> str:
    low, high = shell.enclosure.bounds
    if np.all(size > at) and np.all(size <= high + PLANE_TOLERANCE) and np.all(at >= low - PLANE_TOLERANCE):
        return f"size is an extent, not the far corner: did you mean size = {listed(size - at, unit)}?"
    if part is not None:
        return f"the part inside has at = {listed(part[0], unit)}, size = {listed(part[1] - part[0], unit)}"
    return "at is the corner nearest to the front, the left and the floor"


def _wall_gaps(entry: ObstacleEntry, shell: Shell) -> dict[str, float]:
    """Distances from walls that run along the axes, as the faces of an obstacle do."""
    foot = _footprint(entry)
    gaps = {}
    for name, polygon in zip(shell.names, shell.polygons, strict=True):
        if abs(polygon.normal[2]) > 0.5 or np.abs(polygon.normal).max() < 1.0 - 1e-6 or name in shell.faces:
            continue
        (u0, _, u1, _) = polygon.bounds
        ends = polygon.to_room(np.array([[u0, 0.0], [u1, 0.0]]))[:, :2]
        gaps[name] = float(foot.distance(shapely.LineString(ends)))
    return gaps


def _share_space(a: ObstacleEntry, b: ObstacleEntry) -> bool:
    low = np.maximum(a.at, b.at)
    high = np.minimum(np.add(a.at, a.size), np.add(b.at, b.size))
    return bool(np.all(high - low > PLANE_TOLERANCE))
