"""A weak plan says so: the largest thing left by hand, the advice by rooms that have it.

Energies re the direct sound are 10^(L/10) (ISO 80000-8). The absorption of carpet and curtain is that of the
material tables, whose provenance stands there.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from treatment.geometry.polygon import Rectangle
from treatment.materials.prices import Price, Prices
from treatment.planning.bill import make_bill
from treatment.planning.evaluate import evaluate
from treatment.planning.fate import fate_of
from treatment.planning.first_steps import Sides, first_steps, largest_left, share_to_even, sides_of
from treatment.planning.make import assemble
from treatment.planning.plan import Placement
from treatment.present.answer import answer
from treatment.present.documents import plan_document
from treatment.scene.load import load_scene
from treatment.scene.model import Budget

ROOM = """title = "bare"
panels = ["wool-100"]
[room]
shape = "box"
length = 6.0
width = 4.0
height = 2.5
[surfaces]
default = "gypsum-board-on-studs"
floor = "FLOOR"
left = "LEFT"
[[loudspeakers]]
name = "L"
position = [0.6, 1.0, 1.1]
[[loudspeakers]]
name = "R"
position = [0.6, 3.0, 1.1]
[[seats]]
name = "middle"
position = [3.6, 2.0, 1.1]
spread = 0.0
"""
BARE, CARPET = "floor-concrete-or-terrazzo", "carpet-heavy-on-hairfelt"
PLASTER, GLASS, CURTAIN = (
    "gypsum-board-on-studs",
    "window-heavy-plate-glass",
    "curtain-heavy-velour-half-area-aad",
)


def room(tmp_path, floor=BARE, left=PLASTER):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.replace("FLOOR", floor).replace("LEFT", left))
    return load_scene(path)[0]


def panels(scene, surface, *places):
    build, index = scene.builds[0], [s.name for s in scene.surfaces].index(surface)
    return tuple(
        Placement(f"P{n}", build, index, Rectangle(u, v, build.outer_width, build.outer_height))
        for n, (u, v) in enumerate(places, 1)
    )


def judged(scene, hung):
    before, after = evaluate(scene), evaluate(scene, hung)
    return before, after, first_steps(before, after)


def test_the_largest_left_is_of_energy_not_of_number():
    """One bounce of 0 dB against two of -6 dB: 1 to 2 x 0.251, two thirds."""
    level = np.full((4, 8), -40.0)
    level[:3, 4:] = [[0.0], [-6.0], [-6.0]]
    level[3, 4:] = 20.0
    a = SimpleNamespace(
        order=np.ones(4, dtype=np.intp),
        verdict=("treat", "treat", "treat", "note"),
        surfaces=np.array([[0, -1], [1, -1], [1, -1], [1, -1]]),
        level_db=level,
        names=(("floor",), ("back",), ("back",), ("back",)),
    )
    scene = SimpleNamespace(surfaces=(SimpleNamespace(name="floor"), SimpleNamespace(name="back")))
    name, count, share = largest_left(SimpleNamespace(arrivals=a, scene=scene))
    assert (name, count) == ("floor", 1)
    assert share == pytest.approx(1.0 / (1.0 + 2.0 * 10**-0.6), rel=1e-9)


def test_a_carpet_is_what_the_room_with_one_is(tmp_path):
    """The numbers told are those of the same room written with a carpet."""
    bare, laid = room(tmp_path), room(tmp_path, floor=CARPET)
    hung = panels(bare, "back", (1.0, 0.5))
    before, after, (words,) = judged(bare, hung)
    fate = fate_of(before, after, 1)
    assert words.startswith(f"This plan is weak for the room: {fate.stay} of {fate.before} strong")
    assert f"dies away in {after.eyring[3:5].mean():.2f} s" in words
    with_carpet = evaluate(laid, hung)
    stay = fate_of(before, with_carpet, 1).stay
    assert f"{stay} would stay, at {with_carpet.eyring[3:5].mean():.2f} s" in words
    # 32 for 1 m2, an invented example.
    assert "bare floor (24 m2, about 768 by example prices)" in words
    # Where there is one already, none is advised; nor is a plan without panels called weak.
    _, _, said = judged(laid, hung)
    assert "carpet" not in " ".join(said)
    assert first_steps(before, before) == ()


def test_without_offers_nothing_more_is_evaluated(tmp_path, monkeypatch):
    scene = room(tmp_path)
    before, after, (words,) = judged(scene, panels(scene, "back", (1.0, 0.5)))
    assert "A carpet first" in words
    monkeypatch.setattr("treatment.planning.first_steps.evaluate", None)
    (short,) = first_steps(before, after, offers=False)
    assert words.startswith(f"{short} A carpet first")
    assert short.endswith("% of their energy.")


def test_a_plan_that_is_not_weak_is_not_called_so(tmp_path):
    scene = room(tmp_path, floor=CARPET)
    places = [(u, v) for u in (0.3, 1.0, 1.7, 2.4, 3.1, 3.8, 4.5, 5.2) for v in (0.05, 1.3) if v < 1.2]
    hung = (*panels(scene, "left", *places), *panels(scene, "right", *places))
    hung += panels(
        scene, "ceiling", *[(u, v) for u in (0.3, 1.3, 2.3, 3.3, 4.3, 5.2) for v in (0.2, 1.5, 2.7)]
    )
    assert judged(scene, hung)[2] == ()


def test_a_side_of_glass_is_told_with_its_curtain(tmp_path):
    """Panels on the right only: the level of either side added up here anew, and the room with a curtain."""
    scene = room(tmp_path, floor=CARPET, left=GLASS)
    hung = panels(scene, "right", (0.9, 0.5), (1.6, 0.5), (2.3, 0.5), (3.0, 0.5))
    _, after, said = judged(scene, hung)
    words = said[-1]
    a = after.arrivals

    def side(name):
        on = [
            i
            for i in range(len(a.order))
            if a.order[i] == 1 and scene.surfaces[a.surfaces[i, 0]].name == name
        ]
        return 10.0 * np.log10(np.sum(10.0 ** (a.level_db[on][:, 4:] / 10.0)) / 4.0)

    apart = side("left") - side("right")
    assert apart > 1.5
    assert sides_of(after).apart == pytest.approx(apart, abs=1e-9)
    assert f"{apart:.1f} dB more comes early by single bounces from the left" in words
    draped = evaluate(room(tmp_path, floor=CARPET, left=CURTAIN), hung)
    assert "across 'left', 15.0 m2, about 675 by example prices" in words  # 45 for 1 m2
    then = sides_of(draped).apart
    told = f"brings the difference to {then:.1f} dB." if then >= 0.0 else f"then {-then:.1f} dB more comes"
    assert told in words
    # Plaster instead of glass: it is told, but no curtain is.
    _, _, said = judged(room(tmp_path, floor=CARPET), hung)
    assert "Left and right now differ" in said[-1]
    assert "curtain" not in said[-1]


def test_as_much_curtain_as_evens_the_sides():
    """Energies 4 and 2 without, 1 and 2 with all: two thirds of it take 4 to 2."""
    db = [10.0 * np.log10(x) for x in (4.0, 2.0, 1.0, 2.0)]
    assert share_to_even(Sides(*db[:2]), Sides(*db[2:])) == pytest.approx(2.0 / 3.0, rel=1e-12)
    # The other way round it is the same.
    assert share_to_even(Sides(*db[1::-1]), Sides(*db[:1:-1])) == pytest.approx(2.0 / 3.0, rel=1e-12)


def test_a_plan_says_it_right_after_its_cost(tmp_path):
    scene = room(tmp_path)
    made = assemble(scene, panels(scene, "back", (1.0, 0.5)))
    assert made.advice[0].startswith("This plan is weak")
    assert answer(made)[1] == made.advice[0]
    assert plan_document(made)["advice"] == list(made.advice)


@pytest.mark.parametrize(
    ("unit", "price", "words"),
    [
        ("m2", 10.0, "about 240 by your price"),
        ("", 10.0, "about 240 by your price"),
        ("ft2", 1.0, "about 258 by your price"),  # 24 m2 are 258.3 ft2
        ("m", 10.0, "about 768 by example prices"),  # by length it says nothing of an area
    ],
)
def test_a_carpet_has_a_price_of_ones_own(tmp_path, unit, price, words):
    bare = room(tmp_path)
    hung = panels(bare, "back", (1.0, 0.5))
    own = Prices((Price("carpet", price, unit),))
    before, after = evaluate(bare), evaluate(bare, hung)
    assert words in first_steps(before, after, own)[0]
    priced = replace(bare, prices=own, budget=Budget(400.0, "EUR"))
    before, after = evaluate(priced), evaluate(priced, hung)
    assert words.replace(" by", " EUR by") in first_steps(before, after)[0]
    # It stands in no list, and is not called idle.
    assert not any("nothing here needs" in n for n in make_bill(hung, bare, prices=own).notes)
