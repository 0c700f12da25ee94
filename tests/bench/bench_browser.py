"""How long an edit takes until its numbers are there: ``python tests/bench/bench_browser.py [SCENE ...]``.

Prints a table: a line per scene with the planner's own panels in it, a column per kind of edit. Each is the
middle of three, in milliseconds of this machine, from the page's request to the document that it paints;
behind it how many times as long a plain `evaluate` without memory takes for the same.
"""

import statistics
import sys
import tempfile
import time
from pathlib import Path

from treatment.planning.evaluate import evaluate
from treatment.planning.make import make_plan
from treatment.present.browser_asked import Room
from treatment.present.browser_draft import Draft, hung
from treatment.present.browser_edits import apply
from treatment.present.browser_page import outcome_document
from treatment.present.browser_session import Session
from treatment.present.browser_store import Store
from treatment.present.browser_work import Worker
from treatment.present.known_builds import builds_of
from treatment.scene.load import load_scene, resolve_scene

SCENES = (
    "garden-room", "attic", "basement", "bay-window", "dormer-attic", "open-living-room", "soffit-basement",
)  # fmt: skip


def edits(scene, panels):
    """Three requests of each kind; every one changes something."""
    seat, box = scene.seats[0].position, scene.loudspeakers[0].position
    steps = (0.01, 0.02, 0.03)
    u, v = scene.openings[-1].rectangle.bounds[:2]
    return {
        "drag a seat": [
            {"op": "move", "section": "seats", "index": 0, "x": float(seat[0]) + d, "y": float(seat[1])}
            for d in steps
        ],
        "drag a loudspeaker": [
            {"op": "move", "section": "loudspeakers", "index": 0, "x": float(box[0]) + d, "y": float(box[1])}
            for d in steps
        ],
        "material": [
            {"op": "surface", "name": "default", "material": m}
            for m in ("gypsum-board-on-studs", "plaster-smooth-on-brick", "gypsum-board-on-studs")
        ],
        "move a panel": [
            {"op": "panel", "id": panels[0].id, "change": {"u": panels[0].u + d}} for d in steps
        ],
        "drag a door": [
            {"op": "move", "section": "openings", "index": len(scene.openings) - 1, "u": u + d, "v": v}
            for d in steps
        ],
        "add a post": [{"op": "add", "section": "obstacles", "kind": "post"}] * 3,
        "add a panel": [{"op": "hang", "build": panels[0].build, "surface": ""}] * 3,
    }


def measure(name: str, folder: Path) -> None:
    path = resolve_scene(name)
    scene, _ = load_scene(path)
    panels = tuple(hung(p, scene) for p in make_plan(scene).placements)
    store = Store(folder / name)
    if scene.path and (mesh := path.with_suffix(".obj")).exists():
        store.write(mesh.name, mesh.read_bytes())
    session = Session(store, name, Draft(path.read_text(), panels))
    session.write()
    worker = Worker(store)
    outcome = worker.work_out(session.draft)
    cells = []
    for kind, requests in edits(scene, panels).items():
        times, ratios = [], []
        for request in requests:
            plan = outcome.plan
            start = time.perf_counter()
            room = Room(plan.scene, plan.placements, builds_of(plan.scene), plan.after)
            draft, label = apply(session.draft, request, room)
            session.take(draft, label)
            outcome = worker.work_out(session.draft)
            assert not outcome.stale, outcome.findings
            outcome_document(outcome, session.draft)
            times.append(time.perf_counter() - start)
            start = time.perf_counter()
            for placements in ((), outcome.plan.placements):
                evaluate(outcome.scene, placements)
            ratios.append((time.perf_counter() - start) / times[-1])
        cells.append(f"{kind} {1e3 * statistics.median(times):4.0f} ms (x {statistics.median(ratios):.1f})")
    print(f"{name:17} {len(panels):2} panels: {', '.join(cells)}", flush=True)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        for scene_name in sys.argv[1:] or SCENES:
            measure(scene_name, Path(folder))
