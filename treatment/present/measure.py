"""A measurement as a JSON document, as text, and as a chart beside the prediction."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from rich.console import Console
from rich.markup import escape

from treatment import bands
from treatment.planning.match import CHANCE, MatchedArrival, PairFit
from treatment.planning.targets import CRITERION_SOURCE
from treatment.planning.verify import Measurement
from treatment.present.console import print_findings
from treatment.present.documents import finding_documents, numbers
from treatment.present.palette import AFTER, BEFORE, RULE, TARGET

if TYPE_CHECKING:
    from treatment.present.chart_file import Kind

_TICKS: Final = ("63", "125", "250", "500", "1k", "2k", "4k", "8k")
#: Findings that spoil all that follows, or say what was compared: told before the answer.
FIRST: Final = ("overdriven", "place-doubtful", "pair-assumed")
#: Times that differ by less are not heard as different (ISO 3382-1, table A.1: 5 %).
_HEARD: Final = 0.05
_SINGLE: Final = "Single bounces, which can be told apart"
_OTHER: Final = (
    f"Two or three bounces: weaker evidence, for a random delay fits in {CHANCE:.0%} of cases; or nothing"
)
DOUBT: Final = (
    "One loudspeaker and one seat: the decay varies from place to place by about the ± given; average "
    "several places before you act on small differences. Nobody hears less than 5 % (ISO 3382-1, table A.1)."
)


def measure_document(m: Measurement) -> dict[str, Any]:
    """Make the document of ``treatment measure --json``.

    Parameters
    ----------
    m : Measurement
        What the recording says.

    Returns
    -------
    dict
        As agreed; beside it, with a scene, the predicted interval and the match of each arrival.
    """
    f = m.figures
    document: dict[str, Any] = {
        "bands_hz": list(bands.NOMINAL_HZ),
        "edt_s": numbers(f.edt, 4),
        "t20_s": numbers(f.t20, 4),
        "t30_s": numbers(f.t30, 4),
        "c50_db": numbers(f.c50, 2),
        "c80_db": numbers(f.c80, 2),
        "d50": numbers(f.d50, 4),
        "ts_ms": numbers(1000.0 * f.ts, 2),
        "peak_to_noise_db": numbers(m.measured.peak_to_noise_db, 1),
        "curvature_percent": numbers(f.curvature, 1),
        "between_places_s": numbers(m.t30_doubt, 4),
        "arrivals": [
            {
                "delay_ms": numbers(a.delay_ms, 3),
                "level_db": numbers(a.level_db, 2),
                "surface": a.surface,
                "also": list(a.also),
                "predicted_delay_ms": numbers(a.predicted_ms, 3),
                "predicted_level_db": numbers(a.predicted_db, 2),
                "above_criterion": a.strong,
                "bounces": a.bounces,
                "stronger_than_promised_db": numbers(a.stronger_db, 2),
            }
            for a in m.arrivals
        ],
        "findings": finding_documents(m.findings),
    }
    if m.expected is not None and m.evaluation is not None:
        document |= {
            "source": m.source,
            "seat": m.seat,
            "predicted_s": {"lower": numbers(m.expected[0], 4), "upper": numbers(m.expected[1], 4)},
            "outside_target_s": numbers(m.outside_target, 4),
            "verdicts": list(verdicts(m)),
            "strong_single_bounces": None if m.fit is None else _fit_document(m.fit),
            "pairs": [_fit_document(f) for f in sorted(m.fits, key=lambda f: -f.alike)],
        }
    return document


def _fit_document(f: PairFit) -> dict[str, Any]:
    return {
        "source": f.source,
        "seat": f.seat,
        "predicted": f.strong,
        "found": f.found,
        "missing": list(f.missing),
        "alike": numbers(f.alike, 3),
    }


def verdicts(m: Measurement) -> tuple[str, ...]:
    """Say band by band whether the room does what was predicted.

    Parameters
    ----------
    m : Measurement
        With a prediction.

    Returns
    -------
    tuple of str
        ``as predicted``, ``longer than predicted``, ``shorter than predicted`` or ``not measured`` for each
        of the eight bands. A time counts as outside only by more than the scatter between places, or 5 % of
        itself, whichever is larger.
    """
    if m.expected is None:
        return ()
    said = []
    for time, doubt, low, high in zip(m.time, m.t30_doubt, *m.expected, strict=True):
        if not np.isfinite(time):
            said.append("not measured")
            continue
        slack = max(float(doubt), _HEARD * float(time))
        if time > high + slack:
            said.append("longer than predicted")
        elif time < low - slack:
            said.append("shorter than predicted")
        else:
            said.append("as predicted")
    return tuple(said)


def summary(m: Measurement) -> tuple[str, ...]:
    """Answer first: did it work, and what is left.

    Parameters
    ----------
    m : Measurement
        With or without a prediction.

    Returns
    -------
    tuple of str
        Sentences.
    """
    sentences = []
    if m.fit is not None and m.fit.strong and not m.fit.doubtful(m.fits):
        missing = f"; not found: {', '.join(m.fit.missing)}" if m.fit.missing else ""
        sentences.append(
            f"{m.fit.found} of the {m.fit.strong} strong single bounces predicted were found{missing}."
        )
    if not any(f.code in ("overdriven", "place-doubtful") for f in m.findings):
        sentences += [promise_words(a) for a in m.arrivals if a.stronger_db > 0.0]
    if m.expected is not None and m.outside_target is not None and m.evaluation is not None:
        found = verdicts(m)
        counted = [v for v in found if v != "not measured"]
        good = sum(v == "as predicted" for v in counted)
        sentences.append(f"The decay is as predicted in {good} of the {len(counted)} bands that can be read.")
        for word in ("longer", "shorter"):
            names = [_TICKS[i] for i, v in enumerate(found) if v.startswith(word)]
            if names:
                cause = (
                    "less absorbs there than the tables say"
                    if word == "longer"
                    else "more absorbs there than the tables say"
                )
                sentences.append(f"It is {word} at {', '.join(names)} Hz: {cause}.")
        off = np.nan_to_num(m.outside_target)
        known = np.isfinite(m.time)
        long = [_TICKS[i] for i in range(bands.COUNT) if known[i] and off[i] > 0.005]
        short = [_TICKS[i] for i in range(bands.COUNT) if known[i] and off[i] < -0.005]
        if long:
            sentences.append(f"Against the target it is still too live at {', '.join(long)} Hz.")
        if short:
            sentences.append(
                f"Against the target it is too dead at {', '.join(short)} Hz: take something away."
            )
        if known.any() and not long and not short:
            sentences.append("It lies inside the target in every band that can be read.")
    strong = [a for a in m.arrivals if a.strong]
    if strong:
        worst = max(strong, key=lambda a: a.level_db)
        what = f", from {worst.surface}" if worst.surface else ""
        sentences.append(
            f"{len(strong)} early arrival{'s' * (len(strong) != 1)} above -10 dB within 15 ms; the strongest "
            f"{worst.level_db:.1f} dB at {worst.delay_ms:.1f} ms{what}."
        )
    else:
        sentences.append("No arrival within 15 ms is above -10 dB re the direct sound.")
    return tuple(sentences)


def promise_words(a: MatchedArrival) -> str:
    """Say that a surface sends more than it promised, and where to look.

    Parameters
    ----------
    a : MatchedArrival
        A single bounce that is stronger than promised.

    Returns
    -------
    str
        A sentence.
    """
    look = (
        f"look at {a.panel}: does it hang at its place, with its gap, its face open to the room?"
        if a.panel
        else f"look at the {a.surface}: is it barer or harder there than the scene says, or does something "
        "hard stand before it?"
    )
    return (
        f"{a.surface} at {a.delay_ms:.2f} ms: promised {a.predicted_db:.1f} dB, measured {a.level_db:.1f} "
        f"dB: {a.stronger_db:.1f} dB stronger than promised; {look}"
    )


def print_measurement(console: Console, m: Measurement) -> None:
    """Print what a recording says: the answer, the bands, the arrivals, the doubts.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    m : Measurement
        What the recording says.
    """
    if m.source:
        console.print(f"[bold]{escape(m.source)} to {escape(m.seat)}[/bold]")
    print_findings(console, [f for f in m.findings if f.code in FIRST])
    for sentence in summary(m):
        console.print(escape(sentence), soft_wrap=True)
    console.print()
    console.print(_band_table(m))
    single = [a for a in m.arrivals if a.bounces == 1]
    other = [a for a in m.arrivals if a.bounces != 1]
    for heading, rows in ((_SINGLE, single), (_OTHER if m.expected is not None else "Arrivals", other)):
        if rows:
            console.print(f"\n[bold]{heading}[/bold]", soft_wrap=True)
            console.print(_arrival_table(rows, m.expected is not None))
    console.print()
    print_findings(console, [f for f in m.findings if f.code not in FIRST])
    console.print(f"[dim]{escape(DOUBT)}[/dim]", soft_wrap=True)
    if any(a.strong for a in m.arrivals):
        console.print(f"[dim]Criterion: {escape(CRITERION_SOURCE)}[/dim]", soft_wrap=True)


def _band_table(m: Measurement) -> Any:
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="bold")
    for i, column in enumerate(("", *(bands.band_label(f) for f in bands.NOMINAL_HZ))):
        table.add_column(column, justify="left" if i == 0 else "right", no_wrap=True)

    def row(name: str, values: Any, digits: int) -> None:
        table.add_row(name, *(f"{v:.{digits}f}" if np.isfinite(v) else "-" for v in values))

    f = m.figures
    row("EDT s", f.edt, 2)
    row("T20 s", f.t20, 2)
    row("T30 s", f.t30, 2)
    row("± place to place", m.t30_doubt, 2)
    if m.expected is not None:
        low, high = m.expected
        table.add_row("predicted s", *(f"{a:.2f}-{b:.2f}" for a, b in zip(low, high, strict=True)))
    row("C50 dB", f.c50, 1)
    row("C80 dB", f.c80, 1)
    row("D50", f.d50, 2)
    row("Ts ms", 1000.0 * f.ts, 0)
    row("peak to noise dB", m.measured.peak_to_noise_db, 0)
    return table


def _arrival_table(arrivals: Sequence[MatchedArrival], with_scene: bool) -> Any:
    from rich.table import Table

    columns = [
        "delay ms",
        "level dB",
        "",
        *(["from", "predicted ms", "predicted dB", "or"] if with_scene else []),
    ]
    table = Table(box=None, pad_edge=False, header_style="bold")
    for c in columns:
        table.add_column(c, justify="left" if c in ("", "from", "or") else "right")
    for a in arrivals:
        cells = [f"{a.delay_ms:.2f}", f"{a.level_db:.1f}", "above" if a.strong else ""]
        table.add_row(*cells, *(_cells(a) if with_scene else []))
    return table


def _cells(a: MatchedArrival) -> list[str]:
    if a.surface is None:
        why = "several bounces, too many to tell which" if a.crowded else "nothing predicted fits"
        return [why, "", "", ""]
    return [
        escape(a.surface),
        f"{a.predicted_ms:.2f}",
        f"{a.predicted_db:.1f}",
        escape(", ".join(a.also[:3])),
    ]


def measure_chart(m: Measurement, kind: Kind = "svg") -> str | bytes:
    """Draw measured times beside the prediction and the target, and the early arrivals.

    Parameters
    ----------
    m : Measurement
        What the recording says.
    kind : {"svg", "png"}
        Output format.

    Returns
    -------
    str or bytes
        Left the times by band, right the arrivals by delay.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    from treatment.present.chart_file import CHART_STYLE, written

    x = np.arange(bands.COUNT, dtype=np.float64)
    with rc_context(CHART_STYLE):
        figure = Figure(figsize=(7.6, 3.3), layout="constrained")
        left, right = figure.subplots(1, 2)
        if m.evaluation is not None and m.expected is not None:
            target = m.evaluation.target
            known = np.isfinite(target.lower) & np.isfinite(target.upper)
            left.fill_between(
                x, target.lower, target.upper, where=known, facecolor=TARGET, alpha=0.28, hatch="..",
                edgecolor=TARGET, linewidth=0.8, label="target",
            )  # fmt: skip
            left.fill_between(x, *m.expected, facecolor=BEFORE, alpha=0.18, linewidth=0.0, label="predicted")
        left.errorbar(
            x, m.time, yerr=np.nan_to_num(m.t30_doubt), color=AFTER, marker="o", markersize=4.0,
            linewidth=1.6, capsize=2.5, label="measured",
        )  # fmt: skip
        left.set_xticks(x, _TICKS)
        left.set_xlabel("octave band in Hz")
        left.set_ylabel("reverberation time in s")
        left.set_ylim(bottom=0.0)
        left.grid(color=RULE, linewidth=0.4)
        # Above the axes: inside, a legend would lie over what is drawn.
        above: dict[str, Any] = {"loc": "lower center", "bbox_to_anchor": (0.5, 1.0), "ncols": 3}
        left.legend(frameon=False, fontsize=8.0, **above)
        right.fill_between([0.0, 15.0], -10.0, 3.0, facecolor=BEFORE, alpha=0.09, linewidth=0.0)
        delay, level = [a.delay_ms for a in m.arrivals], [a.level_db for a in m.arrivals]
        right.vlines(delay, -25.0, level, color=AFTER, linewidth=1.2)
        right.plot(delay, level, linestyle="none", marker="o", markersize=4.0, color=AFTER, label="measured")
        fits = [a for a in m.arrivals if a.surface]
        if fits:
            right.plot(
                [a.predicted_ms for a in fits], [a.predicted_db for a in fits], linestyle="none", marker="D",
                markersize=4.5, markerfacecolor="none", color=BEFORE, label="predicted",
            )  # fmt: skip
            right.legend(frameon=False, fontsize=8.0, **above)
        right.set_xlim(0.0, 25.0)
        right.set_ylim(-25.0, 3.0)
        right.set_xlabel("delay behind the direct sound in ms")
        right.set_ylabel("level re direct in dB")
        right.grid(color=RULE, linewidth=0.4)
        return written(figure, kind, "measure")
