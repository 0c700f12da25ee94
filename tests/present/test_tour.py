"""The tour tells of the plan for the garden room what the program tells, in the same words."""

from pathlib import Path

from treatment.planning.make import make_plan
from treatment.scene.load import load_scene

ROOT = Path(__file__).parents[2]


def test_the_tour_has_the_verdict_of_the_program():
    tour = " ".join(
        (ROOT / "docs" / "guide" / "tour.md").read_text(encoding="utf-8").replace("\n> ", "\n").split()
    )
    plan = make_plan(load_scene(ROOT / "scenes" / "garden-room.toml")[0])
    verdict = plan.advice[0]
    assert verdict.startswith("This plan is weak for the room")
    assert verdict in tour
    assert f"{len(plan.placements)} panels of 50 mm wool" in tour
    assert {p.build.id for p in plan.placements} == {"wool-50-gap-50"}
    now, then = (f"{float(e.eyring[4]):.2f} s" for e in (plan.before, plan.after))  # 1 kHz
    assert f"they bring 1 kHz from {now} to {then}." in tour
