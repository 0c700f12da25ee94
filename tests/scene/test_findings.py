"""What findings say: everything at once, the value as understood, what was most likely meant."""

import re
from pathlib import Path

import pytest

from treatment.errors import SceneError
from treatment.planning.targets import TARGET_USES as USES
from treatment.scene import plan_entries, schema, value_types
from treatment.scene.checks import TARGET_USES
from treatment.scene.load import load_scene, resolve_scene
from treatment.scene.schema import Entry

ROOT = Path(__file__).parents[2]


def test_five_errors_are_five_findings(tmp_path: Path, box_text: str) -> None:
    text = box_text.replace("[3.1, 1.9, 1.1]", "[9.1, 1.9, 1.1]")  # 1: a seat outside
    text = text.replace('"gypsum-board-on-studs"', '"gypsum"\nflor = "steel"')  # 2, 3: material, surface
    text += "[materials.mine]\nabsorption = [0.1, 0.1, -0.1, 0.1, 0.1, 0.1, 0.1, 0.1]\n"  # 4: coefficient
    text += "[budget]\namont = 3\namount = 300\n"  # 5: key
    path = tmp_path / "five.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SceneError, match="the scene has 5 errors") as caught:
        load_scene(path)
    errors = {f.code: f.line for f in caught.value.findings if f.severity == "error"}
    # Lines counted by hand: the replaced line became two, 14 lines in all before what was added.
    assert errors == {
        "seat-outside-room": 15,
        "unknown-material": 8,
        "unknown-surface": 9,
        "absorption-out-of-range": 17,
        "unknown-key": 19,
    }
    assert sum(f.severity == "error" for f in caught.value.findings) == 5
    assert caught.value.where == str(path)


def test_one_bad_entry_does_not_hide_the_next(find, box_text: str) -> None:
    text = (
        box_text
        + '[[seats]]\nname = "bad"\nposition = "here"\n[[seats]]\nname = "far"\nposition = [3, 9, 1]\n'
    )
    found = find(text)
    assert found["wrong-type"].where == "seats[1].position"
    assert found["seat-outside-room"].where == "seats[2].position"
    assert found["seat-outside-room"].line == 20


def test_an_own_material_with_an_error_is_not_unknown_as_well(find, box_text: str) -> None:
    text = box_text.replace("gypsum-board-on-studs", "mine") + "[materials.mine]\nabsorption = [1]\n"
    assert {c for c, f in find(text).items() if f.severity == "error"} == {"wrong-number-of-bands"}


@pytest.mark.parametrize(
    ("was", "now", "code", "message", "hint"),
    [
        (
            "[3.1, 1.9, 1.1]",
            "[1.9, 4.2, 1.1]",
            "seat-outside-room",
            r"y 4\.20 m.*y runs from 0\.00 m to 3\.80 m",
            "x and y exchanged",
        ),
        ("[3.1, 1.9, 1.1]", "[10.2, 6.2, 3.6]", "seat-outside-room", r"x 10\.20 m", "typed in ft"),
        ("[3.1, 1.9, 1.1]", "[310, 190, 110]", "seat-outside-room", r"x 310\.00 m", "typed in cm"),
        ("[3.1, 1.9, 1.1]", "[3100, 1900, 1100]", "seat-outside-room", "", "typed in mm"),
        (
            "[3.1, 1.9, 1.1]",
            '["3.1 m", "1,9 m", 1.1]',
            "length-unreadable",
            '"1,9 m" holds a comma',
            '"1.9 m"',
        ),
        ("height = 2.4", "height = true", "length-unreadable", "true is not a length", "2.35 m"),
        ("height = 2.4", "height = inf", "number-not-finite", "inf is not", ""),
        ("height = 2.4", "height = -2.4", "size-not-positive", "-2.4 m", ""),
        ("height = 2.4", "hight = 2.4", "unknown-key", '"hight" is no key of room', 'did you mean "height"'),
        ("[[seats]]", "[[seat]]", "unknown-key", '"seat" is no key of a scene', 'did you mean "seats"'),
        ('"box"', '"sphere"', "room-shape-unknown", "no room shape", "known are box, plan, mesh"),
        ("height = 2.4", "height = 8", "size-looks-like-feet", r"height is 8\.00 m, beyond 4\.50 m", "feet"),
        ("length = 5.0", "length = 21", "size-looks-like-feet", r"length is 21\.00 m", "feet"),
        ("length = 5.0", "length = 5000", "size-looks-like-millimetres", r"5000\.00 m", "millimetres"),
        ("[materials]", "[materials]", "unknown-material", "'carpet-hevy'", "carpet-heavy-on-concrete"),
    ],
)
def test_findings_name_value_limit_and_intention(find, box_text: str, was, now, code, message, hint) -> None:
    text = box_text if was in box_text else box_text.replace("gypsum-board-on-studs", "carpet-hevy")
    finding = find(text.replace(was, now))[code]
    assert re.search(message, finding.message), finding.message
    assert hint in finding.hint, finding.hint
    assert finding.line is not None


