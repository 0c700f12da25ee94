"""A plan on one screen of a terminal: the answer first, then what is needed to judge it."""

from __future__ import annotations

import re
from typing import Final

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from treatment.planning.doubt import doubt_of
from treatment.planning.lists import Blocked
from treatment.planning.plan import Plan
from treatment.present.absorbed import what_did_it
from treatment.present.answer import answer
from treatment.present.changes_words import changes_words
from treatment.present.console import budgets_table, changes_table, panels_table
from treatment.present.pairs import blocked_groups
from treatment.present.paper import id_list
from treatment.present.room_summary import ray_cells, span_cells, times_table
from treatment.present.terminal import plain_table
from treatment.present.wording import counted, listed, money, surface_words

#: Up to this many panels are listed one by one; more are gathered by surface.
_MOST_PANELS: Final = 10
#: How many reasons for what stays untreated, and how many cautions, are told here.
_REASONS, _CAUTIONS = 3, 3
#: A caution is told up to the end of the sentence that passes this many letters.
_LEAST: Final = 60
#: Pairs in words that are longer are counted instead.
_LONGEST: Final = 48


def print_plan_summary(console: Console, plan: Plan) -> None:
    """Print the answer of a plan, shortly; `console.print_plan` prints all of it.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    plan : Plan
        The plan.
    """
    for sentence in answer(plan):
        console.print(escape(sentence))
    for sentence in what_did_it(plan):
        if sentence.startswith("Mean of"):
            console.print(escape(sentence))
    console.print()
    console.print(_times(plan))
    console.print()
    if plan.placements:
        console.print(panels_table(plan) if len(plan.placements) <= _MOST_PANELS else _by_surface(plan))
        console.print(f"[dim]total {escape(money(plan, plan.cost))}[/dim]\n")
    if plan.changes:
        console.print(changes_table(plan))
        console.print(f"{escape(changes_words(plan))}\n")
    if plan.budgets:
        from treatment.present.money_curve import stop_words

        console.print(budgets_table(plan))
        console.print(f"[bold]{escape(' '.join(stop_words(plan)))}[/bold]\n")
    _print_stays(console, plan)
    _print_cautions(console, plan)
    console.print(
        "[dim]report.html has why each panel hangs there, lists and drawings; --full prints all.[/dim]"
    )


def _times(plan: Plan) -> Table:
    table = times_table()
    for words, e in (("as it is", plan.before), ("with panels", plan.after)):
        doubt = doubt_of(e)
        table.add_row(words, *span_cells(doubt.lower, doubt.upper))
        table.add_row("  formulas", *span_cells(*e.spread), style="dim")
        rays = ray_cells(e)
        if rays:
            table.add_row("  rays, T30", *rays)
    target = plan.after.target
    table.add_row("wanted", *span_cells(target.lower, target.upper), style="dim")
    return table


def _by_surface(plan: Plan) -> Table:
    """Panels gathered by the surface that they hang on."""
    table = plain_table("Where", "panels", "which", "build", f"price {plan.currency}".strip())
    table.columns[2].no_wrap = table.columns[3].no_wrap = False
    for index in dict.fromkeys(p.surface for p in plan.placements):
        mine = [p for p in plan.placements if p.surface == index]
        table.add_row(
            escape(surface_words(plan.scene.surfaces[index])),
            str(len(mine)),
            id_list([p.id for p in mine]),
            escape(", ".join(dict.fromkeys(p.build.id for p in mine))),
            f"{sum(p.build.price for p in mine):.2f}",
        )
    return table


def _print_stays(console: Console, plan: Plan) -> None:
    """Print what stays untreated and why, the largest part first."""
    groups: dict[tuple[str, str, str], list[Blocked]] = {}
    for b in plan.blocked:
        groups.setdefault((b.surface, b.by, b.advice), []).append(b)
    rows = sorted(zip(groups.values(), blocked_groups(plan), strict=True), key=lambda x: -len(x[0]))
    for members, row in rows[:_REASONS]:
        pairs = row["paths"]
        if len(pairs) > _LONGEST:
            pairs = f"{len(members)} pairs of loudspeaker and seat"
        way_out = row["advice"].split(";")[0].rstrip(".")
        console.print(escape(f"Stays: {pairs} by {row['surface']}, because of {row['by']}: {way_out}."))
    if len(rows) > _REASONS:
        rest = sum(len(members) for members, _ in rows[_REASONS:])
        reasons = counted(len(rows) - _REASONS, "further reason")
        console.print(f"{counted(rest, 'more reflection')} stay untreated, for {reasons}.")
    if rows:
        console.print()


def _print_cautions(console: Console, plan: Plan) -> None:
    """Print the first sentence of the gravest cautions, and name the others."""
    for caution in plan.cautions[:_CAUTIONS]:
        console.print(f"[yellow]Caution.[/yellow] {escape(_begin(caution))}")
    rest = [re.sub(r"\s*\(.*", "", c.split(":")[0]).lower() for c in plan.cautions[_CAUTIONS:]]
    if plan.cautions:
        also = f", also those about {listed(rest)}" if rest else ""
        words = f"Read the cautions in the report in full before you drill{also}."
        console.print(f"[yellow]{escape(words)}[/yellow]\n")


def _begin(text: str) -> str:
    """The first whole sentences of a text, as many as say something."""
    sentences = re.split(r"(?<=\.)\s+(?=[A-Z])", text)
    taken = sentences[0]
    for sentence in sentences[1:]:
        if len(taken) >= _LEAST:
            break
        taken = f"{taken} {sentence}"
    return taken
