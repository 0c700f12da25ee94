"""What a new plan changes of an earlier one, as rows and in a sentence."""

from __future__ import annotations

from treatment.planning.changes import Change
from treatment.planning.plan import Placement, Plan
from treatment.present.tape import tape, tape_starts
from treatment.present.wording import counted, listed, surface_words

#: In the order in which they are counted.
_KINDS = ("stays", "other build", "moved", "gone", "new")


def change_rows(plan: Plan) -> list[dict[str, str]]:
    """Rows of the table of changes.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of dict
        ``id``, ``kind``, ``was`` and ``now``, by number; empty where no earlier plan was changed.
    """
    return [
        {"id": c.id, "kind": c.kind, "was": _place(plan, c.was), "now": _now(plan, c)} for c in plan.changes
    ]


def changes_words(plan: Plan) -> str:
    """Count what became of the panels of the earlier plan.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    str
        A sentence; empty where no earlier plan was changed.
    """
    if not plan.changes:
        return ""
    counts = {kind: sum(c.kind == kind for c in plan.changes) for kind in _KINDS}
    words = {
        "stays": f"{counts['stays']} {'stays' if counts['stays'] == 1 else 'stay'}",
        "other build": f"{counts['other build']} at the same place of another build",
        "moved": f"{counts['moved']} moved",
        "gone": f"{counts['gone']} gone",
        "new": f"{counts['new']} new",
    }
    before = sum(c.was is not None for c in plan.changes)
    told = listed([words[k] for k in _KINDS if counts[k]])
    return f"Against the earlier plan of {counted(before, 'panel')}: {told}. What stays keeps its number."


def _now(plan: Plan, change: Change) -> str:
    if change.kind == "stays":
        return "the same"
    if change.kind == "other build" and change.now is not None:
        return change.now.build.id
    return _place(plan, change.now)


def _place(plan: Plan, panel: Placement | None) -> str:
    if panel is None:
        return ""
    scene, r = plan.scene, panel.rectangle
    # Readings of the tape, as in the list of panels: below a slope not the coordinates of the surface.
    starts = tape_starts(scene, panel.surface, r)
    u, v = (tape(s.reading(x), scene.units) for s, x in zip(starts, (r.u, r.v), strict=True))
    return f"{surface_words(scene.surfaces[panel.surface])}, u {u}, v {v}, {panel.build.id}"
