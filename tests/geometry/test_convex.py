"""Convex bodies that share space: against a linear programme, the defining condition, not the shortcut."""

import numpy as np
from scipy.optimize import linprog

from treatment.geometry.convex import share_space


def depth_by_programme(hull, corners):
    """Whether some point lies in both hulls: a feasible pair of convex combinations (the definition)."""
    n, m = len(hull), len(corners)
    equal = np.zeros((5, n + m))
    equal[:3, :n], equal[:3, n:] = hull.T, -corners.T
    equal[3, :n] = equal[4, n:] = 1.0
    found = linprog(np.zeros(n + m), A_eq=equal, b_eq=[0, 0, 0, 1, 1], bounds=(0, None))
    return found.status == 0


def turned(rng):
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    return (q * np.sign(np.diag(r))).T


def test_random_bodies_agree_with_the_definition():
    rng = np.random.default_rng(7)
    signs = np.array([[a, b, c] for a in (-1, 1) for b in (-1, 1) for c in (-1, 1)])
    both = set()
    for trial in range(120):
        # Solids, flat ones, lines and points.
        hull = rng.uniform(-1, 1, (1 + trial % 8, 3)) * [1.0, 1.0, 0.0 if trial % 5 == 0 else 1.0]
        axes = turned(rng)
        centre, half = rng.uniform(-1.2, 1.2, (6, 3)), rng.uniform(0.05, 0.6, (6, 3))
        shared = share_space(hull, centre, half, axes, slack=0.0)
        for c, h, s in zip(centre, half, shared, strict=True):
            assert s == depth_by_programme(hull, c + (signs * h) @ axes)
            both.add(bool(s))
    assert both == {True, False}


def test_touching_is_not_sharing():
    # A sight line along the face of a panel, and one a centimetre into it.
    line = np.array([[0.0, 0.0, 0.1], [3.0, 0.0, 0.1]])
    box = (np.array([[1.5, 0.0, 0.05]]), np.array([[0.3, 0.6, 0.05]]), np.eye(3))
    assert not share_space(line, *box)[0]
    assert share_space(line - [0, 0, 0.01], *box)[0]
