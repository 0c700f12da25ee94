"""Waves at edges: half-planes, an independent surface integral, and that nothing flickers."""

import numpy as np
import pytest
from scipy.special import fresnel

from treatment.acoustics.bounces import bounces_of, path_energy
from treatment.acoustics.edge_waves import meeting_points, over_edges
from treatment.acoustics.fresnel import SAMPLE_HZ
from treatment.acoustics.image_sources import find_paths
from treatment.acoustics.rim_shares import rim_brink, rim_shares
from treatment.acoustics.screen_shares import screen_shares
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.roof import level, plane_from_eave, roofed
from treatment.geometry.shapes import box, extrude, solid_box, subtract_contacts

C = 343.0
L_PLAN = [[0, 0], [7.3, 0], [7.3, 3.2], [4.8, 3.2], [4.8, 4.9], [0, 4.9]]


def with_solids(shell, *solids):
    parts = [*shell]
    for at, size in solids:
        parts += solid_box(at, size)
    return Enclosure(tuple(p for p in subtract_contacts(parts) if p is not None))


def attic():
    plan = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 4.2], [0.0, 4.2]])
    slopes = [plane_from_eave((0, 0), (6, 0), 1.0, 1.0), plane_from_eave((6, 4.2), (0, 4.2), 1.0, 1.0)]
    walls, floor, ceilings = roofed(plan, np.array([level(2.4), *slopes]))
    return Enclosure((*walls, floor, *ceilings))


def knife_edge(v):
    """(1 + j)/2 int_v^inf exp(-j pi t^2/2) dt: Born & Wolf 8.7/11.5, ITU-R P.526 eq. (26) and (27)."""
    s, c = fresnel(v)
    return (1 + 1j) / 2 * ((0.5 - c) - 1j * (0.5 - s))


A, B = np.array([0.0, -2.0, 0.3]), np.array([0.0, 3.0, 0.8])
UPRIGHT = [[0, 0, -900.0], [0, 0, 900.0]]
LEANING = [[0, -150, -900.0], [0, 150, 900.0]]


@pytest.mark.parametrize("edge", [UPRIGHT, LEANING], ids=["upright", "leaning"])
@pytest.mark.parametrize("off", [0.02, 0.2, 0.5, 1.0])
def test_an_endless_edge_is_the_knife_edge(edge, off):
    f = np.array([63.0, 250.0, 1000.0, 8000.0])
    ends = np.array(edge) + np.array([off, 0.0, 0.0])
    # The shortest way over the edge, by trying all points of it.
    points = ends[0] + np.linspace(0.499, 0.501, 200_001)[:, None] * (ends[1] - ends[0])
    ways = np.linalg.norm(points - A, axis=1) + np.linalg.norm(points - B, axis=1)
    v = 2.0 * np.sqrt((ways.min() - np.linalg.norm(B - A)) * f / C)
    found = over_edges(A[None], B[None], ends[None], 2 * np.pi * f / C)[0]
    met, beside = meeting_points(A[None], B[None], ends[None])
    assert met[0] == pytest.approx(points[ways.argmin()], abs=0.02)
    assert (beside - met)[0] @ (ends[1] - ends[0]) == pytest.approx(0.0, abs=1e-6)
    # In the shadow this is what arrives; in the light it is what is missing.
    assert found == pytest.approx(knife_edge(v), abs=3e-3)
    assert 1.0 - found == pytest.approx(knife_edge(-v), abs=3e-3)


def test_the_loss_of_a_knife_edge():
    """ITU-R P.526 eq. (31), from memory: J(v) = 6.9 + 20 lg(sqrt((v - 0.1)^2 + 1) + v - 0.1) dB."""
    f = 1000.0
    for v in (0.0, 0.5, 1.0, 2.0, 2.4):
        h = v / np.sqrt(2.0 * f / C * (1 / 2.0 + 1 / 3.0))
        ends = np.array([[[h, 0, -900.0], [h, 0, 900.0]]])
        a, b = np.array([[0, -2.0, 0]]), np.array([[0, 3.0, 0]])
        loss = -20 * np.log10(abs(over_edges(a, b, ends, np.array([2 * np.pi * f / C]))[0, 0]))
        assert loss == pytest.approx(6.9 + 20 * np.log10(np.hypot(v - 0.1, 1) + v - 0.1), abs=0.3)


