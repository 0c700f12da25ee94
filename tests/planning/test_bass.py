"""The bass at the seats: places, advice, findings, and the command that prints them."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from treatment.acoustics.modal_response import level_db, unevenness
from treatment.cli import app
from treatment.errors import PlanError
from treatment.planning.bass import Bass, predict_bass
from treatment.planning.bass_advice import advise_bass
from treatment.planning.bass_places import best_places, place_words, standing_places
from treatment.present.bass import advice_words, bass_chart
from treatment.scene.load import load_scene
from treatment.scene.model import Scene

ROOM = """title = "test"
[room]
shape = "box"
length = {length}
width = 3.7
height = 2.4
[surfaces]
default = "gypsum-board-on-studs"
[[openings]]
name = "door"
surface = "back"
at = [0.3, 0.0]
size = [0.8, 2.0]
{door}
[[keep_outs]]
name = "fuse board"
surface = "left"
at = [1.6, 0.0]
size = [0.8, 2.0]
depth = 0.9
reason = "electrical"
[[seats]]
name = "one"
position = [{seat}, 1.4, 1.1]
[[seats]]
name = "two"
position = [{seat}, 2.2, 1.1]
"""
SUBS = """
[[subwoofers]]
name = "S1"
position = [0.3, 0.4, 0.25]
[[subwoofers]]
name = "S2"
position = [0.3, 3.3, 0.25]
"""


def make(
    folder: Path,
    *,
    length: float = 5.2,
    seat: float = 3.4,
    door: str = 'material = "door-solid-wood"',
    more: str = SUBS,
) -> Scene:
    path = folder / "room.toml"
    path.write_text(ROOM.format(length=length, seat=seat, door=door) + more, encoding="utf-8")
    return load_scene(path)[0]


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    return make(tmp_path_factory.mktemp("bass"))


@pytest.fixture(scope="module")
def bass(scene: Scene) -> Bass:
    return predict_bass(scene)


def test_places_keep_clear_of_doors_boards_and_seats(scene: Scene) -> None:
    places = standing_places(scene)
    assert len(places) > 12
    for x, y, z in places:
        assert 0.29 < x < 4.91
        assert 0.29 < y < 3.41
        assert z == 0.25
        assert not (1.6 < x < 2.4 and y < 0.9), "in the working space"
        assert not (x > 5.2 - 0.8 and 0.3 < y < 1.1), "before the door"
        assert min(np.hypot(x - 3.4, y - 1.4), np.hypot(x - 3.4, y - 2.2)) >= 0.6
    # Without the door and the board the places there come back, so it is these that forbid them.
    free = standing_places(make_free(scene))
    assert any(x > 4.4 and 0.3 < y < 1.1 for x, y, _ in free)
    assert any(1.6 < x < 2.4 and y < 0.9 for x, y, _ in free)


def make_free(scene: Scene) -> Scene:
    from dataclasses import replace

    return replace(scene, openings=(), keep_outs=())


def test_best_two_places_are_the_best_of_all_pairs(bass: Bass) -> None:
    # Plain enumeration, one pair at a time.
    places = standing_places(bass.scene)
    frequency = bass.response.frequency_hz[bass.response.compared]
    pressure = bass.pressure(places, bass.seats, frequency)
    scores = {
        (i, j): float(unevenness(level_db(pressure[i] + pressure[j])))
        for i, j in itertools.combinations(range(len(places)), 2)
        if np.linalg.norm(places[i] - places[j]) >= 0.9
    }
    choice = best_places(bass, places, 2)
    assert choice is not None
    assert choice.unevenness == pytest.approx(min(scores.values()), rel=1e-9)
    (i, j) = min(scores, key=lambda k: scores[k])
    np.testing.assert_allclose(np.sort(choice.positions, axis=0), np.sort(places[[i, j]], axis=0))
    four = best_places(bass, places, 4)
    assert four is not None
    gaps = [np.linalg.norm(a - b) for a, b in itertools.combinations(four.positions, 2)]
    assert min(gaps) >= 0.9
    assert best_places(bass, places[:1], 2) is None


def test_settings_do_what_is_promised(tmp_path: Path) -> None:
    bass = predict_bass(make(tmp_path, more=SUBS.replace("[0.3, 3.3, 0.25]", "[4.9, 2.4, 0.25]")))
    advice = advise_bass(bass)
    assert any(s.delay_s > 0.0 for s in advice.settings)
    inside = bass.response.compared
    hz = bass.response.frequency_hz[inside]
    total = sum(
        bass.response.pressure[s][:, inside]
        * 10.0 ** (setting.gain_db / 20.0)
        * (-1.0 if setting.inverted else 1.0)
        * np.exp(-2j * np.pi * setting.delay_s * hz)
        for s, setting in enumerate(advice.settings)
    )
    assert float(unevenness(level_db(np.asarray(total)))) == pytest.approx(advice.set_unevenness, rel=1e-9)
    assert advice.set_unevenness <= bass.response.unevenness + 1e-9
    still = int(np.flatnonzero(advice.moves == 0.0)[0])
    assert advice.moved_unevenness[still] == pytest.approx(bass.response.unevenness, rel=1e-9)


def test_a_shorter_decay_evens_out_peaks(bass: Bass) -> None:
    # No law for every room (sources may happen to fill each other's dips), but so where all stand in front.
    assert advise_bass(bass).halved_unevenness < bass.response.unevenness
    assert bass.shorter.unevenness < bass.longer.unevenness


def test_more_boxes_must_be_worth_it(bass: Bass) -> None:
    advice = advise_bass(bass)
    words = " ".join(advice_words(bass, advice))
    best = {len(c.positions): c.unevenness for c in advice.places}
    assert ("Four subwoofers" in words) == (best[4] < min(best[1], best[2], bass.response.unevenness) - 0.3)


def test_words_say_which_walls(scene: Scene) -> None:
    assert place_words(scene, np.array([0.3, 0.3, 0.25])).startswith(("front and left", "left and front"))
    assert place_words(scene, np.array([2.5, 1.8, 0.25])).startswith("free")


def codes(bass: Bass) -> set[str]:
    return {f.code for f in bass.findings}


def test_findings(tmp_path: Path, bass: Bass) -> None:
    assert codes(bass) == set()
    assert codes(predict_bass(make(tmp_path, door="absorption = 1.0"))) == {"bass-open-room"}
    # 4.8 is twice 2.4 (ITU-R BS.1116-3, 8.2.1: no ratio within 5 % of a whole number), 2.4 half of 4.8.
    assert codes(predict_bass(make(tmp_path, length=4.8, seat=2.4))) == {
        "bass-modes-coincide",
        "bass-seat-at-middle",
    }
    speaker = '[[loudspeakers]]\nname = "L"\nposition = [0.4, 0.8, 1.0]\n'
    only = predict_bass(make(tmp_path, more=speaker))
    assert codes(only) == {"bass-no-subwoofer"}
    assert only.sources == ("L",)
    with pytest.raises(PlanError, match="nothing plays bass"):
        predict_bass(make(tmp_path, more=""))


def test_a_range_beyond_the_modes_is_told(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    # 0.6 of the reach, which is 500 Hz in a box: docs/method/modes.md.
    assert "bass-high-range" not in codes(predict_bass(scene, frequency_hz=np.arange(20.0, 300.5)))
    monkeypatch.setattr("treatment.planning.bass._REACH_HZ", 400.0)
    assert "bass-high-range" in codes(predict_bass(scene, frequency_hz=np.arange(20.0, 300.5)))


def test_one_decay_time_has_no_interval(scene: Scene) -> None:
    bass = predict_bass(scene, decay_s=0.4)
    assert bass.shorter.unevenness == bass.response.unevenness == bass.longer.unevenness


def test_document_is_as_agreed(tmp_path: Path) -> None:
    make(tmp_path)
    file = str(tmp_path / "room.toml")
    result = CliRunner().invoke(
        app, ["bass", file, "--json", "--from", "25", "--to", "75", "--step", "2.5", "--decay", "0.4"]
    )
    assert result.exit_code == 0, result.output
    document = json.loads(result.stdout)
    frequency = [25.0 + 2.5 * k for k in range(21)]
    assert [(r["source"], r["seat"]) for r in document["responses"]] == [
        ("S1", "one"), ("S1", "two"), ("S2", "one"), ("S2", "two"),
    ]  # fmt: skip
    assert all(r["frequency_hz"] == frequency and len(r["level_db"]) == 21 for r in document["responses"])
    assert [r["seat"] for r in document["combined"]] == ["one", "two"]
    modes = document["modes"]
    assert modes[0]["index"] == [1, 0, 0]
    assert modes[0]["frequency_hz"] == pytest.approx(document["speed_of_sound_m_s"] / 10.4, rel=1e-4)
    assert modes[-1]["frequency_hz"] <= 75.0
    assert document["decay_s"] == [0.4] * 8
    # The variance can be worked out again from the levels that were printed.
    level = np.array([r["level_db"] for r in document["combined"]])
    assert document["mean_spatial_variance_db2"] == pytest.approx(np.var(level, axis=0).mean(), abs=0.02)
    assert document["advice"]


@pytest.mark.parametrize(
    "options",
    [["--from", "0"], ["--to", "900"], ["--from", "80", "--to", "40"], ["--step", "0"], ["--decay", "0"],
     ["--step", "nan"], ["--from", "nan"], ["--chart", "x.pdf"]],
)  # fmt: skip
def test_wrong_usage(tmp_path: Path, options: list[str]) -> None:
    make(tmp_path)
    assert CliRunner().invoke(app, ["bass", str(tmp_path / "room.toml"), *options]).exit_code == 2


def test_text_and_chart(tmp_path: Path, bass: Bass) -> None:
    make(tmp_path)
    chart = tmp_path / "bass.svg"
    result = CliRunner().invoke(app, ["bass", str(tmp_path / "room.toml"), "--chart", str(chart)])
    assert result.exit_code == 0, result.output
    for words in ("Mean spatial variance", "1 0 0 axial", "What would help", "hard walls"):
        assert words in result.stdout
    assert "<svg" in chart.read_text(encoding="utf-8")
    assert bass_chart(bass, advise_bass(bass), "png")[:4] == b"\x89PNG"
