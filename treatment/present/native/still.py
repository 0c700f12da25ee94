"""A desk as one picture, without a window."""

from __future__ import annotations

from typing import Any

import numpy as np

from treatment.present.native.canvas import Canvas
from treatment.present.native.desk import Desk
from treatment.present.native.paint import Pixels


def still_of(desk: Desk) -> Pixels:
    """Render what a window would show.

    Parameters
    ----------
    desk : Desk
        What to show; its size is the picture's.

    Returns
    -------
    numpy.ndarray
        Shape (rows, columns, 3), uint8.
    """
    import pyvista

    plotter = pyvista.Plotter(off_screen=True, window_size=list(desk.view_size), lighting="none")
    plotter.enable_anti_aliasing("msaa", multi_samples=8)
    Canvas(plotter, desk)
    room = plotter.screenshot(None, return_img=True)
    plotter.close()
    return composed(room, desk)


def composed(room: Any, desk: Desk) -> Pixels:
    """Lay the cards over and beside a picture of the room.

    Parameters
    ----------
    room : numpy.ndarray
        Picture of the room without cards, shape (rows, columns, 3), uint8.
    desk : Desk
        With its cards.

    Returns
    -------
    numpy.ndarray
        Shape (rows, columns, 3), uint8, as large as the window.
    """
    over = desk.overlay().astype(np.float64)
    part = over[..., 3:] / 255.0
    left = np.rint(room * (1.0 - part) + over[..., :3] * part).astype(np.uint8)
    return np.concatenate([left, desk.side().pixels()[..., :3]], axis=1)
