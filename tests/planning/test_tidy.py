"""Lining up what was chosen: lines where they cost nothing, and never anything spoiled."""

from dataclasses import replace

import numpy as np
import pytest

from treatment.planning import tidy
from treatment.planning.evaluate import evaluate
from treatment.planning.legal import review_placements
from treatment.planning.more_places import MorePlaces
from treatment.planning.objective import score
from treatment.planning.optimise import Selection
from treatment.planning.order import aligning_moves, disorder
from treatment.planning.plan import Placement
from treatment.planning.problem import state_problem
from treatment.planning.state import Choice, blocked_by, factor_change
from treatment.planning.statements import bound_words, tidy_words
from treatment.planning.targets import CRITERION_BANDS
from treatment.planning.tidy import SHARE, tidied
from treatment.planning.tidy_moves import REACH, TidyMoves, _Hung
from treatment.planning.whole_choice import choose_all, selected, start_again
from treatment.scene.load import load_scene, resolve_scene

#: Of unlike sides: a window on the left, a fuse board on the right, the screen off the room's middle.
ROOM = """title = "tidy"
units = "{unit}"
panels = ["wool-50", "wool-100"]
[room]
shape = "box"
length = {length}
width = {width}
height = {height}
[surfaces]
default = "gypsum-board-on-studs"
floor = "carpet-heavy-on-concrete"
[[openings]]
name = "window"
surface = "{left}"
at = {window}
size = {window_size}
material = "window-double-30mm-gap"
[[keep_outs]]
name = "fuse board"
surface = "{right}"
at = {board}
size = {board_size}
depth = {depth}
reason = "electrical"
{things}
"""
#: Loudspeakers and seats in metres.
THINGS = {
    "loudspeakers": {"L": (0.5, 0.8, 1.0), "C": (0.4, 1.75, 0.9), "R": (0.5, 2.75, 1.05)},
    "seats": {"one": (3.2, 1.3, 1.1), "two": (3.2, 2.1, 1.1)},
}
SIZE = (4.8, 3.5, 2.4)
SEEDS = range(6)


def room(tmp_path, *, mirrored=False, unit="m"):
    scale = {"m": 1.0, "ft": 1.0 / 0.3048}[unit]

    def lengths(*values):
        return "[" + ", ".join(repr(v * scale) for v in values) + "]"

    lines = []
    for kind, things in THINGS.items():
        for name, (x, y, z) in things.items():
            y = SIZE[1] - y if mirrored else y
            lines += [f"[[{kind}]]", f'name = "{name}"', f"position = {lengths(x, y, z)}"]
    text = ROOM.format(
        unit=unit,
        length=SIZE[0] * scale,
        width=SIZE[1] * scale,
        height=SIZE[2] * scale,
        left="right" if mirrored else "left",
        right="left" if mirrored else "right",
        window=lengths(3.4, 1.0),
        window_size=lengths(0.9, 1.0),
        board=lengths(3.9, 1.2),
        board_size=lengths(0.5, 0.8),
        depth=0.9 * scale,
        things="\n".join(lines),
    )
    path = tmp_path / f"room-{unit}-{mirrored}.toml"
    path.write_text(text)
    return load_scene(path)[0]


def drawn(problem, seed, count=9):
    """Panels at places drawn by lot, the strong ones more often: ragged as no choice would be."""
    rng = np.random.default_rng(seed)
    gains = np.bincount(problem.cover.site, np.abs(problem.cover.share).sum(axis=1), len(problem.sites))
    free, pairs = gains > 0.2 * gains.max(), []
    while free.any() and len(pairs) < count:
        site = int(rng.choice(np.flatnonzero(free)))
        build = int(rng.choice(np.flatnonzero(problem.allowed[site])))
        unit = [site]
        if rng.random() < 0.5 and problem.apart[site] and free[problem.sites.mirror[site]]:
            unit.append(int(problem.sites.mirror[site]))
        for s in unit:
            pairs.append((s, build))
            free &= ~blocked_by(problem, s)
    return pairs


