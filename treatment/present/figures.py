"""Charts: reverberation by octave, and early arrivals by delay and level."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from treatment import bands
from treatment.planning.plan import Evaluation, Plan
from treatment.planning.targets import CRITERION_DB, CRITERION_MS
from treatment.present.chart_file import CHART_STYLE, Kind, written
from treatment.present.palette import AFTER, BEFORE, INK, MUTED, PAPER, RULE, TARGET
from treatment.present.wording import loudest

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def reverberation_chart(
    before: Evaluation, after: Evaluation | None = None, kind: Kind = "svg"
) -> str | bytes:
    """Draw reverberation time by octave: what the formulas span, and the target range.

    Parameters
    ----------
    before : Evaluation
        The room as it is.
    after : Evaluation, optional
        The same room with panels.
    kind : {"svg", "png"}
        Output format.

    Returns
    -------
    str or bytes
        SVG without a header, or PNG.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    with rc_context(CHART_STYLE):
        figure = Figure(figsize=(7.2, 4.0), layout="constrained")
        axes = figure.subplots()
        x = np.arange(bands.COUNT, dtype=np.float64)
        target = before.target
        known = np.isfinite(target.lower) & np.isfinite(target.upper)
        axes.fill_between(
            x, target.lower, target.upper, where=known, facecolor=TARGET, alpha=0.28, edgecolor=TARGET,
            linewidth=1.0, hatch="..", label=f"target: {target.use.replace('-', ' ')}",
        )  # fmt: skip
        states = [("as it is", before, BEFORE, "o")]
        if after is not None:
            states.append(("with panels", after, AFTER, "s"))
        highest = float(np.nanmax(target.upper))
        for words, evaluation, colour, marker in states:
            times = {k: np.asarray(t) for k, t in evaluation.reverberation.items() if t is not None}
            spread = np.array(evaluation.spread)
            axes.fill_between(
                x, spread[0], spread[1], facecolor=colour, alpha=0.22, linewidth=0.0,
                label=f"{words}: range of the formulas",
            )  # fmt: skip
            if "traced" in times:
                error = np.zeros_like(x) if evaluation.traced_error is None else evaluation.traced_error
                axes.errorbar(
                    x, times["traced"], yerr=2.0 * np.nan_to_num(error), linestyle="none", marker="D",
                    markersize=5.5, color=colour, ecolor=INK, elinewidth=1.1, capsize=3.0, zorder=4.0,
                    markeredgecolor=PAPER, label=f"{words}: rays, two standard errors",
                )  # fmt: skip
                reach = np.nan_to_num(times["traced"] + 2.0 * error)
                highest = max(highest, float(reach.max()))
            for formula, dash in (("sabine", (4, 2)), ("eyring", None)):
                if formula in times:
                    (line,) = axes.plot(
                        x, times[formula], color=colour, marker=marker, markersize=4.0, linewidth=1.6,
                        label=f"{words}: {formula.capitalize()}",
                    )  # fmt: skip
                    if dash:
                        line.set_dashes(dash)
                        line.set_markerfacecolor(PAPER)
            highest = max(highest, float(spread.max()))
        _indicative(axes, max(e.schroeder_hz for _, e, *_ in states))
        _assumed(axes, after or before)
        axes.set_xticks(x, [bands.band_label(f) for f in bands.NOMINAL_HZ])
        axes.set_xlim(-0.35, bands.COUNT - 0.65)
        axes.set_ylim(0.0, 1.18 * highest)
        axes.set_xlabel("octave band")
        axes.set_ylabel("reverberation time in s")
        axes.grid(axis="y", color=RULE, linewidth=0.6)
        figure.legend(loc="outside lower center", ncols=3, frameon=False, fontsize=8.0)
        return written(figure, kind, "reverberation")


def _indicative(axes: Axes, schroeder_hz: float) -> None:
    """Grey what lies below the Schroeder frequency; bands are octaves, so the axis is logarithmic.

    Of two curves the higher one counts: below it one of them at least is indicative.
    """
    edge = float(np.log2(schroeder_hz / 62.5))
    if edge <= -0.35:
        return
    axes.axvspan(-0.35, min(edge, bands.COUNT), facecolor="#9aa3a8", alpha=0.22, linewidth=0.0, zorder=0.5)
    axes.text(
        -0.28, 0.975, f"indicative below {schroeder_hz:.0f} Hz:\nsingle room modes decide",
        transform=axes.get_xaxis_transform(), va="top", ha="left", fontsize=8.0, color=MUTED,
    )  # fmt: skip


def assumed_bands(evaluation: Evaluation) -> tuple[str, ...]:
    """Bands in which some material has no published value.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room.

    Returns
    -------
    tuple of str
        Band labels.
    """
    marks = [row.assumed for row in evaluation.rows if row.area > 0.0]
    which = np.any(marks, axis=0) if marks else np.zeros(bands.COUNT, dtype=bool)
    return tuple(bands.band_label(f) for f, a in zip(bands.NOMINAL_HZ, which, strict=True) if a)


def _assumed(axes: Axes, evaluation: Evaluation) -> None:
    labels = assumed_bands(evaluation)
    if labels:
        axes.set_title(
            f"{', '.join(labels)}: some materials have no published value there; a neighbour band's is held",
            fontsize=8.0, color=MUTED, loc="left",
        )  # fmt: skip


