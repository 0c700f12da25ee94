"""Chart: what absorbs, by octave, as it is and with panels."""

from __future__ import annotations

from typing import Final

import numpy as np

from treatment import bands
from treatment.measures import SQUARE_FOOT, in_feet
from treatment.planning.ledger import GROUPS, ledger_of
from treatment.planning.plan import Evaluation
from treatment.present.chart_file import CHART_STYLE, Kind, written
from treatment.present.palette import (
    FLOOR,
    INK,
    MUTED,
    OBSTACLE,
    OPENING,
    PANEL,
    PAPER,
    RULE,
    SEAT,
    WALL,
)  # fmt: skip

#: Colour and hatch of each group, so that nothing is told by colour alone.
_LOOKS: Final[dict[str, tuple[str, str]]] = {
    "walls": (WALL, ""),
    "floor": (FLOOR, "..."),
    "ceiling": ("#cfd8dc", "///"),
    "openings": (OPENING, "---"),
    "obstacles": (OBSTACLE, "xxx"),
    "furniture and people": (SEAT, "\\\\\\"),
    "air": (PAPER, "ooo"),
    "panels": (PANEL, ""),
}
_WIDTH: Final = 0.38


def absorption_chart(before: Evaluation, after: Evaluation | None = None, kind: Kind = "svg") -> str | bytes:
    """Draw what absorbs, stacked by group, a bar for each octave and state.

    Parameters
    ----------
    before : Evaluation
        The room as it is.
    after : Evaluation, optional
        The same room with panels: a second bar beside the first.
    kind : {"svg", "png"}
        Output format.

    Returns
    -------
    str or bytes
        SVG without a header, or PNG.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    ledger = ledger_of(before, after)
    feet = in_feet(before.scene.units)
    unit = SQUARE_FOOT if feet else 1.0
    states = [("as it is", ledger.by_group(after=False))]
    if after is not None:
        states.append(("with panels", ledger.by_group()))
    with rc_context({**CHART_STYLE, "hatch.linewidth": 0.6, "hatch.color": MUTED}):
        figure = Figure(figsize=(7.2, 3.9), layout="constrained")
        axes = figure.subplots()
        middle = np.arange(bands.COUNT, dtype=np.float64)
        shown: set[str] = set()
        for n, (words, groups) in enumerate(states):
            x = middle + (n - (len(states) - 1) / 2.0) * (_WIDTH + 0.03)
            floor = np.zeros(bands.COUNT)
            for group in GROUPS:
                if group not in groups:
                    continue
                colour, hatch = _LOOKS[group]
                area = groups[group] / unit
                axes.bar(
                    x, area, _WIDTH, bottom=floor, color=colour, hatch=hatch, edgecolor=INK,
                    linewidth=0.6, label="" if group in shown else group,
                )  # fmt: skip
                shown.add(group)
                floor = floor + area
            for k in range(bands.COUNT) if len(states) > 1 else ():
                axes.annotate(
                    words, (x[k], floor[k]), (0.0, 3.0), textcoords="offset points", rotation=90,
                    ha="center", va="bottom", fontsize=6.5, color=MUTED,
                )  # fmt: skip
        axes.set_xticks(middle, [bands.band_label(f) for f in bands.NOMINAL_HZ])
        axes.set_ylim(0.0, 1.25 / unit * max(float(ledger.before.max()), float(ledger.after.max())))
        axes.set_xlabel("octave band")
        axes.set_ylabel(f"equivalent absorption area in {'sq ft sabins' if feet else 'm2'}")
        axes.grid(axis="y", color=RULE, linewidth=0.6)
        axes.set_axisbelow(True)
        figure.legend(loc="outside lower center", ncols=4, frameon=False, fontsize=8.0)
        return written(figure, kind, "absorption")
