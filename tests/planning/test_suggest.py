"""Where one more panel goes, checked with a mirror instead of with the planner's own paths."""

import numpy as np
import pytest

from treatment.planning.evaluate import evaluate
from treatment.planning.legal import review_placements
from treatment.planning.plan import Placement
from treatment.planning.suggest import suggest_place
from treatment.scene.load import load_scene, resolve_scene


@pytest.fixture(scope="module")
def scene():
    return load_scene(resolve_scene("garden-room"))[0]


def mirror_point(source, seat, axis, plane):
    """Where a mirror on a wall shows the source from the seat (common practice; image geometry by hand)."""
    image = np.array(source, dtype=float)
    image[axis] = 2.0 * plane - image[axis]
    t = (plane - seat[axis]) / (image[axis] - seat[axis])
    return seat + t * (image - seat)


def test_a_panel_covers_a_mirror_point_of_its_wall(scene):
    build = next(b for b in scene.builds if b.id == "wool-100")
    left = scene.surface_index("left")
    surface, place = suggest_place(evaluate(scene), build, (), left)
    assert surface == left
    low_u, low_v, high_u, high_v = place.bounds
    covered = 0
    for loudspeaker in scene.loudspeakers:
        for seat in scene.seats:
            x, _, z = mirror_point(loudspeaker.position, seat.position, 1, 0.0)
            covered += low_u - 0.1 <= x <= high_u + 0.1 and low_v <= z <= high_v
    assert covered >= 3


def test_one_after_the_other_they_fit_and_help(scene):
    build = next(b for b in scene.builds if b.id == "wool-50-gap-50")
    hanging = ()
    left_over = [evaluate(scene).arrivals.verdict.count("treat")]
    for k in range(4):
        found = suggest_place(evaluate(scene, hanging), build, hanging)
        assert found is not None
        hanging = (*hanging, Placement(f"P{k + 1}", build, *found))
        left_over.append(evaluate(scene, hanging).arrivals.verdict.count("treat"))
    assert not [f for f in review_placements(scene, hanging) if f.severity == "error"]
    assert left_over[-1] < left_over[0]


def test_where_nothing_fits_there_is_no_place(scene):
    build = scene.builds[0]
    assert suggest_place(evaluate(scene), build, (), scene.surface_index("floor")) is None