def selection_of(problem, pairs):
    zero = np.zeros(8)
    choices = tuple(Choice(s, b, "early", 0.0, zero, zero) for s, b in pairs)
    chosen = tuple(start_again(problem, choices).chosen)
    return Selection(chosen, None, score(problem, pairs))


def hung(problem, selection):
    return selected(problem, selection)


def area_levels(problem, selection):
    e, factor = problem.early, problem.early.bare.copy()
    for c in selection.choices:
        bounce, change = factor_change(problem, c.site, c.build)
        factor[bounce] += change
    return 10.0 * np.log10(e.arrival_energy(e.member_energy(factor))).max(axis=1)


def bounds(problem, selection):
    return np.array([problem.sites.rectangle[c.site] for c in selection.choices])


@pytest.fixture(scope="module")
def problem(tmp_path_factory):
    return state_problem(room(tmp_path_factory.mktemp("tidy")))


@pytest.fixture(scope="module")
def both(problem):
    """What was drawn, and what became of it."""
    first = [selection_of(problem, drawn(problem, seed)) for seed in SEEDS]
    return [(s, *tidied(problem, s)) for s in first]


def test_some_are_lined_up_or_the_other_tests_say_nothing(both):
    assert sum(new.aligned for _, _, new in both) >= 6


def test_every_panel_stays_legal(problem, both):
    for first, then, new in both:
        before = review_placements(problem.room, hung(problem, first))
        after = review_placements(problem.room, hung(then, new))
        assert {(f.code, f.where) for f in after} <= {(f.code, f.where) for f in before}


def test_no_panel_goes_far_and_none_changes_its_surface_or_build(problem, both):
    for first, then, new in both:
        assert np.abs(bounds(problem, first) - bounds(then, new)).max() <= REACH
        for a, b in zip(first.choices, new.choices, strict=True):
            assert a.build == b.build
            assert problem.sites.surface[a.site] == then.sites.surface[b.site]


def test_the_objective_falls_by_no_more_than_its_share(both):
    for first, then, new in both:
        worth = score(then, [(c.site, c.build) for c in new.choices]).total
        assert worth >= first.score.total - SHARE * abs(first.score.total) - 1e-9
        assert new.score.total == pytest.approx(worth, abs=1e-12)


def test_all_moves_together_cost_no_more_than_their_share(problem, monkeypatch):
    """With lines worth any price the share alone holds; without both the drawn plans lose more than it."""
    monkeypatch.setattr(tidy, "LINE_COST", 1.0)
    falls = []
    for seed in SEEDS:
        first = selection_of(problem, drawn(problem, seed))
        falls.append(1.0 - tidied(problem, first)[1].score.total / first.score.total)
    assert max(falls) <= SHARE + 1e-9
    monkeypatch.setattr(tidy, "SHARE", 1.0)
    first = selection_of(problem, drawn(problem, int(np.argmax(falls))))
    assert tidied(problem, first)[1].score.total < (1.0 - SHARE) * first.score.total


def test_what_was_covered_stays_covered(problem, both):
    for first, then, new in both:
        a, b = (evaluate(problem.room, p).arrivals for p in (hung(problem, first), hung(then, new)))
        covered = np.array([v != "treat" for v in a.verdict]) & (a.order > 0) & (a.delay_ms <= 15.0)
        assert np.array_equal(a.surfaces, b.surfaces)
        assert b.level_db[covered][:, CRITERION_BANDS].max() <= -9.5 + 1e-9
        # And over the whole areas of heads, for the arrivals that the choice counts.
        was, now = (area_levels(p, s) for p, s in ((problem, first), (then, new)))
        assert now[was <= -10.0].max(initial=-99.0) <= -9.5 + 1e-9


def moves_something(both):
    return next(first for first, _, new in both if new.aligned)


def test_nothing_moves_that_comes_up_over_the_area_of_heads(problem, both, monkeypatch):
    """Stands in for the level: as chosen all is covered, with any panel moved 0.6 dB above the criterion."""
    first = moves_something(both)
    chosen = [(c.site, c.build) for c in first.choices]
    monkeypatch.setattr(
        tidy._Tidying, "_level", lambda _, pairs: np.array([-10.5 if pairs == chosen else -9.4])
    )
    assert tidied(problem, first)[1] is first


