"""Boxes in any direction against linear programming: two convex bodies meet when a common point exists."""

import numpy as np
import pytest
from scipy.optimize import linprog

from treatment.geometry.boxes import Boxes, boxes_on, cut_by, gaps, meets
from treatment.geometry.polygon import Polygon


def turned(rng):
    """A random rotation (Shoemake 1992: unit quaternion from a normal sample)."""
    w, x, y, z = (q := rng.normal(size=4)) / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )


def random_boxes(rng, count):
    return Boxes(
        rng.uniform(-1, 1, (count, 3)),
        np.array([turned(rng) for _ in range(count)]),
        rng.uniform(0.05, 0.7, (count, 3)),
    )


def halfspaces(boxes, k, grow=0.0):
    """A x <= b of one box."""
    a = np.concatenate([boxes.axes[k], -boxes.axes[k]])
    b = a @ boxes.centre[k] + np.tile(boxes.half[k] + grow, 2)
    return a, b


def common_point(boxes, i, j, grow):
    (a, b), (c, d) = halfspaces(boxes, i, grow), halfspaces(boxes, j, grow)
    found = linprog(np.zeros(3), np.vstack([a, c]), np.concatenate([b, d]), bounds=(None, None))
    return found.status == 0


def test_two_boxes_meet_when_they_have_a_common_point():
    rng = np.random.default_rng(1)
    boxes = random_boxes(rng, 16)
    found, apart = meets(boxes, boxes), gaps(boxes, boxes)
    seen = {True: 0, False: 0}
    for i in range(16):
        for j in range(i):
            if abs(apart[i, j]) < 5e-3:
                continue  # nearer to touching than the contact that is let pass
            assert found[i, j] == common_point(boxes, i, j, 0.0)
            seen[bool(found[i, j])] += 1
    assert min(seen.values()) > 20


def test_distance_of_parallel_boxes_is_exact_and_else_never_too_long():
    rng = np.random.default_rng(2)
    a = Boxes.between([[[0, 0, 0], [1, 1, 1]]])
    # Corner to corner: a shift of (0.3, 0.4, 1.2) is 1.3 long (3, 4, 12, 13).
    assert gaps(a, Boxes.between([[[1.3, 1.4, 2.2], [2, 2, 3]]]))[0, 0] == pytest.approx(1.3, rel=1e-12)
    b = random_boxes(rng, 40)
    b.centre[:, 0] += 2.5
    corners = np.array(np.meshgrid([-1, 1], [-1, 1], [-1, 1])).reshape(3, -1).T
    for k, gap in enumerate(gaps(a, b)[0]):
        points = b.centre[k] + (corners * b.half[k]) @ b.axes[k]
        nearest = np.linalg.norm(points - np.clip(points, 0, 1), axis=1).min()
        assert gap <= nearest + 1e-9


def test_a_box_is_cut_by_the_triangles_that_share_a_point_with_it():
    rng = np.random.default_rng(3)
    normal, inside = turned(rng), {True: 0, False: 0}
    corners = np.array([[0, 0, 0], [3, 0, 0], [3, 3, 0], [0, 3, 0]]) @ normal
    surface = Polygon.from_corners(corners, inside=normal[2])
    for _ in range(150):
        low = rng.uniform(0, 2, 2)
        table = np.array([[*low, *(low + rng.uniform(0.2, 0.9, 2))]])
        depth = rng.uniform(0.05, 0.5)
        triangle = (
            surface.to_room(rng.uniform(0, 3, (3, 2))) + rng.uniform(-0.4, 0.7, (3, 1)) * surface.normal
        )
        box = boxes_on(surface, table, depth)

        def shares(grow, box=box, triangle=triangle):
            """Whether a convex combination of the corners lies in the box."""
            a, b = halfspaces(box, 0, grow)
            one = np.ones((1, 3))
            return linprog(np.zeros(3), a @ triangle.T, b, one, [1.0]).status == 0

        if shares(2e-3) != shares(-2e-3):
            continue
        found = bool(cut_by(surface, table, depth, triangle[None])[0])
        assert found == shares(0.0)
        inside[found] += 1
    assert min(inside.values()) > 20
