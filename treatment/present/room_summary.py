"""What the room does, on one screen of a terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from treatment import bands
from treatment.bands import Array
from treatment.errors import Finding
from treatment.measures import area_words, volume_words
from treatment.planning.arrangement import Arrangement, arrangement_of
from treatment.planning.doubt import doubt_of, doubt_words
from treatment.planning.ledger import ledger_of
from treatment.planning.plan import Evaluation
from treatment.planning.targets import outside
from treatment.present.absorbed import greatest, lacking_words
from treatment.present.console import print_findings
from treatment.present.console_early import ranking_table
from treatment.present.terminal import plain_table
from treatment.present.traced_tables import traced_words
from treatment.present.wording import counted, listed


def span_cells(low: Array, high: Array) -> list[str]:
    """Write ranges by band.

    Parameters
    ----------
    low, high : numpy.ndarray
        Shape (8,), s; not finite where nothing is known.

    Returns
    -------
    list of str
        ``0.30-0.35``, or one number where both read the same.
    """
    cells = []
    for a, b in zip(low, high, strict=True):
        one, two = f"{a:.2f}", f"{b:.2f}"
        known = np.isfinite(a) and np.isfinite(b)
        cells.append("-" if not known else one if one == two else f"{one}-{two}")
    return cells


def times_table() -> Table:
    """Begin a table of reverberation times.

    Returns
    -------
    rich.table.Table
        A column for what a row tells, and one for each octave; without rows. It fits 100 columns.
    """
    return plain_table("Reverb., s", *(bands.band_label(f) for f in bands.NOMINAL_HZ))


def ray_cells(evaluation: Evaluation) -> list[str]:
    """Write what rays found by band.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room.

    Returns
    -------
    list of str
        T30 in s; empty without rays, a dash where the decay does not reach.
    """
    times = evaluation.reverberation.get("traced")
    return [] if times is None else ["-" if not np.isfinite(t) else f"{t:.2f}" for t in times]


def print_room_summary(console: Console, evaluation: Evaluation, findings: Sequence[Finding] = ()) -> None:
    """Print what the room does, shortly; `console.print_prediction` prints all of it.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    evaluation : Evaluation
        Of the room as it is.
    findings : sequence of Finding
        Those of the scene file.
    """
    e, scene = evaluation, evaluation.scene
    console.print(f"[bold]{escape(scene.title)}[/bold]")
    console.print(
        f"{volume_words(e.volume, scene.units)}, {area_words(e.surface_area, scene.units)} of surface; "
        f"below {e.schroeder_hz:.0f} Hz single room modes decide\n"
    )
    console.print(_times(e))
    for words in (*doubt_words(doubt_of(e), e.schroeder_hz), *traced_words(e)):
        console.print(escape(words))
    for words in (*lacking_words(e), *greatest(ledger_of(e), units=scene.units)):
        console.print(escape(words))
    arrangement = arrangement_of(scene)
    if arrangement is not None:
        console.print(escape(_places(e, arrangement)))
    early = sum(v == "treat" for v in e.arrivals.verdict)
    console.print(f"\n{counted(early, 'early arrival')} above the criterion.")
    ranking = ranking_table(e)
    if ranking is not None:
        console.print(ranking)
    _print_findings(console, [*findings, *e.findings, *(arrangement.findings if arrangement else ())])


def _times(e: Evaluation) -> Table:
    table = times_table()
    table.add_row("formulas", *span_cells(*e.spread))
    rays = ray_cells(e)
    if rays:
        table.add_row("rays", *rays)
    doubt = doubt_of(e)
    table.add_row("and materials", *span_cells(doubt.lower, doubt.upper), style="italic")
    table.add_row("wanted", *span_cells(e.target.lower, e.target.upper), style="dim")
    off, known = outside(e.eyring, e.target), np.isfinite(e.target.upper)
    words = ["-" if not k else "inside" if o == 0 else f"{o:+.2f}" for o, k in zip(off, known, strict=True)]
    table.add_row("Eyring off", *words)
    return table


def _places(e: Evaluation, arrangement: Arrangement) -> str:
    """How many loudspeakers stand where the published layouts want them."""
    a, seat = arrangement.layout, arrangement.seat
    known = np.flatnonzero(~np.isnan(a.azimuth_miss[seat]))
    off = [e.scene.loudspeakers[n].name for n in known if not a.right[seat, n]]
    words = f"{len(known) - len(off)} of {counted(len(known), 'loudspeaker')} stand where published layouts "
    words += "want them"
    if off:
        words += f"; {listed(off)} {'does' if len(off) == 1 else 'do'} not"
    return f"{words} (seen from '{e.scene.seats[seat].name}')."


def _print_findings(console: Console, findings: Sequence[Finding]) -> None:
    """Print what is graver than a note, and count the notes."""
    print_findings(console, [f for f in findings if f.severity != "note"])
    notes = Counter(f.code for f in findings if f.severity == "note")
    if notes:
        kinds = ", ".join(f"{n} {code}" if n > 1 else code for code, n in notes.most_common())
        console.print(f"\n{counted(sum(notes.values()), 'note')}: {kinds}.", style="dim")
    console.print(
        "--full prints every formula, surface, place, arrival and note, and what a treatment must cover.",
        style="dim",
    )
