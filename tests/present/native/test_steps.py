"""Steps that a process of its own works out ahead: the same numbers, whatever happens to it."""

from __future__ import annotations

import time
from collections.abc import Iterator

import numpy as np
import pytest

from treatment.planning.evaluate import evaluate
from treatment.planning.plan import Plan
from treatment.present.native.steps import Ahead


@pytest.fixture
def ahead(plan: Plan) -> Iterator[Ahead]:
    made = Ahead(plan.scene, plan.placements[:3], 3)
    yield made
    made.close()


def test_ahead_brings_what_evaluate_gives(ahead: Ahead, plan: Plan) -> None:
    assert ahead.missing == 2
    assert ahead.get(1) is None
    until = time.monotonic() + 60.0
    while ahead.missing and time.monotonic() < until:
        ahead.poll(3)
        time.sleep(0.01)
    assert ahead.missing == 0
    for step in range(4):
        got, wanted = ahead.get(step), evaluate(plan.scene, plan.placements[:step])
        assert got is not None
        assert np.array_equal(got.eyring, wanted.eyring)
        assert np.array_equal(got.arrivals.level_db, wanted.arrivals.level_db)
    assert not ahead.poll(0)


def test_without_its_process_steps_come_on_demand(ahead: Ahead) -> None:
    process = ahead._process
    assert process is not None
    process.terminate()
    process.join()
    ahead.poll(0)
    ahead.poll(0)
    got = ahead.get(1)
    assert got is not None
    assert len(got.placements) == 1
