import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from treatment.errors import Finding, SceneError
from treatment.scene.load import load_scene
from treatment.scene.model import Scene

# `meshes`, which makes the mesh files, is a script beside the tests and no package.
sys.path.insert(0, str(Path(__file__).parent))
# So is `recess_rooms`.
sys.path.insert(0, str(Path(__file__).parents[1]))

BOX = """title = "Test room"
[room]
shape = "box"
length = 5.0
width = 3.8
height = 2.4
[surfaces]
default = "gypsum-board-on-studs"
[[loudspeakers]]
name = "L"
position = [0.8, 1.0, 1.1]
[[seats]]
name = "middle"
position = [3.1, 1.9, 1.1]
"""

Load = Callable[[str], Scene]
Find = Callable[[str], dict[str, Finding]]


@pytest.fixture
def box_text() -> str:
    return BOX


@pytest.fixture
def load(tmp_path: Path) -> Load:
    """Text of a scene without errors to Scene."""

    def make(text: str) -> Scene:
        path = tmp_path / "scene.toml"
        path.write_text(text, encoding="utf-8")
        return load_scene(path)[0]

    return make


@pytest.fixture
def find(tmp_path: Path) -> Find:
    """Text of a scene to its findings by code."""

    def make(text: str) -> dict[str, Finding]:
        path = tmp_path / "scene.toml"
        path.write_text(text, encoding="utf-8")
        try:
            findings = load_scene(path)[1]
        except SceneError as error:
            findings = error.findings
        return {f.code: f for f in findings}

    return make
