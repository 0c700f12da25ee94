"""Whatever the text, loading it gives a scene or a SceneError, and never anything else."""

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from treatment.errors import SceneError
from treatment.scene.checks import CODES
from treatment.scene.load import load_scene, resolve_scene

GARDEN = resolve_scene("garden-room").read_text(encoding="utf-8")
EXTRA = """
[[obstacles]]
name = "post"
at = [2.6, 1.4, 0.0]
size = [0.12, 0.12, 2.5]
material = "steel"
[builds.mine]
width = 0.6
height = 1.2
thickness = "50 mm"
layers = [{ airflow_resistivity = 9000, thickness = "50 mm" }]
[materials.felt]
absorption = [0.05, 0.10, 0.25, 0.50, 0.75, 0.85, 0.90, 0.90]
"""
LINES = [line for line in (GARDEN + EXTRA).splitlines() if line.strip() and not line.startswith("#")]
VALUES = [
    "nan",
    "inf",
    "-inf",
    "-1",
    "0",
    "1e300",
    "-1e300",
    "1e-300",
    "1e18",
    "true",
    '""',
    '"x"',
    "[]",
    "[[]]",
    "{}",
    "[1, 2]",
    "[1, 2, 3]",
    "[nan, inf, 1]",
    "[1e300, 1e300, 1e300]",
    "2024-01-01",
    "9" * 400,
    '"7 ft 8 1/2 in"',
    '"1,5 m"',
    "{ a = 1 }",
    "[true]",
    '["a", "b"]',
    '"\\u0000"',
    '"\\n"',
    "0.01",
    "300",
    "[0.0, 0.0, 0.0]",
    '"plan"',
    '"left"',
    "[[0, 0], [5, 0], [5, 4]]",
    "[[0, 0], [5, 0], [5, 4], [0, 4], [0, 0]]",
    "[[0, 0], [0, 4], [5, 4], [5, 0]]",
    "[[0, 0], [1e300, 0], [5, 4]]",
    "[[0, 0], [5, 5], [5, 0], [0, 5]]",
]


@st.composite
def scene_texts(draw: st.DrawFn) -> str:
    """A scene with some lines dropped, repeated, moved, or given strange values or characters."""
    lines = list(LINES)
    for _ in range(draw(st.integers(1, 4))):
        i = draw(st.integers(0, len(lines) - 1))
        match draw(
            st.sampled_from(["value", "value", "value", "drop", "repeat", "move", "key", "cut", "insert"])
        ):
            case "value" if "=" in lines[i]:
                lines[i] = lines[i].split("=")[0] + "= " + draw(st.sampled_from(VALUES))
            case "drop":
                del lines[i]
            case "repeat":
                lines.insert(i, lines[i])
            case "move":
                lines.insert(draw(st.integers(0, len(lines) - 1)), lines.pop(i))
            case "key" if "=" in lines[i]:
                lines[i] = (
                    draw(st.sampled_from(["name", "corners", "x y", "shape", "a.b"]))
                    + " = "
                    + lines[i].split("=")[1]
                )
            case "cut":
                lines[i] = lines[i][: draw(st.integers(0, len(lines[i])))]
            case "insert":
                at = draw(st.integers(0, len(lines[i])))
                lines[i] = lines[i][:at] + draw(st.text(max_size=3)) + lines[i][at:]
    return "\n".join(lines)


def load_or_refuse(path: Path, raw: bytes) -> None:
    path.write_bytes(raw)
    try:
        scene, findings = load_scene(path)
    except SceneError as error:
        findings = error.findings
        assert any(f.severity == "error" for f in findings)
    else:
        assert scene.enclosure.volume > 0.0
        assert all(f.severity != "error" for f in findings)
    for f in findings:
        assert f.code in CODES
        assert f.message
        assert len(f.message) < 600


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(scene_texts())
def test_changed_scenes(tmp_path: Path, text: str) -> None:
    load_or_refuse(tmp_path / "changed.toml", text.encode("utf-8", errors="surrogatepass"))


def test_strange_values_everywhere(tmp_path: Path) -> None:
    """Every line gets strange values in turn, so that every value meets many kinds of keys."""
    lines = [i for i, line in enumerate(LINES) if "=" in line]
    for k, i in enumerate(lines):
        for value in (VALUES[(3 * k + j) % len(VALUES)] for j in range(3)):
            changed = [*LINES[:i], f"{LINES[i].split('=')[0]}= {value}", *LINES[i + 1 :]]
            load_or_refuse(tmp_path / "strange.toml", "\n".join(changed).encode())
