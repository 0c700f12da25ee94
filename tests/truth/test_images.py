"""Image sources against hand geometry and the lattice of the rectangular room.

Room R1, 6.0 x 4.0 x 2.7 m, source (0.8, 1.0, 1.2), receiver (4.2, 2.0, 1.2), c = 343 m/s. The values come
from an independent script; the distances also from pyroomacoustics to four decimals. Formulas: Allen &
Berkley, JASA 65 (1979) 943; Borish, JASA 75 (1984) 1827.
"""

import numpy as np
import pytest

from treatment.acoustics.bounces import bounces_of, path_energy, path_levels
from treatment.acoustics.image_sources import find_paths
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.shapes import box

SOURCE, RECEIVER = np.array([[0.8, 1.0, 1.2]]), np.array([[4.2, 2.0, 1.2]])
C = 343.0
# Surfaces in our order: front x0, back x1, left y0, right y1, floor, ceiling; absorption of room R1.
ALPHA = np.array([0.10, 0.10, 0.10, 0.10, 0.30, 0.60])
# surface: length m, delay ms, geometric dB, dB with R1's absorption, specular point
FIRST = {
    0: (5.0990, 4.534, -3.16, -3.62, (0.0, 1.16, 1.2), 11.31),
    1: (7.0711, 10.283, -6.00, -6.46, (6.0, 1.7429, 1.2), 8.13),
    2: (4.5343, 2.887, -2.14, -2.60, (1.9333, 0.0, 1.2), 48.58),
    3: (6.0465, 7.296, -4.64, -5.10, (2.84, 4.0, 1.2), 34.22),
    4: (4.2802, 2.146, -1.64, -3.19, (2.5, 1.5, 0.0), 55.89),
    5: (4.6433, 3.205, -2.35, -6.33, (2.5, 1.5, 2.7), 49.75),
}


@pytest.fixture(scope="module")
def room():
    return Enclosure(box(6.0, 4.0, 2.7))


@pytest.fixture(scope="module")
def paths(room):
    return find_paths(room, SOURCE, RECEIVER, 2)


def _levels(room, paths, alpha):
    bounces = bounces_of(room, paths, SOURCE)
    factor = np.sqrt(1.0 - alpha[bounces.surface])[:, None].astype(complex)
    return path_levels(paths, path_energy(paths, bounces, factor), np.zeros(1))[:, 0]


@pytest.mark.parametrize("surface", sorted(FIRST))
def test_first_order(room, paths, surface):
    length, delay, geometric, absorbed, point, angle = FIRST[surface]
    i = np.flatnonzero((paths.order == 1) & (paths.surfaces[:, 0] == surface))
    assert len(i) == 1
    i = int(i[0])
    assert paths.length[i] == pytest.approx(length, abs=1e-4)
    assert (paths.length[i] - paths.direct[i]) / C * 1e3 == pytest.approx(delay, abs=0.002)
    assert paths.points[i, 0] == pytest.approx(point, abs=1e-4)
    assert _levels(room, paths, np.zeros(6))[i] == pytest.approx(geometric, abs=0.006)
    assert _levels(room, paths, ALPHA)[i] == pytest.approx(absorbed, abs=0.006)
    bounces = bounces_of(room, paths, SOURCE)
    k = int(np.flatnonzero(bounces.path == i)[0])
    assert np.degrees(np.arccos(bounces.cosine[k])) == pytest.approx(angle, abs=0.006)


@pytest.mark.parametrize(
    ("route", "length", "delay", "level"),
    # Image (11.2, 7.0, 1.2): the receiver decides which wall comes first; image (0.8, 9.0, 1.2).
    [({1, 3}, 8.6023, 14.747, -7.70), ({2, 3}, 7.7820, 12.356, -6.83)],
)
def test_second_order(room, paths, route, length, delay, level):
    found = [
        i
        for i in np.flatnonzero(paths.order == 2)
        if set(paths.surfaces[i]) == route and abs(paths.length[i] - length) < 1e-4
    ]
    assert len(found) == 1
    assert (paths.length[found[0]] - paths.direct[found[0]]) / C * 1e3 == pytest.approx(delay, abs=0.002)
    assert _levels(room, paths, np.zeros(6))[found[0]] == pytest.approx(level, abs=0.006)


def test_counts_of_a_box(room):
    # Orders 0 to 3 of a rectangular room: 1, then 4 i^2 + 2.
    assert list(np.bincount(find_paths(room, SOURCE, RECEIVER, 3).order)) == [1, 6, 18, 38]


@pytest.mark.parametrize("seed", range(4))
def test_box_equals_the_lattice_to_order_three(seed):
    """Allen & Berkley's lattice: images at (1 - 2q) s + 2 n L per axis, order sum |2n - q|."""
    rng = np.random.default_rng(seed)
    size = rng.uniform(2.0, 8.0, 3)
    s, r = rng.uniform(0.1, 0.9, (2, 3)) * size
    lattice = []
    steps = [(n, q) for n in range(-2, 3) for q in (0, 1)]
    for nx, qx in steps:
        for ny, qy in steps:
            for nz, qz in steps:
                order = abs(2 * nx - qx) + abs(2 * ny - qy) + abs(2 * nz - qz)
                if order <= 3:
                    q, n = np.array([qx, qy, qz]), np.array([nx, ny, nz])
                    image = (1 - 2 * q) * s + 2 * n * size
                    lattice.append((order, float(np.linalg.norm(image - r))))
    paths = find_paths(Enclosure(box(*size)), s[None], r[None], 3)
    ours = sorted(zip(paths.order.tolist(), paths.length.tolist(), strict=True))
    assert len(ours) == len(lattice)
    for (order, length), (expected_order, expected) in zip(ours, sorted(lattice), strict=True):
        assert order == expected_order
        assert length == pytest.approx(expected, rel=1e-12)
