"""Which path an arrival is, and of which loudspeaker and seat a recording is.

The recordings are images of a box by pyroomacoustics, a second implementation.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pyroomacoustics
import pytest
from scipy.io import wavfile
from typer.testing import CliRunner

from treatment.acoustics.early_sound import EarlySound, early_sound, expected_sound, likeness
from treatment.bands import frozen
from treatment.cli import app
from treatment.geometry.polygon import Rectangle
from treatment.planning.evaluate import evaluate
from treatment.planning.match import (
    CHANCE,
    TAPE_MS,
    PairFit,
    best_fits,
    pair_fits,
    several_tolerance,
)
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.recording import Recording
from treatment.planning.verify import evaluate_pair, judge_recording
from treatment.present.measure import summary
from treatment.scene.load import load_scene
from treatment.scene.model import Scene

RATE = 48_000
PLACES = {
    "L": (0.45, 0.75, 1.1), "R": (0.45, 2.85, 1.1), "C": (0.3, 1.7, 0.9),
    "centre": (3.55, 1.9, 1.2), "corner": (3.9, 0.9, 1.2), "back": (4.6, 2.9, 1.2),
}  # fmt: skip
ROOM = """title = "box"
[room]
shape = "box"
length = 5.4
width = 3.6
height = 2.5
[surfaces]
default = "even"
[materials.even]
absorption = [0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2]
""" + "".join(
    f'[[{"loudspeakers" if len(name) == 1 else "seats"}]]\nname = "{name}"\nposition = {list(at)}\n'
    for name, at in PLACES.items()
)
PAIRS = [(s, r) for s in "LRC" for r in ("centre", "corner", "back")]


def heard(source: str, seat: str, order: int = 20, off: float = 0.0) -> Recording:
    """What a microphone would record; `off`: how far both were really from where the scene has them, m."""
    room = pyroomacoustics.ShoeBox(
        [5.4, 3.6, 2.5], fs=RATE, materials=pyroomacoustics.Material(0.2), max_order=order,
        air_absorption=True,
    )  # fmt: skip
    room.add_source([PLACES[source][0] + off, PLACES[source][1] - off, PLACES[source][2]])
    room.add_microphone([PLACES[seat][0] - off, PLACES[seat][1], PLACES[seat][2] + off])
    room.compute_rir()
    h = np.concatenate([np.array(room.rir[0][0]), np.zeros(RATE // 4)])
    h = 0.8 * h / np.abs(h).max() + 3e-5 * np.random.default_rng(4).standard_normal(len(h))
    return Recording(frozen(h), RATE, 1, False)


def sound_of(recording: Recording) -> EarlySound:
    return early_sound(recording.samples, recording.rate)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("match") / "room.toml"
    made.write_text(ROOM, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def scene(path: Path) -> Scene:
    return load_scene(path)[0]


@pytest.fixture(scope="module")
def everything(scene: Scene) -> Evaluation:
    return evaluate(scene, order=3)


@pytest.fixture(scope="module")
def recordings() -> dict[tuple[str, str], Recording]:
    return {pair: heard(*pair) for pair in PAIRS}


def test_the_pair_of_every_recording_is_found(
    everything: Evaluation, recordings: dict[tuple[str, str], Recording]
) -> None:
    for pair, recording in recordings.items():
        fits = pair_fits(everything, sound_of(recording))
        best = best_fits(fits)[0]
        assert (best.source, best.seat) == pair
        assert not best.doubtful(fits)
        assert best.found >= 0.5 * best.strong
        assert best.found + len(best.missing) == best.strong


def test_the_wrong_pair_is_doubted(
    scene: Scene, everything: Evaluation, recordings: dict[tuple[str, str], Recording]
) -> None:
    undoubted = []
    for pair, recording in recordings.items():
        fits = pair_fits(everything, sound_of(recording))
        undoubted += [
            (pair, (f.source, f.seat)) for f in fits if (f.source, f.seat) != pair and not f.doubtful(fits)
        ]
    # 72 wrong readings; L and R to the seat near the middle are nearly each other's mirror image.
    assert len(undoubted) <= 3
    assert {pair[1] for _, pair in undoubted} <= {"centre"}
    found = judge_recording(
        recordings["L", "centre"], evaluate_pair(scene, source="R", seat="corner"), everything
    )
    first = found.findings[0]
    assert (first.code, first.severity) == ("place-doubtful", "warning")
    assert "is this R to corner?" in first.message
    assert "L to centre" in first.hint


def test_an_inch_of_tape_does_no_harm(everything: Evaluation) -> None:
    # 18 mm along two axes at both ends: 25 mm each.
    for pair in (("L", "centre"), ("C", "corner"), ("R", "back")):
        fits = pair_fits(everything, sound_of(heard(*pair, off=0.018)))
        best = best_fits(fits)[0]
        assert (best.source, best.seat) == pair
        assert not best.doubtful(fits)


def test_a_recording_is_most_like_its_own_images(recordings: dict[tuple[str, str], Recording]) -> None:
    # Images of the first order by hand, (delay, level re direct) for absorption 0.2: 10 lg(0.8 (d/r)^2).
    source, seat = np.array(PLACES["L"]), np.array(PLACES["centre"])
    sides = np.array([5.4, 3.6, 2.5])
    direct = np.linalg.norm(source - seat)
    images = [
        np.where(np.arange(3) == k, 2.0 * w - source, source) for k in range(3) for w in (0.0, sides[k])
    ]
    away = np.array([np.linalg.norm(i - seat) for i in images])
    by_hand = expected_sound((away - direct) / 343.2, 10.0 * np.log10(0.8 * (direct / away) ** 2))
    alike = {pair: likeness(sound_of(r), by_hand) for pair, r in recordings.items()}
    assert max(alike, key=lambda k: alike[k]) == ("L", "centre")
    assert likeness(by_hand, by_hand) == pytest.approx(1.0)


def test_several_bounces_fit_a_random_delay_as_seldom_as_stated() -> None:
    # Paths at random, a delay at random: Poisson, 1 - exp(-2 n t / W) = 0.2.
    rng = np.random.default_rng(3)
    matched, tries = 0, 4000
    for _ in range(tries):
        delay = rng.uniform(5.0, 15.0, 20)
        order, energy = np.full(20, 2), np.ones(20)
        t = several_tolerance(10.0, -3.0, delay, order, energy)
        assert t <= TAPE_MS
        matched += bool((np.abs(delay - 10.0) <= t).any())
    # Where paths are few the tolerance is the tape's, and the chance is smaller still.
    assert 0.12 < matched / tries <= CHANCE + 0.02


def test_a_panel_that_failed_is_blamed(scene: Scene, recordings: dict[tuple[str, str], Recording]) -> None:
    build = next(b for b in scene.builds if b.id == "wool-100")
    right = scene.surface_index("right")
    # The reflection point by hand: 2.39 m from the front, 1.16 m above the floor.
    low = Rectangle(
        2.39 - build.outer_width / 2.0, 1.16 - build.outer_height / 2.0, build.outer_width, build.outer_height
    )
    hanging = (Placement("P1", build, right, low),)
    # Recorded in the bare room: the panel does nothing.
    found = judge_recording(
        recordings["L", "centre"],
        evaluate_pair(scene, hanging, source="L", seat="centre"),
        evaluate(scene, hanging, order=3),
    )
    blamed = next(a for a in found.arrivals if a.panel == "P1")
    assert blamed.surface == "right with P1"
    # Length of the bounce by the image: sqrt(3.1^2 + 4.55^2 + 0.1^2) - sqrt(3.1^2 + 1.15^2 + 0.1^2) m.
    assert blamed.delay_ms == pytest.approx((5.5065 - 3.3079) / scene.air.speed_of_sound * 1000.0, abs=0.06)
    assert blamed.stronger_db > 5.0
    words = " ".join(summary(found))
    assert "right with P1" in words
    assert "stronger than promised; look at P1" in words
    # The same recording keeps what the bare room promises.
    bare = judge_recording(recordings["L", "centre"], evaluate_pair(scene, source="L", seat="centre"))
    kept = next(a for a in bare.arrivals if a.surface == "right")
    assert kept.stronger_db == 0.0


def test_overdriven_and_the_assumed_pair_are_said_first(path: Path, tmp_path: Path) -> None:
    loud = np.clip(2.5 * np.array(heard("R", "back").samples), -1.0, 1.0)
    wavfile.write(tmp_path / "x.wav", RATE, (loud * 32767).astype(np.int16))
    runner = CliRunner()
    result = runner.invoke(app, ["measure", str(tmp_path / "x.wav"), "--scene", str(path)])
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert lines[0] == "L to centre"
    assert "overdriven" in lines[1]
    head = result.stdout[: result.stdout.index("The decay")]
    assert "no loudspeaker and no seat named: taken as L to centre" in head
    assert "which pair fits cannot be told" in head
    assert "is this L" not in head
    assert "stronger than promised" not in result.stdout
    asked = ["measure", str(tmp_path / "x.wav"), "--scene", str(path), "--json"]
    document = json.loads(runner.invoke(app, asked).stdout)
    assert document["findings"][0]["code"] == "overdriven"
    wavfile.write(tmp_path / "x.wav", RATE, (heard("R", "back").samples * 32767).astype(np.int16))
    asked = ["measure", str(tmp_path / "x.wav"), "--scene", str(path), "--seat", "back", "--json"]
    document = json.loads(runner.invoke(app, asked).stdout)
    assert [f["code"] for f in document["findings"][:2]] == ["place-doubtful", "pair-assumed"]
    assert "no loudspeaker named: taken as L to back" in document["findings"][1]["message"]
    assert {(p["source"], p["seat"]) for p in document["pairs"]} == set(PAIRS)
    assert (document["pairs"][0]["source"], document["pairs"][0]["seat"]) == ("R", "back")


def test_arrivals_that_merge_are_looked_for_once(everything: Evaluation) -> None:
    # Floor and left wall lie 0.15 ms apart (by the images): one arrival, named by both.
    silent = expected_sound(np.zeros(0), np.zeros(0))
    fit = next(f for f in pair_fits(everything, silent) if (f.source, f.seat) == ("L", "centre"))
    assert sum("floor" in m and "left" in m for m in fit.missing) == 1
    assert (fit.found, fit.strong) == (0, len(fit.missing))
    assert fit.doubtful((fit,))


def test_the_best_pair_comes_first_and_few_finds_are_doubted() -> None:
    def fit(seat: str, alike: float, found: int = 4) -> PairFit:
        return PairFit("L", seat, found, 4, (), alike)

    fits = (fit("a", 0.88), fit("b", 0.91), fit("c", 0.7), fit("d", 0.9, found=1))
    assert [f.seat for f in best_fits(fits)] == ["b", "d", "a"]
    # Doubted: another is 0.15 better; or less than half is found; or nothing is alike.
    assert [f.doubtful(fits) for f in fits] == [False, False, True, True]
    assert fit("e", 0.4).doubtful((fit("e", 0.4),))
    assert best_fits((fit("e", 0.4),)) == ()
