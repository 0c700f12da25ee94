"""A measurement beside the prediction: what it says of a known room, and of files that are no good."""

from __future__ import annotations

import contextlib
import json
import re
from pathlib import Path

import numpy as np
import pyroomacoustics
import pytest
from scipy.io import wavfile
from typer.testing import CliRunner

from treatment.acoustics.decay import DecayFigures
from treatment.acoustics.early_sound import EarlyArrivals
from treatment.bands import Array, frozen
from treatment.cli import app
from treatment.errors import PlanError, TreatmentError
from treatment.planning.match import TAPE_MS, match_arrivals
from treatment.planning.recording import Recording, read_recording
from treatment.planning.verify import _between_places, evaluate_pair, judge_recording
from treatment.present.measure import measure_chart, summary, verdicts
from treatment.scene.load import load_scene
from treatment.scene.model import Scene

RATE = 48_000
ROOM = """title = "box"
[air]
temperature_c = 20.0
[room]
shape = "box"
length = 5.4
width = 3.6
height = 2.5
[surfaces]
default = "even"
[materials.even]
absorption = [{0}, {0}, {0}, {0}, {0}, {0}, {0}, {0}]
[[loudspeakers]]
name = "L"
position = [0.45, 0.75, 1.1]
[[loudspeakers]]
name = "R"
position = [0.45, 2.85, 1.1]
[[seats]]
name = "centre"
position = [3.55, 1.9, 1.2]
[[seats]]
name = "back"
position = [4.6, 1.2, 1.2]
"""


