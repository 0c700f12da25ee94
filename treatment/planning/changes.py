"""What a new plan changes of an earlier one, panel by panel; what stays keeps its number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from treatment.planning.plan import Placement

#: Corners this near to each other are one place (m).
_SAME: Final = 1e-3


@dataclass(frozen=True, eq=False)
class Change:
    """What became of one panel.

    Parameters
    ----------
    kind : str
        ``stays``, ``other build`` (at the same place), ``moved`` (on the same surface), ``gone`` or ``new``.
    was, now : Placement or None
        In the earlier plan and in the new one; None where it was or is not there.
    """

    kind: str
    was: Placement | None
    now: Placement | None

    @property
    def id(self) -> str:
        """Number of the panel, the same in both plans."""
        panel = self.now or self.was
        return "" if panel is None else panel.id


def renumbered(
    placements: Sequence[Placement], hanging: Sequence[Placement], earlier: Sequence[Placement]
) -> tuple[Placement, ...]:
    """Give panels the numbers that they have in an earlier plan.

    Parameters
    ----------
    placements : sequence of Placement
        Of the new plan, those that hang already first.
    hanging : sequence of Placement
        Those; they keep their numbers.
    earlier : sequence of Placement
        The other panels of the earlier plan.

    Returns
    -------
    tuple of Placement
        In the same order. A panel at an earlier place, or moved on its surface, has the earlier number; what
        is new has a number beyond all that were used, so that no number ever means another panel.
    """
    if not earlier:
        return tuple(placements)
    count = len(hanging)
    new = placements[count:]
    found = _pairs(earlier, new)
    last = max((_number(p.id) for p in (*hanging, *earlier)), default=0)
    made = list(placements[:count])
    for n, panel in enumerate(new):
        if n in found:
            made.append(replace(panel, id=found[n].id))
        else:
            last += 1
            made.append(replace(panel, id=f"P{last}"))
    return tuple(made)


def changes_of(
    placements: Sequence[Placement], hanging: Sequence[Placement], earlier: Sequence[Placement]
) -> tuple[Change, ...]:
    """Tell what became of every panel.

    Parameters
    ----------
    placements, hanging, earlier
        As for `renumbered`, and numbered by it.

    Returns
    -------
    tuple of Change
        By number; nothing without an earlier plan.
    """
    if not earlier and not hanging:
        return ()
    now, before = {p.id: p for p in placements}, {p.id: p for p in (*hanging, *earlier)}
    made = []
    for name in sorted(now.keys() | before.keys(), key=lambda x: (_number(x), x)):
        was, then = before.get(name), now.get(name)
        kind = "new" if was is None else "gone"
        if was is not None and then is not None:
            kind = "moved" if not _same_place(was, then) else "stays"
            if kind == "stays" and was.build.id != then.build.id:
                kind = "other build"
        made.append(Change(kind, was, then))
    return tuple(made)


def _pairs(earlier: Sequence[Placement], new: Sequence[Placement]) -> dict[int, Placement]:
    """Panel of the earlier plan for each new one that is the same, the same place first, then the nearest."""
    found: dict[int, Placement] = {}
    left = list(earlier)
    for n, panel in enumerate(new):
        same = next((p for p in left if _same_place(p, panel)), None)
        if same is not None:
            found[n] = same
            left.remove(same)
    far = sorted(
        (
            (float(np.hypot(*np.subtract(p.rectangle.centre, panel.rectangle.centre))), n, k)
            for n, panel in enumerate(new)
            for k, p in enumerate(left)
            if n not in found and _like(p, panel)
        ),
        key=lambda x: x,
    )
    taken: set[int] = set()
    for _, n, k in far:
        if n not in found and k not in taken:
            found[n] = left[k]
            taken.add(k)
    return found


def _same_place(a: Placement, b: Placement) -> bool:
    apart = np.abs(np.subtract(a.rectangle.bounds, b.rectangle.bounds))
    return _stands_alike(a, b) and bool(apart.max() < _SAME)


def _like(a: Placement, b: Placement) -> bool:
    return _stands_alike(a, b) and a.build.id == b.build.id


def _stands_alike(a: Placement, b: Placement) -> bool:
    return (a.surface, a.standing, a.corner) == (b.surface, b.standing, b.corner)


def _number(panel: str) -> int:
    digits = "".join(c for c in panel if c.isdigit())
    return int(digits) if digits else 0
