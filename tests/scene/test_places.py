"""Lines of keys, counted by hand, and that any text the reader accepts is walked through."""

import tomllib
from pathlib import Path

import pytest

from treatment.scene.places import Places

ROOT = Path(__file__).parents[2]

TEXT = '''# line 1
title = "a # no comment, [no] table"
panels = [
    "x",  # ] no end

    'y', """
over three
lines""", "z",
]
[air] # comment
temperature_c = 1_000.5
[[seats]]
name = "one"
position = [1, 2, 3]
[[seats]]
name = "two"
"position" = [
  1,
  { a = [
    5, 6] , b.c = 2024-01-01 10:00:00 },
]
[materials.my-felt]
absorption = [0.1]
[materials."a.b"]
source = \'\'\'
''\'\'\'
[ seats . x ] 
deep.er = -inf
'''  # noqa: W291

#: Key path to line, counted by hand.
LINES = {
    "title": 2, "panels": 3, "panels[0]": 4, "panels[1]": 6, "panels[2]": 6, "panels[3]": 8, "air": 10,
    "air.temperature_c": 11, "seats[0]": 12, "seats[0].name": 13, "seats[0].position[2]": 14, "seats[1]": 15,
    "seats[1].name": 16, "seats[1].position": 17, "seats[1].position[0]": 18, "seats[1].position[1]": 19,
    "seats[1].position[1].a": 19, "seats[1].position[1].a[1]": 20, "seats[1].position[1].b.c": 20,
    "materials.my-felt": 22, "materials.my-felt.absorption": 23, "materials.a.b": 24,
    "materials.a.b.source": 25, "seats[1].x": 27, "seats[1].x.deep.er": 28,
}  # fmt: skip


def test_lines_by_hand() -> None:
    tomllib.loads(TEXT)  # the text is right
    places = Places.of(TEXT)
    assert {path: places.line(path) for path in LINES} == LINES


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("seats[0].spread", 12),
        ("seats[1].position[9]", 17),
        ("nothing", None),
        ("seats", 12),
        ("air.x.y", 10),
    ],
)
def test_what_is_not_there_has_the_line_of_what_is_around_it(path: str, line: int | None) -> None:
    assert Places.of(TEXT).line(path) == line


def _paths(value: object, path: str = ""):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _paths(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            yield from _paths(inner, f"{path}[{i}]")
    if path:
        yield path


@pytest.mark.parametrize("path", sorted((ROOT / "scenes").glob("*.toml")), ids=lambda p: p.stem)
def test_every_value_of_the_shipped_scenes_has_a_line(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    places = Places.of(text)
    lines = text.splitlines()
    for key in _paths(tomllib.loads(text)):
        assert key in places.lines, key
        last = key.rsplit(".", 1)[-1]
        if not last.endswith("]"):
            assert last in lines[places.lines[key] - 1]


def test_deep_nesting_and_nonsense_end() -> None:
    assert Places.of("a = " + "[" * 100_000).line("a") == 1
    for text in ["[", "[[", "=", "a", "a =", "]]]", "\"'", "{{{", "a = [}", "a = {]"]:
        Places.of(text)
