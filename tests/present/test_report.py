"""The report says how large, which surface, which directivity and what is taste; and escapes every name."""

import re
from dataclasses import replace

import numpy as np
import pytest

from treatment.planning.extent import rank_surfaces, treatment_extents
from treatment.planning.sensitivity import seat_shifts
from treatment.present.console import print_plan, print_prediction
from treatment.present.early_words import span_words
from treatment.present.layout_words import directivity_words, move_words
from treatment.present.report import report_html
from treatment.scene.load import load_scene, resolve_scene


@pytest.fixture(scope="module")
def told(plan):
    extents, shifts = treatment_extents(plan.scene), seat_shifts(plan.scene, plan.placements)
    return replace(plan, extents=extents, shifts=shifts)


@pytest.fixture(scope="module")
def html(told):
    return report_html(told)


#: Stand-ins for the drawings.
CHARTS = dict.fromkeys(("reverberation", "arrivals", "absorption"), "<svg/>")


def test_every_seat_has_its_chart_and_its_columns(html, told):
    # The chart's texts are outlines; each seat's axes are a group of their own.
    assert len(re.findall(r'id="arrivals-axes_\d+"', html)) >= len(told.scene.seats)
    for seat in told.scene.seats:
        assert html.count(f">to {seat.name}<") == 1


def test_the_rectangles_are_those_of_the_plan(html, told):
    assert told.extents
    for x in told.extents:
        low_u, low_v, high_u, high_v = x.zones.bounds
        assert span_words(low_u, high_u)[0] in html
        assert span_words(low_v, high_v)[0] in html
        assert all(x.zones.bounds[k] <= a.zone.bounds[k] + 1e-9 for a in x.arrivals for k in (0, 1))
        inside = told.scene.surfaces[x.surface].polygon.bounds
        assert x.fields is None or (x.fields.bounds[0] >= inside[0] and x.fields.bounds[3] <= inside[3])


def test_the_ranking_stands_in_it(html, told):
    before, after = rank_surfaces(told.before), rank_surfaces(told.after)
    for r, then in zip(before, after, strict=True):
        top = r.surfaces[0]
        assert f"<strong>{r.level_db[0]:.1f}</strong> &rarr; {then.level_of(top):.1f}" in html


def test_sources_and_both_sides_stand_in_it(html):
    for words in (
        "EBU Tech 3276",
        "BS.1116",
        "15 ms",
        "Olive &amp; Toole",
        "54 (2006) 451",
        "matter of taste",
    ):
        assert words in html


def test_directivity_is_told(html, tmp_path):
    assert "evenly in all directions" in html
    text = resolve_scene("garden-room").read_text(encoding="utf-8")
    path = tmp_path / "room.toml"
    path.write_text(
        text.replace('channel = "M+030"', 'channel = "M+030"\npiston = 0.165\naim = [3.0, 1.0, 1.1]')
    )
    words = directivity_words(load_scene(path)[0])
    assert "L piston of 165 mm in a box 215 mm wide, aimed at x 3.00, y 1.00, z 1.10 m" in words
    assert "C, R, LS and RS evenly in all directions" in words


def test_hostile_names_stay_text(hostile_plan):
    scene = hostile_plan.scene
    shifts = seat_shifts(scene, hostile_plan.placements)
    page = report_html(
        replace(hostile_plan, extents=treatment_extents(scene), shifts=shifts),
        charts=CHARTS,
    )
    assert "<script>alert" not in page


def test_text_on_a_terminal(told, capsys):
    from rich.console import Console

    console = Console(width=140)
    print_prediction(console, told.before)
    print_plan(console, told)
    text = " ".join(capsys.readouterr().out.split())
    for words in ("Sent early by surface", "cover u", "evenly in all directions", "matter of taste"):
        assert words in text
    assert "0.30 m further back" in text
    assert "Most of what reaches 'centre' early comes by" in text


@pytest.mark.parametrize(
    ("move", "words"),
    [
        ([0.123, -0.05, 0.0], "0.12 m back, 0.05 m left"),
        ([-0.2, 0.004, -0.31], "0.20 m forward, 0.31 m down"),
        ([0.0, 0.0, 0.004], "no move"),
    ],
)
def test_moves_in_words(move, words):
    # x runs from the front wall, y from the left one, z up.
    assert move_words(np.array(move)) == words
