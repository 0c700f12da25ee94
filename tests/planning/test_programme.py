"""The integer programme: small cases by enumeration, and a bound that holds."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from treatment.acoustics.zones import SAMPLES
from treatment.planning.gains import even_builds, group_gains
from treatment.planning.means import means
from treatment.planning.objective import score
from treatment.planning.optimise import choose
from treatment.planning.problem import state_problem
from treatment.planning.programme import solve, state_programme, tighter_bound
from treatment.planning.targets import CRITERION_BANDS
from treatment.scene.load import load_scene, resolve_scene

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
{more}
"""


def problem_of(tmp_path, width=3.4, y=1.1, budget=120, more=""):
    path = tmp_path / "room.toml"
    text = ROOM.format(width=width, y=y, budget=budget, more=more)
    path.write_text(text)
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
        used=programme.used[keep],
        gain=programme.gain[:, keep],
        clashes=programme.clashes[:, keep],
    )


def legal_choices(small, left, most=14):
    """Every choice without clashes within money, number and mass."""
    clash = small.clashes.toarray()
    for count in range(1, most + 1):
        found = False
        for some in combinations(range(len(small.site)), count):
            chosen = np.zeros(len(small.site), dtype=bool)
            chosen[list(some)] = True
            if np.all(small.used[chosen].sum(axis=0) <= left + 1e-9):
                found = True
                if (clash @ chosen).max(initial=0.0) <= 1.0:
                    yield chosen
        if not found:
            return


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("limit", ["money", "panels", "mass"])
def test_small_cases_equal_full_enumeration(tmp_path, seed, limit):
    """Fourteen columns that crowd each other, a limit of money, number or mass: every legal choice."""
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
    each = small.used[0]
    left = np.full(3, np.inf)
    j = ("money", "panels", "mass").index(limit)
    left[j] = 2.4 * each[j]
    best = max(small.value(chosen) for chosen in legal_choices(small, left))
    # Without the small cost for what has no twin, and without side gains, the two optima are one.
    chosen, bound = solve(free, small, left, np.zeros(14), gap=0.0)
    assert small.value(chosen) == pytest.approx(best, rel=1e-6)
    assert bound >= best - 1e-6
    assert bound + 1e-6 >= tighter_bound(free, small, left)[1] >= best - 1e-6
    # The limit binds, or the test would say nothing: one panel more would gain more.
    left[j] += each[j]
    assert max(small.value(chosen) for chosen in legal_choices(small, left)) > best + 1e-3


def test_chosen_columns_do_not_clash_and_stay_in_the_money(tmp_path):
    problem = problem_of(tmp_path, budget=200)
    programme = programme_of(problem)
    chosen, bound = solve(problem, programme, means(problem.scene), np.zeros(len(programme.site)))
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


def test_the_shipped_scene_that_is_furthest_from_its_bound():
    """The first plan is 6 % away: a closer bound, and the choice behind it, bring it below."""
    selection = choose(state_problem(load_scene(resolve_scene("bay-window"))[0]))
    assert selection.bound.gap < 0.05


def test_the_same_scene_gives_the_same_choice(tmp_path):
    first, again = (choose(problem_of(tmp_path, budget=300)) for _ in range(2))
    assert [(c.site, c.build, c.gain) for c in first.choices] == [
        (c.site, c.build, c.gain) for c in again.choices
    ]
    assert (first.bound, first.score) == (again.bound, again.score)


def test_more_money_never_gains_less(tmp_path):
    gained = [choose(problem_of(tmp_path, budget=b)).bound for b in (45, 90, 180)]
    values = [b.value for b in gained]
    assert values == sorted(values)


def few_sites(problem, seed, count=12):
    """The same room with a dozen of its strongest sites, drawn at random."""
    programme = programme_of(problem)
    alone = np.asarray(programme.gain.sum(axis=0)).ravel()
    strong = programme.site[np.argsort(-alone)[:80]]
    drawn = np.random.default_rng(seed).choice(np.unique(strong), count, replace=False)
    allowed = np.zeros_like(problem.allowed)
    allowed[drawn] = problem.allowed[drawn]
    return replace(problem, allowed=allowed), np.sort(drawn)


@pytest.mark.parametrize("more", ["", "[limits]\npanels = 2", "[limits]\nmass = 19.0"])
@pytest.mark.parametrize("seed", range(4))
def test_the_true_objective_is_that_of_full_enumeration(tmp_path, seed, more):
    """Not the linearised one: what `score` says of every legal set, shares added before they are squared."""
    problem, drawn = few_sites(problem_of(tmp_path, budget=140, more=more), seed)
    left = means(problem.scene)
    used = np.array([[b.price, 1.0, b.mass] for b in problem.builds])
    best = 0.0
    for count in (1, 2, 3):
        for some in combinations(drawn.tolist(), count):
            within = np.all(count * used[0] <= left + 1e-9)
            boxes = problem.sites.body.taken(np.array(some)).bounds
            apart = all(
                np.any(np.minimum(a[1], b[1]) - np.maximum(a[0], b[0]) < 1e-3)
                for a, b in combinations(boxes, 2)
            )
            if within and apart:
                best = max(best, score(problem, [(s, 0) for s in some]).total)
    chosen = [(c.site, c.build) for c in choose(problem).choices]
    assert score(problem, chosen).total == pytest.approx(best, rel=1e-9)


HALL = """title = "hall"
panels = ["tile"]
[room]
shape = "box"
length = 9.0
width = 8.0
height = 4.5
[surfaces]
default = "brick-rendered"
floor = "carpet-heavy-on-concrete"
[[loudspeakers]]
name = "L"
position = [2.5, 0.9, 1.5]
[[seats]]
name = "seat"
position = [5.3, 1.2, 1.5]
spread = 0.30
[limits]
panels = 4
[builds.tile]
width = 0.4
height = 0.4
thickness = "100 mm"
layers = [{ airflow_resistivity = 10000, thickness = "100 mm", density = 40 }]
price = 10.0
"""


