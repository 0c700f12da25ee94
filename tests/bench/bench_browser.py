"""How long an edit takes until its numbers are there: ``python tests/bench/bench_browser.py``."""

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from treatment.planning.make import make_plan
from treatment.present.browser_draft import Draft, hung
from treatment.present.browser_edits import Room, apply
from treatment.present.browser_page import outcome_document
from treatment.present.browser_session import Session
from treatment.present.browser_store import Store
from treatment.present.browser_work import Worker, builds_of
from treatment.scene.load import load_scene, resolve_scene


def measure(name: str, folder: Path) -> None:
    path = resolve_scene(name)
    scene, _ = load_scene(path)
    panels = tuple(hung(p, scene) for p in make_plan(scene).placements)
    room = Room(scene, (), builds_of(scene))
    seat = {"op": "move", "section": "seats", "index": 0, "y": float(scene.seats[0].position[1])}
    x = float(scene.seats[0].position[0])
    shift = {"op": "panel", "id": panels[0].id}
    for words, hanging in (("bare", ()), (f"{len(panels)} panels", panels)):
        session = Session(Store(folder / f"{name}-{len(hanging)}"), name, Draft(path.read_text(), hanging))
        session.write()
        worker = Worker(session.store)
        worker.work_out(session.draft)
        for edit in ("seat", "panel")[: 2 if hanging else 1]:
            wall, busy = [], []
            for k in range(5):
                start, cpu = time.perf_counter(), time.process_time()
                change = (
                    {**seat, "x": x + 0.01 * (k + 1)}
                    if edit == "seat"
                    else shift | {"change": {"v": panels[0].v + 0.01 * (k + 1)}}
                )
                draft, label = apply(session.draft, change, replace(room))
                session.take(draft, label)
                outcome = worker.work_out(session.draft)
                assert outcome is not None
                outcome_document(outcome, session.draft)
                wall.append(time.perf_counter() - start)
                busy.append(time.process_time() - cpu)
            times = f"{1e3 * min(wall):6.0f} ms, processor {1e3 * min(busy):6.0f} ms"
            print(f"{name:12} {words:10} move a {edit:6} {times}")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        for scene_name in sys.argv[1:] or ("garden-room", "attic", "basement"):
            measure(scene_name, Path(folder))
