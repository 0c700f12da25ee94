"""Drawables -> one web page that turns the room by hand, offline."""

from __future__ import annotations

from typing import Any

import numpy as np
from markupsafe import Markup

from treatment import bands
from treatment.bands import Array
from treatment.present.double_bounces import DoubleBounces
from treatment.present.forms import Dot, Drawables, Face
from treatment.present.pages import embedded_json, page, template_text
from treatment.present.palette import LEVEL_SCALE, level_colour
from treatment.present.themes import colours_css, theme_script


def room_html(drawables: Drawables, doubles: DoubleBounces | None = None) -> str:
    """Write the page: data, painter and style in one file, with no address in it.

    Parameters
    ----------
    drawables : Drawables
        What to paint, paths before and after included.
    doubles : DoubleBounces, optional
        Second-order paths, to be shown on demand.

    Returns
    -------
    str
        HTML.
    """
    groups = {line.group for line in drawables.lines}
    low = LEVEL_SCALE[0][0]
    return page(
        "room.html",
        title=drawables.title,
        data=embedded_json(_data(drawables, doubles)),
        doubles=doubles is not None and bool(doubles.rows),
        script=Markup(template_text("room-doubles.js") + template_text("room.js")),
        theme_script=Markup(theme_script()),
        colours=Markup(colours_css()),
        items=_items(drawables),
        has_after=any(f.group == "panel" for f in drawables.faces) or "path-after" in groups,
        scale=[level_colour(level) for level in np.linspace(low, 0.0, 24)],
        scale_low=f"{low:g}",
    )


def _points(values: Array) -> list[Any]:
    """Coordinates to the millimetre: a page need not carry sixteen digits."""
    rounded: list[Any] = np.round(values, 3).tolist()
    return rounded


def _data(d: Drawables, doubles: DoubleBounces | None) -> dict[str, Any]:
    sources = list(dict.fromkeys(line.source for line in d.lines))
    seats = list(dict.fromkeys(line.seat for line in d.lines))
    groups = {line.group for line in d.lines}
    return {
        "bounds": _points(d.bounds),
        "sources": sources,
        "seats": seats,
        "middle_seat": _middle(d, seats),
        "bands": [bands.band_label(f) for f in bands.NOMINAL_HZ],
        "scale": LEVEL_SCALE,
        "doubles": None if doubles is None else doubles.document(),
        "has_before": "path-before" in groups,
        "has_after": "path-after" in groups,
        "faces": [
            {
                "rings": [_points(ring) for ring in f.rings],
                "normal": np.round(f.normal, 5).tolist(),
                "facing": None if f.facing is None else np.round(f.facing, 5).tolist(),
                "colour": f.colour,
                "opacity": f.opacity,
                "name": f"{f.group} {f.name}",
                "group": f.group,
                "detail": f.detail,
            }
            for f in d.faces
        ],
        "dots": [
            {
                "position": _points(x.position),
                "radius": x.radius,
                "colour": x.colour,
                "name": f"{x.group} {x.name}",
                "group": x.group,
                "detail": x.detail,
            }
            for x in d.dots
        ],
        "lines": [
            {
                "points": _points(x.points),
                "colour": x.colour,
                "name": f"{x.group} {x.name}",
                "group": x.group,
                "source": sources.index(x.source),
                "seat": seats.index(x.seat),
                "detail": x.detail,
                "levels": [round(level, 1) for level in x.levels],
            }
            for x in d.lines
        ],
        "labels": [
            {
                "position": _points(x.position),
                "text": x.text if len(x.text) <= 40 else x.text[:39] + "…",
                "group": x.group,
                "rank": x.rank,
                "normal": None if x.normal is None else np.round(x.normal, 5).tolist(),
            }
            for x in d.labels
        ],
    }


def _middle(d: Drawables, seats: list[str]) -> int:
    """Index of the seat nearest to the middle of all seats."""
    places = {x.name: x.position for x in d.dots if x.group == "seat" and x.name in seats}
    if not places:
        return 0
    centre = np.mean(list(places.values()), axis=0)
    return seats.index(min(places, key=lambda name: float(np.linalg.norm(places[name] - centre))))


def _items(d: Drawables) -> list[dict[str, Any]]:
    """One entry for each thing, for readers who do not see the picture; indices count faces, then dots."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    shapes: list[Face | Dot] = [*d.faces, *d.dots]
    for index, shape in enumerate(shapes):
        if shape.detail:
            found.setdefault((shape.group, shape.name), {"index": index, "text": "; ".join(shape.detail[:2])})
    order = ("panel", "screen", "equipment", "seat", "keep-out", "opening", "obstacle", "room")
    return [found[key] for key in sorted(found, key=lambda key: order.index(key[0]))]
