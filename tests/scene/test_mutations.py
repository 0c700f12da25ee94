"""Thousands of small changes to the example scenes: a scene or a list of findings, soon, and nothing else.

The default run is short; TREATMENT_MUTATIONS=10000 does them all.
"""

import os
import random
import shutil
import time

import pytest
from meshes import SCENES, files

from treatment.errors import SceneError
from treatment.scene.checks import CODES
from treatment.scene.load import load_scene

COUNT = int(os.environ.get("TREATMENT_MUTATIONS", "2000"))
#: The longest that anyone should wait for an answer (s).
LONGEST = 5.0
TEXTS = [p.read_text(encoding="utf-8") for p in sorted(SCENES.glob("*.toml"))]
TEXTS += [p.read_text(encoding="utf-8") for p in sorted((SCENES / "broken").glob("ceiling-*.toml"))]
KEYS = sorted({line.split("=")[0].strip() for t in TEXTS for line in t.splitlines() if "=" in line})
VALUES = sorted(
    {line.split("=")[1].split("#")[0].strip() for t in TEXTS for line in t.splitlines() if "=" in line}
)
HEADS = sorted({line.split("#")[0].strip() for t in TEXTS for line in t.splitlines() if line.startswith("[")})
STRANGE = [
    "nan", "inf", "-inf", "-1", "0", "1e300", "-1e300", "1e-300", "1e18", "true", '""', '"x"', "[]", "[[]]",
    "{}", "[1, 2, 3]", "[nan, inf, 1]", "[1e300, 1e300, 1e300]", "2024-01-01", "9" * 400, '"7 ft 8 1/2 in"',
    '"1,5 m"', "[true]", '["a", "b"]', '"\\u0000"', '"\\n"', "0.01", "300", '"plan"', '"mesh"', '"box"',
    "[[0, 0], [5, 0], [5, 4]]", "[2.4, 2.4, 2.4, 2.4]", "[2.4, 2.2, 2.6, 2.0]", "[0, 0, 0, 0]",
    "[{ wall = 'left', knee = 1, pitch = 45 }]", "[{ points = [[0, 0, 2], [1, 0, 2], [0, 1, 3]] }]",
    "[{ points = [[0, 0, 2], [1, 1, 2], [2, 2, 3]] }]", "[{}]", '"bay-window.obj"', '"/dev/null"', '"."',
    '"bay-window.toml"', '"cm"', '"-x"',
]  # fmt: skip

#: Ways to change a line.
KINDS = ["strange", "value", "number", "number", "key", "drop", "repeat", "move", "cut", "sign", "head"]


def changed(rng, text):
    """A text with one to four changes."""
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    for _ in range(rng.randint(1, 4)):
        i = rng.randrange(len(lines))
        key = lines[i].split("=")[0]
        match rng.choice(KINDS):
            case "strange" if "=" in lines[i]:
                lines[i] = f"{key}= {rng.choice(STRANGE)}"
            case "value" if "=" in lines[i]:
                lines[i] = f"{key}= {rng.choice(VALUES)}"
            case "number":
                lines[i] = "".join(
                    rng.choice("0123456789.-e") if c.isdigit() and rng.random() < 0.4 else c for c in lines[i]
                )
            case "key" if "=" in lines[i]:
                lines[i] = f"{rng.choice(KEYS)} = {lines[i].split('=')[1]}"
            case "drop":
                del lines[i]
            case "repeat":
                lines.insert(i, lines[i])
            case "move":
                lines.insert(rng.randrange(len(lines)), lines.pop(i))
            case "cut":
                lines[i] = lines[i][: rng.randrange(len(lines[i]) + 1)]
            case "sign":
                at = rng.randrange(len(lines[i]) + 1)
                lines[i] = lines[i][:at] + rng.choice('[]{}"=,.#\\\n\t\0é𝄞\u202e') + lines[i][at:]
            case "head":
                lines.insert(i, rng.choice(HEADS))
        if not lines:
            return ""
    return "\n".join(lines)


def answered(path, raw):
    path.write_bytes(raw)
    start = time.perf_counter()
    try:
        scene, findings = load_scene(path)
    except SceneError as error:
        findings = error.findings
        assert any(f.severity == "error" for f in findings)
    else:
        assert scene.enclosure.volume > 0.0
        assert all(f.severity != "error" for f in findings)
    assert time.perf_counter() - start < LONGEST
    for f in findings:
        assert f.code in CODES
        assert f.message
        assert len(f.message) < 700
    return {f.code for f in findings if f.severity == "error"}


@pytest.fixture
def folder(tmp_path):
    for name in SCENES.glob("*.obj"):
        shutil.copy(name, tmp_path)
    return tmp_path


def test_changed_scenes(folder):
    rng = random.Random(20)
    seen, fine = set(), 0
    for k in range(COUNT):
        text = changed(rng, rng.choice(TEXTS))
        try:
            codes = answered(folder / "scene.toml", text.encode("utf-8", errors="surrogatepass"))
        except Exception:
            print(f"change {k}:\n{text}")
            raise
        seen |= codes
        fine += not codes
    # The changes reach far: most kinds of errors turn up, and some scenes stay whole.
    assert len(seen) > 25
    assert 0.02 * COUNT < fine < 0.7 * COUNT


def test_changed_meshes(folder):
    rng = random.Random(21)
    meshes = [t for name, t in files().items() if "one-sided" not in name]
    scene = (
        (SCENES / "broken" / "mesh-mended.toml").read_text(encoding="utf-8").replace("mesh-room.obj", "m.obj")
    )
    seen = set()
    for k in range(max(150, COUNT // 10)):
        text = changed(rng, rng.choice(meshes).replace("#", "# =\n#", 1))
        (folder / "m.obj").write_bytes(text.encode("utf-8", errors="surrogatepass"))
        try:
            seen |= answered(folder / "scene.toml", scene.encode())
        except Exception:
            print(f"change {k}:\n{text}")
            raise
    assert len(seen) > 5
