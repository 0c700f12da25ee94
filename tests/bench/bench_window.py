"""What a change in the window costs: ``python tests/bench/bench_window.py [FOLDER]``.

Eleven loudspeakers and six seats: the shipped basement with one more seat, and eighteen panels; or the room
and the panels of a folder that ``plan`` wrote. The window is driven without a screen. Printed is processor
time in units of one plain re-render of the same picture: the program's own share (everything but Render() of
the toolkit), and the share of Render(), with what the change makes it upload. Each change is made several
times; the middle one counts.
"""

import os
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from treatment.bands import frozen
from treatment.geometry.polygon import Rectangle
from treatment.planning.legal import review_placements
from treatment.planning.plan import Placement
from treatment.present.native.desk import Desk
from treatment.present.native.steps import OnDemand
from treatment.scene.load import load_scene, resolve_scene
from treatment.scene.model import Scene, Seat

#: Every kind of change; those with two ends are made there and back.
ACTIONS = (
    "loudspeaker:next", "seat:next", "order:next", "band:next", "colouring", "before-after", "step:previous",
    "step:next", "names", "view:plan", "view:seat", "view:corner", "turn:left", "help", "zones",
)  # fmt: skip
#: The same again while zones are painted on the walls.
WITH_ZONES = ("loudspeaker:next", "seat:next", "band:next", "step:previous")
ROUNDS = 6


def room() -> tuple[Scene, tuple[Placement, ...]]:
    scene, _ = load_scene(resolve_scene("basement"))
    seats = (*scene.seats, Seat("row 2 middle", frozen([5.6, 1.65, 1.1]), 0.15))
    scene = replace(scene, seats=seats)
    build = next(b for b in scene.builds if b.id == "deep-wool")
    placements: list[Placement] = []
    for surface in (0, 4, 5, 7):
        low_u, low_v, high_u, _ = scene.surfaces[surface].polygon.bounds
        for u in np.arange(low_u + 0.1, high_u - 0.8, 0.75):
            rectangle = Rectangle(float(u), low_v + 0.6, build.width, build.height)
            panel = Placement(f"P{len(placements) + 1}", build, surface, rectangle)
            if len(placements) < 18 and not review_placements(scene, (*placements, panel)):
                placements.append(panel)
    return scene, tuple(placements)


def measure(window: Any, change: Callable[[], None]) -> tuple[float, float, float]:
    """Processor time of a change: own share, Render() within it, and one plain Render() after it, s."""
    toolkit = window.plotter.ren_win
    spent = []

    class Timed:
        """Stands in for the toolkit's window while the change is made."""

        def Render(self) -> None:
            start = time.process_time()
            toolkit.Render()
            spent.append(time.process_time() - start)

        def __getattr__(self, name: str) -> Any:
            return getattr(toolkit, name)

    window.plotter.ren_win = Timed()
    start = time.process_time()
    change()
    whole = time.process_time() - start
    window.plotter.ren_win = toolkit
    toolkit.Render()
    start = time.process_time()
    toolkit.Render()
    return whole - sum(spent), sum(spent), time.process_time() - start


if __name__ == "__main__":
    if sys.platform == "linux":
        os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    from treatment.present.native.window import Window
    from treatment.present.reopen import read_room

    scene, placements = read_room(Path(sys.argv[1])) if len(sys.argv) > 1 else room()
    steps = OnDemand(scene, placements)
    for k in range(len(placements) + 1):
        steps.get(k)  # the window has them worked out ahead
    print(f"{len(scene.loudspeakers)} loudspeakers, {len(scene.seats)} seats, {len(placements)} panels")
    window = Window(Desk(scene, placements, steps, (1400, 900)), off_screen=True)
    window.plotter.ren_win.SetMultiSamples(0)
    window.render()
    window.act("seat:-1")
    print("change                  own  Render()   own ms  Render() ms")
    worst = 0.0
    for zones, actions in ((False, (*ACTIONS, "drag")), (True, WITH_ZONES)):
        if zones:
            window.act("zones")
        for name in actions:
            act = (
                (lambda: window.drag("left", 9, 3))
                if name == "drag"
                else (lambda name=name: window.act(name))
            )
            own, render, plain = np.median([measure(window, act) for _ in range(ROUNDS)], axis=0)
            worst = max(worst, own)
            words = f"{name}, zones" if zones else name
            print(
                f"{words:23} {own / plain:4.2f} {render / plain:9.2f} {1e3 * own:8.0f} {1e3 * render:12.0f}"
            )
    print(f"own share at most {1e3 * worst:.0f} ms of processor time")
