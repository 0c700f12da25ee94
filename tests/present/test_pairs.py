"""Loudspeakers and seats are named in as few words as it takes, and none is lost."""

from dataclasses import replace

from treatment.planning.lists import Blocked
from treatment.planning.plan import Plan
from treatment.present.pairs import blocked_groups


def _told(plan: Plan, pairs: list[tuple[str, str]]) -> str:
    blocked = tuple(Blocked(source, seat, "floor", "the floor", "a rug") for source, seat in pairs)
    (group,) = blocked_groups(replace(plan, blocked=blocked))
    return group["paths"]


def test_pairs_are_told_shortly(plan: Plan) -> None:
    speakers = [s.name for s in plan.scene.loudspeakers]
    seats = [s.name for s in plan.scene.seats]
    assert len(speakers) > 2
    assert len(seats) == 3
    every = [(a, b) for a in speakers for b in seats]
    assert _told(plan, every) == "every loudspeaker to every seat"
    assert _told(plan, every[:3]) == f"{speakers[0]} to every seat"
    assert _told(plan, every[1:3]) == f"{speakers[0]} to {seats[1]} and {seats[2]}"
    assert _told(plan, every[2:4]) == f"{speakers[0]} to {seats[2]}, {speakers[1]} to {seats[0]}"


def test_different_advice_is_not_thrown_together(plan: Plan) -> None:
    blocked = (Blocked("L", "a", "left", "door", "x"), Blocked("L", "b", "left", "door", "y"))
    assert [g["advice"] for g in blocked_groups(replace(plan, blocked=blocked))] == ["x", "y"]
