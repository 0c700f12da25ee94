"""Chart of builds side by side: a small picture for each, with its uncertainty."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from treatment import bands
from treatment.measures import small_words
from treatment.planning.comparison import BuildLine, Comparison
from treatment.present.chart_file import CHART_STYLE, Kind, written
from treatment.present.palette import AFTER, BEFORE, INK, MUTED, PANEL_EDGE, RULE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_COLUMNS: Final = 3
_TICKS: Final = ("63", "125", "250", "500", "1k", "2k", "4k", "8k")


def compare_chart(comparison: Comparison, kind: Kind = "svg") -> str | bytes:
    """Draw the absorption of builds by octave, each with its uncertainty.

    Parameters
    ----------
    comparison : Comparison
        Any comparison.
    kind : {"svg", "png"}
        Output format.

    Returns
    -------
    str or bytes
        SVG without a header, or PNG. One small picture a build, three in a row, all with the same axes;
        the other builds stand behind in grey.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    lines = comparison.lines
    columns = max(1, min(_COLUMNS, len(lines)))
    rows = max(1, -(-len(lines) // columns))
    with rc_context(CHART_STYLE):
        figure = Figure(figsize=(3.3 * columns + 0.4, 2.15 * rows + 1.1), layout="constrained")
        grid = figure.subplots(rows, columns, sharex=True, sharey=True, squeeze=False)
        highest = max([float(np.max(x.absorption + x.uncertainty)) for x in lines], default=1.0)
        for k, axes in enumerate(grid.flat):
            if k >= len(lines):
                axes.set_visible(False)
                continue
            for other in lines:
                axes.plot(other.absorption, color=RULE, linewidth=0.6, zorder=1)
            _picture(axes, lines[k], comparison.units)
            axes.set_xlim(-0.3, bands.COUNT - 0.7)
            axes.set_ylim(0.0, min(max(1.1, highest + 0.05), 1.4))
            axes.set_xticks(np.arange(bands.COUNT), _TICKS)
            # The last picture of a column that ends early has no neighbour below to name the bands.
            axes.tick_params(labelbottom=k + columns >= len(lines), length=2.0)
            axes.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0])
            axes.grid(color=RULE, linewidth=0.4)
        figure.supxlabel("octave band in Hz", fontsize=9.0)
        figure.supylabel("absorption coefficient", fontsize=9.0)
        found: dict[str, Any] = {}
        for axes in grid.flat:
            for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
                found.setdefault(label, handle)
        if found:
            figure.legend(
                list(found.values()), list(found), loc="outside upper center", ncols=3, frameon=False,
                fontsize=8.0,
            )  # fmt: skip
        return written(figure, kind, "compare")


def _picture(axes: Axes, line: BuildLine, units: str) -> None:
    x = np.arange(bands.COUNT, dtype=np.float64)
    measured = line.build.basis == "measured"
    colour = BEFORE if measured else AFTER
    axes.fill_between(
        x, np.maximum(line.absorption - line.less, 0.0), line.absorption + line.uncertainty,
        facecolor=colour, alpha=0.22, linewidth=0.0, zorder=2,
        label=f"{line.build.basis}: uncertainty, k = 2",
    )  # fmt: skip
    axes.plot(
        x, line.absorption, color=colour, linewidth=1.6, zorder=4, marker="s" if measured else "o",
        markersize=3.2, label=line.build.basis,
    )  # fmt: skip
    guessed = line.build.material.assumed | line.build.outside_model
    if guessed.any():
        axes.plot(
            x[guessed], line.absorption[guessed], linestyle="none", marker="o", markersize=5.5, zorder=5,
            markerfacecolor="white", markeredgecolor=colour, label="band assumed or outside the formula",
        )  # fmt: skip
    for m in line.published[:1]:
        axes.plot(
            x[~m.assumed], m.absorption[~m.assumed], color=PANEL_EDGE, linewidth=1.1, linestyle=(0, (4, 2)),
            marker="^", markersize=3.0, zorder=3, label="nearest published row",
        )  # fmt: skip
    shape = f" ({line.rating.shape})" if line.rating.shape else ""
    axes.set_title(_plain(line.build.id), fontsize=9.0, loc="left", color=INK, pad=12.0)
    axes.text(
        0.0, 1.015, f"alpha_w {line.rating.weighted:.2f}{shape}, {small_words(line.depth, units)} deep",
        transform=axes.transAxes, fontsize=7.5, color=MUTED, va="bottom",
    )  # fmt: skip
    axes.text(
        0.985, 0.03, "\n".join(textwrap.wrap(_plain(line.words[-1], 90), 34)), transform=axes.transAxes,
        fontsize=7.0, color=MUTED, ha="right", va="bottom",
    )  # fmt: skip


def _plain(text: str, most: int = 40) -> str:
    """Printable text of a length that there is room for."""
    clean = "".join(c if c.isprintable() else " " for c in text)
    return clean if len(clean) <= most else clean[: most - 1] + "…"
