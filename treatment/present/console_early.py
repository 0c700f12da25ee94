"""Early reflections, layout and screen on a terminal, shortly."""

from __future__ import annotations

from rich.markup import escape
from rich.table import Table

from treatment.measures import in_feet
from treatment.planning.arrangement import Arrangement
from treatment.planning.extent import rank_surfaces, treatment_extents
from treatment.planning.main_seat import main_seat
from treatment.planning.plan import Evaluation, Plan
from treatment.planning.targets import LATERAL_AGAINST, LATERAL_FOR
from treatment.present.early_words import (
    extents_words,
    lateral_words,
    lowest_band,
    ranking_rows,
    shift_words,
    strongest_words,
    wish_words,
)
from treatment.present.layout_words import directivity_words, viewing_words
from treatment.present.terminal import plain_table
from treatment.present.wording import surface_words
from treatment.scene.model import Scene

#: Surfaces and seats that a table has room for.
_MOST_ROWS, _MOST_SEATS = 8, 6


def layout_lines(scene: Scene, arrangement: Arrangement | None) -> list[str]:
    """Say how the loudspeakers radiate and how the screen is seen.

    Parameters
    ----------
    scene : Scene
        The room.
    arrangement : Arrangement or None
        Of this room.

    Returns
    -------
    list of str
        Sentences.
    """
    viewing = arrangement.viewing if arrangement else None
    return [x for x in (directivity_words(scene), viewing_words(scene, viewing)) if x]


def ranking_table(evaluation: Evaluation) -> Table | None:
    """Tabulate what each surface sends early to each seat.

    Parameters
    ----------
    evaluation : Evaluation
        Any.

    Returns
    -------
    rich.table.Table or None
        None without early reflections.
    """
    rows = ranking_rows(evaluation)
    if not rows:
        return None
    seats = evaluation.scene.seats[:_MOST_SEATS]
    title = "Sent early by surface, dB re the direct sounds, mean of 1 to 8 kHz"
    table = plain_table("By", *(escape(s.name) for s in seats), title=title)
    for row in rows[:_MOST_ROWS]:
        cells = [f"{c['before']}{'*' if c['first'] else ' '}" for c in row["cells"][:_MOST_SEATS]]
        table.add_row(escape(row["surface"]), *cells)
    table.add_row("* strongest at this seat", style="dim")
    return table


def extents_table(scene: Scene) -> Table | None:
    """Tabulate how large a treatment each surface needs.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    rich.table.Table or None
        None without first reflections above the criterion.
    """
    if not scene.loudspeakers or not scene.seats:
        return None
    extents = treatment_extents(scene)
    if not extents:
        return None
    title = (
        "Where first reflections land, and what to cover so that they fall to the criterion from "
        f"{lowest_band(extents)} up"
    )
    table = plain_table("On", "u", "v", "cover u", "cover v", "w x h", title=title)
    shown = extents[:_MOST_ROWS]
    for row, x in zip(extents_words(scene, shown), shown, strict=True):
        cells = [row["zones"]["u"][0], row["zones"]["v"][0]]
        if x.fields is None:
            cells += ["-", "-", "no field is enough"]
        else:
            cells += [row["fields"]["u"][0], row["fields"]["v"][0], row["size"][0]]
        if in_feet(scene.units):  # feet and inches take more room: two lines a cell
            cells = [c.replace(" to ", "\nto ").replace(" x ", "\nx ") for c in cells]
        table.add_row(escape(surface_words(scene.surfaces[x.surface])), *cells)
    return table


def early_lines(evaluation: Evaluation) -> list[str]:
    """Say what is taste about early reflections.

    Parameters
    ----------
    evaluation : Evaluation
        Any.

    Returns
    -------
    list of str
        Sentences.
    """
    side = lateral_words(evaluation)
    taste = f"{side} {LATERAL_AGAINST} {LATERAL_FOR}" if side else ""
    return [x for x in (wish_words(evaluation.scene), taste) if x]


def plan_lines(plan: Plan) -> list[str]:
    """Say shortly what a plan does to early reflections beside its answer.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of str
        Sentences.
    """
    scene = plan.scene
    lines = [wish_words(scene)]
    if scene.seats and scene.loudspeakers:
        k = main_seat(scene)
        lines.append(strongest_words(scene, rank_surfaces(plan.before)[k], rank_surfaces(plan.after)[k]))
    lines += [shift_words(plan), lateral_words(plan.before), directivity_words(scene)]
    return [x for x in lines if x]
