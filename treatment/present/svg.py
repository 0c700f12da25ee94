"""Writing SVG by hand: shapes, safe text, dimension lines, and labels that keep out of each other's way.

All lengths are millimetres on paper; y runs down the page.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from xml.sax.saxutils import quoteattr

from treatment.present.lettering import clean, printable, text_width
from treatment.present.palette import INK, PAPER

FONT = "Helvetica, Arial, 'Liberation Sans', sans-serif"
Box = tuple[float, float, float, float]


def meet(a: Box, b: Box) -> bool:
    """Tell whether two boxes overlap.

    Parameters
    ----------
    a, b : tuple of float
        ``(left, top, right, bottom)`` in mm.

    Returns
    -------
    bool
        True when their interiors meet.
    """
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


@dataclass
class Drawing:
    """Elements of one SVG picture, in the order of painting.

    Parameters
    ----------
    width, height : float
        Size on paper in mm.
    title : str
        Accessible name.
    key : str
        Prefix of the picture's ids, so that several pictures may share a page.
    parts : list of str
        Elements so far.
    taken, soft : list of tuple of float
        Boxes that labels must not cover, and boxes that they should not cover.
    """

    width: float
    height: float
    title: str
    key: str
    parts: list[str] = field(default_factory=list)
    taken: list[Box] = field(default_factory=list)
    soft: list[Box] = field(default_factory=list)
    _hatches: list[str] = field(default_factory=list)

    def rect(
        self, box: Box, *, fill: str = "none", line: str = INK, width: float = 0.25, more: str = ""
    ) -> None:
        """Draw a rectangle.

        Parameters
        ----------
        box : tuple of float
            ``(left, top, right, bottom)`` in mm.
        fill, line : str
            Colours, or ``none``.
        width : float
            Line width in mm.
        more : str
            Further attributes, already safe.
        """
        self.parts.append(
            f'<rect x="{box[0]:.2f}" y="{box[1]:.2f}" width="{box[2] - box[0]:.2f}" '
            f'height="{box[3] - box[1]:.2f}" fill="{fill}" stroke="{line}" stroke-width="{width}" {more}/>'
        )

    def path(
        self,
        rings: Iterable[Iterable[Sequence[float]]],
        *,
        fill: str = "none",
        line: str = INK,
        width: float = 0.25,
        more: str = "",
        close: bool = True,
    ) -> None:
        """Draw outlines; a ring inside a ring is a hole.

        Parameters
        ----------
        rings : iterable of iterable of (x, y)
            Points in mm.
        fill, line : str
            Colours, or ``none``.
        width : float
            Line width in mm.
        more : str
            Further attributes, already safe.
        close : bool
            Whether each ring ends where it began.
        """
        ends = "Z" if close else ""
        d = "".join("M" + "L".join(f"{p[0]:.2f},{p[1]:.2f}" for p in ring) + ends for ring in rings)
        self.parts.append(
            f'<path d="{d}" fill="{fill}" fill-rule="evenodd" stroke="{line}" stroke-width="{width}" {more}/>'
        )

    def line(
        self, a: Sequence[float], b: Sequence[float], *, line: str = INK, width: float = 0.18, more: str = ""
    ) -> None:
        """Draw a straight line.

        Parameters
        ----------
        a, b : (x, y)
            Ends in mm.
        line : str
            Colour.
        width : float
            Line width in mm.
        more : str
            Further attributes, already safe.
        """
        self.parts.append(
            f'<line x1="{a[0]:.2f}" y1="{a[1]:.2f}" x2="{b[0]:.2f}" y2="{b[1]:.2f}" stroke="{line}" '
            f'stroke-width="{width}" {more}/>'
        )

    def circle(
        self, x: float, y: float, r: float, *, fill: str = "none", line: str = INK, width: float = 0.2
    ) -> None:
        """Draw a circle.

        Parameters
        ----------
        x, y, r : float
            Centre and radius in mm.
        fill, line : str
            Colours, or ``none``.
        width : float
            Line width in mm.
        """
        self.parts.append(
            f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{r:.2f}" fill="{fill}" stroke="{line}" '
            f'stroke-width="{width}"/>'
        )

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = 2.6,
        anchor: str = "start",
        colour: str = INK,
        bold: bool = False,
        turned: bool = False,
        halo: bool = False,
        role: str = "",
    ) -> None:
        """Write one line of text; y is its base line.

        Parameters
        ----------
        x, y : float
            Anchor in mm.
        text : str
            Any text; it is escaped here.
        size : float
            Font size in mm.
        anchor : {"start", "middle", "end"}
            Which part of the text stands at x.
        colour : str
            Colour.
        bold : bool
            Heavier.
        turned : bool
            Reads upwards.
        halo : bool
            Paper-coloured rim, for text over lines.
        role : str
            Class attribute by which a reader of the file finds it.
        """
        extra = ' font-weight="bold"' if bold else ""
        if turned:
            extra += f' transform="rotate(-90 {x:.2f} {y:.2f})"'
        if halo:
            extra += f' stroke="{PAPER}" stroke-width="{0.3 * size:.2f}" paint-order="stroke"'
            extra += ' stroke-linejoin="round"'
        if role:
            extra += f" class={quoteattr(role)}"
        self.parts.append(
            f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" text-anchor="{anchor}" '
            f'fill="{colour}"{extra}>{clean(text)}</text>'
        )

    def hatch(self, colour: str) -> str:
        """Fill of slanted lines.

        Parameters
        ----------
        colour : str
            ``#rrggbb``.

        Returns
        -------
        str
            Value for a fill attribute.
        """
        name = f"{self.key}-hatch-{colour[1:]}"
        pattern = (
            f'<pattern id="{name}" width="2.2" height="2.2" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)">'
            f'<rect width="2.2" height="2.2" fill="{colour}" fill-opacity="0.10"/>'
            f'<line x1="0" y1="0" x2="0" y2="2.2" stroke="{colour}" stroke-width="0.5"/></pattern>'
        )
        if pattern not in self._hatches:
            self._hatches.append(pattern)
        return f"url(#{name})"

    def place(
        self,
        around: Box,
        text: str,
        *,
        size: float = 2.6,
        colour: str = INK,
        within: Box | None = None,
        bold: bool = False,
        needed: bool = True,
    ) -> None:
        """Write a label beside something, where nothing else is written; with a leader when far away.

        Parameters
        ----------
        around : tuple of float
            What the label belongs to: ``(left, top, right, bottom)`` in mm.
        text : str
            One line.
        size : float
            Font size in mm.
        colour : str
            Colour.
        within : tuple of float, optional
            Where labels may stand. Default: the picture.
        bold : bool
            Heavier.
        needed : bool
            False for a label that may be left out where there is no room nearby.
        """
        w, h = text_width(text, size) + 0.6, 1.15 * size
        limit = within or (0.0, 0.0, self.width, self.height)
        cx, cy = (around[0] + around[2]) / 2.0, (around[1] + around[3]) / 2.0
        best: tuple[float, float, Box] | None = None
        for step in (0.0, 1.0, 2.2, 3.6, 5.5, 8.0, 11.0, 15.0, 20.0):
            gap = 0.7 + step
            for left, top in (
                (cx - w / 2, around[1] - gap - h),
                (cx - w / 2, around[3] + gap),
                (around[2] + gap, cy - h / 2),
                (around[0] - gap - w, cy - h / 2),
                (around[2] + gap, around[1] - gap - h),
                (around[0] - gap - w, around[1] - gap - h),
                (around[2] + gap, around[3] + gap),
                (around[0] - gap - w, around[3] + gap),
            ):
                box = (left, top, left + w, top + h)
                if box[0] < limit[0] or box[1] < limit[1] or box[2] > limit[2] or box[3] > limit[3]:
                    continue
                clashes = 100.0 * sum(meet(box, other) for other in self.taken)
                cost = clashes + 14.0 * sum(meet(box, other) for other in self.soft) + step
                if best is None or cost < best[0]:
                    best = (cost, step, box)
            if best is not None and best[0] <= step:
                break
        if not needed and (best is None or best[0] >= 100.0 or best[1] > 4.0):
            return
        step, box = best[1:] if best else (0.0, (cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2))
        if step > 3.0:
            near = (min(max(cx, box[0]), box[2]), min(max(cy, box[1]), box[3]))
            self.line((cx, cy), near, line=colour, width=0.12)
        x, y = (box[0] + box[2]) / 2, box[3] - 0.28 * size
        self.text(x, y, text, size=size, anchor="middle", colour=colour, halo=True, bold=bold)
        self.taken.append(box)

    def tip(self, at: Sequence[float], toward: tuple[float, float], *, colour: str = INK) -> None:
        """Draw the head of a dimension arrow.

        Parameters
        ----------
        at : (x, y)
            Its point in mm.
        toward : (dx, dy)
            Unit direction it points to.
        colour : str
            Colour.
        """
        x, y = at
        dx, dy = toward
        self.path(
            [
                [
                    (x, y),
                    (x - 1.7 * dx - 0.45 * dy, y - 1.7 * dy + 0.45 * dx),
                    (x - 1.7 * dx + 0.45 * dy, y - 1.7 * dy - 0.45 * dx),
                ]
            ],
            fill=colour,
            line="none",
        )

    def finish(self, *, standalone: bool = True) -> str:
        """Return the picture as text.

        Parameters
        ----------
        standalone : bool
            True for a file in real millimetres, False for a part of a web page.

        Returns
        -------
        str
            SVG.
        """
        name = quoteattr(printable(self.title))
        space = ' xmlns="http://www.w3.org/2000/svg"' if standalone else ""
        head = '<?xml version="1.0" encoding="UTF-8"?>\n' if standalone else ""
        defs = f"<defs>{''.join(self._hatches)}</defs>" if self._hatches else ""
        return (
            f'{head}<svg{space} width="{self.width:g}mm" height="{self.height:g}mm" '
            f'viewBox="0 0 {self.width:g} {self.height:g}" font-family="{FONT}" role="img" aria-label={name}>'
            f"<title>{clean(self.title)}</title>{defs}\n" + "\n".join(self.parts) + "\n</svg>\n"
        )