def test_nothing_moves_into_what_a_review_would_refuse(problem, both, monkeypatch):
    first = moves_something(both)
    calls = []

    def faults(_, placements):
        calls.append(placements)
        return set() if len(calls) == 1 else {("panel-off-surface", "hung 0")}

    monkeypatch.setattr(tidy._Tidying, "_faults", faults)
    assert tidied(problem, first)[1] is first
    assert len(calls) > 1


def test_nothing_moves_that_costs_too_much_with_what_stands(problem, both, monkeypatch):
    first = moves_something(both)
    monkeypatch.setattr(tidy._Tidying, "as_good_with_standing", lambda _: False)
    assert tidied(problem, first)[1] is first


def test_twins_stay_twins(problem, both, monkeypatch):
    """Also where lines are worth any price, so that twins are moved toward each other and apart."""
    for name, value in (("LINE_COST", 9.0), ("SHARE", 9.0), ("HAIR_DB", 99.0)):
        monkeypatch.setattr(tidy, name, value)
    free = [(s, *tidied(problem, s)) for s, _, _ in both]
    for first, then, new in [*both, *free]:
        pairs = [(c.site, c.build) for c in first.choices]
        for n, (s, b) in enumerate(pairs):
            twin = (int(problem.sites.mirror[s]), b)
            if twin in pairs:
                now, other = new.choices[n], new.choices[pairs.index(twin)]
                assert then.sites.mirror[now.site] == other.site


def test_there_is_less_disorder_and_never_more(problem, both):
    """Lines of edges and middles, counted here anew, without what is special about the middle."""

    def lines(p, selection):
        table, on = bounds(p, selection), np.array([p.sites.surface[c.site] for c in selection.choices])
        return sum(disorder(table[on == i], None) for i in np.unique(on))

    before, after = (sum(lines(*x) for x in y) for y in zip(*_pairs(problem, both), strict=True))
    assert after < before


def _pairs(problem, both):
    return [((problem, first), (then, new)) for first, then, new in both]


def test_lined_up_again_it_stays(both):
    for _, then, new in both:
        assert tidied(then, new) == (then, new)


def test_the_mirrored_room_is_lined_up_alike(tmp_path, problem, both):
    other = state_problem(room(tmp_path, mirrored=True))
    names = [s.name for s in problem.scene.surfaces]
    swap = {"left": "right", "right": "left"}

    def mirrored(surface, row):
        name = names[surface]
        index = [s.name for s in other.scene.surfaces].index(swap.get(name, name))
        u, v, x, y = row
        if name in ("front", "back"):
            return index, (SIZE[1] - x, v, SIZE[1] - u, y)
        return index, (u, SIZE[1] - y, x, SIZE[1] - v) if name == "ceiling" else (u, v, x, y)

    compared = 0
    for first, then, new in both:
        pairs = []
        for c in first.choices:
            surface, row = mirrored(problem.sites.surface[c.site], problem.sites.rectangle[c.site])
            near = np.abs(other.sites.rectangle - row).max(axis=1) < 1e-6
            at = np.flatnonzero((other.sites.surface == surface) & near)
            pairs.append((int(at[0]), c.build))
        then_m, new_m = tidied(other, selection_of(other, pairs))
        wanted = [mirrored(then.sites.surface[c.site], then.sites.rectangle[c.site])[1] for c in new.choices]
        assert bounds(then_m, new_m) == pytest.approx(np.array(wanted), abs=2e-6)
        compared += new_m.aligned
    assert compared == sum(new.aligned for _, _, new in both) > 0


def test_the_same_room_in_feet_is_lined_up_alike(tmp_path, problem, both):
    """With the panels of the room in metres: by itself it would take slabs of 2 by 4 feet."""
    feet = state_problem(replace(room(tmp_path, unit="ft"), builds=problem.scene.builds))
    assert feet.scene.units == "ft"
    for first, then, new in both:
        pairs = [(_site(feet, problem, c.site), c.build) for c in first.choices]
        then_f, new_f = tidied(feet, selection_of(feet, pairs))
        assert bounds(then_f, new_f) == pytest.approx(bounds(then, new), abs=2e-6)