def surface_integral(origin, u, v, size, source, receiver, frequency):
    """Kirchhoff's integral over a rectangle over the wave of its image source (Born & Wolf 8.3.2 (17))."""
    n = np.cross(u, v)
    k = 2 * np.pi * frequency / C
    image = source - 2 * ((source - origin) @ n) * n
    length = np.linalg.norm(image - receiver)
    x, w = np.polynomial.legendre.leggauss(8)

    def nodes(long):
        pieces = int(np.ceil(max(6.0, long * frequency / C * 10.0) / 8))
        step = long / pieces
        return (np.arange(pieces)[:, None] * step + (x + 1) / 2 * step).ravel(), np.tile(w / 2 * step, pieces)

    (s, ws), (t, wt) = nodes(size[0]), nodes(size[1])
    q = origin + s[:, None, None] * u + t[None, :, None] * v
    r1, r2 = np.linalg.norm(q - source, axis=-1), np.linalg.norm(q - receiver, axis=-1)
    oblique = np.abs((q - source) @ n) / r1 + np.abs((q - receiver) @ n) / r2
    total = np.einsum("ij,i,j->", np.exp(-1j * k * (r1 + r2)) / (r1 * r2) * oblique, ws, wt)
    return total * 1j * k / (4 * np.pi) / (np.exp(-1j * k * length) / length)


