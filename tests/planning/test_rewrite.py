"""An edit of a room file changes what it says in one place, and nothing else: the reader of the standard
library is the judge of that, and the lines of the text are."""

import copy
import difflib
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from treatment.errors import PlanError
from treatment.planning.rewrite import add_entry, read_value, remove_value, set_value, set_values

SCENES = Path(__file__).parents[2] / "scenes"
SHIPPED = sorted(SCENES.glob("*.toml"))
ODD = """# head
title = 'it''s' # odd, and no TOML
"""
STYLES = '''# a file in other styles
title = "styles"  # kept
seats = [ # a list of inline tables
  { name = "a", position = [1, 2.50, "3 ft"] }, # kept too
  { name = "b", position = [0x10, 1_000, 1e1] },
]
room.shape = "box"
room.length = 5
[surfaces]
"odd name.with dot" = "glass" # and here
default = """brick"""
[budget]
amount = 450 # EUR
'''


def changed_lines(old, new):
    return [
        line
        for line in difflib.unified_diff(old.splitlines(), new.splitlines(), n=0)
        if line[:1] in "+-" and line[:3] not in ("---", "+++")
    ]


def comments(text):
    return [line.split("#", 1)[1] for line in text.splitlines() if "#" in line]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_a_seat_moves_and_one_line_changes(path):
    text = path.read_text(encoding="utf-8")
    new = set_value(text, ("seats", 0, "position", 1), 1.234)
    wanted = tomllib.loads(text)
    wanted["seats"][0]["position"][1] = 1.234
    assert tomllib.loads(new) == wanted
    assert len(changed_lines(text, new)) == 2
    assert comments(new) == comments(text)


def test_every_style_of_toml_is_edited_in_its_place():
    for path, value in (
        (("seats", 1, "position", 0), 2.5),
        (("seats", 0, "name"), "new"),
        (("room", "length"), "18 ft"),
        (("surfaces", "odd name.with dot"), "brick"),
        (("surfaces", "default"), "glass"),
        (("budget", "amount"), 99),
    ):
        new = set_value(STYLES, path, value)
        assert read_value(new, path) == value
        assert len(changed_lines(STYLES, new)) == 2
        assert comments(new) == comments(STYLES)


def test_a_table_that_is_missing_is_made():
    new = set_value(STYLES, ("target", "use"), "living-room")
    assert tomllib.loads(new)["target"] == {"use": "living-room"}
    assert new.startswith(STYLES)


def test_a_key_of_the_top_stays_at_the_top():
    # Written at the end it would belong to the last table: the classic mistake in this file format.
    new = set_value(STYLES, ("panels",), ["wool-100"])
    assert tomllib.loads(new)["panels"] == ["wool-100"]


def test_entries_come_and_go():
    text = SHIPPED[0].read_text(encoding="utf-8")
    more = add_entry(text, "seats", {"name": "sofa", "position": [1.0, 2.0, "3 ft"]})
    assert tomllib.loads(more)["seats"][-1] == {"name": "sofa", "position": [1.0, 2.0, "3 ft"]}
    count = len(tomllib.loads(more)["seats"])
    fewer = remove_value(more, ("seats", count - 1))
    assert tomllib.loads(fewer) == tomllib.loads(text)
    first = tomllib.loads(add_entry(text, "obstacles", {"name": "post"}))["obstacles"]
    assert first[-1] == {"name": "post"}


def test_the_last_entry_takes_its_list_along():
    text = '[[seats]]\nname = "a"\n[budget]\namount = 1\n'
    assert tomllib.loads(remove_value(text, ("seats", 0))) == {"budget": {"amount": 1}}


def test_removed_keys_are_gone_and_the_rest_is_there():
    new = remove_value(STYLES, ("surfaces", "default"))
    wanted = tomllib.loads(STYLES)
    del wanted["surfaces"]["default"]
    assert tomllib.loads(new) == wanted


@pytest.mark.parametrize(
    "path",
    [
        ("seats", 7, "position", 0),
        ("seats", 0, "position", 3),
        ("seats", -1, "name"),
        ("title", "x"),
        ("seats", "name"),
        ("budget", 0),
    ],
)
def test_places_that_are_not_there_are_refused(path):
    with pytest.raises(PlanError):
        set_value(STYLES, path, 1.0)


def test_what_is_no_toml_is_refused_not_mended():
    for broken in (ODD, "a = [1, 2", "a = 1\na = 2\n", "["):
        with pytest.raises(PlanError):
            set_value(broken, ("title",), "x")
        with pytest.raises(PlanError):
            read_value(broken, ("title",))


def test_an_entry_cannot_be_added_to_what_is_no_list():
    with pytest.raises(PlanError):
        add_entry(STYLES, "budget", {"name": "x"})


def leaves(value, path=()):
    items = (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else None
    )
    if items is None:
        yield path
        return
    for key, inner in items:
        yield from leaves(inner, (*path, key))


PLACES = [(p, leaf) for p in SHIPPED for leaf in leaves(tomllib.loads(p.read_text(encoding="utf-8"))) if leaf]


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(PLACES),
    st.one_of(
        st.text(max_size=20), st.floats(allow_nan=False, allow_infinity=False), st.integers(-(2**60), 2**60)
    ),
)
def test_any_value_at_any_place(place, value):
    file, path = place
    text = file.read_text(encoding="utf-8")
    try:
        new = set_value(text, path, value)
    except PlanError:
        # Refused is fine where the value has no way into TOML (lone surrogates); changed wrongly is not.
        assert isinstance(value, str)
        assert not value.isprintable()
        return
    wanted = copy.deepcopy(tomllib.loads(text))
    holder = wanted
    for key in path[:-1]:
        holder = holder[key]
    holder[path[-1]] = value
    assert tomllib.loads(new) == wanted
    assert comments(new)[:3] == comments(text)[:3]


def test_a_text_that_says_something_else_is_never_given_back(monkeypatch):
    # The library that keeps comments is not trusted: here it loses a key.
    import tomlkit

    write = tomlkit.dumps
    monkeypatch.setattr(tomlkit, "dumps", lambda d: write(d).replace("amount = 450 # EUR", ""))
    with pytest.raises(PlanError, match="other parts"):
        set_value(STYLES, ("title",), "x")


def test_values_changed_again_and_again_stay_the_same_text():
    """Twenty drags in a row, each beside the same change of a text that was never seen before."""
    one = other = (SCENES / "garden-room.toml").read_text()
    for k in range(20):
        x = round(3.3 + 0.01 * k, 2)
        change = [(("seats", 0, "position", 0), x), (("room", "length"), x + 2.0)]
        one = set_values(one, change)
        mark = f"# {k}\n"
        other = set_values(other + mark, change)[: -len(mark)]
        assert one == other
        if k == 0:
            first = one
    # The document at hand is of another text now.
    assert set_values(first, [(("title",), "again")]) != first
    assert read_value(set_values(first, change), ("seats", 0, "position", 0)) == x
