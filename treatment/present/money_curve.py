"""What money buys: sentences, the chart of several budgets, and all charts of a plan."""

from __future__ import annotations

from typing import Any

from treatment.planning.budgets import HAIR, STOP_SHARE
from treatment.planning.plan import Plan
from treatment.present.absorbed_chart import absorption_chart
from treatment.present.chart_file import CHART_STYLE, Kind, written
from treatment.present.figures import arrivals_chart, progress_chart, reverberation_chart
from treatment.present.palette import AFTER, BEFORE, RULE
from treatment.present.wording import counted, money


def budget_rows(plan: Plan) -> list[dict[str, Any]]:
    """Rows of the table of budgets, as text.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of dict
        One for each budget; empty without several.
    """
    best = max((s.worth for s in plan.budgets), default=0.0)
    return [
        {
            "budget": money(plan, s.budget),
            "cost": money(plan, s.cost),
            "panels": s.panels,
            "stay": f"{s.early_after} of {s.early_before}{f', {s.early_new} new' if s.early_new else ''}",
            "gone": f"{100.0 * s.gone:.0f} %",
            "seconds": f"{s.seconds_before - s.seconds:.2f} s ({s.seconds:.2f} s)",
            "state": s.state if s.state == "inside" else f"{s.state} by {abs(s.missing):.2f} s",
            "share": f"{100.0 * s.worth / best:.0f} %" if best > 0.0 else "none",
            "stop": s.stop,
            "mark": "stop here" if s.stop else "or here: a hair decides" if s.near else "",
        }
        for s in plan.budgets
    ]


def stop_words(plan: Plan) -> tuple[str, ...]:
    """Say at which budget to stop, and why.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    tuple of str
        Sentences; nothing without several budgets.
    """
    if not plan.budgets:
        return ()
    here, largest = next(s for s in plan.budgets if s.stop), plan.budgets[-1]
    words = [f"Stop at {money(plan, here.budget)}: it buys {counted(here.panels, 'panel')}."]
    share, curve = f"{100.0 * STOP_SHARE:.0f} %", f"the plan for {money(plan, largest.budget)}"
    if plan.turn >= largest.cost - 1e-9:
        words.append(f"In {curve} every panel pays; a larger budget may still pay.")
    else:
        words.append(
            f"Judged on {curve}, panel by panel: after {money(plan, plan.turn)} a panel gains, for its "
            f"money, less than {share} of what the first ones gain."
        )
        if plan.turn < (1.0 - HAIR) * here.budget:
            words.append(f"So try {money(plan, plan.turn)} too.")
    near = [f"{s.budget:g}" for s in plan.budgets if s.near]
    if near:
        both = " or ".join([f"{here.budget:g}", *near])
        words.append(f"{both}: a hair decides, the gain there is within {100.0 * HAIR:.0f} % of that share.")
    if here.missing > 0.0:
        words.append(
            f"It stays too live by up to {here.missing:.2f} s: where to stop is about what money buys, not "
            "about the target."
        )
    return tuple(words)


def budgets_chart(plan: Plan, kind: Kind = "svg") -> str | bytes:
    """Draw what each of several budgets buys.

    Parameters
    ----------
    plan : Plan
        With several budgets.
    kind : {"svg", "png"}
        Output format.

    Returns
    -------
    str or bytes
        SVG without a header, or PNG.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    steps, places = plan.budgets, range(len(plan.budgets))
    names = [f"{s.budget:g}" for s in steps]
    with rc_context(CHART_STYLE):
        figure = Figure(figsize=(7.2, 2.9), layout="constrained")
        left, right = figure.subplots(1, 2)
        colours = [AFTER if s.stop else BEFORE for s in steps]
        bars = left.bar(places, [100.0 * s.gone for s in steps], color=colours, width=0.6)
        left.bar_label(bars, [f"{s.early_before - s.early_after} cured" for s in steps], fontsize=8.0)
        left.set_ylim(0.0, 115.0)
        left.set_ylabel("early excess that is gone, %")
        bars = right.bar(places, [s.seconds for s in steps], color=colours, width=0.6)
        right.bar_label(bars, [s.state for s in steps], fontsize=8.0)
        right.axhline(steps[0].seconds_before, color=BEFORE, linewidth=1.2, linestyle="--")
        right.set_ylim(0.0, 1.2 * max(s.seconds_before for s in steps))
        right.set_ylabel("500 Hz and 1 kHz, s (Eyring)\ndashed: as it is")
        for axes in (left, right):
            axes.set_xticks(places, names)
            axes.set_xlabel(f"budget, {plan.currency}" if plan.currency else "budget")
            axes.grid(axis="y", color=RULE, linewidth=0.5)
            axes.set_axisbelow(True)
        return written(figure, kind, "budgets")


def plan_charts(plan: Plan, kind: Kind = "svg") -> dict[str, str | bytes]:
    """All charts of a plan.

    Parameters
    ----------
    plan : Plan
        Any plan.
    kind : {"svg", "png"}
        Output format.

    Returns
    -------
    dict of str to str or bytes
        By name: ``reverberation``, ``arrivals``, ``absorption``; ``progress`` where the plan was chosen
        here, ``budgets`` where there are several.
    """
    charts = {
        "reverberation": reverberation_chart(plan.before, plan.after, kind),
        "arrivals": arrivals_chart(plan.before, plan.after, kind),
        "absorption": absorption_chart(plan.before, plan.after, kind),
    }
    if len(plan.progress) > 1:
        charts["progress"] = progress_chart(plan, kind)
    if plan.budgets:
        charts["budgets"] = budgets_chart(plan, kind)
    return charts
