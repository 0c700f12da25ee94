"""The bass as a JSON document, as text, and as a chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
from rich.console import Console
from rich.markup import escape

from treatment.measures import length_words
from treatment.planning.bass import COMPARED_HZ, Bass
from treatment.planning.bass_advice import BassAdvice, levels_with
from treatment.present.console import print_findings
from treatment.present.documents import finding_documents, numbers
from treatment.present.palette import AFTER, BEFORE, MUTED, RULE

if TYPE_CHECKING:
    from treatment.present.chart_file import Kind

#: Modes named in the text, and a seat's share of a mode (rms 1) below which it sits in its null.
_NAMED: Final = 12
_NULL: Final = 0.25
#: Less unevenness than this is no gain worth carrying a box for, dB.
_WORTH: Final = 0.3
DOUBT: Final = (
    "Computed with hard walls: real boards and doors give way, so that modes lie a few percent off and peaks "
    "are broader. Dips are the least certain. Before you move anything heavy, measure at the seats."
)


def bass_document(bass: Bass, advice: BassAdvice) -> dict[str, Any]:
    """Make the document of ``treatment bass --json``.

    Parameters
    ----------
    bass : Bass
        What the bass does.
    advice : BassAdvice
        What would help.

    Returns
    -------
    dict
        As agreed: modes, responses, combined responses, mean spatial variance and advice in words; and the
        advice in numbers under ``places``, ``settings`` and ``seat_moves``. Levels are in dB re what the same
        source gives at 1 m in the open.
    """
    scene, response = bass.scene, bass.response
    frequency = numbers(response.frequency_hz, 3)
    single, combined = response.single, response.combined
    listed = (bass.modes.frequency_hz > 0.0) & (bass.modes.frequency_hz <= bass.highest_listed_hz)
    index = bass.modes.index
    return {
        "speed_of_sound_m_s": numbers(bass.evaluation.speed_of_sound, 3),
        "decay_s": numbers(response.decay_s, 4),
        "modes": [
            {
                "frequency_hz": numbers(bass.modes.frequency_hz[i], 3),
                "index": None if index is None else [int(n) for n in index[i]],
            }
            for i in np.flatnonzero(listed)
        ],
        "responses": [
            {
                "source": source,
                "seat": seat.name,
                "frequency_hz": frequency,
                "level_db": numbers(single[s, r], 2),
            }
            for s, source in enumerate(bass.sources)
            for r, seat in enumerate(scene.seats)
        ],
        "combined": [
            {"seat": seat.name, "frequency_hz": frequency, "level_db": numbers(combined[r], 2)}
            for r, seat in enumerate(scene.seats)
        ],
        "mean_spatial_variance_db2": None
        if response.spatial_variance is None
        else numbers(response.spatial_variance, 3),
        "unevenness_db": {
            "likely": numbers(response.unevenness, 2),
            "with_the_shortest_decay": numbers(bass.shorter.unevenness, 2),
            "with_the_longest_decay": numbers(bass.longer.unevenness, 2),
        },
        "advice": list(advice_words(bass, advice)),
        "places": [
            {
                "number": len(c.positions),
                "positions_m": numbers(c.positions, 3),
                "where": list(c.words),
                "mean_spatial_variance_db2": None
                if c.spatial_variance is None
                else numbers(c.spatial_variance, 3),
                "unevenness_db": numbers(c.unevenness, 2),
                "output_db": numbers(c.output_db, 1),
            }
            for c in advice.places
        ],
        "settings": [
            {
                "subwoofer": s.name,
                "delay_ms": numbers(1000.0 * s.delay_s, 1),
                "gain_db": s.gain_db,
                "inverted": s.inverted,
            }
            for s in advice.settings
        ],
        "seat_moves": [
            {"move_m": numbers(m, 2), "unevenness_db": numbers(u, 2)}
            for m, u in zip(advice.moves, advice.moved_unevenness, strict=True)
        ],
        "findings": finding_documents(bass.findings),
    }


def advice_words(bass: Bass, advice: BassAdvice) -> tuple[str, ...]:
    """Say what would help, the greatest help first, each with what it leaves.

    Parameters
    ----------
    bass : Bass
        What the bass does.
    advice : BassAdvice
        What would help.

    Returns
    -------
    tuple of str
        Sentences.
    """
    now = bass.response.unevenness
    found: list[tuple[float, str]] = []
    least = now
    for choice in advice.places:
        number = len(choice.positions)
        # More boxes must beat fewer.
        if choice.unevenness < least - _WORTH:
            least = choice.unevenness
            what = "One subwoofer" if number == 1 else f"{('Two', 'Four')[number // 4]} subwoofers"
            where = _listed(choice.words)
            found.append((choice.unevenness, f"{what} at {where}: {choice.unevenness:.1f} dB."))
    changed = [s for s in advice.settings if s.delay_s or s.gain_db or s.inverted]
    if changed and advice.set_unevenness < now - _WORTH:
        said = _listed([_setting_words(s.name, s.delay_s, s.gain_db, s.inverted) for s in changed])
        found.append(
            (advice.set_unevenness, f"Where they stand, with {said}: {advice.set_unevenness:.1f} dB.")
        )
    k = int(np.argmin(advice.moved_unevenness))
    if advice.moved_unevenness[k] < now - _WORTH:
        move = float(advice.moves[k])
        moved = length_words(abs(move), bass.scene.units, 1)
        found.append(
            (
                float(advice.moved_unevenness[k]),
                f"All seats {moved} {'further back' if move > 0.0 else 'forward'}: "
                f"{advice.moved_unevenness[k]:.1f} dB.",
            )
        )
    if advice.halved_unevenness < now - _WORTH:
        found.append(
            (
                advice.halved_unevenness,
                f"Half the decay time in the bass, which takes much thick absorption: "
                f"{advice.halved_unevenness:.1f} dB.",
            )
        )
    words = [text for _, text in sorted(found)]
    if not words:
        words = ["Nothing that was tried (other places, seats, delays, a shorter decay) helps noticeably."]
    return tuple(words)


def _setting_words(name: str, delay_s: float, gain_db: float, inverted: bool) -> str:
    parts = []
    if delay_s:
        parts.append(f"{1000.0 * delay_s:.0f} ms later")
    if gain_db:
        parts.append(f"{-gain_db:.0f} dB lower")
    if inverted:
        parts.append("polarity turned")
    return f"{name} {', '.join(parts)}"


def _listed(words: list[str] | tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def print_bass(console: Console, bass: Bass, advice: BassAdvice) -> None:
    """Print what the bass does: the answer, the seats, the modes, the advice, the doubts.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    bass : Bass
        What the bass does.
    advice : BassAdvice
        What would help.
    """
    scene, response = bass.scene, bass.response
    low, high = COMPARED_HZ
    low, high = max(low, response.frequency_hz[0]), min(high, response.frequency_hz[-1])
    ends = sorted((bass.shorter.unevenness, bass.longer.unevenness))
    console.print(f"[bold]{escape(scene.title)}[/bold]")
    said = (
        f"With {_listed([escape(s) for s in bass.sources])} the bass strays by {response.unevenness:.1f} dB "
    )
    said += f"(standard deviation over seats and frequencies, {low:.0f} to {high:.0f} Hz"
    said += (
        f"; {ends[0]:.1f} to {ends[1]:.1f} dB, as the decay may be)." if ends[1] - ends[0] > 0.05 else ")."
    )
    console.print(said, soft_wrap=True)
    if response.spatial_variance is not None:
        console.print(f"Mean spatial variance, seat to seat: {response.spatial_variance:.1f} dB².\n")
    table = _seat_table(bass)
    console.print(table)
    console.print()
    for line in _mode_lines(bass):
        console.print(escape(line), soft_wrap=True)
    console.print("\n[bold]What would help[/bold] (each alone, with the unevenness that it leaves)")
    for text in advice_words(bass, advice):
        console.print(f"  {escape(text)}", soft_wrap=True)
    console.print()
    print_findings(console, bass.findings)
    console.print(f"[dim]{escape(DOUBT)}[/dim]", soft_wrap=True)


def _seat_table(bass: Bass) -> Any:
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="bold")
    for i, column in enumerate(("Seat", "mean dB", "highest peak", "deepest dip")):
        table.add_column(column, justify="left" if i == 0 else "right", no_wrap=i > 0)
    frequency, inside = bass.response.frequency_hz, bass.response.compared
    for seat, whole in zip(bass.scene.seats, bass.response.combined, strict=True):
        level, hz = whole[inside], frequency[inside]
        mean = 10.0 * np.log10(np.mean(10.0 ** (level / 10.0)))
        top, bottom = int(np.argmax(level)), int(np.argmin(level))
        table.add_row(
            escape(seat.name),
            f"{mean:.1f}",
            f"{level[top] - mean:+.0f} dB at {hz[top]:.0f} Hz",
            f"{level[bottom] - mean:+.0f} dB at {hz[bottom]:.0f} Hz",
        )
    return table


def _mode_lines(bass: Bass) -> list[str]:
    """Modes with the seats that sit in their nulls."""
    modes = bass.modes
    at_seats = np.abs(modes.shapes(bass.seats))
    lines = ["Modes, and the seats that hear little of them:"]
    shown = [i for i in range(1, len(modes.frequency_hz)) if modes.frequency_hz[i] <= bass.highest_listed_hz]
    for i in shown[:_NAMED]:
        nulls = [s.name for s, level in zip(bass.scene.seats, at_seats[:, i], strict=True) if level < _NULL]
        text = f"  {modes.frequency_hz[i]:6.1f} Hz"
        if modes.index is not None:
            n = modes.index[i]
            kind = ("", "axial", "tangential", "oblique")[int((n > 0).sum())]
            text += f"  {' '.join(str(k) for k in n)} {kind:<10}"
        lines.append(f"{text}  {', '.join(nulls)}".rstrip())
    if len(shown) > _NAMED:
        lines.append(f"  and {len(shown) - _NAMED} more up to {bass.highest_listed_hz:.0f} Hz (--json)")
    return lines


def bass_chart(bass: Bass, advice: BassAdvice, kind: Kind = "svg") -> str | bytes:
    """Draw the response at every seat, and with subwoofers at the best places.

    Parameters
    ----------
    bass : Bass
        What the bass does.
    advice : BassAdvice
        What would help.
    kind : {"svg", "png"}
        Output format.

    Returns
    -------
    str or bytes
        One small picture a seat: the level with the subwoofers as they are, shaded by what the decay may be,
        and dashed with as many subwoofers, or two, at the best places.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    from treatment.present.chart_file import CHART_STYLE, written

    seats = bass.scene.seats
    columns = min(3, len(seats))
    rows = -(-len(seats) // columns)
    hz = bass.response.frequency_hz
    choice = next(
        (c for c in advice.places if len(c.positions) >= max(len(bass.sources), 1)),
        advice.places[-1] if advice.places else None,
    )
    other = None if choice is None else levels_with(bass, choice)
    with rc_context(CHART_STYLE):
        figure = Figure(figsize=(max(7.2, 2.6 * columns), 2.5 * rows + 0.9), layout="constrained")
        grid = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False)
        for k, axes in enumerate(grid.flat):
            if k >= len(seats):
                axes.set_visible(False)
                continue
            ends = np.sort([bass.shorter.combined[k], bass.longer.combined[k]], axis=0)
            axes.fill_between(
                hz, ends[0], ends[1], facecolor=BEFORE, alpha=0.2, linewidth=0.0, label="as the decay may be"
            )
            axes.plot(hz, bass.response.combined[k], color=BEFORE, linewidth=1.6, label="as they stand")
            if other is not None and choice is not None:
                number = ("", "one subwoofer", "two subwoofers", "", "four subwoofers")[len(choice.positions)]
                axes.plot(
                    hz, other[k], color=AFTER, linewidth=1.4, linestyle=(0, (4, 2)),
                    label=f"{number} at the best place{'s' if len(choice.positions) > 1 else ''}",
                )  # fmt: skip
            axes.set_xscale("log")
            ticks = [f for f in (20, 30, 40, 60, 80, 120, 160, 200, 300) if hz[0] <= f <= hz[-1]]
            axes.set_xticks(ticks, [str(f) for f in ticks], fontsize=7.0)
            axes.minorticks_off()
            axes.set_xlim(hz[0], hz[-1])
            axes.grid(color=RULE, linewidth=0.4)
            axes.set_title(seats[k].name[:30], fontsize=9.0, loc="left")
            axes.axvspan(*COMPARED_HZ, facecolor=MUTED, alpha=0.06, linewidth=0.0)
        figure.supxlabel("frequency in Hz", fontsize=9.0)
        figure.supylabel("level re 1 m in the open, dB", fontsize=9.0)
        handles, labels = grid.flat[0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="outside upper center", ncols=3, frameon=False, fontsize=8.0)
        return written(figure, kind, "bass")
