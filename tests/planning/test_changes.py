"""What a new plan changes of an earlier one: numbers and kinds, counted by hand on four panels."""

from io import StringIO
from pathlib import Path
from types import SimpleNamespace

from rich.console import Console

from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.changes import changes_of, renumbered
from treatment.planning.make import make_plan
from treatment.planning.plan import Placement
from treatment.present.changes_words import change_rows, changes_words
from treatment.present.console import print_plan
from treatment.present.documents import plan_document
from treatment.present.plan_summary import print_plan_summary
from treatment.present.report import report_html
from treatment.scene.load import load_scene

ROOM = """title = "changes"
panels = ["wool-100", "wool-50-gap-50"]
[room]
shape = "box"
length = 4.6
width = 3.2
height = 2.4
[surfaces]
default = "gypsum-board-on-studs"
[[loudspeakers]]
name = "L"
position = [0.5, 1.1, 1.0]
[[seats]]
name = "seat"
position = [2.9, 1.6, 1.1]
spread = 0.0
[budget]
amount = 85
currency = "EUR"
"""


def builds(tmp_path):
    path = tmp_path / "room.toml"
    path.write_text(ROOM)
    scene, _ = load_scene(path)
    return scene


def at(name: str, build: PanelBuild, surface: int, u: float) -> Placement:
    return Placement(name, build, surface, Rectangle(u, 0.8, 0.64, 1.24))


def test_numbers_stay_with_what_stays(tmp_path):
    thick, thin = builds(tmp_path).builds[:2]
    locked = at("P1", thick, 2, 0.5)
    earlier = (
        at("P2", thick, 3, 0.5),
        at("P3", thick, 3, 2.0),
        at("P4", thick, 0, 1.0),
        at("P5", thin, 1, 1),
    )
    new = (
        locked,
        at("P2", thin, 3, 2.0),  # where P3 was, of another build
        at("P3", thick, 0, 1.3),  # P4, moved
        at("P4", thick, 3, 0.5),  # P2, the same
        at("P5", thick, 1, 2.0),  # another place and another build than P5: a new one
    )
    made = renumbered(new, (locked,), earlier)
    assert [p.id for p in made] == ["P1", "P3", "P4", "P2", "P6"]
    changes = changes_of(made, (locked,), earlier)
    assert [(c.id, c.kind) for c in changes] == [
        ("P1", "stays"),
        ("P2", "stays"),
        ("P3", "other build"),
        ("P4", "moved"),
        ("P5", "gone"),
        ("P6", "new"),
    ]
    assert [c.now is None for c in changes] == [False, False, False, False, True, False]
    # Of two that might have moved there, it is the nearer one.
    near = renumbered((at("P9", thick, 3, 1.7),), (), earlier)
    assert near[0].id == "P3"
    assert renumbered(new, (locked,), ()) == new
    assert changes_of(new, (), ()) == ()


def test_a_plan_made_again_tells_what_changed(tmp_path):
    """Two panels typed by hand as the earlier plan: what is at their places again keeps their numbers."""
    scene = builds(tmp_path)
    thick = scene.builds[0]
    shuffled = (at("P9", thick, 3, 0.5), at("P4", thick, 0, 1.0))
    again = make_plan(scene, keep=shuffled[:1], earlier=shuffled[1:])
    where = {(p.surface, p.rectangle.bounds): p.id for p in shuffled}
    for p in again.placements:
        key = (p.surface, p.rectangle.bounds)
        if key in where:
            assert p.id == where[key]
    assert {c.kind for c in again.changes} >= {"stays"}
    assert {c.id for c in again.changes if c.now is not None} == {p.id for p in again.placements}
    rows = change_rows(again)
    assert len(rows) == len(again.changes)
    assert changes_words(again).startswith(f"Against the earlier plan of {len(shuffled)} panels: ")
    for show in (print_plan, print_plan_summary):
        console = Console(record=True, width=150, file=StringIO())
        show(console, again)
        assert changes_words(again) in " ".join(console.export_text().split())
    assert changes_words(again) in report_html(again)
    document = plan_document(again)
    assert [c["id"] for c in document["changes"]] == [c.id for c in again.changes]


def test_a_moved_panel_is_told_by_the_tape():
    """The level strip of the attic begins 1.4 m from the wall; a tape begins at the fold."""
    scene, _ = load_scene(Path(__file__).parents[2] / "scenes" / "attic.toml")
    ceiling = next(i for i, s in enumerate(scene.surfaces) if s.name == "ceiling")
    build = scene.builds[0]
    was = Placement("P1", build, ceiling, Rectangle(1.8, 1.482, 0.6, 1.2))
    plan = SimpleNamespace(scene=scene, changes=changes_of((), (), (was,)))
    (row,) = change_rows(plan)
    assert row["was"] == f"ceiling, u 1.80 m, v 0.08 m, {build.id}"
