"""Distances that standards and common practice ask for, by figures laid out by hand."""

import pytest

from treatment.planning.arrangement import arrangement_of
from treatment.scene.load import load_scene

ROOM = """title = "standing"
[room]
shape = "box"
length = 9.0
width = 7.0
height = 2.8
[surfaces]
default = "gypsum-board-on-studs"
{screen}
[[loudspeakers]]
name = "L"
position = [{left}, 1.2]
channel = "M+030"
[[loudspeakers]]
name = "R"
position = [{right}, 1.2]
channel = "M-030"
[[seats]]
name = "seat"
position = [{seat}, 1.2]
"""


def codes(tmp_path, left="1.5, 2.25", right="1.5, 4.75", seat="3.665, 3.5", screen=""):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(left=left, right=right, seat=seat, screen=screen))
    found = arrangement_of(load_scene(path)[0])
    return {f.code: f for f in found.findings}


def test_a_triangle_as_the_standards_have_it(tmp_path):
    # Base 2.5 m, 2.5 m away, 30 degrees to either side, far from walls: nothing to say.
    assert codes(tmp_path) == {}


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        # 25 mm further forward: 20 mm are common practice. Along the path 25 mm, so 22 mm at 30 degrees.
        ({"left": "1.47, 2.25"}, "unequal-pair"),
        ({"left": "1.5, 1.25", "right": "1.5, 3.75", "seat": "3.665, 2.5"}, "unequal-walls"),
        # 1.6 m apart (ITU-R BS.1116-3: 2 to 3 m, from memory), on the same angles.
        ({"left": "1.5, 2.7", "right": "1.5, 4.3", "seat": "2.886, 3.5"}, "base-outside-standards"),
        # 0.9 m from the front wall, 1 m is asked for.
        (
            {"left": "0.9, 2.25", "right": "0.9, 4.75", "seat": "3.065, 3.5"},
            "nearer-to-walls-than-standards-like",
        ),
        # 1.4 m from the back wall, 1.5 m is asked for.
        (
            {"left": "5.435, 2.25", "right": "5.435, 4.75", "seat": "7.6, 3.5"},
            "nearer-to-walls-than-standards-like",
        ),
        ({"left": "2.2, 2.25"}, "loudspeaker-off-its-place"),
    ],
)
def test_what_is_out_of_order_is_told(tmp_path, changes, code):
    assert code in codes(tmp_path, **changes)


def test_unequal_paths_are_told_with_the_delay(tmp_path):
    # Near one 2.10 m, far one 3.40 m: 3.790 ms at 343 m/s (343.4 m/s in air of 20 degrees: 3.786 ms).
    found = codes(tmp_path, left="1.565, 3.5", right="0.265, 3.5")["unequal-pair"]
    assert "1300 mm" in found.message
    assert "3.79 ms" in found.hint


@pytest.mark.parametrize(("width", "small"), [(1.90, True), (2.02, False)])
def test_a_screen_below_thirty_degrees_is_noted(tmp_path, width, small):
    # 2 D tan(15 degrees) = 0.5359 D; at D = 3.665 m a screen of 1.964 m fills 30 degrees.
    screen = f"[screen]\nat = [{3.5 - width / 2}, 0.9]\nsize = [{width}, 1.0]"
    assert ("screen-looks-small" in codes(tmp_path, screen=screen)) == small


def test_a_screen_high_up_is_noted(tmp_path):
    # Its top 2.7 m up, 1.5 m above the eyes: atan(1.5/2.0) = 36.9 degrees at 2 m, 31.0 degrees at 2.5 m.
    screen = "[screen]\nat = [2.5, 1.5]\nsize = [2.0, 1.2]\ndistance = {}"
    assert "screen-looks-high" in codes(tmp_path, screen=screen.format(1.665))
    assert "screen-looks-high" not in codes(tmp_path, screen=screen.format(1.165))
