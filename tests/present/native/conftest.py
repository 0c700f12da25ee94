"""A desk on the hand-built room."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from treatment.planning.plan import Plan
from treatment.present.native.desk import Desk
from treatment.present.native.steps import OnDemand
from treatment.present.ray_times import RayTimes

SIZE = (1400, 900)


@pytest.fixture(scope="session")
def steps(plan: Plan) -> OnDemand:
    return OnDemand(plan.scene, plan.placements)


@pytest.fixture
def make_desk(plan: Plan, steps: OnDemand) -> Callable[..., Desk]:
    def make(*actions: str, size: tuple[int, int] = SIZE, rays: Sequence[RayTimes] = ()) -> Desk:
        desk = Desk(plan.scene, plan.placements, steps, size, rays=rays)
        for action in actions:
            desk.act(action)
        return desk

    return make