def _site(problem, other, site):
    """The same place among the sites of another problem."""
    near = np.abs(problem.sites.rectangle - other.sites.rectangle[site]).max(axis=1) < 1e-6
    return int(np.flatnonzero((problem.sites.surface == other.sites.surface[site]) & near)[0])


def test_what_hangs_already_stays_and_others_are_lined_up_with_it(tmp_path, monkeypatch):
    """A panel of the front is 20 mm lower than a locked one beside it: it comes up to it."""
    scene = room(tmp_path)
    bare = state_problem(scene)
    on = [s.name for s in scene.surfaces].index("back")
    b = next(k for k, x in enumerate(bare.builds) if x.id == "wool-100")
    size = (bare.builds[b].outer_width, bare.builds[b].outer_height)
    places = [k for k in np.flatnonzero(bare.sites.surface == on) if bare.allowed[k, b]]
    upright = [k for k in places if np.isclose(np.ptp(bare.sites.rectangle[k][::2]), size[0])]
    first = bare.sites.at(upright[0])
    locked = Placement("P1", bare.builds[b], on, first.moved(0.0, 0.02))
    problem = state_problem(scene, (locked,))
    row = [
        k
        for k in np.flatnonzero((problem.sites.surface == on) & problem.allowed[:, b])
        if abs(problem.sites.rectangle[k, 1] - first.v) < 1e-6
        and np.isclose(np.ptp(problem.sites.rectangle[k][::2]), size[0])
    ]
    then, new = tidied(problem, selection_of(problem, [(int(row[-1]), b)]))
    assert then.sites.rectangle[new.choices[0].site, 1] == pytest.approx(locked.rectangle.v, abs=1e-6)
    assert selected(then, new)[0] == locked
    # Of an earlier plan it stays where it is, whatever lines are worth.
    for name in ("LINE_COST", "SHARE"):
        monkeypatch.setattr(tidy, name, 9.0)
    known = problem.known.copy()
    known[row[-1]] = True
    kept = replace(problem, known=known)
    assert tidied(kept, selection_of(kept, [(int(row[-1]), b)]))[1].aligned == 0


def test_a_wall_with_places_across_its_corners_alone_has_no_images(problem):
    left, right = (problem.scene.surface_index(n) for n in ("left", "right"))
    sites = problem.sites
    corner = np.where(sites.surface == right, left, -1)
    bare = replace(problem, sites=replace(sites, corner=corner))
    wishes = [
        (left, tuple(sites.rectangle[k] + [0.01, 0.0, 0.01, 0.0]), int(np.flatnonzero(problem.allowed[k])[0]))
        for k in np.flatnonzero((sites.surface == left) & problem.allowed.any(axis=1))
    ]
    whole, places = MorePlaces(problem), MorePlaces(bare)
    found, alone = whole.add(wishes), places.add(wishes)
    assert max(found) >= 0
    assert (whole.problem.sites.surface[len(sites) :] == right).any()
    assert (places.problem.sites.surface[len(sites) :] == left).all()
    assert [k >= 0 for k in alone] == [k >= 0 for k in found]


def test_reasons_are_told_of_the_places_after(both):
    """The gains add up to what the objective says is gone, and each panel has its reasons."""
    _, then, new = next(x for x in both if x[2].aligned)
    for c, p in zip(new.choices, hung(then, new), strict=True):
        assert p.rectangle == then.sites.at(c.site)
        assert p.reasons
    gained = sum(c.gain for c in new.choices)
    start = then.early.total(then.early.bare)
    assert gained / start == pytest.approx(new.score.early, abs=1e-9)


