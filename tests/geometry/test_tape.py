"""Where a tape meets an outline: by hand, and against a ray marched through the region by shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from treatment.geometry.polygon import Polygon, Rectangle
from treatment.geometry.tape import tape_end


def upright(ring: list[tuple[float, float]], holes: list[list[tuple[float, float]]] | None = None) -> Polygon:
    """Make a wall at y = 0 with wall coordinates (x, z)."""
    outline = np.array([[u, 0.0, v] for u, v in ring])
    inner = [np.array([[u, 0.0, v] for u, v in hole]) for hole in holes or []]
    return Polygon.from_corners(outline, inside=[0, 1, 0], u_axis=[1, 0, 0], origin=[0, 0, 0], holes=inner)


#: Level below, cut away at the lower left up to (1.4, 1.0): what is left begins at u = 1.4 there.
NOTCHED = upright([(1.4, 0.0), (5.0, 0.0), (5.0, 2.4), (0.0, 2.4), (0.0, 1.0), (1.4, 1.0)])


@pytest.mark.parametrize(
    ("panel", "axis", "at"),
    [
        (Rectangle(2.0, 0.2, 0.6, 0.6), 0, 1.4),  # beside the notch: its face
        (Rectangle(2.0, 1.2, 0.6, 0.6), 0, 0.0),  # above it: the far end of the wall
        (Rectangle(2.0, 0.7, 0.6, 1.2), 0, 0.0),  # 0.3 m see the face, 0.9 m the end
        (Rectangle(2.0, 0.0, 0.6, 1.6), 0, 1.4),  # 1.0 m see the face, 0.6 m the end
        (Rectangle(0.2, 1.5, 0.6, 0.6), 1, 1.0),  # over the notch: its upper side
        (Rectangle(2.0, 1.5, 0.6, 0.6), 1, 0.0),
        (Rectangle(1.4, 0.2, 0.6, 0.6), 0, 1.4),  # right at it
    ],
)
def test_notch_by_hand(panel: Rectangle, axis: int, at: float) -> None:
    end = tape_end(NOTCHED, panel, axis)
    assert end.square
    assert end.at == pytest.approx(at, abs=1e-6)


def test_hole_is_met_from_its_far_side() -> None:
    """A post through the wall from u = 1.0 to 1.1 m: a low panel behind it measures from the post."""
    wall = upright(
        [(0.0, 0.0), (4.0, 0.0), (4.0, 2.4), (0.0, 2.4)], [[(1.0, 0.5), (1.1, 0.5), (1.1, 1.5), (1.0, 1.5)]]
    )
    assert tape_end(wall, Rectangle(2.0, 0.6, 0.6, 0.6), 0).at == pytest.approx(1.1)
    assert tape_end(wall, Rectangle(2.0, 1.6, 0.6, 0.6), 0).at == pytest.approx(0.0)


def test_slanting_edge_is_met_along_the_lower_edge() -> None:
    """A gable side that leans in by 45 degrees above 1.0 m is 0.4 m in at 1.4 m."""
    gable = upright([(0.0, 0.0), (4.0, 0.0), (4.0, 1.0), (2.6, 2.4), (1.4, 2.4), (0.0, 1.0)])
    end = tape_end(gable, Rectangle(1.5, 1.4, 0.6, 0.6), 0)
    assert not end.square
    assert end.at == pytest.approx(0.4, abs=1e-3)
    low = tape_end(gable, Rectangle(1.5, 0.6, 0.6, 0.6), 0)  # 0.4 m of it see the upright part
    assert (low.square, low.at) == (True, pytest.approx(0.0))


def test_random_outlines_against_shapely() -> None:
    """The strip from the tape's end to a panel lies in the region and goes no farther, by shapely."""
    rng = np.random.default_rng(7)
    checked = 0
    while checked < 40:
        boxes = [
            shapely.box(*low, *(low + size))
            for low, size in zip(rng.uniform(0, 3, (4, 2)), rng.uniform(1, 3, (4, 2)), strict=True)
        ]
        region = shapely.union_all(boxes).buffer(0)
        if region.geom_type != "Polygon" or region.interiors:
            continue
        ring = [tuple(p) for p in np.asarray(region.exterior.coords)[:-1]]
        wall = upright(ring)  # type: ignore[arg-type]
        panel = Rectangle(*rng.uniform(0.5, 4.5, 2), 0.3, 0.3)
        if not wall.region.contains(panel.shape()):
            continue
        for axis in (0, 1):
            end = tape_end(wall, panel, axis)
            start = panel.bounds[axis]
            line = [(end.at + 1e-4, end.across), (start, end.across)]
            beyond = (end.at - 1e-4, end.across)
            if axis == 1:
                line, beyond = [(v, u) for u, v in line], (beyond[1], beyond[0])
            assert wall.region.covers(shapely.LineString(line))
            assert not wall.region.covers(shapely.Point(beyond))
        checked += 1
