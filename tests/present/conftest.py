"""A hand-built room with eight panels, the same with hostile names, and planners in a browser. Invented."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from treatment.air import Air
from treatment.bands import frozen
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import Polygon, Rectangle
from treatment.geometry.shapes import box, solid_box, subtract_contacts
from treatment.materials.build import Layer, PanelBuild
from treatment.materials.material import Material, Provenance
from treatment.planning.evaluate import evaluate
from treatment.planning.lists import Blocked, Cut, ShoppingItem
from treatment.planning.plan import Placement, Plan
from treatment.scene.model import Budget, KeepOut, Loudspeaker, Opening, Scene, Seat, Subwoofer, Surface

# `browser_hands`, which tests in a browser share, is a script beside the tests and no package.
sys.path.insert(0, str(Path(__file__).parent))

HOSTILE = "</script><script>alert('1')</script> & \"x\" ]]> </svg>"


def material(name: str, *absorption: float, category: str = "wall") -> Material:
    return Material(
        name,
        name,
        category,
        frozen(absorption),
        frozen(np.full(8, 0.1)),
        np.arange(8) == 0,
        Provenance("invented"),
    )


GYPSUM = material("gypsum", 0.25, 0.25, 0.12, 0.06, 0.05, 0.04, 0.04, 0.04)
CARPET = material("carpet", 0.03, 0.03, 0.08, 0.22, 0.40, 0.50, 0.55, 0.60)
DOOR = material("door", 0.14, 0.14, 0.10, 0.06, 0.08, 0.10, 0.10, 0.10)
GLASS = material("glass", 0.30, 0.30, 0.20, 0.12, 0.08, 0.06, 0.04, 0.04)
STEEL = material("steel", 0.01, 0.01, 0.01, 0.02, 0.02, 0.02, 0.02, 0.02)
WOOL = material("wool", 0.30, 0.45, 0.85, 0.98, 0.99, 1.00, 1.00, 1.00)


def build(name: str = "deep-wool", width: float = 0.6, height: float = 1.2) -> PanelBuild:
    return PanelBuild(
        name, "100 mm mineral wool in a timber frame", width, height, 0.1, 0.05, WOOL, "predicted", 31.5,
        ("wall", "ceiling"), (Layer(12500.0, 0.1, 40.0),), 6.4, 0.018, "open-weave fabric",
    )  # fmt: skip


def make_scene(odd: str = "") -> Scene:
    """Make the room; `odd` is added to every name that a scene file may choose."""
    shell = box(5.4, 3.6, 2.5)
    names = ["front", "back", "left", "right", "floor", "ceiling"]
    kinds = [GYPSUM, GYPSUM, GYPSUM, GYPSUM, CARPET, GYPSUM]
    post = solid_box([4.9, 0.6, 0.0], [0.14, 0.14, 2.5])
    parts = subtract_contacts([*shell, *post])
    surfaces = [
        Surface(n, p, m, o)
        for n, p, m, o in zip(
            [*names, *["post" + odd] * 6],
            parts,
            [*kinds, *[STEEL] * 6],
            [""] * 6 + ["post" + odd] * 6,
            strict=True,
        )
        if p is not None
    ]
    polygons: list[Polygon] = [s.polygon for s in surfaces]
    loudspeakers = {
        "L": (0.45, 0.75, 1.1, "M+030"), "C": (0.35, 1.8, 0.8, "M+000"), "R": (0.45, 2.85, 1.1, "M-030"),
        "SL": (4.1, 0.2, 1.3, "M+110"), "SR": (4.1, 3.4, 1.3, "M-110"),
    }  # fmt: skip
    seats = {"left seat": 1.2, "centre": 1.8, "right seat": 2.4}
    return Scene(
        "Garden-room cinema" + odd, "box", "m", Air(), Enclosure(tuple(polygons)), tuple(surfaces),
        (
            Opening("door" + odd, 1, Rectangle(2.5, 0.0, 0.82, 2.03), DOOR),
            Opening("window", 3, Rectangle(3.4, 0.9, 1.2, 1.1), GLASS),
        ),
        (
            KeepOut("fuse board" + odd, 2, Rectangle(3.1, 0.0, 0.76, 2.0), 0.92, "electrical"),
            KeepOut("smoke detector", 5, Rectangle(2.6, 1.7, 0.2, 0.2), 0.3, "detector"),
        ),
        tuple(Loudspeaker(n + odd, frozen(p[:3]), p[3]) for n, p in loudspeakers.items()),
        (Subwoofer("S1" + odd, frozen([0.35, 1.2, 0.25])),),
        tuple(Seat(n + odd, frozen([3.55, y, 1.1]), 0.15) for n, y in seats.items()),
        (replace(build(), id="deep-wool" + odd),),
        Budget(450.0, "EUR" + odd),
        "listening-room",
    )  # fmt: skip


def make_plan(odd: str = "") -> Plan:
    scene = make_scene(odd)
    kind = scene.builds[0]
    upright = [(2, 0.95, 0.5), (2, 1.65, 0.5), (3, 0.95, 0.5), (3, 1.65, 0.5), (1, 0.9, 0.6), (1, 1.6, 0.6)]
    lying = [(5, 1.6, 0.9), (5, 1.6, 2.1)]
    placements = [
        Placement(
            f"P{i + 1}",
            kind,
            s,
            Rectangle(u, v, 0.6, 1.2),
            ("covers the reflection of L" + odd, "keeps the walls alike"),
        )
        for i, (s, u, v) in enumerate(upright)
    ] + [
        Placement(f"P{i + 7}", kind, s, Rectangle(u, v, 1.2, 0.6), ("covers the ceiling reflection of C",))
        for i, (s, u, v) in enumerate(lying)
    ]
    return Plan(
        scene,
        tuple(placements),
        evaluate(scene),
        evaluate(scene, placements),
        (
            ShoppingItem("mineral wool slab 0.6 x 1.2 m" + odd, 8, "piece", 14.0, 112.0, "4 in a pack"),
            ShoppingItem("planed timber 18 x 150 mm", 32.4, "m", 2.2, 71.28, "frames"),
        ),
        (
            Cut("frame side" + odd, "planed timber 18 x 150 mm", 1.2, 0.15, 16, ("P1", "P2")),
            Cut("frame end", "planed timber 18 x 150 mm", 0.564, 0.15, 16, ("P1", "P2")),
        ),
        ("Find the studs; plasterboard alone does not hold a panel." + odd,),
        (Blocked("L" + odd, "centre", "left", "fuse board (electrical)" + odd, "move the seat by 0.3 m"),),
        ("Placed panels at the strongest reflections first." + odd,),
    )  # fmt: skip


@pytest.fixture(scope="session")
def plan() -> Plan:
    return make_plan()


@pytest.fixture(scope="session")
def hostile_plan() -> Plan:
    return make_plan(HOSTILE)


@pytest.fixture(scope="session")
def opengl() -> None:
    """Skip with a reason where no picture can be rendered; a child tries, for VTK may abort."""
    code = (
        "import pyvista as pv; p = pv.Plotter(off_screen=True, window_size=(64, 64)); "
        "p.add_mesh(pv.Cube()); p.screenshot(None, return_img=True)"
    )
    env = (
        {**os.environ, "VTK_DEFAULT_OPENGL_WINDOW": "vtkEGLRenderWindow"} if sys.platform == "linux" else None
    )
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, timeout=60, check=False)
    if done.returncode != 0:
        pytest.skip("OpenGL is missing: no off-screen picture can be rendered")


SCENES = Path(__file__).parents[2] / "scenes"
CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
    "--disable-quic", "--disable-background-networking",
]  # fmt: skip
#: Without the PDF, which has tests of its own and takes as long as all the rest of a saved plan.
RUN = (
    "import sys; from pathlib import Path; from treatment.present.browser import serve; "
    "sys.modules['weasyprint'] = None; "
    "serve(Path(sys.argv[1]), Path(sys.argv[2]), open_browser=False)"
)


class Planner:
    """A planner in a process of its own, and what it has on disk."""

    def __init__(self, subject, folder):
        self.folder = folder
        command = [sys.executable, "-c", RUN, str(subject), str(folder)]
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
        line = self.process.stderr.readline()
        if "http://" not in line:
            said = self.process.communicate(timeout=20)[1]
            raise AssertionError(f"the planner did not start: {line}{said}")
        self.address = re.search(r"http://\S+", line)[0]

    def room(self):
        return tomllib.loads((self.folder / "working-room.toml").read_text(encoding="utf-8"))

    def session(self):
        return json.loads((self.folder / "session.json").read_text(encoding="utf-8"))

    def panels(self):
        session = self.session()
        return session["steps"][session["at"]]["panels"]

    def stop(self, number=signal.SIGTERM):
        if self.process.poll() is None:
            self.process.send_signal(number)
        self.process.wait(20)
        self.process.stderr.close()


@pytest.fixture(scope="module")
def chromium():
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        yield None
        return
    if not CHROMIUM.exists():
        yield None
        return
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def visit(chromium, lack, tmp_path):
    """Start a planner and open its page; the page must run without a word of complaint."""
    if chromium is None:
        lack("needs playwright and /usr/bin/chromium")
    contexts, planners, complaints = [], [], []

    def begin(subject=SCENES / "garden-room.toml", folder=tmp_path / "work", **context):
        planner = Planner(subject, folder)
        planners.append(planner)
        contexts.append(chromium.new_context(viewport={"width": 1440, "height": 900}, **context))
        page = contexts[-1].new_page()
        page.set_default_timeout(30_000)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda m: complaints.append(m.text) if "Security Policy" in m.text else None)
        page.on("dialog", lambda d: complaints.append(f"dialog: {d.message}"))
        page.goto(planner.address)
        page.wait_for_selector("#facts")
        return planner, page

    yield begin
    for context in contexts:
        context.close()
    for planner in planners:
        planner.stop()
    assert complaints == []
