"""The integer programme: small cases by enumeration, and a bound that holds."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from treatment.planning.greedy import even_builds, group_gains
from treatment.planning.optimise import choose
from treatment.planning.problem import state_problem
from treatment.planning.programme import solve, state_programme
from treatment.planning.targets import CRITERION_BANDS
from treatment.scene.load import load_scene

ROOM = """title = "programme"
panels = ["wool-100"]
[room]
shape = "box"
length = 4.6
width = {width}
height = 2.4
[surfaces]
default = "gypsum-board-on-studs"
floor = "carpet-heavy-on-concrete"
[[loudspeakers]]
name = "L"
position = [0.5, {y}, 1.0]
[[seats]]
name = "seat"
position = [2.9, 1.6, 1.1]
spread = 0.15
[budget]
amount = {budget}
currency = "EUR"
"""


def problem_of(tmp_path, width=3.4, y=1.1, budget=120):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(width=width, y=y, budget=budget))
    return state_problem(load_scene(path)[0])


def programme_of(problem):
    tried = np.flatnonzero(even_builds(problem))
    absorption = np.array([problem.builds[k].material.capped[CRITERION_BANDS] for k in tried])
    groups = np.arange(len(problem.cover.group_site))
    gains = group_gains(problem, problem.early.bare, groups, np.sqrt(1.0 - absorption))
    return state_programme(problem, gains, tried.tolist())


def thinned(programme, keep):
    return replace(
        programme,
        site=programme.site[keep],
        build=programme.build[keep],
        price=programme.price[keep],
        gain=programme.gain[:, keep],
        clashes=programme.clashes[:, keep],
    )


@pytest.mark.parametrize("seed", range(4))
def test_small_cases_equal_full_enumeration(tmp_path, seed):
    """Fourteen columns, at most three panels: every legal choice is tried."""
    problem = problem_of(tmp_path)
    whole = programme_of(problem)
    rng = np.random.default_rng(seed)
    alone = np.asarray(whole.gain.sum(axis=0)).ravel()
    strong = np.argsort(-alone)[:60]
    keep = np.sort(rng.choice(strong, 14, replace=False))
    small = thinned(whole, keep)
    # Twins are not asked for here: the free programme is compared with free enumeration.
    apart = replace(problem.sites, mirror=np.full(len(problem.sites), -1))
    free = replace(problem, sites=apart)
    clash = small.clashes.toarray()
    best = 0.0
    for count in (1, 2, 3):
        for some in combinations(range(14), count):
            chosen = np.zeros(14, dtype=bool)
            chosen[list(some)] = True
            if (clash @ chosen).max(initial=0.0) <= 1.0:
                best = max(best, small.value(chosen))
    chosen, bound = solve(free, small, 3 * float(small.price[0]), np.zeros(14), gap=0.0)
    assert small.value(chosen) == pytest.approx(best, rel=1e-6)
    assert bound >= best - 1e-6


def test_chosen_columns_do_not_clash_and_stay_in_the_money(tmp_path):
    problem = problem_of(tmp_path, budget=200)
    programme = programme_of(problem)
    chosen, bound = solve(problem, programme, 200.0, np.zeros(len(programme.site)))
    assert chosen.any()
    assert (programme.clashes @ chosen.astype(float)).max() <= 1.0
    assert programme.price @ chosen <= 200.0
    assert programme.value(chosen) <= bound + 1e-6


def test_left_and_right_are_alike_in_a_room_that_is(tmp_path):
    problem = problem_of(tmp_path, width=3.2, y=1.6, budget=240)
    selection = choose(problem)
    early = {c.site for c in selection.choices if c.purpose == "early"}
    for site in early:
        twin = int(problem.sites.mirror[site])
        assert twin == site or twin in early


def test_the_plan_is_within_five_percent_of_the_bound_and_no_better_than_it(tmp_path):
    selection = choose(problem_of(tmp_path, budget=300))
    assert selection.bound is not None
    assert 0.0 <= selection.bound.gap < 0.05
    assert selection.bound.value <= selection.bound.bound + 1e-6


def test_more_money_never_gains_less(tmp_path):
    gained = [choose(problem_of(tmp_path, budget=b)).bound for b in (45, 90, 180)]
    values = [b.value for b in gained]
    assert values == sorted(values)