def test_one_field_at_a_strong_point_instead_of_scattered_panels(tmp_path):
    """Near one wall of a hall: a field of small panels is worth more than one on each of four surfaces."""
    path = tmp_path / "room.toml"
    path.write_text(HALL)
    problem = state_problem(load_scene(path)[0])
    chosen = [(c.site, c.build) for c in choose(problem).choices]
    surface = problem.sites.surface
    # The rival: the best panel of each of the four surfaces on which one gains most.
    alone = {}
    for site in np.flatnonzero(problem.allowed[:, 0]).tolist():
        value = score(problem, [(site, 0)]).total
        if value > alone.get(int(surface[site]), (0.0, 0))[0]:
            alone[int(surface[site])] = value, site
    scattered = [(site, 0) for _, site in sorted(alone.values(), reverse=True)[:4]]
    assert len(chosen) == len(scattered) == 4
    field = [(s, b) for s, b in chosen if problem.scene.surfaces[surface[s]].name == "left"]
    boxes = problem.sites.rectangle[[s for s, _ in field]]
    assert score(problem, chosen).early > 1.2 * score(problem, scattered).early
    # Together they are worth more than the sum of what each does alone: shares add before they are squared.
    assert score(problem, field).early > 1.04 * sum(score(problem, [panel]).early for panel in field)
    # Each has another one of the field less than a hand away.
    gaps = np.maximum(boxes[:, None, :2] - boxes[None, :, 2:], boxes[None, :, :2] - boxes[:, None, 2:])
    near = np.hypot(*np.maximum(gaps, 0.0).transpose(2, 0, 1)) + np.eye(len(field))
    assert len(field) >= 2
    assert near.min(axis=0).max() < 0.16


def test_weights_move_the_choice_and_zero_leaves_out(tmp_path):
    """A weight of two is a seat that is there twice: the objective is the sum over arrivals."""
    path = tmp_path / "room.toml"

    def early(*weights):
        seats = "".join(
            f'[[seats]]\nname = "s{n}"\nposition = [2.9, {y}, 1.1]\nweight = {w}\n'
            for n, (y, w) in enumerate(zip((1.2, 2.2), weights, strict=True))
        )
        text = ROOM.format(budget=120, width=3.4, y=1.1, more=seats)
        path.write_text(text.replace('[[seats]]\nname = "seat"', '[[seats]]\nname = "seat"\nweight = 0'))
        problem = state_problem(load_scene(path)[0])
        return problem, problem.early.total(problem.early.bare)

    (both, total), (_, first), (second_only, second) = early(1, 1), early(1, 0), early(0, 1)
    assert total == pytest.approx(first + second, rel=1e-9)
    assert early(2, 0.5)[1] == pytest.approx(2 * first + 0.5 * second, rel=1e-9)
    # Gains and caps carry the weights too, so that the bound and the objective speak of one thing.
    programme = programme_of(early(2, 0.5)[0])
    assert programme.cap.sum() == pytest.approx(2 * first + 0.5 * second, rel=1e-9)
    assert set(second_only.early.paths.receiver // SAMPLES) == {2}
    assert len(both.early.paths) > len(second_only.early.paths)
    chosen, other = choose(early(1, 0.01)[0]), choose(early(0.01, 1)[0])
    assert {c.site for c in chosen.choices} != {c.site for c in other.choices}


def test_only_the_surfaces_and_the_depth_that_are_allowed(tmp_path):
    more = '[limits]\nsurfaces = ["left", "ceiling"]\ndepth = "0.12 m"'
    path = tmp_path / "room.toml"
    text = ROOM.format(budget=400, width=3.4, y=1.1, more=more)
    path.write_text(text.replace('panels = ["wool-100"]\n', ""))
    problem = state_problem(load_scene(path)[0])
    selection = choose(problem)
    assert selection.choices
    for c in selection.choices:
        surface = problem.scene.surfaces[problem.sites.surface[c.site]].name
        assert surface in {"left", "ceiling"}
        assert problem.builds[c.build].depth <= 0.12 + 1e-9
    words = " ".join(selection.limits)
    assert "120 mm in depth leaves out" in words
    assert "left, ceiling" in words


@pytest.mark.parametrize(
    ("more", "words"),
    [("[limits]\npanels = 2", "number of panels (2)"), ("[limits]\nmass = 19.0", "the mass"), ("", "budget")],
)
def test_the_limit_that_binds_is_named(tmp_path, more, words):
    (sentence, *_) = choose(problem_of(tmp_path, budget=140, more=more)).limits
    assert sentence.startswith("What held the plan back")
    assert words in sentence


def test_the_solver_is_stopped_by_nodes_and_never_by_the_clock(tmp_path, monkeypatch):
    """A slow machine must give the plan of a fast one."""
    import scipy.optimize

    problem, asked, solver = problem_of(tmp_path), [], scipy.optimize.milp

    def milp(*args, **kwargs):
        if "integrality" in kwargs:
            asked.append(dict(kwargs["options"]))
        return solver(*args, **kwargs)

    monkeypatch.setattr(scipy.optimize, "milp", milp)
    programme, left = programme_of(problem), means(problem.scene)
    solve(problem, programme, left, np.zeros(len(programme.site)))
    tighter_bound(problem, programme, left)
    assert len(asked) == 2
    assert all("node_limit" in options and "time_limit" not in options for options in asked)
