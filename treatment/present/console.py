"""Results as text on a terminal; the only home of rich beside the command line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from rich.console import Console
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from treatment import bands
from treatment.bands import Array
from treatment.errors import Finding
from treatment.measures import (
    area_cell,
    area_words,
    cell,
    head,
    in_feet,
    length_words,
    speed_words,
    volume_words,
)
from treatment.planning.arrangement import Arrangement, arrangement_of
from treatment.planning.doubt import doubt_of, doubt_words
from treatment.planning.ledger import ledger_of
from treatment.planning.plan import Evaluation, Plan
from treatment.planning.targets import CRITERION_SOURCE, outside
from treatment.present.absorbed import greatest, lacking_words, what_did_it
from treatment.present.answer import answer
from treatment.present.changes_words import change_rows, changes_words
from treatment.present.console_early import (
    early_lines,
    extents_table,
    layout_lines,
    plan_lines,
    ranking_table,
)
from treatment.present.pairs import blocked_groups
from treatment.present.tape import STEP, tape_starts
from treatment.present.terminal import plain_table
from treatment.present.traced_tables import traced_words
from treatment.present.wording import counted, loudest, money

#: Rows of the absorption table; smaller surfaces are summed up.
_MOST_ROWS = 40
_MARKS = {"error": ("ERROR", "bold red"), "warning": ("warning", "yellow"), "note": ("note", "cyan")}


def print_findings(console: Console, findings: Sequence[Finding]) -> None:
    """Print findings, the gravest first.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    findings : sequence of Finding
        Any findings.
    """
    order = ("error", "warning", "note")
    for f in sorted(findings, key=lambda x: order.index(x.severity)):
        word, style = _MARKS[f.severity]
        line = f"line {f.line}, " if f.line else ""
        text = Text()
        text.append(f"{word:<8}", style=style)
        text.append(f"{line}{f.where}: " if f.where else line, style="bold")
        text.append(f.message)
        if f.hint:
            text.append(f"\n        {f.hint}", style="italic")
        text.append(f"  [{f.code}]", style="dim")
        console.print(text, soft_wrap=True)


def print_prediction(console: Console, evaluation: Evaluation, findings: Sequence[Finding] = ()) -> None:
    """Print what the room does.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    evaluation : Evaluation
        With or without panels.
    findings : sequence of Finding
        Those of the scene file.
    """
    e, scene = evaluation, evaluation.scene
    console.print(f"[bold]{escape(scene.title)}[/bold]")
    units = scene.units
    console.print(
        f"{volume_words(e.volume, units)}, {area_words(e.surface_area, units)} of surface, mean free path "
        f"{length_words(e.mean_free_path, units)}, speed of sound {speed_words(e.speed_of_sound, units)}, "
        f"Schroeder frequency {e.schroeder_hz:.0f} Hz\n"
    )
    console.print(_reverberation(e))
    console.print(f"[dim]{escape(e.target.source)}[/dim]", soft_wrap=True)
    for words in doubt_words(doubt_of(e), e.schroeder_hz):
        console.print(escape(words), soft_wrap=True)
    for words in (*traced_words(e), *lacking_words(e), *greatest(ledger_of(e), units=units)):
        console.print(escape(words), soft_wrap=True)
    console.print()
    arrangement = arrangement_of(scene)
    if arrangement is not None:
        console.print(_arrangement(e, arrangement))
    for line in layout_lines(scene, arrangement):
        console.print(escape(line), soft_wrap=True)
    console.print()
    console.print(_surfaces(e))
    console.print()
    console.print(_arrivals(e))
    console.print(f"[dim]Criterion: {escape(CRITERION_SOURCE)}[/dim]\n", soft_wrap=True)
    for table in (ranking_table(e), extents_table(scene)):
        if table is not None:
            console.print(table)
            console.print()
    for line in early_lines(e):
        console.print(escape(line), soft_wrap=True)
    print_findings(console, [*findings, *e.findings, *(arrangement.findings if arrangement else ())])


def _arrangement(e: Evaluation, arrangement: Arrangement) -> Table:
    """Where each loudspeaker stands as seen from the main seat."""
    a, seat, scene = arrangement.layout, arrangement.seat, e.scene
    table = plain_table(
        f"Loudspeakers from '{escape(scene.seats[seat].name)}'",
        "channel", "azimuth", "elevation", head("distance", scene.units), "delay ms", "in range",
        head("move x, y, z", scene.units),
    )  # fmt: skip
    for n, s in enumerate(scene.loudspeakers):
        known = not np.isnan(a.azimuth_miss[seat, n])
        fits = bool(a.right[seat, n])
        move = "" if fits or not known else ", ".join(_signed(m, scene.units) for m in a.move[seat, n])
        table.add_row(
            escape(s.name),
            s.channel or "-",
            f"{round(float(a.azimuth[seat, n])) + 0:d}",
            f"{round(float(a.elevation[seat, n])) + 0:d}",
            cell(float(a.distance[seat, n]), scene.units),
            f"{1e3 * a.delay[seat, n]:.2f}",
            "-" if not known else "yes" if fits else "no",
            move,
        )
    return table


def _signed(metres: float, units: str) -> str:
    """Write a move with its sign: ``+0.12``, ``-4 3/4 in``."""
    words = cell(float(metres), units)
    return words if words.startswith("-") else f"+{words}"


def _seconds(values: Array) -> list[str]:
    return ["-" if not np.isfinite(v) else f"{v:.2f}" for v in values]


def _reverberation(e: Evaluation) -> Table:
    table = plain_table("Reverberation time, s", *(bands.band_label(f) for f in bands.NOMINAL_HZ))
    for name, times in e.reverberation.items():
        if times is not None:
            table.add_row(name.title(), *_seconds(times))
    for name, times in e.extended.items():
        table.add_row(f"{name.title()}, by direction (own)", *_seconds(times), style="dim")
    if e.traced is not None:
        table.add_row("Traced, one standard error", *(f"±{v:.3f}" for v in e.traced.t30_error), style="dim")
    doubt = doubt_of(e)
    table.add_row(f"{doubt.holds}, from", *_seconds(doubt.lower), style="italic")
    table.add_row(f"{doubt.holds}, to", *_seconds(doubt.upper), style="italic")
    table.add_row(f"wanted from ({e.target.use})", *_seconds(e.target.lower), style="dim")
    table.add_row("wanted to", *_seconds(e.target.upper), style="dim")
    eyring = e.reverberation["eyring"]
    if eyring is not None:
        off = outside(eyring, e.target)
        known = np.isfinite(e.target.upper)
        words = [
            "-" if not k else "inside" if o == 0 else f"{o:+.2f}" for o, k in zip(off, known, strict=True)
        ]
        table.add_row("verdict (Eyring)", *words)
    return table


def _surfaces(e: Evaluation) -> Table:
    units = e.scene.units
    labels = (bands.band_label(f) for f in bands.NOMINAL_HZ)
    table = plain_table("Absorption", "sq ft" if in_feet(units) else "m2", *labels)
    rows = sorted((r for r in e.rows if r.area > 0.0), key=lambda r: -r.area)
    shown = {id(r) for r in rows[:_MOST_ROWS]}
    for r in e.rows:
        if id(r) not in shown:
            continue
        marked = [f"{a:.2f}{'?' if m else ' '}" for a, m in zip(r.absorption, r.assumed, strict=True)]
        table.add_row(f"{escape(r.name)} ({escape(r.material)})", area_cell(r.area, units), *marked)
    if len(rows) > _MOST_ROWS:
        rest = rows[_MOST_ROWS:]
        area = sum(r.area for r in rest)
        mean = np.sum([r.area * r.absorption for r in rest], axis=0) / area
        table.add_row(f"{len(rest)} smaller ones, mean", area_cell(area, units), *(f"{a:.2f} " for a in mean))
    if any(r.assumed.any() for r in e.rows):
        table.add_row("? no published value: the neighbour band's is held", style="dim")
    return table


def _arrivals(e: Evaluation, most: int = 12) -> Table:
    """Strongest early arrivals over all seats."""
    a, scene = e.arrivals, e.scene
    level = loudest(a.level_db)
    wanted = [i for i in range(len(a.order)) if a.verdict[i] == "treat"]
    wanted.sort(key=lambda i: -level[i])
    title = f"{counted(len(wanted), 'early arrival')} above the criterion"
    if len(wanted) > most:
        title += f"; the {most} strongest"
    table = plain_table("From, to, by", "delay ms", "loudest band 1-8 kHz, dB re direct", title=title)
    for i in wanted[:most]:
        table.add_row(
            escape(
                f"{scene.loudspeakers[int(a.source[i])].name} to {scene.seats[int(a.seat[i])].name} by "
                f"{', '.join(a.names[i])}"
            ),
            f"{a.delay_ms[i]:.1f}",
            f"{level[i]:.1f}",
        )
    return table


def print_plan(console: Console, plan: Plan) -> None:
    """Print a plan: the answer first, then the hanging list.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    plan : Plan
        The plan.
    """
    for sentence in answer(plan):
        console.print(escape(sentence), soft_wrap=True)
    console.print()
    for sentence in what_did_it(plan):
        console.print(escape(sentence), soft_wrap=True)
    for state, e in (("As it is: ", plan.before), ("With panels: ", plan.after)):
        for sentence in traced_words(e):
            console.print(escape(state + sentence), soft_wrap=True)
    console.print()
    console.print(panels_table(plan))
    console.print(
        f"[dim]total {escape(money(plan, plan.cost))}; u and v: to the lower corner, from where "
        "checklist.html starts the tape[/dim]\n"
    )
    for line in plan_lines(plan):
        console.print(escape(line), soft_wrap=True)
    if plan.changes:
        console.print(changes_table(plan))
        console.print(f"{escape(changes_words(plan))}\n", soft_wrap=True)
    if plan.budgets:
        # Here, not above: it brings the whole planner in, which a prediction can do without.
        from treatment.present.money_curve import stop_words

        console.print(budgets_table(plan))
        console.print(f"[bold]{escape(' '.join(stop_words(plan)))}[/bold]\n", soft_wrap=True)
    for b in blocked_groups(plan):
        text = f"Stays: {b['paths']} by {b['surface']}, because of {b['by']}: {b['advice']}."
        console.print(escape(text), soft_wrap=True)
    for caution in plan.cautions:
        console.print(f"[yellow]Caution.[/yellow] {escape(caution)}", soft_wrap=True)


def panels_table(plan: Plan) -> Table:
    """List the panels with their places.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    rich.table.Table
        In the order of their benefit; u and v are what the tapes read at the lower corner.
    """
    units = plan.scene.units
    heads = (head(words, units) for words in ("u", "v", "w x h"))
    table = plain_table("Panel", "surface", *heads, "build", f"price {plan.currency}".strip())
    for p in plan.placements:
        r, starts = p.rectangle, tape_starts(plan.scene, p.surface, p.rectangle)
        table.add_row(
            p.id,
            escape(" + ".join(plan.scene.surfaces[i].name for i in (p.surface, p.corner) if i is not None)),
            *(cell(s.reading(x), units, STEP) for s, x in zip(starts, (r.u, r.v), strict=True)),
            f"{cell(r.width, units, 0.001)} x {cell(r.height, units, 0.001)}",
            escape(p.build.id),
            f"{p.build.price:.2f}",
        )
    return table


def changes_table(plan: Plan) -> Table:
    """List what became of the panels of an earlier plan.

    Parameters
    ----------
    plan : Plan
        Made of an earlier one.

    Returns
    -------
    rich.table.Table
        A row for each panel, by number.
    """
    table = plain_table("Panel", "change", "was", "now")
    for column in table.columns:
        column.justify, column.no_wrap = "left", False
    for r in change_rows(plan):
        table.add_row(*(escape(r[key]) for key in ("id", "kind", "was", "now")))
    return table


def budgets_table(plan: Plan) -> Table:
    """List what each of several budgets buys.

    Parameters
    ----------
    plan : Plan
        With several budgets.

    Returns
    -------
    rich.table.Table
        A row for each.
    """
    from treatment.present.money_curve import budget_rows

    heads = ("panels", "bounces that stay", "excess gone", "shorter by (then)", "range", "gain", "")
    table = plain_table("Budget", *heads)
    for r in budget_rows(plan):
        cells = (r["panels"], r["stay"], r["gone"], r["seconds"], r["state"], r["share"])
        table.add_row(escape(r["budget"]), *(str(c) for c in cells), r["mark"])
    table.caption = "bounces: single, early and strong; gain: part of what the best of these gains"
    return table
