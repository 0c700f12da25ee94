"""Opening the window, or writing what it would show to a file."""

from __future__ import annotations

import ctypes
import os
import pickle
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from treatment.planning.plan import Placement
from treatment.present.native.desk import Desk
from treatment.present.native.state import ViewState
from treatment.present.native.steps import Ahead, OnDemand
from treatment.present.ray_times import RayTimes
from treatment.present.viewer import HINT, ViewerError, render_apart
from treatment.scene.model import Scene

_HINT: Final = "a window needs a desktop session; use `--still FILE` for a picture, or `--browser`"
_SIZE: Final = (1400, 900)
_CHILD: Final = "from treatment.present.native.open import child; child()"


def open_window(
    scene: Scene,
    placements: Sequence[Placement],
    state: ViewState,
    folder: Path,
    stem: str,
    rays: Sequence[RayTimes] = (),
) -> None:
    """Open the window and wait until it is closed.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        All panels, in the order of their benefit.
    state : ViewState
        What is chosen at first.
    folder : Path
        Where pictures are kept.
    stem : str
        Beginning of their names.
    rays : sequence of RayTimes
        What rays found before and after, see `Desk`.

    Raises
    ------
    ViewerError
        When there is no screen, or OpenGL or pyvista does not work here.
    """
    if sys.platform.startswith("linux") and not _screen_answers():
        raise ViewerError("there is no screen to open a window on", hint=_HINT)
    try:
        from treatment.present.native.window import Window, keeper

        steps = Ahead(scene, placements, state.step)
        try:
            Window(Desk(scene, placements, steps, _SIZE, state, rays), keeper(folder, stem)).run()
        finally:
            steps.close()
    except ImportError as problem:
        raise ViewerError(f"the 3D toolkit cannot be loaded: {problem}", hint=HINT) from None
    except (RuntimeError, OSError) as problem:
        raise ViewerError(f"no window can be opened here: {problem}", hint=_HINT) from None


def write_still(
    scene: Scene,
    placements: Sequence[Placement],
    state: ViewState,
    path: Path,
    size: tuple[int, int] = _SIZE,
    rays: Sequence[RayTimes] = (),
) -> None:
    """Write what a window would show.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        All panels, in the order of their benefit.
    state : ViewState
        What is chosen.
    path : Path
        PNG file to write.
    size : tuple of int
        Width and height in pixels.
    rays : sequence of RayTimes
        What rays found before and after, see `Desk`.

    Raises
    ------
    ViewerError
        When no picture can be rendered, or the file cannot be written.
    """
    if not path.resolve().parent.is_dir():
        raise ViewerError(f"'{path.resolve().parent}' does not exist", where="--still", hint="make it first")
    render_apart(_CHILD, pickle.dumps((scene, tuple(placements), state, str(path), size, tuple(rays))), path)


def child() -> None:
    """Render the job that stands on standard input; the child's whole life."""
    from PIL import Image

    from treatment.present.native.still import still_of

    scene, placements, state, path, size, rays = pickle.loads(sys.stdin.buffer.read())
    picture = still_of(Desk(scene, placements, OnDemand(scene, placements), size, state, rays))
    Image.fromarray(picture).save(path, format="PNG", optimize=True)


def _screen_answers() -> bool:
    """Whether an X server answers; the toolkit would only mutter, and show nothing."""
    if not os.environ.get("DISPLAY"):
        return False
    try:
        x11 = ctypes.CDLL("libX11.so.6")
    except OSError:
        return False
    x11.XOpenDisplay.restype = ctypes.c_void_p
    x11.XCloseDisplay.argtypes = [ctypes.c_void_p]
    display = x11.XOpenDisplay(None)
    if not display:
        return False
    x11.XCloseDisplay(display)
    return True