def arrivals_chart(before: Evaluation, after: Evaluation | None = None, kind: Kind = "svg") -> str | bytes:
    """Draw early arrivals by delay and level, a panel for each seat, with the criterion's box.

    Parameters
    ----------
    before : Evaluation
        The room as it is.
    after : Evaluation, optional
        The same room with panels.
    kind : {"svg", "png"}
        Output format.

    Returns
    -------
    str or bytes
        SVG without a header, or PNG.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    seats = before.scene.seats
    criterion = f"criterion: {CRITERION_DB:g} dB within {CRITERION_MS:g} ms"
    columns = min(3, max(1, len(seats)))
    lines = max(1, -(-len(seats) // columns))
    with rc_context(CHART_STYLE):
        figure = Figure(figsize=(7.2, 2.9 * lines + 0.4), layout="constrained")
        grid = figure.subplots(lines, columns, sharex=True, sharey=True, squeeze=False)
        states = [("as it is", before, BEFORE, "o")]
        if after is not None:
            states.append(("with panels", after, AFTER, "s"))
        for k, axes in enumerate(grid.flat):
            if k >= len(seats):
                axes.set_visible(False)
                continue
            axes.fill_between(
                [0.0, CRITERION_MS], CRITERION_DB, 3.0, facecolor=BEFORE, alpha=0.09, linewidth=0.0
            )
            axes.plot(
                [0.0, CRITERION_MS, CRITERION_MS], [CRITERION_DB, CRITERION_DB, 3.0], color=BEFORE,
                linewidth=0.9, linestyle=(0, (5, 2)), label=criterion,
            )  # fmt: skip
            for words, evaluation, colour, marker in states:
                a = evaluation.arrivals
                here = a.seat == k
                for order, size, alpha in ((2, 9.0, 0.40), (1, 24.0, 0.95)):
                    on = here & (a.order == order)
                    axes.scatter(
                        a.delay_ms[on], loudest(a.level_db[on]), s=size, marker=marker, alpha=alpha,
                        facecolor=colour if marker == "s" else "none", edgecolor=colour, linewidth=1.0,
                        label=f"{words}, {'one bounce' if order == 1 else 'two bounces'}",
                    )  # fmt: skip
            axes.set_title(_short(seats[k].name), fontsize=9.0, loc="left")
            axes.set_xlim(0.0, 25.0)
            axes.set_ylim(-25.0, 2.0)
            axes.grid(color=RULE, linewidth=0.5)
        grid[-1, columns // 2 if columns % 2 else 0].set_xlabel("delay behind the direct sound in ms")
        for axes in grid[:, 0]:
            axes.set_ylabel("level re direct in dB\n(loudest octave, 1 to 8 kHz)")
        if seats:
            handles, labels = grid[0, 0].get_legend_handles_labels()
            figure.legend(handles, labels, loc="outside lower center", ncols=3, frameon=False, fontsize=8.0)
        return written(figure, kind, "arrivals")


def progress_chart(plan: Plan, kind: Kind = "svg") -> str | bytes:
    """Draw what each further step of money buys: where to stop.

    Parameters
    ----------
    plan : Plan
        A plan that was chosen here.
    kind : {"svg", "png"}
        Output format.

    Returns
    -------
    str or bytes
        SVG without a header, or PNG.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    steps = plan.progress
    cost = [s.cost for s in steps]
    excess = np.array([s.excess_db for s in steps])
    times = np.array([s.eyring for s in steps])
    target = plan.after.target
    with rc_context(CHART_STYLE):
        figure = Figure(figsize=(7.2, 3.0), layout="constrained")
        left, right = figure.subplots(1, 2)
        left_over = excess / max(excess[0], 1e-9) * 100.0
        left.step(cost, left_over, where="post", color=AFTER, linewidth=1.8)
        # The last step has no width of its own: nothing is spent beyond it. A dot lets it be seen.
        left.plot(cost[-1], left_over[-1], color=AFTER, marker="o", markersize=5.0)
        left.set_ylim(0.0, 105.0)
        left.set_ylabel("early excess that is left, %")
        for label, band, dash in (("500 Hz", 3, "-"), ("1 kHz", 4, "--"), ("2 kHz", 5, ":")):
            right.step(
                cost, times[:, band], where="post", color=AFTER, linestyle=dash, linewidth=1.6, label=label
            )
            right.plot(cost[-1], times[-1, band], color=AFTER, marker="o", markersize=4.0)
        if np.isfinite(target.upper[4]):
            right.axhspan(
                target.lower[4], target.upper[4], facecolor=TARGET, alpha=0.28, label="target, 1 kHz"
            )
        right.set_ylim(0.0, None)
        right.set_ylabel("reverberation time in s (Eyring)")
        right.legend(frameon=False, fontsize=8.0)
        for axes in (left, right):
            axes.set_xlabel(f"spent, {plan.currency}" if plan.currency else "spent")
            axes.grid(color=RULE, linewidth=0.5)
        return written(figure, kind, "progress")


def _short(text: str, most: int = 28) -> str:
    """One line of printable text that a title has room for."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    return plain if len(plain) <= most else plain[: most - 1] + "…"
