"""Every code has a file that shows it, a row in the guide, and a severity."""

import re
from pathlib import Path

import pytest

from treatment.errors import Finding, SceneError
from treatment.scene.checks import CODES
from treatment.scene.load import LARGEST_FILE, load_scene

ROOT = Path(__file__).parents[2]
FILES = sorted((ROOT / "scenes" / "broken").glob("*.toml"))
#: Shown by no file that could be shipped; each has a test below or in test_mesh_rooms.py.
WITHOUT_FILE = {
    "file-missing", "file-is-directory", "file-too-large", "file-unreadable",
    "mesh-too-large", "mesh-detailed",
}  # fmt: skip
#: The thing is not there, so it has no line.
WITHOUT_LINE = {"file-empty", "no-seats", "no-loudspeakers"}


def findings_of(path: Path) -> tuple[Finding, ...]:
    try:
        _, findings = load_scene(path)
    except SceneError as error:
        return error.findings
    # Without SceneError there is no error.
    assert all(f.severity != "error" for f in findings)
    return findings


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_file_shows_its_code(path: Path) -> None:
    findings = findings_of(path)
    mine = [f for f in findings if f.code == path.stem]
    assert mine
    for f in mine:
        assert f.severity == CODES[path.stem][0]
        assert f.message
        assert f.hint
        assert len(f.message) < 260
        if path.stem not in WITHOUT_LINE:
            assert f.line is not None
    # One mistake in the file, one code: a second error or warning would be a consequence told as a cause.
    others = {f.code for f in findings if f.severity != "note"} - {path.stem}
    assert not others


@pytest.mark.parametrize(
    ("code", "line"),
    # Counted by hand in the files.
    [
        ("toml-syntax", 2),
        ("file-not-text", 1),
        ("unknown-key", 7),
        ("seat-outside-room", 19),
        ("openings-overlap", 28),
    ],
)
def test_lines(code: str, line: int) -> None:
    findings = findings_of(ROOT / "scenes" / "broken" / f"{code}.toml")
    assert [f.line for f in findings if f.code == code] == [line]


def test_every_code_has_a_file_or_a_test() -> None:
    assert {p.stem for p in FILES} | WITHOUT_FILE == set(CODES)


def test_guide_has_a_row_for_every_code() -> None:
    text = (ROOT / "docs" / "guide" / "findings.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([a-z-]+)` \| (\w+) \| (.+?) \| (.+?) \|$", text, flags=re.MULTILINE)
    assert {code: (severity, meaning) for code, severity, meaning, _ in rows} == dict(CODES)
    assert len(rows) == len(CODES)


def only(path: Path) -> Finding:
    with pytest.raises(SceneError) as caught:
        load_scene(path)
    (finding,) = caught.value.findings
    assert finding.severity == CODES[finding.code][0]
    return finding


def test_missing_file(tmp_path: Path) -> None:
    assert only(tmp_path / "garden-rom.toml").code == "file-missing"
    assert "garden-room" in only(tmp_path / "garden-rom.toml").hint


def test_directory(tmp_path: Path) -> None:
    assert only(tmp_path).code == "file-is-directory"


def test_large_file(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(b"#" * (LARGEST_FILE + 1))
    assert only(path).code == "file-too-large"


def test_file_that_is_no_file() -> None:
    assert only(Path("/dev/null")).code == "file-unreadable"


@pytest.mark.parametrize("name", ["a\0b.toml", "x" * 5000])
def test_impossible_name(name: str) -> None:
    assert only(Path(name)).code in {"file-unreadable", "file-missing"}


@pytest.mark.parametrize("raw", [b"\x00\x01\x02\x03", 'title = "x"'.encode("utf-16"), b'title = "\x00"'])
def test_binary(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "binary.toml"
    path.write_bytes(raw)
    assert only(path).code == "file-not-text"


@pytest.mark.parametrize("text", ["# nothing but a comment\n", "\n \t\n"])
def test_nothing_in_it(tmp_path: Path, text: str) -> None:
    path = tmp_path / "empty.toml"
    path.write_text(text, encoding="utf-8")
    assert only(path).code == "file-empty"


@pytest.mark.parametrize("text", ["a = " + "[" * 50_000, "a = " + "9" * 5000, "a = 1\na = 2\n", "a = {b = 1"])
def test_bad_toml(tmp_path: Path, text: str) -> None:
    path = tmp_path / "bad.toml"
    path.write_text(text, encoding="utf-8")
    finding = only(path)
    assert finding.code == "toml-syntax"
    assert len(finding.message) < 200
