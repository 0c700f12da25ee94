"""A memory saves work and changes no number: every result is compared bit by bit with a plain `evaluate`."""

from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from treatment.air import Air
from treatment.bands import frozen
from treatment.geometry.polygon import Rectangle
from treatment.planning import memory as memory_module
from treatment.planning.evaluate import evaluate
from treatment.planning.memory import Memory
from treatment.planning.plan import Placement
from treatment.scene.load import load_scene

SCENES = Path(__file__).parents[2] / "scenes"


def same(a, b):
    if isinstance(a, np.ndarray):
        return (
            a.shape == b.shape and a.dtype == b.dtype and np.array_equal(a, b, equal_nan=a.dtype.kind == "f")
        )
    if is_dataclass(a):
        return type(a) is type(b) and all(same(getattr(a, f.name), getattr(b, f.name)) for f in fields(a))
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(same(a[k], b[k]) for k in a)
    if isinstance(a, tuple | list):
        return len(a) == len(b) and all(same(x, y) for x, y in zip(a, b, strict=True))
    return a == b


def moved(things, index, by):
    return tuple(
        replace(t, position=frozen(t.position + by)) if i == index else t for i, t in enumerate(things)
    )


def hanging(scene, count):
    """Panels on the three longest walls; whether they may hang there does not matter here."""
    build = scene.builds[0]
    walls = [i for i, s in enumerate(scene.surfaces) if s.kind == "wall" and not s.obstacle]
    walls = sorted(walls, key=lambda i: -scene.surfaces[i].polygon.area)[:3]
    return tuple(
        Placement(f"P{k}", build, walls[k % 3], Rectangle(0.6 + 0.7 * (k // 3), 0.5, 0.6, 1.2), ())
        for k in range(count)
    )


def edits(scene, panels):
    """One after the other, as a person makes them; the last ones go back to what was known before."""
    nudge = np.array([0.01, -0.02, 0.0])
    yield "as it is", scene, ()
    yield "panels", scene, panels
    yield "seat moved", replace(scene, seats=moved(scene.seats, 0, nudge)), panels
    yield "loudspeaker moved", replace(scene, loudspeakers=moved(scene.loudspeakers, 1, nudge)), panels
    other = replace(scene.surfaces[0], material=scene.surfaces[scene.surface_index("floor")].material)
    yield "material", replace(scene, surfaces=(other, *scene.surfaces[1:])), panels
    slid = replace(panels[0], rectangle=Rectangle(0.61, 0.5, 0.6, 1.2))
    yield "panel moved", scene, (slid, *panels[1:])
    yield "panel down", scene, panels[1:]
    yield "warmer air", replace(scene, air=Air(27.0)), panels
    yield "wider seat", replace(scene, seats=tuple(replace(s, spread=0.31) for s in scene.seats)), panels
    yield "a seat fewer", replace(scene, seats=scene.seats[1:]), panels
    yield "back again", scene, panels


@pytest.mark.parametrize(("name", "count"), [("garden-room", 4), ("soffit-basement", 5), ("basement", 6)])
def test_the_same_to_the_last_bit(name, count):
    scene, _ = load_scene(SCENES / f"{name}.toml")
    memory = Memory()
    results = []
    for words, room, panels in edits(scene, hanging(scene, count)):
        quick, plain = evaluate(room, panels, memory=memory), evaluate(room, panels)
        for field in fields(plain):
            if field.name not in {"scene", "placements"}:
                assert same(getattr(quick, field.name), getattr(plain, field.name)), (words, field.name)
        results.append(plain.arrivals.level_db)
    # The edits do change what is compared.
    assert len({r.tobytes() for r in results}) == len(results) - 1


def test_only_what_changed_is_worked_out_again(monkeypatch):
    scene, _ = load_scene(SCENES / "garden-room.toml")
    panels = hanging(scene, 6)
    pairs = []
    plain = memory_module.patch_shares

    def counted(point, *rest):
        pairs.append(len(point))
        return plain(point, *rest)

    monkeypatch.setattr(memory_module, "patch_shares", counted)
    memory = Memory()

    def work(room, hung):
        pairs.clear()
        evaluate(room, hung, memory=memory)
        return sum(pairs)

    whole = work(scene, panels)
    assert whole > 1000
    assert work(scene, panels) == 0
    assert work(scene, panels[:-1]) == 0
    slid = replace(panels[0], rectangle=Rectangle(0.61, 0.5, 0.6, 1.2))
    assert 0 < work(scene, (slid, *panels[1:])) < whole / 4
    seat = replace(scene, seats=moved(scene.seats, 0, np.array([0.01, 0.0, 0.0])))
    # One seat of three: a third of the paths, give or take those that come and go.
    assert 0 < work(seat, panels) < 0.45 * whole


def test_it_is_bounded(monkeypatch):
    scene, _ = load_scene(SCENES / "garden-room.toml")
    monkeypatch.setattr(memory_module, "_MOST_PAIRS", 2000)
    monkeypatch.setattr(memory_module, "_MOST_ENDS", 3)
    monkeypatch.setattr(memory_module, "_POOL", 300)
    memory, panels = Memory(), hanging(scene, 4)
    for k in range(3):
        room = replace(scene, seats=moved(scene.seats, 0, np.array([0.01 * k, 0.0, 0.0])))
        quick = evaluate(room, panels, memory=memory)
        assert memory._pairs == sum(len(k.rows) for k in memory._known.values())
        assert memory._pairs <= 2000
        assert len(memory._paths) <= len(scene.seats) * len(scene.loudspeakers)
        assert same(quick.arrivals.level_db, evaluate(room, panels).arrivals.level_db)


def test_rows_of_one_mark_are_kept_apart(monkeypatch):
    """Two different bounces could have one mark; the numbers themselves decide."""
    scene, _ = load_scene(SCENES / "garden-room.toml")
    panels = hanging(scene, 3)
    monkeypatch.setattr(memory_module, "_marks", lambda rows: np.zeros(len(rows), dtype=np.uint64))
    memory = Memory()
    for _ in range(2):
        quick = evaluate(scene, panels, memory=memory)
        assert same(quick.arrivals.level_db, evaluate(scene, panels).arrivals.level_db)
