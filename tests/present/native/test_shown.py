"""Paths, zones and readings: against geometry by hand, and against the evaluation they come from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from treatment.bands import EXACT_HZ, frozen
from treatment.planning.plan import Plan
from treatment.planning.wall_zones import wall_zones
from treatment.present.drawables import drawables
from treatment.present.native.desk import Desk
from treatment.present.native.highlight import highlight_of
from treatment.present.native.paths import path_lines, scale_colours
from treatment.present.native.state import ViewState
from treatment.present.native.zones import chosen_zones, zone_faces
from treatment.present.palette import DELAY_SCALE, LEVEL_SCALE, rgb
from treatment.scene.load import load_scene, resolve_scene


def test_zone_by_the_mirror_trick(plan: Plan) -> None:
    """Image of the loudspeaker behind the wall, by hand: L (0.45, 0.75, 1.1), the middle seat (3.55, 1.8)
    with 0.15 m to each side. On the wall y = 0 the point is at x = xl + (xs - xl) yl / (yl + ys).
    """
    zone = next(z for z in wall_zones(plan.scene) if (z.source, z.seat, z.surface) == (0, 1, 2))
    at = [0.45 + (x - 0.45) * 0.75 / (0.75 + y) for x in (3.40, 3.70) for y in (1.65, 1.95)]
    assert zone.outline.bounds[0] == pytest.approx(min(at), abs=1e-6)
    assert zone.outline.bounds[2] == pytest.approx(max(at), abs=1e-6)
    assert zone.outline.bounds[1] == pytest.approx(1.1)
    # First Fresnel zone: sqrt(lambda a1 a2 / (a1 + a2)), by the centre's legs within a few per cent.
    whole = np.hypot(3.10, 2.55)
    near, far = whole * 0.75 / 2.55, whole * 1.80 / 2.55
    radius = np.sqrt(plan.scene.air.speed_of_sound / np.asarray(EXACT_HZ) * near * far / whole)
    assert zone.radius == pytest.approx(radius, rel=0.05)


def test_zones_lie_on_their_walls_and_grow_towards_the_bass(plan: Plan) -> None:
    zones = chosen_zones(wall_zones(plan.scene), ViewState(loudspeaker=0, seat=1))
    assert {(z.source, z.seat) for z in zones} == {(0, 1)}
    areas = []
    for band in (3, 6):
        faces = zone_faces(plan.scene, zones, band)
        assert {f.group for f in faces} == {"zone", "reach"}
        for f in faces:
            points = np.concatenate(f.rings)
            assert np.ptp(points @ f.normal) < 1e-6
            low, high = plan.scene.enclosure.bounds
            assert (points > low - 1e-6).all()
            assert (points < high + 1e-6).all()
        areas.append(sum(np.ptp(f.rings[0], axis=0).max() for f in faces if f.group == "reach"))
    assert areas[0] > 1.5 * areas[1]


def test_lines_are_as_long_as_their_arrivals(plan: Plan) -> None:
    lines = path_lines(plan.after, ViewState(order=2))
    legs = np.linalg.norm(np.diff(lines.points, axis=1), axis=2).sum(axis=1)
    assert len(legs) > 50
    assert legs == pytest.approx(plan.after.arrivals.length[lines.arrival], rel=1e-9)


def test_lines_follow_every_choice(plan: Plan) -> None:
    a = plan.after.arrivals
    lines = path_lines(plan.after, ViewState(loudspeaker=2, seat=0, order=1))
    assert set(a.source[lines.arrival]) == {2}
    assert set(a.seat[lines.arrival]) == {0}
    assert set(a.order[lines.arrival]) == {2}
    direct = path_lines(plan.after, ViewState(order=3))
    assert set(a.order[direct.arrival]) == {0}
    assert len(path_lines(plan.after, ViewState(order=4)).arrival) == 0
    strong = path_lines(plan.before, ViewState(order=0, strong=True))
    assert {plan.before.arrivals.verdict[i] for i in strong.arrival} == {"treat"}


def test_band_and_scale_decide_the_colour(plan: Plan) -> None:
    state = ViewState(order=0)
    by_band = {b: path_lines(plan.after, replace(state, band=b)) for b in (1, 6)}
    order = {b: np.argsort(x.arrival) for b, x in by_band.items()}
    # Panels take more at 4 kHz than at 125 Hz: the colours of the same paths differ.
    assert (by_band[1].colour[order[1]] != by_band[6].colour[order[6]]).any(axis=1).mean() > 0.3
    late = path_lines(plan.after, replace(state, colouring="delay"))
    delays = plan.after.arrivals.delay_ms[late.arrival]
    assert (np.diff(delays) <= 1e-12).all()  # the earliest are painted last, over the others
    for colouring, scale in (("level", LEVEL_SCALE), ("delay", DELAY_SCALE)):
        ends = scale_colours(colouring, np.array([scale[0][0] - 9.0, scale[2][0], scale[-1][0] + 9.0]))
        assert ends.tolist() == [list(rgb(scale[k][1])) for k in (0, 2, -1)]


def spot(desk: Desk, place: tuple[float, float, float]) -> tuple[float, float]:
    x, y, _ = desk.camera.pixels(np.array([place]))[0]
    return float(x), float(y)


def test_a_click_tells_the_numbers_of_a_thing(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk("order:4", "view:front", "step:0")
    for place, action, words in (
        ((0.45, 0.75, 1.1), "pick:equipment:L", "0.45 m from the front wall"),
        ((3.55, 1.2, 1.1), "pick:seat:left seat", "most early sound by"),
        ((0.0, 0.25, 2.3), "pick:room:Front wall", "9.00 m2"),
    ):
        found = desk.click(*spot(desk, place))
        assert found == action
        desk.act(found)
        said = " ".join(t for card, _ in desk.cards() for t in card.texts)
        assert words in said
    # Its absorption stands in the table: gypsum at 63 Hz and 8 kHz.
    assert "0.25" in said
    assert "0.04" in said
    assert make_desk("view:front").click(700.0, 10.0) == "pick:"  # only air


def test_a_click_on_a_path_tells_before_and_now(make_desk: Callable[..., Desk], plan: Plan) -> None:
    desk = make_desk("loudspeaker:0", "view:front", "step:8")
    a = plan.after.arrivals
    index = next(
        i
        for i in range(len(a.order))
        if (a.source[i], a.seat[i], a.order[i]) == (0, 1, 1) and a.surfaces[i, 0] == 2
    )
    middle = 0.5 * (a.points[index, 0] + plan.scene.seats[1].position)
    action = desk.click(*spot(desk, tuple(middle)))
    assert action == "pick:path:0/1/2"
    desk.act(action)
    card = next(c for c, _ in desk.cards() if "now, dB" in c.texts)
    assert any(t.startswith("L to centre") for t in card.texts)
    rows = [card.texts[card.texts.index(name) + 1 :][:8] for name in ("as it is, dB", "now, dB")]
    for row, evaluation in zip(rows, (plan.before, plan.after), strict=True):
        wanted = [f"{v:.0f}".replace("-", "\N{MINUS SIGN}") for v in evaluation.arrivals.level_db[index]]
        assert row == wanted
    assert len(highlight_of(desk)) == 1


def test_a_click_on_a_zone_tells_its_size(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk("zones", "loudspeaker:0", "order:4", "step:0", "view:left")
    action = desk.click(*spot(desk, (1.36, 0.0, 1.1)))
    assert action.startswith("pick:zone:")
    desk.act(action)
    said = " ".join(t for card, _ in desk.cards() for t in card.texts)
    assert "Zone on the left wall" in said
    late = min(
        np.hypot(x - 0.45, 0.75 + y) - np.hypot(x - 0.45, y - 0.75)
        for x, y in ((3.55, 1.8), (3.40, 1.65), (3.40, 1.95), (3.70, 1.65), (3.70, 1.95))
    )
    assert f"from {1000.0 * late / 343.2:.1f} ms on" in said


def test_a_second_click_looks_through_a_kept_free_space(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk("order:4", "view:right", "step:0", "view:left")
    x, y = spot(desk, (3.5, 0.0, 1.0))
    first = desk.click(x, y)
    assert first == "pick:keep-out:fuse board"
    desk.act(first)
    assert desk.click(x, y) == "pick:room:Left wall"


def test_the_cross_closes_a_reading(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk("pick:seat:centre")
    card, (left, top) = desk.cards()[-1]
    action = desk.click(left + card.size[0] - 18 * desk.unit, top + 16 * desk.unit)
    assert action == "pick:"
    desk.act(action)
    assert len(desk.cards()) == 1


def test_imperial_rooms_are_told_in_feet(plan: Plan, make_desk: Callable[..., Desk]) -> None:
    scene = replace(plan.scene, units="ft")
    desk = make_desk()
    imperial = Desk(scene, plan.placements, desk.steps, desk.size)
    imperial.act("pick:panel:P1")
    said = " ".join(t for card, _ in imperial.cards() for t in card.texts)
    assert "1 ft 11 5/8 in" in said  # 0.6 m
    assert "3 7/8 in thick" in said  # 0.1 m is 3.94 in
    desk.act("pick:panel:P1")
    assert " ft " not in " ".join(t for card, _ in desk.cards()[1:] for t in card.texts)


def test_panels_go_up_one_by_one(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    for step in (0, 3, 8):
        desk.act(f"step:{step}")
        up = {f.name for f in desk.shapes.faces if f.group == "panel" and desk.shown(f)}
        assert up == {f"P{k + 1}" for k in range(step)}
        assert desk.now is not None
        assert len(desk.now.placements) == step


def test_a_seat_without_spread_has_a_zone_that_is_seen(plan: Plan) -> None:
    seats = tuple(replace(s, spread=0.0) for s in plan.scene.seats[:1])
    scene = replace(plan.scene, seats=seats, loudspeakers=plan.scene.loudspeakers[:1])
    faces = zone_faces(scene, wall_zones(scene), 4)
    assert sum(f.group == "zone" for f in faces) == 6
    assert wall_zones(replace(scene, seats=())) == ()


def test_nothing_thin_lies_in_one_plane_with_a_zone() -> None:
    """Two faces in one plane flicker: by hand, openings at 4 mm, the screen at 6, reach at 8, zones at 12."""
    scene, _ = load_scene(resolve_scene("garden-room"))
    room = [s.polygon for s in scene.surfaces]
    thin = [f for f in drawables(scene).faces if f.group in {"screen", "opening"}]
    assert {f.group for f in thin} == {"screen", "opening"}
    painted = zone_faces(scene, wall_zones(scene), 4)
    for surface in room:
        off: dict[str, set[float]] = {}
        for f in (*thin, *painted):
            height = np.atleast_1d(surface.height_above(f.rings[0]))
            if np.ptp(height) < 1e-6 and 0.0 < height[0] < 0.02:
                off.setdefault(f.group, set()).add(round(1e3 * float(height[0]), 3))
        heights = sorted(h for group in off.values() for h in group)
        assert len(set(heights)) == len(heights)
        assert all(b - a > 1.0 for a, b in pairwise(heights))


def test_bounds_are_read_only(plan: Plan) -> None:
    assert not wall_zones(plan.scene)[0].radius.flags.writeable
    assert not frozen([1.0]).flags.writeable
