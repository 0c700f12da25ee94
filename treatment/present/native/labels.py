"""Names over the room: they keep out of each other's way, and stay close to what they name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.present.camera import Camera
from treatment.present.forms import Label
from treatment.present.native.letters import plain, text_pixels, write
from treatment.present.native.paint import rounded
from treatment.present.palette import INK, MUTED, PAPER, rgb
from treatment.present.svg import Box, meet

#: Distances from the thing that are tried, in units, each in twelve directions.
_RINGS: Final = (14.0, 26.0, 40.0, 58.0, 80.0)
_ANGLES: Final = np.arange(12) * np.pi / 6.0 - np.pi / 2.0
_RING: Final = np.concatenate([[0.0], np.repeat(_RINGS, len(_ANGLES))])
_COS: Final = np.concatenate([[0.0], np.tile(np.cos(_ANGLES), len(_RINGS))])
_SIN: Final = np.concatenate([[0.0], np.tile(np.sin(_ANGLES), len(_RINGS))])
#: Most names find a place at once, or in the two nearest rings.
_TRIES: Final = (slice(0, 1), slice(1, 25), slice(25, None))
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
    at = pixels_of(camera, np.array([x.position for x in labels]))
    count = len(taken)
    boxes = np.zeros((count + len(labels), 4))
    boxes[:count] = np.array(taken, dtype=np.float64).reshape(-1, 4)
    size = max(round(_SIZE * unit), 6)
    tall = 1.25 * _SIZE * unit + _PAD * unit
    made: list[Placed] = []
    for k in sorted(range(len(labels)), key=lambda i: labels[i].rank):
        label = labels[k]
        x, y, depth = at[k].tolist()
        if depth < 0.1 or not (0.0 <= x < width and 0.0 <= y < height):
            continue
        if label.normal is not None and (camera.position - label.position) @ label.normal <= 0.0:
            continue  # its wall is cut away
        text = plain(label.text, 34)
        half = np.array([text_pixels(text, size, bold=False) / 2.0 + _PAD * unit, tall / 2.0])
        for some in _TRIES:
            ring, cos, sin = _RING[some], _COS[some], _SIN[some]
            aside = (ring > 0.0).astype(np.float64)
            middle = np.stack(
                [
                    x + (ring * unit + aside * half[0]) * cos,
                    y + (ring * unit + aside * half[1]) * sin,
                ],
                axis=-1,
            )
            low, high = middle - half, middle + half
            if len(ring) == 1 and not _one_free(low[0].tolist(), high[0].tolist(), made, camera.size):
                continue  # most names are told apart here, without arrays
            free = _free(low, high, boxes[:count], camera.size)
            if len(free):
                best = int(free[0])
                boxes[count, :2], boxes[count, 2:] = middle[best] - half, middle[best] + half
                left, top, right, bottom = boxes[count].tolist()
                count += 1
                leader = bool(ring[best] > _LEADER)
                made.append(Placed(text, (left, top, right, bottom), (float(x), float(y)), leader))
                break
        # A name without a place is left out: a click on the thing still tells it.
    return tuple(made)


def _one_free(low: list[float], high: list[float], made: Sequence[Placed], size: tuple[int, int]) -> bool:
    """Whether a box may lie in the picture and meets no name; what else is taken is not looked at."""
    if min(low) < 0.0 or high[0] > size[0] or high[1] > size[1]:
        return False
    box = (low[0], low[1], high[0], high[1])
    return not any(meet(box, p.box) for p in made)


def _free(low: Array, high: Array, taken: Array, size: tuple[int, int]) -> NDArray[np.intp]:
    """Which boxes lie in the picture and meet nothing."""
    fits = np.all(low >= 0.0, axis=1) & np.all(high <= size, axis=1)
    meets = (
        (low[:, None, 0] < taken[:, 2])
        & (taken[:, 0] < high[:, None, 0])
        & (low[:, None, 1] < taken[:, 3])
        & (taken[:, 1] < high[:, None, 1])
    )
    return np.flatnonzero(fits & ~meets.any(axis=1))


def pixels_of(camera: Camera, points: Array) -> Array:
    """Place points in the picture, also those beside and behind the eye.

    Parameters
    ----------
    camera : Camera
        From where the room is seen.
    points : numpy.ndarray
        Shape (k, 3), m.

    Returns
    -------
    numpy.ndarray
        As from `Camera.pixels`, shape (k, 3); -1 for what has no place.
    """
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
    radius, fill, line = round(4.0 * unit, 3), (*rgb(PAPER), 225), (*rgb(MUTED), 150)
    size = max(round(_SIZE * unit), 6)
    for x in placed:
        if x.leader:
            middle = ((x.box[0] + x.box[2]) / 2.0, (x.box[1] + x.box[3]) / 2.0)
            pen.line([x.point, middle], fill=INK, width=max(1, round(unit)))
    for x in placed:
        left, top, right, bottom = x.box
        stamp = rounded(round(right - left), round(bottom - top), radius, fill, line, 1)
        picture.paste(stamp, (round(left), round(top)))
        middle = ((x.box[0] + x.box[2]) / 2.0, (x.box[1] + x.box[3]) / 2.0)
        write(picture, middle, x.text, size, bold=False, colour=INK, anchor="mm")