X, Y, Z = np.eye(3)
#: Room, source, receiver, and the rectangle that reflects: free edges, or a floor or wall that doubles it.
FACES = {
    "top of a table": (
        [((3.0, 2.0, 0.5), (1.2, 0.8, 0.2))], (2.2, 2.1, 1.3), (4.6, 2.5, 1.4),
        ([3.0, 2.0, 0.7], X, Y, (1.2, 0.8)),
    ),
    "post": (
        [((3.0, 2.0, 0.0), (0.15, 0.15, 2.5))], (1.6, 1.0, 1.2), (1.4, 3.2, 1.2),
        ([3.0, 2.0, -12.0], Y, Z, (0.15, 26.0)),
    ),
    "front of a platform": (
        [((3.0, 1.0, 0.0), (1.5, 2.2, 0.4))], (1.1, 1.8, 0.4), (0.8, 2.6, 0.3),
        ([3.0, 1.0, -0.4], Y, Z, (2.2, 0.8)),
    ),
    "counter at the wall": (
        [((2.0, 0.0, 0.0), (1.4, 0.6, 0.9))], (2.3, 0.5, 1.5), (3.0, 0.4, 1.6),
        ([2.0, -0.6, 0.9], X, Y, (1.4, 1.2)),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FACES)
@pytest.mark.parametrize("band", [500, 1000, 2000, 4000])
def test_reflections_off_obstacles_against_the_surface_integral(name, band):
    solids, source, seat, (origin, u, v, size) = FACES[name]
    room = with_solids(box(6.0, 5.0, 2.5), *solids)
    source, seat = np.array([source]), np.array([seat])
    n = np.cross(u, v)
    paths = find_paths(room, source, seat, 1)
    wall = np.maximum(paths.surfaces[:, 0], 0)
    flat = np.abs(room.normals[wall] @ n) > 0.99
    here = np.abs((room.origins[wall] - np.array(origin)) @ n) < 1e-6
    (one,) = np.flatnonzero((paths.order == 1) & flat & here)
    path = paths.taken(np.array([one]))
    f = band * 2.0 ** (np.linspace(-0.5, 0.5, 13)[1::2])
    found = rim_shares(room, bounces_of(room, path, source), C, f)[0]
    expected = [surface_integral(np.array(origin), u, v, size, source[0], seat[0], x) for x in f]
    ours, theirs = (10 * np.log10(np.mean(np.abs(x) ** 2)) for x in (found, expected))
    assert ours == pytest.approx(theirs, abs=1.0)


def test_a_box_has_no_edges_that_bend_sound():
    room = Enclosure(box(6.0, 4.0, 2.7))
    source, seat = np.array([[0.8, 1.0, 1.2]]), np.array([[4.2, 2.0, 1.2]])
    paths = find_paths(room, source, seat, 2)
    assert np.all(rim_shares(room, bounces_of(room, paths, source), C, SAMPLE_HZ[0]) == 1.0)
    share, brink = screen_shares(room, paths, source, seat, C, SAMPLE_HZ[0])
    assert np.all(share == 1.0)
    assert np.all(brink == 1.0)


def test_half_the_pressure_is_left_beside_the_corner_of_an_l():
    """Sommerfeld's half-plane: -6 dB on the boundary of the shadow (Born & Wolf, 11.5)."""
    room = Enclosure(extrude(L_PLAN, 2.35))
    source = np.array([[2.0, 4.2, 1.2]])
    corner = np.array([4.8, 3.2, 1.2])
    seat = source + 1.8 * (corner - source)
    share, _ = screen_shares(
        room, find_paths(room, source, seat - [0.0, 1e-5, 0], 0), source, seat, C, np.array([500.0])
    )
    assert abs(share[0, 0]) == pytest.approx(0.5, abs=0.01)


def test_a_thin_post_is_no_cure():
    """The direct sound passes a post of 0.1 m at 20 mm: one less the share of a strip (Babinet)."""
    room = with_solids(box(6.0, 4.0, 2.5), ((3.0, 2.02, 0.0), (0.1, 0.1, 2.5)))
    source, seat = np.array([[1.0, 2.0, 1.2]]), np.array([[5.0, 2.0, 1.2]])
    f = np.array([250.0, 1000.0, 4000.0])
    share, brink = screen_shares(room, find_paths(room, source, seat, 0), source, seat, C, f)
    v = np.array([0.02, 0.12])[:, None] * np.sqrt(2 * f / C * (1 / 2.05 + 1 / 1.95))
    expected = np.abs(1.0 - (knife_edge(v[0]) - knife_edge(v[1])))
    assert np.abs(share[0]) == pytest.approx(expected, abs=0.05)
    assert abs(share[0, 0]) > 0.9  # half a decibel at 250 Hz, where a half-plane takes 5 dB
    assert brink[0] == pytest.approx(1.0)


def test_the_far_side_of_a_body_on_the_floor_stays_far_as_a_line_over_its_edge_steepens():
    """A line passes the top edge of a low cupboard at 0.2 m; its image below the floor stays the far side."""
    room = with_solids(box(6.0, 5.0, 4.0), ((2.5, 0.5, 0.0), (1.0, 4.0, 0.6)))
    edge, f = np.array([2.5, 2.5, 0.6]), np.array([63.0])
    levels = []
    for slope in np.radians([42.0, 44.0, 46.0, 48.0]):
        along = np.array([-np.cos(slope), 0.0, -np.sin(slope)])
        beside = edge + 0.2 * np.array([-np.sin(slope), 0.0, np.cos(slope)])
        source, seat = (beside - 1.5 * along)[None], (beside + 0.5 * along)[None]
        share, _ = screen_shares(room, find_paths(room, source, seat, 0), source, seat, C, f)
        levels.append(20.0 * np.log10(abs(share[0, 0])))
    assert np.abs(np.diff(levels)).max() < 1.5  # turned over, it would jump by 8 dB


def energies(room, source, seats, order=2, edges=True):
    """Sum of the paths' energies at each seat, by band."""
    paths = find_paths(room, source, seats, order)
    f = SAMPLE_HZ.ravel()
    energy = np.ones((len(paths), len(f)))
    if edges:
        rim = rim_shares(room, bounces_of(room, paths, source), C, f)
        share, brink = screen_shares(room, paths, source, seats, C, f)
        energy = path_energy(paths, bounces_of(room, paths, source), rim) * np.abs(share) ** 2
        energy *= np.minimum(brink, rim_brink(room, paths))[:, None]
    energy = energy.reshape(len(paths), 8, -1).mean(axis=-1) / paths.length[:, None] ** 2
    total = np.zeros((len(seats), 8))
    np.add.at(total, paths.receiver, energy)
    return total


#: Room, source, from where to where the seat moves, and what the sum of the picture of rays jumps by.
WALKS = {
    # Reflections off the left wall, off it and the floor, ... pass into the shadow of the inner corner.
    "inner corner": (
        Enclosure(extrude(L_PLAN, 2.35)), (0.35, 3.7, 1.1), (5.81, 2.53, 1.1), (5.84, 2.55, 1.1), 0.15,
    ),
    "fold": (attic(), (0.6, 1.1, 0.95), (3.479, 1.435, 1.058), (3.491, 1.48, 1.074), 0.15),
    "soffit": (
        with_solids(extrude(L_PLAN, 2.35), ((0, 0, 2.05), (7.3, 0.6, 0.3))),
        (1.0, 0.3, 1.1), (3.0, 0.86, 1.1), (3.0, 0.94, 1.1), 0.1,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", WALKS)
def test_the_sum_does_not_flicker_where_a_path_ends_at_an_edge(name):
    """A seat walks over the place in steps of a millimetre; 0.012 is 0.05 dB."""
    room, source, start, end, jumps = WALKS[name]
    start, end = np.array(start), np.array(end)
    seats = start + np.linspace(0, 1, int(1000 * np.linalg.norm(end - start)))[:, None] * (end - start)
    rays, ours = (energies(room, np.array([source]), seats, edges=e) for e in (False, True))
    assert (np.abs(np.diff(rays, axis=0)) / rays[1:]).max() > jumps
    assert (np.abs(np.diff(ours, axis=0)) / ours[1:]).max() < 0.012


def test_reciprocity():
    room = with_solids(
        extrude(L_PLAN, 2.35), ((2.55, 3.0, 0), (0.1, 0.1, 2.35)), ((3.2, 1.0, 0), (0.8, 0.6, 0.7))
    )
    source, seat = np.array([[0.6, 3.6, 1.1]]), np.array([[6.2, 2.3, 1.2]])
    there, back = energies(room, source, seat), energies(room, seat, source)
    assert there == pytest.approx(back, rel=1e-3)
    assert np.abs(there / energies(room, source, seat, edges=False) - 1.0).max() > 0.02
