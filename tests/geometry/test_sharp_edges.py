"""Where edges end: that the same corner reached by two ways of reckoning is one corner."""

import numpy as np

from treatment.geometry.sharp_edges import BEYOND, image, reaching


def test_ends_that_meet_are_found_between_two_millimetres():
    """A box of 2.5 in (63.5 mm, half way between two millimetres): each end is reckoned twice, with noise."""
    inch = 0.0254
    ring = np.array([[2.5, 2.5, 7.5], [7.5, 2.5, 7.5], [7.5, 12.5, 7.5], [2.5, 12.5, 7.5]]) * inch
    rng = np.random.default_rng(2)
    for _ in range(20):
        ends = np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) + rng.uniform(-1e-12, 1e-12, (4, 2, 3))
        assert np.array_equal(reaching(ends, np.zeros(4, dtype=np.intp)), ends)
    # Without the fourth edge two ends are alone; in a group of its own every end is.
    reach = reaching(ends[:3], np.zeros(3, dtype=np.intp))
    assert np.linalg.norm(reach[:, 1] - reach[:, 0], axis=1).round(2).tolist() == [
        round(5 * inch + BEYOND, 2), round(10 * inch, 2), round(5 * inch + BEYOND, 2)
    ]  # fmt: skip
    alone = reaching(ends[:3], np.arange(3))
    assert (np.linalg.norm(alone[:, 1] - alone[:, 0], axis=1) > 2.0 * BEYOND).all()


def test_images_by_hand():
    """In the wall x = 2: (3, 5, 1) and (0.5, 0, 0) have images (1, 5, 1) and (3.5, 0, 0)."""
    points = np.array([[[3.0, 5.0, 1.0], [0.5, 0.0, 0.0]]])
    mirrored = image(points, np.array([[2.0, 9.0, 9.0]]), np.array([[-1.0, 0.0, 0.0]]))
    assert np.allclose(mirrored, [[[1.0, 5.0, 1.0], [3.5, 0.0, 0.0]]], atol=1e-12)
