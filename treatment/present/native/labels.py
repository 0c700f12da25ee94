"""Names over the room: they keep out of each other's way, and stay close to what they name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from treatment.bands import Array
from treatment.present.camera import Camera
from treatment.present.forms import Label
from treatment.present.native.card import font, plain, write
from treatment.present.palette import INK, MUTED, PAPER, rgb
from treatment.present.svg import Box

#: Distances from the thing that are tried, in units, each in twelve directions.
_RINGS: Final = (14.0, 26.0, 40.0, 58.0, 80.0)
_ANGLES: Final = np.arange(12) * np.pi / 6.0 - np.pi / 2.0
_RING: Final = np.concatenate([[0.0], np.repeat(_RINGS, len(_ANGLES))])
_COS: Final = np.concatenate([[0.0], np.tile(np.cos(_ANGLES), len(_RINGS))])
_SIN: Final = np.concatenate([[0.0], np.tile(np.sin(_ANGLES), len(_RINGS))])
_PAD: Final = 4.0
#: From here on a line leads from the name to the thing, in units.
_LEADER: Final = 20.0
_SIZE: Final = 13.0


@dataclass(frozen=True)
class Placed:
    """A name and its place, in pixels.

    Parameters
    ----------
    text : str
        The name.
    box : tuple of float
        Left, top, right, bottom.
    point : tuple of float
        Where the thing is.
    leader : bool
        Whether a line leads there.
    """

    text: str
    box: Box
    point: tuple[float, float]
    leader: bool


def place_labels(
    labels: Sequence[Label], camera: Camera, unit: float, taken: Sequence[Box] = ()
) -> tuple[Placed, ...]:
    """Find places for names.

    Parameters
    ----------
    labels : sequence of Label
        Names; low ranks are placed first.
    camera : Camera
        From where the room is seen.
    unit : float
        Pixels to a unit.
    taken : sequence of Box
        What must not be covered, in pixels.

    Returns
    -------
    tuple of Placed
        Boxes that meet neither each other nor what is taken; a name that finds no place is left out.
    """
    if not labels:
        return ()
    width, height = camera.size
    at = _pixels(camera, np.array([x.position for x in labels]))
    boxes = [np.array(taken, dtype=np.float64).reshape(-1, 4)]
    face = font(max(round(_SIZE * unit), 6))
    tall = 1.25 * _SIZE * unit + _PAD * unit
    made = []
    for k in sorted(range(len(labels)), key=lambda i: labels[i].rank):
        label = labels[k]
        x, y, depth = at[k]
        if depth < 0.1 or not (0.0 <= x < width and 0.0 <= y < height):
            continue
        if label.normal is not None and (camera.position - label.position) @ label.normal <= 0.0:
            continue  # its wall is cut away
        text = plain(label.text, 34)
        half = np.array([face.getlength(text) / 2.0 + _PAD * unit, tall / 2.0])
        middle = np.stack(
            [
                x + (_RING * unit + np.where(_RING > 0.0, half[0], 0.0)) * _COS,
                y + (_RING * unit + np.where(_RING > 0.0, half[1], 0.0)) * _SIN,
            ],
            axis=-1,
        )
        low, high = middle - half, middle + half
        fits = np.all(low >= 0.0, axis=1) & np.all(high <= [width, height], axis=1)
        others = np.concatenate(boxes)
        meets = (
            (low[:, None, 0] < others[:, 2])
            & (others[:, 0] < high[:, None, 0])
            & (low[:, None, 1] < others[:, 3])
            & (others[:, 1] < high[:, None, 1])
        )
        free = np.flatnonzero(fits & ~meets.any(axis=1))
        if len(free) == 0:
            continue  # a click on the thing still tells its name
        best = int(free[0])
        box = (*low[best].tolist(), *high[best].tolist())
        boxes.append(np.array([box]))
        made.append(Placed(text, box, (float(x), float(y)), bool(_RING[best] > _LEADER)))
    return tuple(made)


def _pixels(camera: Camera, points: Array) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.nan_to_num(camera.pixels(points), nan=-1.0, posinf=-1.0, neginf=-1.0)


def paint_labels(picture: Any, placed: Sequence[Placed], unit: float) -> None:
    """Write names.

    Parameters
    ----------
    picture : PIL.Image.Image
        RGBA.
    placed : sequence of Placed
        From `place_labels`.
    unit : float
        Pixels to a unit.
    """
    from PIL import ImageDraw

    pen = ImageDraw.Draw(picture)
    size = max(round(_SIZE * unit), 6)
    for x in placed:
        if x.leader:
            middle = ((x.box[0] + x.box[2]) / 2.0, (x.box[1] + x.box[3]) / 2.0)
            pen.line([x.point, middle], fill=INK, width=max(1, round(unit)))
    for x in placed:
        pen.rounded_rectangle(x.box, radius=4.0 * unit, fill=(*rgb(PAPER), 225), outline=(*rgb(MUTED), 150))
        middle = ((x.box[0] + x.box[2]) / 2.0, (x.box[1] + x.box[3]) / 2.0)
        write(picture, middle, x.text, size, bold=False, colour=INK, anchor="mm")
