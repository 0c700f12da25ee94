"""Title, labels and legend over a rendered picture: labels keep out of each other's way."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from treatment.present.camera import Camera, shown_opacity
from treatment.present.forms import Drawables, Label
from treatment.present.palette import (
    INK,
    KEEP_OUT,
    LEVEL_SCALE,
    LOUDSPEAKER,
    MUTED,
    OPENING,
    PANEL,
    PAPER,
    SCREEN,
    SEAT,
    SUBWOOFER,
    level_colour,
    rgb,
)
from treatment.present.svg import Box, meet

_LEGEND = (
    ("panel", "panel", PANEL),
    ("keep-out", "keep free", KEEP_OUT),
    ("opening", "opening", OPENING),
    ("screen", "screen", SCREEN),
    ("equipment", "loudspeaker", LOUDSPEAKER),
    ("subwoofer", "subwoofer", SUBWOOFER),
    ("seat", "seat (head)", SEAT),
)


def paint_overlay(picture: Any, drawables: Drawables, camera: Camera, path: Path, font: str) -> None:
    """Write a rendered picture with its texts to a file.

    Parameters
    ----------
    picture : numpy.ndarray
        Pixels, shape (rows, columns, 3), uint8.
    drawables : Drawables
        What the picture shows.
    camera : Camera
        From where.
    path : Path
        PNG file to write.
    font : str
        Path of a font file; empty for the built-in one.
    """
    from PIL import Image, ImageDraw, ImageFont

    image = Image.fromarray(picture).convert("RGB")
    pen = ImageDraw.Draw(image, "RGBA")
    unit = image.height / 1000.0

    def face(size: float) -> Any:
        return ImageFont.truetype(font, round(size * unit)) if font else ImageFont.load_default(size * unit)

    taken: list[Box] = []
    title = _plain(drawables.title, 70)
    pen.text((28 * unit, 20 * unit), title, font=face(26), fill=INK)
    taken.append((0.0, 0.0, 40 * unit + pen.textlength(title, font=face(26)), 62 * unit))
    taken.append(_legend(pen, drawables, camera, unit, image.height, face))
    # Balls and boxes should not be hidden by a label of something else.
    for dot in drawables.dots:
        x, y, _ = camera.pixels(dot.position[None])[0]
        taken.append((x - 9 * unit, y - 9 * unit, x + 9 * unit, y + 9 * unit))
    for label in sorted(drawables.labels, key=lambda x: x.rank):
        _label(pen, label, camera, unit, taken, face(17 if label.rank < 5 else 15), image.size)
    image.save(path, format="PNG", optimize=False, compress_level=6)


def _plain(text: str, most: int) -> str:
    line = "".join(c if c.isprintable() else " " for c in text)
    return line if len(line) <= most else line[: most - 1] + "…"


def _label(
    pen: Any, label: Label, camera: Camera, unit: float, taken: list[Box], font: Any, size: tuple[int, int]
) -> None:
    if label.normal is not None and (camera.position - label.position) @ label.normal <= 0.0:
        return  # its wall is cut away
    x, y, _ = camera.pixels(np.asarray(label.position)[None])[0]
    text = _plain(label.text, 34)
    box = pen.textbbox((0, 0), text, font=font)
    pad = 4 * unit
    w, h = box[2] - box[0] + 2 * pad, box[3] - box[1] + 2 * pad
    best: tuple[float, Box] | None = None
    rings = (0.0, 14.0, 26.0, 40.0, 58.0, 80.0, 106.0, 136.0)
    for ring in rings:
        steps = 1 if ring == 0.0 else 12
        for k in range(steps):
            angle = 2.0 * np.pi * k / steps - np.pi / 2.0
            cx = x + (ring * unit + (w / 2.0 if ring else 0.0)) * np.cos(angle)
            cy = y + (ring * unit + (h / 2.0 if ring else 0.0)) * np.sin(angle)
            place = (cx - w / 2.0, cy - h / 2.0, cx + w / 2.0, cy + h / 2.0)
            if place[0] < 0 or place[1] < 0 or place[2] > size[0] or place[3] > size[1]:
                continue
            clashes = sum(meet(place, other) for other in taken)
            cost = 1000.0 * clashes + ring
            if best is None or cost < best[0]:
                best = (cost, place)
        if best is not None and best[0] < 1000.0:
            break
    if best is None or (best[0] >= 1000.0 and label.rank >= 3):
        return  # no room: the thing keeps its colour, and the web page has its name
    place = best[1]
    middle = ((place[0] + place[2]) / 2.0, (place[1] + place[3]) / 2.0)
    if best[0] % 1000.0 > 20.0:
        pen.line([(x, y), middle], fill=INK, width=max(1, round(1.2 * unit)))
        pen.ellipse([x - 2 * unit, y - 2 * unit, x + 2 * unit, y + 2 * unit], fill=INK)
    pen.rounded_rectangle(place, radius=4 * unit, fill=(*rgb(PAPER), 225), outline=(*rgb(MUTED), 160))
    pen.text((place[0] + pad - box[0], place[1] + pad - box[1]), text, font=font, fill=INK)
    taken.append(place)


def legend_entries(drawables: Drawables, camera: Camera) -> tuple[tuple[str, str], ...]:
    """Say what the colours of a picture stand for.

    Parameters
    ----------
    drawables : Drawables
        What the picture shows.
    camera : Camera
        From where. What is left out from there needs no words; a door of a wall that is cut away is thinned,
        and does.

    Returns
    -------
    tuple of (str, str)
        Words and colour, in the order in which they are listed.
    """
    seen = [f for f in drawables.faces if shown_opacity(f, camera.position) > 0.0]
    groups = {f.group for f in seen} | {"seat" for _ in drawables.dots}
    if any(f.colour == SUBWOOFER for f in seen):
        groups.add("subwoofer")
    return tuple((words, colour) for key, words, colour in _LEGEND if key in groups)


def _legend(pen: Any, drawables: Drawables, camera: Camera, unit: float, height: int, face: Any) -> Box:
    entries = legend_entries(drawables, camera)
    line, left = 26 * unit, 24 * unit
    rows = len(entries) + (3 if drawables.lines else 0)
    top = height - 20 * unit - line * rows
    box = (left - 10 * unit, top - 10 * unit, left + 340 * unit, height - 8 * unit)
    pen.rounded_rectangle(box, radius=8 * unit, fill=(*rgb(PAPER), 235), outline=(*rgb(MUTED), 120))
    for i, (words, colour) in enumerate(entries):
        y = top + line * i
        pen.rectangle([left, y + 3 * unit, left + 26 * unit, y + 19 * unit], fill=colour, outline=INK)
        pen.text((left + 38 * unit, y), words, font=face(17), fill=INK)
    if drawables.lines:
        y = top + line * len(entries)
        state = "with panels" if any(x.group == "path-after" for x in drawables.lines) else "as it is"
        pen.text((left, y), f"strongest single bounces, {state}", font=face(17), fill=INK)
        low, high = LEVEL_SCALE[0][0], LEVEL_SCALE[-1][0]
        span = 240.0
        for i in range(int(span)):
            level = low + (high - low) * i / span
            at = left + i * unit
            pen.rectangle([at, y + line, at + unit, y + line + 12 * unit], fill=level_colour(level))
        for level in (low, (low + high) / 2.0, high):
            at = left + span * unit * (level - low) / (high - low)
            words = f"{level:.0f} dB" if level < high else "0 dB re direct"
            pen.text(
                (at, y + line + 15 * unit),
                words,
                font=face(14),
                fill=INK,
                anchor="ma" if level > low else "la",
            )
    return box