@pytest.mark.parametrize(
    ("table", "middle", "wanted"),
    [
        # One panel: three lines along each coordinate, and no image off the middle.
        ([[0.0, 0.0, 1.0, 2.0]], None, 6),
        ([[0.0, 0.0, 1.0, 2.0]], (0, 0.5), 6),
        ([[0.0, 0.0, 1.0, 2.0]], (0, 0.6), 7),
        # A second one beside it, level with it; 20 mm higher; and with another gap before a third.
        ([[0.0, 0.0, 1.0, 2.0], [1.1, 0.0, 2.1, 2.0]], None, 9),
        ([[0.0, 0.0, 1.0, 2.0], [1.1, 0.02, 2.1, 2.02]], None, 12),
        ([[0.0, 0.0, 1.0, 2.0], [1.1, 0.0, 2.1, 2.0], [2.2, 0.0, 3.2, 2.0]], None, 12),
        ([[0.0, 0.0, 1.0, 2.0], [1.1, 0.0, 2.1, 2.0], [2.3, 0.0, 3.3, 2.0]], None, 13),
    ],
)
def test_disorder_counts_lines_images_and_gaps(table, middle, wanted):
    assert disorder(np.array(table), middle) == wanted


def test_moves_lead_to_lines_middles_gaps_and_images():
    others = np.array([[0.0, 0.5, 0.6, 1.7], [1.5, 0.5, 2.1, 1.7]])
    found = [tuple(np.round(m, 6)) for m in aligning_moves((0.85, 0.45, 1.35, 1.65), others, (0, 1.05), 0.3)]
    assert (0.0, 0.05) in found  # the common lower edge
    assert (-0.05, 0.0) in found  # the middle, and the same gap on both sides
    assert all(max(abs(u), abs(v)) <= 0.3 for u, v in found)
    assert not list(aligning_moves((0.8, 0.5, 1.3, 1.7), others, (0, 1.05), 0.001))


@pytest.fixture(scope="module")
def soffit():
    scene = load_scene(resolve_scene("soffit-basement"))[0]
    # With square clouds at 22 the money reaches for five panels on the front wall.
    builds = [replace(b, price=22.0) if b.id == "cloud-square-50-gap-100" else b for b in scene.builds]
    problem = state_problem(replace(scene, builds=tuple(builds)))
    return tidied(problem, choose_all(problem))


def test_five_panels_of_a_front_wall_hang_on_one_line(soffit):
    """As chosen the middle one hung 0.30 m lower than the four beside it, for nothing."""
    problem, selection = soffit
    front = [s.name for s in problem.scene.surfaces].index("front")
    rows = [problem.sites.rectangle[c.site] for c in selection.choices]
    rows = [r for r, c in zip(rows, selection.choices, strict=True) if problem.sites.surface[c.site] == front]
    assert len(rows) == 5
    assert {round(float(r[1]), 6) for r in rows} == {0.5}


def test_it_says_how_many_were_lined_up(soffit):
    problem, selection = soffit
    (told,) = tidy_words(problem, selection)
    assert told.startswith("Lined up: 1 panel was moved by up to 0.30 m")
    assert "as chosen before panels were lined up" in bound_words(selection)[0]
    assert tidy_words(problem, replace(selection, aligned=0)) == ()


def test_twins_on_one_wall_move_toward_each_other(problem):
    """One 0.10 m to the right, so the other 0.10 m to the left; what hangs in the middle stays there."""
    s = problem.sites
    back = [x.name for x in problem.scene.surfaces].index("back")
    site = next(k for k in np.flatnonzero(problem.apart & (s.surface == back)) if s.mirror[k] > k)
    build = int(np.flatnonzero(problem.allowed[site])[0])
    hung = _Hung(problem, [(site, build), (int(s.mirror[site]), build)])
    places = TidyMoves(problem)._moved(hung, (0, 1), 0, np.array([0.1, 0.0]))
    first, other = (np.array(places[n]) - hung.bounds[n] for n in (0, 1))
    assert first == pytest.approx([0.1, 0.0, 0.1, 0.0])
    assert other == pytest.approx([-0.1, 0.0, -0.1, 0.0])
    middle = next(k for k in np.flatnonzero(s.surface == back) if s.mirror[k] == k)
    alone = _Hung(problem, [(int(middle), int(np.flatnonzero(problem.allowed[middle])[0]))])
    assert TidyMoves(problem)._moved(alone, (0,), 0, np.array([0.1, 0.0])) == {}
    assert TidyMoves(problem)._moved(alone, (0,), 0, np.array([0.0, 0.1])) != {}
