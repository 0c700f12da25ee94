"""Which loudspeaker reaches which seat, told in as few words as it takes."""

from __future__ import annotations

from collections.abc import Iterable

from treatment.planning.lists import Blocked
from treatment.planning.plan import Plan

#: More pairs than this are counted rather than named; the list in ``plan.json`` names them all.
_NAMED = 6


def blocked_groups(plan: Plan) -> list[dict[str, str]]:
    """Gather reflections that stay untreated by what is in the way and what works instead.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of dict
        ``surface``, ``by``, ``advice`` and ``paths`` (in words), the order of ``plan.blocked``.
    """
    groups: dict[tuple[str, str, str], list[Blocked]] = {}
    for b in plan.blocked:
        groups.setdefault((b.surface, b.by, b.advice), []).append(b)
    return [
        {"surface": surface, "by": by, "advice": advice, "paths": _pairs(plan, members)}
        for (surface, by, advice), members in groups.items()
    ]


def _pairs(plan: Plan, members: Iterable[Blocked]) -> str:
    """Name pairs loudspeaker by loudspeaker: ``L to every seat, C to left and right``."""
    seats = [s.name for s in plan.scene.seats]
    found: dict[str, list[str]] = {}
    for b in members:
        found.setdefault(b.source, []).append(b.seat)
    count = sum(len(names) for names in found.values())
    every = len(plan.scene.loudspeakers) * len(seats)
    if count == every and count > 1:
        return "every loudspeaker to every seat"
    words = [
        f"{source} to {'every seat' if len(seats) > 1 and len(names) == len(seats) else _listed(names)}"
        for source, names in found.items()
    ]
    if len(words) > _NAMED:
        return f"{count} of the {every} pairs of loudspeaker and seat"
    return ", ".join(words)


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
