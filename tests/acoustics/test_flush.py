"""Walls of two materials in one plane: near their joint both send sound back; a joint alone does nothing."""

import numpy as np
import pytest

from treatment.acoustics.bounces import bounces_of
from treatment.acoustics.flush_factors import flush_factors
from treatment.acoustics.fresnel import SAMPLE_HZ, patch_shares
from treatment.acoustics.image_sources import find_paths
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.shapes import box, extrude, solid_box, subtract_contacts

C = 343.0
#: Three walls in a row, 20 m high: what they do at the middle has nothing to do with floor and ceiling.
ROW = extrude([[-4000, 0], [2.4, 0], [3.1, 0], [4000, 0], [4000, 25], [-4000, 25]], 20.0)
SOURCE = np.array([[1.1, 1.5, 9.4]])


def one_bounce(room, seat, surfaces, source=SOURCE):
    paths = find_paths(room, source, np.array([seat]), 1)
    (k,) = np.flatnonzero((paths.order == 1) & np.isin(paths.surfaces[:, 0], surfaces))
    return bounces_of(room, paths.taken(np.array([k])), source)


@pytest.mark.parametrize(
    "seat", [(3.2, 1.3, 10.2), (3.7, 1.5, 9.4), (3.9, 1.4, 8.1), (4.6, 1.6, 10.0), (5.2, 1.9, 12.0)]
)
def test_a_row_of_walls_is_a_wall_with_patches(seat):
    """The share of a strip by the surface integral (`patch_shares`, checked in test_fresnel)."""
    room = Enclosure(ROW)
    walls = [i for i, n in enumerate(room.normals) if n[1] > 0.99]
    assert len(walls) == 3
    returned = np.full((len(ROW), SAMPLE_HZ.shape[0]), 0.95)
    returned[walls] = np.array([0.9, 0.2, 0.6])[:, None]
    for k in (0, 3):
        f = SAMPLE_HZ[:, k]
        b = one_bounce(room, seat, walls)
        found = flush_factors(room, b, returned, C, f)[0]
        x = room.origins[b.surface][:, 0] + b.wall[:, 0]
        point = np.column_stack([x, b.wall[:, 1]])
        expected = np.full(len(f), 0.9, dtype=complex)
        for low, high, r in ((2.4, 3.1, 0.2), (3.1, 4000.0, 0.6)):
            strip = np.array([[low, -4000.0, high, 4000.0]])
            share = patch_shares(point, b.along, b.cosine, b.before, b.after, strip, C, f)[0]
            expected += (r - 0.9) * share
        assert np.abs(found - expected).max() < 0.004
        alone = returned[b.surface[0]]
        assert np.abs(found - alone).max() > 0.02


def beside_a_joint(x, height, level):
    """Factor of a bounce 1.5 m off the walls that meet at 2.4 m, of 0.9 and 0.3, at 125 Hz, 1 and 8 kHz."""
    room = Enclosure(extrude([[-4000, 0], [2.4, 0], [4000, 0], [4000, 25], [-4000, 25]], height))
    walls = [i for i, n in enumerate(room.normals) if n[1] > 0.99]
    returned = np.full((len(room.normals), 3), 0.9)
    returned[walls[1]] = 0.3
    b = one_bounce(room, (2.0 * x - 1.1, 1.5, level), walls, np.array([[1.1, 1.5, level]]))
    return flush_factors(room, b, returned, C, np.array([125.0, 1000.0, 8000.0]))[0]


def test_a_joint_at_the_specular_point_gives_half_of_both():
    """Kirchhoff's integral over half of the plane is one half of that over all of it, at every frequency."""
    assert beside_a_joint(2.4, 20.0, 9.4) == pytest.approx(np.full(3, 0.6), abs=5e-4)


@pytest.mark.parametrize("x", [2.1, 2.3, 2.55])
def test_walls_go_on_behind_the_floor_as_their_mirror_image(x):
    low, high = beside_a_joint(x, 2.4, 0.2), beside_a_joint(x, 20.0, 9.4)
    assert low == pytest.approx(high, abs=1e-3)
    assert np.abs(high - (0.9 if x < 2.4 else 0.3)).max() > 0.03


def test_a_joint_of_one_material_does_nothing():
    room = Enclosure(ROW)
    returned = np.full((len(ROW), 8), 0.8)
    paths = find_paths(room, SOURCE, np.array([[3.7, 1.5, 9.4]]), 2)
    found = flush_factors(room, bounces_of(room, paths, SOURCE), returned, C, SAMPLE_HZ[:, 0])
    assert found == pytest.approx(np.full(found.shape, 0.8), abs=1e-12)


def test_boxes_have_nothing_flush_and_steps_do():
    """A box on the floor against the wall shares no plane with it; two of one height share their tops."""
    assert len(Enclosure(box(5, 4, 2.5)).flush.near) == 0
    solids = [*solid_box((1, 1, 0), (1, 1, 0.5)), *solid_box((2, 0.5, 0), (1, 1, 0.5))]
    room = Enclosure(tuple(p for p in subtract_contacts([*box(5, 4, 2.5), *solids]) if p is not None))
    flush = room.flush
    tops = [
        i
        for i, (n, o) in enumerate(zip(room.normals, room.origins, strict=True))
        if n[2] > 0.99 and abs(o[2] - 0.5) < 1e-9
    ]
    assert [flush.members(i) for i in tops] == [tops, tops]
    # They share half of a side: 0.5 m of x = 2.
    real = flush.reach[0]
    assert sorted(real[:, 1].tolist()) == pytest.approx([1.0, 1.5])
    assert flush.between(tops[1], tops[0]) == pytest.approx(
        (room.origins[tops[1]] - room.origins[tops[0]])[:2]
    )
