"""The window: events of the toolkit become actions of the desk, and its pictures become pixels.

This is all that needs a screen. What is shown is decided in `desk`, what it looks like in `canvas`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numpy as np

from treatment.present.native.canvas import Canvas
from treatment.present.native.desk import Desk
from treatment.present.native.keys import ACTIONS
from treatment.present.native.paint import Pixels
from treatment.present.native.veil import Sheet

#: A press that moves less than this is a click, in pixels.
_STILL_PX: Final = 4
#: How often finished steps are looked for, ms.
_EVERY_MS: Final = 60
_SOFTWARE: Final = ("llvmpipe", "softpipe", "swrast", "swiftshader")


class Window:
    """A window on a desk.

    Parameters
    ----------
    desk : Desk
        What it shows.
    keep : callable
        Given the window's pixels, writes a picture and returns where, in words.
    off_screen : bool
        True opens no window: events can be sent, nothing is waited for.
    """

    def __init__(
        self, desk: Desk, keep: Callable[[Pixels], str] = lambda _: "", *, off_screen: bool = False
    ) -> None:
        import pyvista
        from vtkmodules.vtkInteractionStyle import vtkInteractorStyleUser
        from vtkmodules.vtkRenderingCore import vtkRenderer

        self.desk, self._keep = desk, keep
        self.plotter: Any = pyvista.Plotter(
            window_size=list(desk.size), lighting="none", off_screen=off_screen,
        )  # fmt: skip
        window: Any = self.plotter.ren_win
        self._room = self.plotter.renderer
        self._beside = vtkRenderer()
        self._beside.SetInteractive(False)
        window.AddRenderer(self._beside)
        self._over, self._side = Sheet(self._room), Sheet(self._beside, solid=True)
        self.canvas = Canvas(self.plotter, desk)
        self._split()
        self._pressed: tuple[int, int] | None = None
        self._at = (0, 0)
        self._button = ""
        self._far = False
        interactor = self.plotter.iren.interactor if self.plotter.iren else None
        if interactor is not None:
            interactor.SetInteractorStyle(vtkInteractorStyleUser())
            self._listen(interactor)

    def _listen(self, interactor: Any) -> None:
        # The toolkit's own keys (q, e, w, s, ...) must do nothing beside ours.
        self.plotter.iren.remove_observers()
        for event in ("CharEvent", "KeyPressEvent"):
            interactor.RemoveObservers(event)
        for event, answer in (
            ("LeftButtonPressEvent", lambda *_: self._press("left")),
            ("MiddleButtonPressEvent", lambda *_: self._press("middle")),
            ("RightButtonPressEvent", lambda *_: self._press("right")),
            ("LeftButtonReleaseEvent", lambda *_: self._release()),
            ("MiddleButtonReleaseEvent", lambda *_: self._release()),
            ("RightButtonReleaseEvent", lambda *_: self._release()),
            ("MouseMoveEvent", lambda *_: self._move()),
            ("MouseWheelForwardEvent", lambda *_: self._wheel(0.9)),
            ("MouseWheelBackwardEvent", lambda *_: self._wheel(1.0 / 0.9)),
            ("KeyPressEvent", lambda *_: self._key_pressed()),
            ("ConfigureEvent", lambda *_: self._resized()),
            ("TimerEvent", lambda *_: self._tick()),
        ):
            interactor.AddObserver(event, answer)

    @property
    def _interactor(self) -> Any:
        return self.plotter.iren.interactor

    def run(self) -> None:
        """Show the window until it is closed."""
        if any(word in (self.plotter.ren_win.ReportCapabilities() or "").lower() for word in _SOFTWARE):
            # Without a graphics card smoothing would cost more than all the rest.
            self.plotter.ren_win.SetMultiSamples(0)
        self.plotter.ren_win.SetWindowName(self.desk.scene.title[:80] or "room")
        self.render()
        if self._interactor is not None:
            self._interactor.Initialize()
            self._interactor.CreateRepeatingTimer(_EVERY_MS)
            self._interactor.Start()
        self.plotter.close()

    def render(self) -> None:
        """Bring everything up to date and paint it."""
        self.canvas.update()
        self._over.show(self.desk.overlay())
        self._side.show(self.desk.side().pixels())
        self.plotter.ren_win.Render()

    def _split(self) -> None:
        part = self.desk.view_size[0] / self.desk.size[0]
        self._room.SetViewport(0.0, 0.0, part, 1.0)
        self._beside.SetViewport(part, 0.0, 1.0, 1.0)

    # --- events --------------------------------------------------------------------------------

    def _place(self) -> tuple[int, int]:
        """Pointer from the upper left corner; the toolkit counts from the lower one."""
        x, y = self._interactor.GetEventPosition()
        return x, self.desk.size[1] - 1 - y

    def _press(self, button: str) -> None:
        self._pressed = self._at = self._place()
        self._button, self._far = button, False

    def _move(self) -> None:
        if self._pressed is None:
            return
        x, y = self._place()
        right, down = x - self._at[0], y - self._at[1]
        self._far |= max(abs(x - self._pressed[0]), abs(y - self._pressed[1])) >= _STILL_PX
        if not self._far or self._pressed[0] >= self.desk.view_size[0]:
            return
        self._at = (x, y)
        self.drag(self._button, right, down, shift=bool(self._interactor.GetShiftKey()))

    def drag(self, button: str, right: int, down: int, *, shift: bool = False) -> None:
        """Answer to a drag.

        Parameters
        ----------
        button : str
            ``left``, ``middle`` or ``right``.
        right, down : int
            In pixels.
        shift : bool
            Whether shift is held.
        """
        if button == "right":
            self.desk.zoom(float(np.exp(0.006 * down / self.desk.unit)))
        else:
            self.desk.drag(right, down, move=shift or button == "middle")
        self.render()

    def _release(self) -> None:
        pressed, self._pressed = self._pressed, None
        if pressed is not None and not self._far and self._button == "left":
            self.click(*pressed)

    def click(self, x: int, y: int) -> None:
        """Answer to a click.

        Parameters
        ----------
        x, y : int
            Pixel from the upper left corner.
        """
        self.act(self.desk.click(x, y))

    def _wheel(self, factor: float) -> None:
        self.desk.zoom(factor)
        self.render()

    def _key_pressed(self) -> None:
        interactor = self._interactor
        self.key(interactor.GetKeySym() or "", shift=bool(interactor.GetShiftKey()))

    def key(self, symbol: str, *, shift: bool = False) -> None:
        """Answer to a key.

        Parameters
        ----------
        symbol : str
            Name of the key in the toolkit.
        shift : bool
            Whether shift is held: arrows move then.
        """
        action = ACTIONS.get(symbol, "")
        self.act(action.replace("turn:", "move:") if shift else action)

    def act(self, action: str) -> None:
        """Take an action and show what it made.

        Parameters
        ----------
        action : str
            See `Desk.act`; also ``still`` and ``close``.
        """
        if not action:
            return
        if action == "close":
            self._interactor.TerminateApp()
            return
        if action == "still":
            words = self._keep(self.pixels())
            self.desk.act("")
            self.desk.note = words
        else:
            self.desk.act(action)
        self.render()

    def pixels(self) -> Pixels:
        """What the window shows, shape (rows, columns, 3), uint8."""
        from vtkmodules.util import numpy_support
        from vtkmodules.vtkRenderingCore import vtkWindowToImageFilter

        self.render()
        grab = vtkWindowToImageFilter()
        grab.SetInput(self.plotter.ren_win)
        grab.SetInputBufferTypeToRGB()
        grab.ReadFrontBufferOff()
        grab.Update()
        picture = grab.GetOutput()
        width, height, _ = picture.GetDimensions()
        as_array: Any = numpy_support.vtk_to_numpy  # the toolkit's helper is untyped
        rows = np.asarray(as_array(picture.GetPointData().GetScalars())).reshape(height, width, 3)
        return np.array(rows[::-1])

    def _resized(self) -> None:
        size = tuple(int(x) for x in self.plotter.ren_win.GetSize())
        if size != self.desk.size and min(size) > 0:
            self.desk.resize((size[0], size[1]))
            self._split()
            self.render()

    def _tick(self) -> None:
        self._resized()
        if self.desk.steps.poll(self.desk.state.step):
            self.render()


def keeper(folder: Path, stem: str) -> Callable[[Pixels], str]:
    """Make something that keeps pictures under names that are not taken.

    Parameters
    ----------
    folder : Path
        Where.
    stem : str
        Beginning of the names.

    Returns
    -------
    callable
        Writes pixels to ``<stem>-1.png``, ``-2`` and so on, and says where, or why not.
    """

    def keep(pixels: Pixels) -> str:
        from PIL import Image

        number = 1
        while (path := folder / f"{stem}-{number}.png").exists():
            number += 1
        try:
            Image.fromarray(pixels).save(path)
        except OSError as error:
            return f"no picture: {error.strerror or error}"
        return f"kept as {path}"

    return keep
