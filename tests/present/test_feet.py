"""A person who measures in feet is answered in feet everywhere, and one who measures in metres in metres.

One room, invented, is written once in metres and once in feet and inches, and every word that a person
reads is looked through: what the commands print, and what stands in the pages and drawings of a plan.
"""

from __future__ import annotations

import html
import re
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from treatment.materials.library import load_library
from treatment.planning.bass import predict_bass
from treatment.planning.bass_advice import advise_bass
from treatment.planning.comparison import compare_builds
from treatment.planning.evaluate import evaluate
from treatment.planning.make import make_plan
from treatment.present.bass import print_bass
from treatment.present.compare import print_comparison
from treatment.present.console import print_findings, print_plan, print_prediction
from treatment.present.folder import write_folder
from treatment.present.plan_summary import print_plan_summary
from treatment.present.room_summary import print_room_summary
from treatment.scene.load import load_scene
from treatment.units import format_imperial

GARDEN = Path(__file__).parents[2] / "scenes" / "garden-room.toml"
#: What calls for more sentences: a board, a lamp, a detector, a screen that sound passes, loudspeakers with a
#: known directivity, a passage, limits.
MORE = """
[[keep_outs]]
name = "fuse board"
surface = "left"
at = [4.60, 1.20]
size = [0.40, 0.60]
depth = 0.60
reason = "electrical"

[[keep_outs]]
name = "lamp"
surface = "ceiling"
at = [2.60, 1.70]
size = [0.20, 0.20]
depth = 0.05
reason = "luminaire"

[[keep_outs]]
name = "smoke detector"
surface = "ceiling"
at = [1.60, 1.70]
size = [0.12, 0.12]
depth = 0.05
reason = "detector"

[[openings]]
name = "passage"
surface = "left"
at = [5.10, 0.0]
size = [0.25, 2.00]
material = "open-passage"

[[subwoofers]]
name = "S2"
position = [0.30, 2.50, 0.25]

[limits]
depth = 0.20
"""
#: Keys of the room file that hold lengths.
LENGTHS = "length|width|height|at|size|depth|position|spread"

METRIC = r"(?:mm|cm|m|m2|m3|m²|m³|metres?|millimetres?)"
FEET = r"(?:ft|in|sq ft|cu ft|sq ft sabins|ft/s)"
#: Units of physics, a formula as its source writes it, the level's reference, a gauge: the same everywhere.
ALLOWED = (
    r"0.95 in every octave", r"kg/m[23]", r"Pa s/m2?", r"\(V/100 m3\)", r"re 1 m in the open", r"m/s",
    r"16 or 17 gauge \(about 1.2 mm\)",
)  # fmt: skip
#: Names of materials hold their thickness, and so do the words of the tables they come from.
NAMES = r"[a-z]+(?:-[\w.]+)+"


@dataclass(frozen=True)
class Answers:
    """What a person reads: text by where it stands, each a list of pieces that follow one another."""

    printed: dict[str, list[str]]
    written: dict[str, list[str]]


def in_feet(text: str) -> str:
    """The same room as a person with a tape in inches writes it."""

    def line(text: str) -> str:
        match = re.match(rf"({LENGTHS})\s*=\s*([^#]*)", text)
        if match is None:
            return text
        numbers = r"(?<![\w\"])\d+(?:\.\d+)?"
        return f"{match[1]} = " + re.sub(numbers, lambda n: f'"{format_imperial(float(n[0]))}"', match[2])

    return "\n".join(map(line, text.splitlines())).replace('units = "m"', 'units = "ft"')