def test_nothing_is_changed_silently(load, box_text: str) -> None:
    """A room that looks like feet stays what it was typed as."""
    scene = load(box_text.replace("height = 2.4", "height = 8.0"))
    assert scene.enclosure.volume == pytest.approx(5.0 * 3.8 * 8.0)


@pytest.mark.parametrize(("x", "noted"), [(2.5, True), (2.4, True), (2.3, False), (1.9, False), (3.1, False)])
def test_half_length(find, box_text: str, x: float, noted: bool) -> None:
    """Half of 5 m is 2.5 m; 38 % is 1.9 m and 62 % is 3.1 m (common practice)."""
    assert ("seat-at-half-length" in find(box_text.replace("3.1, 1.9", f"{x}, 1.9"))) is noted


@pytest.mark.parametrize(("depth", "noted"), [(0.90, True), (0.914, False), (0.92, False)])
def test_electrical_working_space(find, box_text: str, depth: float, noted: bool) -> None:
    """36 in = 914 mm: NEC 110.26 (USA), as an example."""
    text = box_text + (
        '[[keep_outs]]\nname = "board"\nsurface = "left"\nat = [1, 0]\nsize = [0.8, 2]\n'
        f'depth = {depth}\nreason = "electrical"\n'
    )
    assert ("electrical-depth-small" in find(text)) is noted


@pytest.mark.parametrize(("sides", "cube"), [((3.0, 2.6, 2.3), True), ((3.0, 2.5, 2.1), False)])
def test_near_cube(find, box_text: str, sides: tuple, cube: bool) -> None:
    text = box_text.replace("5.0", str(sides[0])).replace("3.8", str(sides[1])).replace("2.4", str(sides[2]))
    assert ("near-cube" in find(text.replace("3.1, 1.9", "2.2, 1.2"))) is cube


@pytest.mark.parametrize("label", ["M+030", "M-135", "U+045", "M+000", "T+000", "B-045", "LFE1", "M+180"])
def test_labels_of_the_standard_are_known(find, box_text: str, label: str) -> None:
    """Labels of ITU-R BS.2051."""
    text = box_text.replace('name = "L"\n', f'name = "L"\nchannel = "{label}"\n')
    assert "channel-unknown" not in find(text)


def test_names_are_told_apart_across_kinds(find, box_text: str) -> None:
    sub = '[[subwoofers]]\nname = "{}"\nposition = [0.3, 0.3, 0.3]\n'
    assert find(box_text + sub.format("l"))["duplicate-name"].where == "subwoofers[0].name"
    assert "duplicate-name" not in find(box_text + sub.format("middle"))  # a seat is no source
    door = '[[openings]]\nname = "Left"\nsurface = "back"\nat = [0, 0]\nsize = [1, 1]\nmaterial = "steel"\n'
    assert find(box_text + door)["duplicate-name"].where == "openings[0].name"


def test_panels_limit_the_choice_and_own_builds_count(load, box_text: str) -> None:
    own = (
        '[builds.mine]\nwidth = 0.6\nheight = 1.2\nthickness = "50 mm"\n'
        'layers = [{ airflow_resistivity = 9000, thickness = "50 mm" }]\n'
    )
    everything = load(box_text + own)
    assert len(everything.builds) > 10
    assert everything.builds[-1].id == "mine"
    limited = load('panels = ["wool-100", "mine", "wool-100"]\n' + box_text + own)
    assert [b.id for b in limited.builds] == ["wool-100", "mine"]


