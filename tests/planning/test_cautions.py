"""Cautions follow from the plan, hold its numbers, and defer to local codes."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from treatment.geometry.polygon import Rectangle
from treatment.materials.builds import load_builds
from treatment.materials.library import load_library
from treatment.planning.cautions import cautions_for
from treatment.planning.plan import Placement
from treatment.scene.load import load_scene
from treatment.scene.model import KeepOut

BUILDS = {b.id: b for b in load_builds(load_library())}


@pytest.fixture(scope="module")
def scene():
    bare = load_scene(Path(__file__).parents[2] / "scenes" / "garden-room.toml")[0]
    return replace(bare, keep_outs=())


def placed(scene, surface, build="wool-100", u=2.0, v=0.6, name="P1"):
    b = BUILDS[build]
    rectangle = Rectangle(u, v, b.outer_width, b.outer_height)
    return Placement(name, b, scene.surface_index(surface), rectangle)


def topic(cautions, start):
    found = [c for c in cautions if c.startswith(start)]
    assert len(found) <= 1
    return found[0] if found else ""


def keep_out(scene, surface, reason, at, size=(0.2, 0.2), depth=0.05):
    return KeepOut(reason, scene.surface_index(surface), Rectangle(*at, *size), depth, reason)


def test_every_caution_defers(scene):
    full = replace(
        scene,
        keep_outs=(
            keep_out(scene, "left", "electrical", (1.0, 0.0), (0.76, 2.0), 0.92),
            keep_out(scene, "ceiling", "luminaire", (1.0, 1.0)),
            keep_out(scene, "ceiling", "detector", (3.0, 1.0)),
            keep_out(scene, "back", "vent", (3.0, 2.0)),
        ),
    )
    said = cautions_for(full, [placed(full, "left", u=3.0), placed(full, "ceiling", name="P2")])
    topics = [c.split(":")[0].split(" (")[0] for c in said]
    assert topics == [
        "Electricity", "Load overhead", "Lamps", "Fire", "Ways out and alarms", "Fixing to walls", "Fibres",
        "Damp", "Hearing",
    ]  # fmt: skip
    for caution in said:
        assert re.search(r"[Ll]ocal (codes|rules)", caution), caution
        assert "licensed" in caution, caution


def test_only_what_applies(scene):
    said = cautions_for(scene, [placed(scene, "left", "felt-25")])
    assert not topic(said, "Electricity")
    assert not topic(said, "Load overhead")
    assert not topic(said, "Fibres")  # polyester
    assert topic(said, "Damp")  # glued flat on the wall
    assert topic(cautions_for(scene, ()), "Hearing")
    assert len(cautions_for(scene, ())) == 1
    assert not topic(cautions_for(scene, [placed(scene, "left", "wool-50-gap-50")]), "Damp")


def test_overhead_tells_mass_rating_and_whose_head(scene):
    """wool-100 weighs by hand 0.72 m2 x 0.1 m x 48 kg/m3 + (0.636 x 1.236 - 0.72) x 0.1 x 500 = 6.76 kg."""
    above = topic(cautions_for(scene, [placed(scene, "ceiling", u=3.0, v=1.5)]), "Load overhead")
    assert "6.8 kg" in above
    assert "40 kg or more" in above  # five times 6.76 and 0.84 kg of cloth
    assert "two independent fixings" in above
    assert "P1 over centre" in above
    assert "Over heads" not in topic(cautions_for(scene, [placed(scene, "ceiling", u=0.2, v=0.2)]), "Load")
    heavy = replace(BUILDS["wool-100"], mass=20.0)
    p = replace(placed(scene, "ceiling"), build=heavy)
    assert "105 kg or more" in topic(cautions_for(scene, [p]), "Load")
    assert "weigh it" in topic(cautions_for(scene, [replace(p, build=replace(heavy, mass=0.0))]), "Load")


def test_sloping_ceilings_are_overhead():
    attic = load_scene(Path(__file__).parents[2] / "scenes" / "attic.toml")[0]
    assert topic(cautions_for(attic, [placed(attic, "slope-left")]), "Load overhead")


def test_fuse_board_with_the_figures_of_nec_and_the_scenes_own(scene):
    """NEC 110.26: 36 in, 30 in, 6.5 ft."""
    board = keep_out(scene, "left", "electrical", (1.0, 0.0), (0.76, 2.0), 0.92)
    said = topic(cautions_for(replace(scene, keep_outs=(board,)), [placed(scene, "left", u=3.0)]), "Elec")
    assert "asks for 0.914 m of depth, 0.762 m of width and 1.981 m of height" in said
    feet = replace(scene, keep_outs=(board,), units="ft")
    told = topic(cautions_for(feet, [placed(scene, "left", u=3.0)]), "Elec")
    assert "3 ft (0.914 m) of depth, 2 ft 6 in (0.762 m) of width and 6 ft 6 in (1.981 m) of height" in told
    assert "P1 stays at least 1.24 m" in said  # from 1.76 to 3.00 m along the wall
    assert "less depth" not in said
    before = topic(cautions_for(replace(scene, keep_outs=(board,)), [placed(scene, "left", u=0.1)]), "Elec")
    assert "P1 stays at least 0.264 m" in before  # from 0.736 to 1.00 m
    shallow = replace(board, depth=0.6)
    assert "less depth free: electrical 0.60 m" in topic(
        cautions_for(replace(scene, keep_outs=(shallow,)), ()), "Elec"
    )


def test_lamps_and_detectors_too_near_are_said(scene):
    lamp, far = keep_out(scene, "ceiling", "luminaire", (1.75, 0.6)), (2.0, 2.6)
    said = cautions_for(replace(scene, keep_outs=(lamp,)), [placed(scene, "ceiling", u=2.0, v=0.6)])
    assert "which is too near" in topic(said, "Lamps")  # 50 mm; NEC 410.116 asks for 3 in
    off = replace(lamp, rectangle=Rectangle(1.7, 0.6, 0.2, 0.2))
    said = cautions_for(replace(scene, keep_outs=(off,)), [placed(scene, "ceiling", u=2.0, v=0.6)])
    assert "which is too near" not in topic(said, "Lamps")  # 100 mm
    detector = keep_out(scene, "ceiling", "detector", (1.55, 0.6))
    said = cautions_for(replace(scene, keep_outs=(detector,)), [placed(scene, "ceiling", u=2.0, v=0.6)])
    assert "which is too near" in topic(said, "Ways out")  # 250 mm
    said = cautions_for(replace(scene, keep_outs=(detector,)), [placed(scene, "ceiling", u=far[0], v=far[1])])
    assert "which is too near" not in topic(said, "Ways out")


def test_fire_names_the_cover_and_foam(scene):
    assert "open-weave fabric" in topic(cautions_for(scene, [placed(scene, "left")]), "Fire")
    foam = replace(BUILDS["felt-25"], id="cheap-foam", description="Pyramid foam 50 mm")
    said = topic(cautions_for(scene, [replace(placed(scene, "left"), build=foam)]), "Fire")
    assert "cheap-foam: foam burns" in said
    assert "foam burns" not in topic(cautions_for(scene, [placed(scene, "left")]), "Fire")
