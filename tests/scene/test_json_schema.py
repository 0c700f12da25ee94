"""The shipped JSON Schema: in step with the models, accepts what loads, refuses what the models refuse."""

import json
import tomllib
from pathlib import Path

import pytest

from treatment.errors import SceneError
from treatment.planning.starter import StarterOptions, starter_scene
from treatment.scene import document, schema
from treatment.scene.json_schema import FILE, scene_schema, schema_text
from treatment.scene.load import load_scene

jsonschema = pytest.importorskip("jsonschema")
SCENES = Path(__file__).parents[2] / "scenes"
#: Codes that are about the form of a file alone; the schema must refuse these files in an editor already.
FORM = [
    "unknown-key", "missing-key", "wrong-type", "wrong-number-of-values", "wrong-number-of-bands",
    "size-not-positive", "unit-unknown", "room-shape-unknown", "keep-out-reason-unknown",
    "build-place-unknown",
    "absorption-out-of-range", "scattering-out-of-range", "name-too-long", "mesh-axis-unknown",
    "mesh-origin-unknown", "number-out-of-range",
]  # fmt: skip


@pytest.fixture(scope="module")
def validator():
    made = json.loads(FILE.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(made)
    return jsonschema.Draft202012Validator(made)


def test_the_shipped_file_is_what_the_models_make():
    assert FILE.read_text(encoding="utf-8") == schema_text(), "run: python -m treatment.scene.json_schema"


@pytest.mark.parametrize("path", sorted(SCENES.glob("*.toml")), ids=lambda p: p.stem)
def test_shipped_scenes_are_accepted(validator, path):
    validator.validate(tomllib.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize("shape", ["box", "plan", "attic"])
def test_starter_scenes_are_accepted(validator, shape):
    validator.validate(tomllib.loads(starter_scene(StarterOptions(shape=shape, width=4.4, units="ft"))))


@pytest.mark.parametrize("code", FORM)
def test_slips_of_form_are_refused(validator, code):
    data = tomllib.loads((SCENES / "broken" / f"{code}.toml").read_text(encoding="utf-8"))
    assert list(validator.iter_errors(data))


def test_whatever_it_refuses_the_program_refuses_too(validator):
    for path in sorted((SCENES / "broken").glob("*.toml")):
        try:
            data = tomllib.loads(path.read_text(encoding="utf-8"))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError):
            continue
        if list(validator.iter_errors(data)):
            with pytest.raises(SceneError):
                load_scene(path)


def test_every_key_of_every_model_is_in_it():
    entries = {e for e in vars(schema).values() if isinstance(e, type) and issubclass(e, schema.Entry)}
    made = scene_schema()
    for entry in entries - {schema.Entry}:
        assert set(made["$defs"][entry.__name__]["properties"]) == set(entry.model_fields)
    assert set(made["properties"]) == set(document.KEYS)
