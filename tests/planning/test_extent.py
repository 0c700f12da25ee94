"""How large a treatment must be."""

import numpy as np
import pytest

from treatment.acoustics.fresnel import patch_shares
from treatment.planning.early import early_field
from treatment.planning.evaluate import evaluate
from treatment.planning.extent import rank_surfaces, treatment_extents
from treatment.scene.load import load_scene

ROOM = """title = "extent"
[air]
temperature_c = 20.0
[room]
shape = "box"
length = 6.0
width = 4.0
height = 2.7
[surfaces]
default = "brick-painted"
[[loudspeakers]]
name = "L"
position = [0.8, 1.0, 1.2]
[[seats]]
name = "seat"
position = [4.2, 2.0, 1.2]
spread = {spread}
"""


def room(tmp_path, spread):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(spread=spread))
    return load_scene(path)[0]


def test_a_head_that_does_not_move_has_a_point_for_a_zone(tmp_path):
    # The points of room R1 by hand (see tests/truth/test_images.py).
    points = {2: (1.9333, 1.2), 3: (2.84, 1.2), 5: (2.5, 1.5)}
    for extent in treatment_extents(room(tmp_path, 0.0)):
        if extent.surface in points:
            assert extent.zones.centre == pytest.approx(points[extent.surface], abs=1e-3)
            assert extent.zones.area == pytest.approx(0.0, abs=1e-12)


def test_a_seating_area_is_projected_from_the_image(tmp_path):
    """By similar triangles the zone on the floor is the square times the share of the path before it."""
    for extent in treatment_extents(room(tmp_path, 0.2)):
        if extent.surface == 4:
            assert (extent.zones.width, extent.zones.height) == pytest.approx((0.2, 0.2), abs=1e-9)


def test_the_field_cures_and_a_smaller_one_does_not(tmp_path):
    scene = room(tmp_path, 0.2)
    e = early_field(scene)
    checked = 0
    for extent in treatment_extents(scene):
        for a in extent.arrivals:
            if a.field is None:
                continue
            absorber = np.full(8, 0.95)
            for scale, cured in ((1.0, True), (0.45, False)):
                u, v = a.field.centre
                w, h = a.field.width * scale, a.field.height * scale
                level = _worst(scene, e, a, (u - w / 2, v - h / 2, u + w / 2, v + h / 2), absorber)
                assert (level <= -10.0 + 1e-6) == cured
                checked += 1
    assert checked >= 8


def test_the_rectangle_of_all_fields_cures_each(tmp_path):
    """A field that reaches further than an arrival's own may cost it a little by Fresnel's ripples."""
    scene = room(tmp_path, 0.2)
    e = early_field(scene)
    absorber = np.full(8, 0.95)
    for extent in treatment_extents(scene):
        for a in extent.arrivals:
            if a.field is not None:
                assert extent.fields is not None
                assert _worst(scene, e, a, extent.fields.bounds, absorber) <= -9.8


def _worst(scene, e, arrival, rect, absorber):
    """Loudest band of one arrival with one rectangle of absorber, from the shares themselves."""
    b = e.bounces
    total = np.zeros(4)
    for k in range(len(b.path)):
        m = b.path[k]
        same = e.paths.source[m] == arrival.source and e.paths.receiver[m] // 5 == arrival.seat
        if not same or e.paths.order[m] != 1 or e.paths.surfaces[m, 0] != arrival.surface:
            continue
        share = patch_shares(
            b.wall[k : k + 1],
            b.along[k : k + 1],
            b.cosine[k : k + 1],
            b.before[k : k + 1],
            b.after[k : k + 1],
            np.array([rect]),
            scene.air.speed_of_sound,
            e.frequency[m],
        )[0]
        wall = np.sqrt(1 - scene.surfaces[arrival.surface].material.capped[4:])
        total += e.gain[m] * np.abs(wall + share * (np.sqrt(1 - absorber[4:]) - wall)) ** 2
    return 10 * np.log10(total.max())


def test_ranking_names_the_strongest_surface_first(tmp_path):
    ranking = rank_surfaces(evaluate(room(tmp_path, 0.1)))
    assert len(ranking) == 1
    assert np.all(np.diff(ranking[0].level_db) <= 0)
    assert set(ranking[0].surfaces) == {"front", "back", "left", "right", "floor", "ceiling"}
