"""How long a change takes until it is seen in the window: ``python tests/bench/bench_window.py``.

Eleven loudspeakers and six seats: the shipped basement with one more seat, and eighteen panels. The window is
driven without a screen. Beside the whole time stands the part that the toolkit needs to render: with a
software OpenGL it is most of it, with a graphics card next to nothing.
"""

import os
import sys
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from treatment.bands import frozen
from treatment.geometry.polygon import Rectangle
from treatment.planning.evaluate import evaluate
from treatment.planning.legal import review_placements
from treatment.planning.plan import Placement
from treatment.present.native.desk import Desk
from treatment.present.native.steps import OnDemand
from treatment.scene.load import load_scene, resolve_scene
from treatment.scene.model import Scene, Seat

ACTIONS = (
    "loudspeaker:next", "seat:next", "order:next", "band:next", "colouring", "zones", "before-after",
    "step:previous", "step:next", "names", "help", "help", "view:plan", "view:seat", "view:corner",
    "turn:left",
)  # fmt: skip


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


def measure(name: str, change: Callable[[], None], render: Callable[[], None]) -> tuple[float, float]:
    start, cpu = time.perf_counter(), time.process_time()
    change()
    wall, busy = time.perf_counter() - start, time.process_time() - cpu
    start, cpu = time.perf_counter(), time.process_time()
    render()
    bare = time.process_time() - cpu
    print(
        f"{name:18} {1e3 * wall:5.0f} ms, processor {1e3 * busy:5.0f} ms, "
        f"of which rendering {1e3 * bare:5.0f} ms"
    )
    return wall, busy - bare


if __name__ == "__main__":
    if sys.platform == "linux":
        os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    from treatment.present.native.window import Window

    scene, placements = room()
    steps = OnDemand(scene, placements)
    for k in range(len(placements) + 1):
        steps.get(k)  # the window has them worked out ahead
    begin = time.process_time()
    evaluate(scene, placements)
    print(f"{len(scene.loudspeakers)} loudspeakers, {len(scene.seats)} seats, {len(placements)} panels")
    print(f"one step worked out ahead: processor {1e3 * (time.process_time() - begin):.0f} ms")
    begin = time.perf_counter()
    window = Window(Desk(scene, placements, steps, (1400, 900)), off_screen=True)
    window.plotter.ren_win.SetMultiSamples(0)
    window.render()
    print(f"opening the window: {1e3 * (time.perf_counter() - begin):.0f} ms")
    window.act("seat:-1")
    rest = [measure(a, lambda a=a: window.act(a), window.plotter.ren_win.Render)[1] for a in ACTIONS]
    rest.append(measure("a drag's step", lambda: window.drag("left", 9, 3), window.plotter.ren_win.Render)[1])
    middle = 1e3 * float(np.median(rest))
    print(f"without rendering: at most {1e3 * max(rest):.0f} ms, {middle:.0f} ms in the middle")