def simulated(alpha: float, order: int = 30, speaker: tuple[float, ...] = (0.45, 0.75, 1.1)) -> Array:
    """Second implementation of the same room, with the noise of a quiet recording."""
    room = pyroomacoustics.ShoeBox(
        [5.4, 3.6, 2.5],
        fs=RATE,
        materials=pyroomacoustics.Material(alpha),
        max_order=order,
        air_absorption=False,
    )
    room.add_source(list(speaker))
    room.add_microphone([3.55, 1.9, 1.2])
    room.compute_rir()
    h = np.concatenate([np.array(room.rir[0][0]), np.zeros(RATE // 3)])
    return 0.8 * h / np.abs(h).max() + 3e-5 * np.random.default_rng(4).standard_normal(len(h))


def recording(signal: Array) -> Recording:
    return Recording(frozen(signal), RATE, 1, False)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("measure")
    for alpha in (0.3, 0.1):
        (made / f"room-{alpha}.toml").write_text(ROOM.format(alpha), encoding="utf-8")
    wavfile.write(made / "ir.wav", RATE, (simulated(0.3) * 32767).astype(np.int16))
    return made


@pytest.fixture(scope="module")
def scene(folder: Path) -> Scene:
    return load_scene(folder / "room-0.3.toml")[0]


def test_every_isolated_arrival_is_named_rightly(scene: Scene) -> None:
    # Two bounces at most in the simulation, so that nothing else can be there.
    evaluation = evaluate_pair(scene, source="L", seat="centre")
    found = judge_recording(recording(simulated(0.3, order=2)), evaluation)
    named = {a.surface: a for a in found.arrivals}
    assert {"right", "back"} <= set(named)
    a = evaluation.arrivals
    for name in ("right", "back"):
        k = next(i for i in range(len(a.order)) if a.names[i] == (name,))
        assert named[name].delay_ms == pytest.approx(float(a.delay_ms[k]), abs=0.1)
    assert all(x.surface is None or abs(x.predicted_ms - x.delay_ms) <= TAPE_MS for x in found.arrivals)
    # A loud one is named, unless too many paths of two bounces lie there to tell which.
    assert all(x.surface is not None or x.crowded for x in found.arrivals if x.level_db > -12.0)


def by_hand(axis: int, at: float) -> tuple[float, float]:
    """Delay in ms and level in dB of the single bounce from R to the centre, off the plane axis = ``at``.

    Image source: path over c, and 20 lg of the direct path over it with 1 - 0.3 of the energy kept.
    """
    source, seat = np.array([0.45, 2.85, 1.1]), np.array([3.55, 1.9, 1.2])
    direct = float(np.linalg.norm(source - seat))
    source[axis] = 2.0 * at - source[axis]
    path = float(np.linalg.norm(source - seat))
    return 1000.0 * (path - direct) / 343.2, 20.0 * np.log10(direct / path) + 10.0 * np.log10(0.7)


def test_the_wrong_loudspeaker_does_not_fit(scene: Scene) -> None:
    heard = recording(simulated(0.3, order=2, speaker=(0.45, 2.85, 1.1)))
    right = judge_recording(heard, evaluate_pair(scene, source="R", seat="centre"))
    # Bounces that no other comes near, by the images of the box.
    named = {a.surface: a for a in right.arrivals}
    for surface, axis, at in (("left", 1, 0.0), ("back", 0, 5.4)):
        delay, level = by_hand(axis, at)
        assert named[surface].delay_ms == pytest.approx(delay, abs=0.03)
        assert named[surface].level_db == pytest.approx(level, abs=0.4)
        assert named[surface].predicted_db == pytest.approx(level, abs=0.4)
    assert right.fit is not None
    assert right.fit.found == right.fit.strong >= 3
    # L to the seat at the back: its single bounces come at other times, and no arrival is given to it.
    wrong = judge_recording(heard, evaluate_pair(scene, source="L", seat="back"))
    assert wrong.fit is not None
    assert (wrong.fit.found, {a.surface for a in wrong.arrivals}) == (0, {None})
    assert wrong.fit.strong >= 3


def test_what_the_scene_does_not_hold_is_not_blamed_on_a_wall(scene: Scene) -> None:
    # A strong arrival where no path is near, as off a table top.
    signal = simulated(0.3, order=2)
    begin = int(np.argmax(np.abs(signal)))
    evaluation = evaluate_pair(scene)
    free = np.arange(5.0, 24.0, 0.1)
    gaps = [np.abs(evaluation.arrivals.delay_ms - d).min() for d in free]
    late = float(free[int(np.argmax(gaps))])
    signal[begin + round(late * RATE / 1000.0)] += 0.6
    found = judge_recording(recording(signal), evaluation)
    near = [a for a in found.arrivals if abs(a.delay_ms - late) < 0.1]
    assert [a.surface for a in near] == [None]
    assert near[0].strong == (late <= 15.0)


def test_a_single_bounce_is_named_whatever_its_level_and_what_is_too_much_is_told(scene: Scene) -> None:
    evaluation = evaluate_pair(scene)
    a = evaluation.arrivals
    back = next(i for i in range(len(a.order)) if a.names[i] == ("back",))
    delay, level = frozen([a.delay_ms[back] / 1000.0]), float(a.level_db[back, 4])
    kept = match_arrivals(evaluation, EarlyArrivals(delay, frozen([level])))[0]
    assert (kept.surface, kept.stronger_db) == ("back", 0.0)
    broken = match_arrivals(evaluation, EarlyArrivals(delay, frozen([level + 15.0])))[0]
    assert (broken.surface, broken.stronger_db) == ("back", pytest.approx(15.0, abs=0.1))


def test_scatter_between_places() -> None:
    # ISO 3382-2, 7.2 (from memory), by hand at 1 kHz: 0.55 * 0.5 * sqrt(1.152 / (0.71 * 1000 * 0.5)) s.
    nothing = frozen(np.full(8, np.nan))
    figures = DecayFigures(*(nothing,) * 2, frozen(np.full(8, 0.5)), *(nothing,) * 5)
    assert _between_places(figures)[4] == pytest.approx(0.01567, rel=2e-3)
    figures = DecayFigures(nothing, frozen(np.full(8, 0.5)), nothing, *(nothing,) * 5)
    # 0.88 * 0.5 * sqrt(1.190 / 355) = 0.0255 s.
    assert _between_places(figures)[4] == pytest.approx(0.02547, rel=2e-3)


def test_verdicts_tell_the_right_room_from_the_wrong_one(folder: Path, scene: Scene) -> None:
    heard = recording(simulated(0.3))
    as_built = judge_recording(heard, evaluate_pair(scene))
    assert verdicts(as_built)[2:7] == ("as predicted",) * 5
    # A room said to absorb a third as much would ring much longer.
    other = load_scene(folder / "room-0.1.toml")[0]
    livelier = judge_recording(heard, evaluate_pair(other))
    assert set(verdicts(livelier)[3:7]) == {"shorter than predicted"}
    assert "more absorbs there" in " ".join(summary(livelier))
    assert "too live" in " ".join(summary(as_built))


def test_names_are_checked(scene: Scene) -> None:
    with pytest.raises(PlanError, match="no loudspeaker 'X'"):
        evaluate_pair(scene, source="X")
    with pytest.raises(PlanError, match="no seat 'Y'"):
        evaluate_pair(scene, seat="Y")


@pytest.mark.parametrize("kind", ["int16", "int32", "float32", "float64", "uint8"])
def test_every_width_is_read_alike(tmp_path: Path, kind: str) -> None:
    signal = 0.5 * np.sin(np.arange(RATE) * 0.05)
    scale = {"int16": 32767.0, "int32": 2147483647.0, "uint8": 127.0}.get(kind, 1.0)
    data = signal * scale + (128.0 if kind == "uint8" else 0.0)
    wavfile.write(tmp_path / "x.wav", RATE, data.astype(kind))
    found = read_recording(tmp_path / "x.wav")
    np.testing.assert_allclose(found.samples, signal, atol=0.02 if kind == "uint8" else 1e-4)
    assert not found.clipped


def test_a_channel_is_chosen_and_clipping_seen(tmp_path: Path) -> None:
    left = 0.1 * np.ones(RATE)
    right = np.clip(3.0 * np.sin(np.arange(RATE) * 0.05), -1.0, 1.0)
    wavfile.write(tmp_path / "x.wav", RATE, (np.column_stack([left, right]) * 32767).astype(np.int16))
    assert not read_recording(tmp_path / "x.wav", 1).clipped
    assert read_recording(tmp_path / "x.wav", 2).clipped
    with pytest.raises(PlanError, match="2 channels, not 3"):
        read_recording(tmp_path / "x.wav", 3)


def test_bad_files_are_answered(tmp_path: Path) -> None:
    def refused(name: str, words: str) -> None:
        with pytest.raises(PlanError, match=words):
            read_recording(tmp_path / name)

    refused("none.wav", "there is no file")
    (tmp_path / "text.wav").write_text("hello", encoding="utf-8")
    refused("text.wav", "cannot be read|damaged")
    (tmp_path / "empty.wav").write_bytes(b"")
    refused("empty.wav", "cannot be read|damaged")
    wavfile.write(tmp_path / "short.wav", RATE, np.ones(100, dtype=np.int16))
    refused("short.wav", "lasts 0.00 s")
    wavfile.write(tmp_path / "silent.wav", RATE, np.zeros(RATE, dtype=np.int16))
    refused("silent.wav", "silent")
    wavfile.write(tmp_path / "nan.wav", RATE, np.full(RATE, np.nan, dtype=np.float32))
    refused("nan.wav", "no numbers")
    wavfile.write(tmp_path / "coarse.wav", 4000, np.ones(8000, dtype=np.int16))
    refused("coarse.wav", "4000 samples per second")


def test_damaged_files_never_crash(tmp_path: Path) -> None:
    rng = np.random.default_rng(8)
    wavfile.write(
        tmp_path / "good.wav", RATE, (0.3 * rng.standard_normal(RATE // 2) * 32767).astype(np.int16)
    )
    good = (tmp_path / "good.wav").read_bytes()
    for _ in range(150):
        data = bytearray(good[: rng.integers(10, 200)] if rng.random() < 0.3 else good)
        for _ in range(rng.integers(1, 4)):
            data[rng.integers(0, min(60, len(data)))] = rng.integers(0, 256)
        (tmp_path / "bad.wav").write_bytes(bytes(data))
        with contextlib.suppress(TreatmentError):
            assert read_recording(tmp_path / "bad.wav").rate >= 8000


def test_document_is_as_agreed(folder: Path) -> None:
    runner = CliRunner()
    result = runner.invoke(app, ["measure", str(folder / "ir.wav"), "--json"])
    assert result.exit_code == 0, result.output
    document = json.loads(result.stdout)
    for key in ("edt_s", "t20_s", "t30_s", "c50_db", "c80_db", "d50", "ts_ms", "peak_to_noise_db"):
        assert len(document[key]) == 8
    assert all(a["surface"] is None for a in document["arrivals"])
    assert "predicted_s" not in document
    scene = str(folder / "room-0.3.toml")
    result = runner.invoke(
        app, ["measure", str(folder / "ir.wav"), "--scene", scene, "--seat", "centre", "--json"]
    )
    document = json.loads(result.stdout)
    assert (document["source"], document["seat"]) == ("L", "centre")
    assert any(a["surface"] == "back" for a in document["arrivals"])
    assert len(document["verdicts"]) == 8


def test_noisy_bands_are_null_with_a_finding(folder: Path) -> None:
    signal = simulated(0.3)
    loud = signal + 0.02 * np.random.default_rng(1).standard_normal(len(signal))
    found = judge_recording(recording(loud))
    assert np.isnan(found.figures.t30).all()
    assert {f.code for f in found.findings} & {"no-t20", "no-t30", "too-noisy"}
    wavfile.write(folder / "loud.wav", RATE, (loud / np.abs(loud).max() * 32000).astype(np.int16))
    document = json.loads(CliRunner().invoke(app, ["measure", str(folder / "loud.wav"), "--json"]).stdout)
    assert document["t30_s"] == [None] * 8


def test_text_chart_and_wrong_usage(folder: Path, scene: Scene) -> None:
    runner = CliRunner()
    wav, room = str(folder / "ir.wav"), str(folder / "room-0.3.toml")
    result = runner.invoke(app, ["measure", wav, "--scene", room])
    assert result.exit_code == 0, result.output
    for words in ("as predicted", "peak to noise", "One loudspeaker and one seat"):
        assert words in result.stdout
    assert runner.invoke(app, ["measure", wav, "--seat", "centre"]).exit_code == 2
    assert runner.invoke(app, ["measure", wav, "--chart", str(folder / "x.pdf")]).exit_code == 2
    assert runner.invoke(app, ["measure", wav, "--channel", "0"]).exit_code == 2
    found = judge_recording(recording(simulated(0.3)), evaluate_pair(scene))
    drawn = str(measure_chart(found))
    assert "<svg" in drawn
    # Legends stand above the axes, where nothing is drawn: y runs down in SVG.
    frames = re.findall(r'-axes_\d">\s*<g id="measure-patch_\d+">\s*<path d="([^"]*)"', drawn)
    top = min(float(y) for path in frames for y in re.findall(r"[ML] [\d.]+ ([\d.]+)", path))
    words = re.findall(r'-legend_\d">.*?translate\([\d.]+ ([\d.]+)\)', drawn, re.DOTALL)
    assert len(frames) == len(words) == 2
    assert all(0.0 < float(y) < top for y in words)
    assert measure_chart(judge_recording(recording(simulated(0.3))), "png")[:4] == b"\x89PNG"
