"""The look that all charts share, and how a chart becomes SVG or PNG."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Any, Final, Literal

from treatment.present.palette import INK, PAPER, RULE

if TYPE_CHECKING:
    from matplotlib.figure import Figure

#: What a chart can be written as.
Kind = Literal["svg", "png"]

#: Settings of matplotlib in which every chart is drawn.
CHART_STYLE: Final[Any] = {
    "font.family": "sans-serif",
    "font.size": 9.0,
    "axes.edgecolor": RULE,
    "axes.labelcolor": INK,
    "axes.facecolor": PAPER,
    "figure.facecolor": PAPER,
    "xtick.color": INK,
    "ytick.color": INK,
    "text.color": INK,
    # A dollar sign or an underscore in a room's name is text, never mathematics.
    "text.parse_math": False,
    "svg.fonttype": "path",
}
_METADATA: Final[dict[str, None]] = dict.fromkeys(("Date", "Creator", "Format", "Type"))


def written(figure: Figure, kind: Kind, key: str) -> str | bytes:
    """Write a figure down.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        Drawn in `CHART_STYLE`.
    kind : {"svg", "png"}
        Output format.
    key : str
        Name of the chart: ids get it in front.

    Returns
    -------
    str or bytes
        SVG without a header, or PNG.
    """
    from matplotlib import rc_context

    if kind == "png":
        picture = io.BytesIO()
        figure.savefig(picture, format="png", dpi=160)
        return picture.getvalue()
    text = io.StringIO()
    # A fixed salt makes ids the same in every run.
    with rc_context({"svg.hashsalt": f"treatment-{key}"}):
        figure.savefig(text, format="svg", metadata=_METADATA)
    whole = text.getvalue()
    whole = whole[whole.index("<svg") :]
    # Ids get the chart's name in front: two charts of one page would else share "figure_1".
    return re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>{key}-", whole)