def test_uses_are_those_that_have_a_range() -> None:
    assert TARGET_USES == USES


def test_resolve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert resolve_scene("garden-room").name == "garden-room.toml"
    assert resolve_scene("garden-room").is_file()
    assert resolve_scene("no-such-room") == Path("no-such-room")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "garden-room").write_text("mine", encoding="utf-8")
    assert resolve_scene("garden-room") == Path("garden-room")  # a file of one's own comes first
    assert resolve_scene("x" * 5000) == Path("x" * 5000)


def test_guide_explains_every_key() -> None:
    guide = (ROOT / "docs" / "guide" / "scene-file.md").read_text(encoding="utf-8")
    entries = [e for m in (schema, plan_entries) for e in vars(m).values()]
    entries = [e for e in entries if isinstance(e, type) and issubclass(e, Entry)]
    keys = {k for e in entries for k in e.model_fields}
    assert len(keys) > 25
    missing = {k for k in keys if not re.search(rf"`(?:\w+\.)?{k}`", guide) and f"{k} =" not in guide}
    assert not missing
    for word in (*value_types.REASONS, *value_types.PLACES):
        assert f"`{word}`" in guide


def test_metres_typed_as_feet_are_asked_about_and_not_changed(tmp_path: Path, find, box_text: str) -> None:
    found = find('units = "ft"\n' + box_text)["size-looks-like-metres"]
    assert found.hint.startswith("are these metres? 2.4 m would be usual")
    path = tmp_path / "ft.toml"
    path.write_text('units = "ft"\n' + box_text, encoding="utf-8")
    # 5.0 x 3.8 x 2.4 ft, a foot being 0.3048 m by definition.
    assert load_scene(path)[0].enclosure.volume == pytest.approx(5.0 * 3.8 * 2.4 * 0.3048**3)
    # 8 ft are no metres, and 2.4 m in a file of metres are right.
    rest = box_text.replace("height = 2.4", "height = 8")
    assert "size-looks-like-metres" not in find('units = "ft"\n' + rest)
    assert "size-looks-like-metres" not in find(box_text)


@pytest.mark.parametrize(("y", "told"), [(2.0, True), (2.34, True), (2.36, False), (2.6, False)])
def test_two_heads_need_the_width_of_shoulders(find, box_text: str, y: float, told: bool) -> None:
    text = box_text + f'[[seats]]\nname = "next"\nposition = [3.1, {y}, 1.1]\n'
    assert ("seats-too-close" in find(text)) == told


def test_a_slope_that_cuts_an_opening_is_named_with_the_height_there(find, box_text: str) -> None:
    # The back wall's end under a slope from 1.2 m at 45 degrees: by hand 1.2 + u high, up to 2.4 m.
    room = box_text.replace(
        'shape = "box"\nlength = 5.0\nwidth = 3.8\nheight = 2.4\n',
        'shape = "plan"\ncorners = [[0, 0], [5, 0], [5, 3.8], [0, 3.8]]\nheight = 2.4\n'
        'names = ["left", "back", "right", "front"]\n'
        '[[room.ceiling]]\nname = "slope"\nwall = "left"\nknee = 1.2\npitch = 45.0\n',
    )
    door = '[[openings]]\nname = "door"\nsurface = "back"\nat = [0.4, 0.0]\nsize = [0.8, 2.0]\n'
    found = find(room + door + 'material = "door-solid-wood"\n')["opening-outside-surface"]
    assert "the slope cuts that corner off" in found.message
    assert "1.60 m high at 0.40 m along it" in found.message
    assert "2.40 m high at 1.20 m along it" in found.message
    assert "-0" not in found.message
    # 2.0 m of height are there from 0.8 m on.
    assert found.hint == "at that height it fits with at = [0.8, 0]"
    low = door.replace("[0.8, 2.0]", "[3.6, 2.0]").replace("[0.4,", "[0.1,")
    low += 'material = "door-solid-wood"\n'
    assert "fits nowhere" in find(room + low)["opening-outside-surface"].hint