def pieces(path: Path) -> list[str]:
    """Text of a page or a drawing, a piece for each element, tips and descriptions too."""
    text = re.sub(r"<(style|script)\b.*?</\1>", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    text = re.sub(r"<[^>]*?\b(?:title|aria-label|alt)=\"([^\"]*)\"[^>]*>", r"\n\1\n", text)
    text = re.sub(r"</?(?:b|i|em|strong|a|code|tspan)\b[^>]*>", "", text)
    return [p for p in (html.unescape(x).strip() for x in re.split(r"<[^>]+>|\n", text)) if p]


def answers(folder: Path, text: str) -> Answers:
    """Ask every command about a room."""
    path = folder / "room.toml"
    path.write_text(text + MORE if 'units = "m"' in text else text + in_feet(MORE), encoding="utf-8")
    scene, findings = load_scene(path)
    plan, room = make_plan(scene), evaluate(scene)
    printed: dict[str, list[str]] = {}

    def say(name, printer, *subject):
        stream = StringIO()
        printer(Console(file=stream, width=1000, highlight=False), *subject)
        printed[name] = stream.getvalue().splitlines()

    say("check", print_findings, findings)
    say("predict", print_room_summary, room, findings)
    say("predict --full", print_prediction, room, findings)
    say("plan", print_plan_summary, plan)
    say("plan --full", print_plan, plan)
    bass = predict_bass(scene, (), frequency_hz=np.arange(20.0, 121.0))
    say("bass", print_bass, bass, advise_bass(bass))
    builds = (*scene.builds, *scene.unasked_builds)
    say("compare", print_comparison, compare_builds(builds, load_library(), room))
    write_folder(plan, folder / "plan", findings, pictures=False)
    files = [p for p in (folder / "plan").iterdir() if p.suffix in (".html", ".svg")]
    return Answers(printed, {p.name: pieces(p) for p in sorted(files)})


@pytest.fixture(scope="module")
def feet(tmp_path_factory: pytest.TempPathFactory) -> Answers:
    return answers(tmp_path_factory.mktemp("feet"), in_feet(GARDEN.read_text(encoding="utf-8")))


@pytest.fixture(scope="module")
def metres(tmp_path_factory: pytest.TempPathFactory) -> Answers:
    return answers(tmp_path_factory.mktemp("metres"), GARDEN.read_text(encoding="utf-8"))


def plain(text: str) -> str:
    """Text without names and words of materials, and without units of physics."""
    for material in load_library().materials.values():
        if material.description:
            text = text.replace(material.description, "")
    return re.sub("|".join((*ALLOWED, NAMES)), "", text)


def alone(found: list[str], one: str, other: str) -> list[str]:
    """Pieces that tell a length in one system without the other before it.

    Both may be told, the person's own first: ``2 in (50 mm)``, ``2 in / 50 mm``, ``3/4 x 2 1/2 in, 19 x 64
    mm``, or in two pieces that follow one another.
    """
    wrong, before = [], ""
    length = rf"[-+]?\d[\d.,/ ]*(?:{one}\b(?: \d[\d/ ]*in\b)?)?"
    run = rf"{length}(?: ?(?:x|to|by|and) ?{length})*(?: x)?"
    pair = re.compile(rf"(?:(?<=[a-z0-9]) \({run}\)| / {run}|, {run}(?=\)))")
    for piece in found:
        rest = plain(piece)
        told = re.search(rf"\d ?{other}\b", rest)
        second = re.fullmatch(run, rest.strip()) and re.search(rf"\d ?{other}\b", before)
        if re.search(rf"\d ?{one}\b(?!/)", pair.sub("", rest) if told else rest) and not second:
            wrong.append(piece)
        before = before if second else piece
    return wrong


def test_in_feet_no_metre_stands_alone(feet: Answers) -> None:
    found = {name: alone(text, METRIC, FEET) for name, text in {**feet.printed, **feet.written}.items()}
    assert {name: text for name, text in found.items() if text} == {}


def test_in_metres_no_foot_stands_alone(metres: Answers) -> None:
    found = {name: alone(text, FEET, METRIC) for name, text in {**metres.printed, **metres.written}.items()}
    assert {name: text for name, text in found.items() if text} == {}


def test_in_metres_nothing_printed_has_feet(metres: Answers) -> None:
    """Drawings and tables on paper tell both systems; a sentence has room for one."""
    for name, text in metres.printed.items():
        assert not [t for t in text if re.search(rf"\d {FEET}\b", plain(t))], name


def test_columns_name_no_metric_unit(feet: Answers) -> None:
    for name, text in feet.printed.items():
        assert not [
            t for t in text if re.search(rf"(?<![\w/(]){METRIC}\b(?! in the open)(?!/)", pairless(t))
        ], name


def pairless(text: str) -> str:
    return re.sub(rf"\([^()]*\d ?{METRIC}\)|, [\d x]+ mm\)", "", plain(text))


def test_the_room_calls_for_what_is_looked_at(feet: Answers) -> None:
    """So that the tests above cannot pass because nothing was said."""
    told = "\n".join(line for text in feet.printed.values() for line in text)
    for words in ("NEC 110.26", "recessed lamps", "below sprinklers", "further back", "move that", "passage"):
        assert words in told
    assert len(re.findall(rf"\d {FEET}\b", told)) > 200
    assert {"report.html", "room.html", "checklist.html", "elevation-left.svg"} <= set(feet.written)
