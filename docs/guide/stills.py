"""Draws the pictures of the window anew: ``python docs/guide/stills.py [SCENE] [FOLDER]``.

The pictures of docs/guide/viewer.md are of the shipped garden room and the plan that the program makes for it.
Other pages can draw pictures of their own with `draw`.
"""

import sys
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from PIL import Image

from treatment.planning.make import make_plan
from treatment.planning.plan import Placement
from treatment.present.native.choices import choices_of, middle_seat
from treatment.present.native.open import write_still
from treatment.present.native.state import ViewState, first_state
from treatment.present.ray_times import RayTimes, trace_both
from treatment.scene.load import load_scene, resolve_scene
from treatment.scene.model import Scene

SIZE = (1400, 900)
#: A page of the guide should load at once: no picture is larger than this.
MOST_BYTES = 150_000
#: Rays of the pictures, for each state of the room.
RAYS = 20_000


def draw(
    scene: Scene,
    placements: tuple[Placement, ...],
    state: ViewState,
    path: Path,
    size: tuple[int, int] = SIZE,
    rays: Sequence[RayTimes] = (),
) -> None:
    """Write what the window shows in a state, in few colours, so that the file stays small."""
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder) / "still.png"
        write_still(scene, placements, state, whole, size, rays)
        with Image.open(whole) as image:
            few = image.convert("RGB").quantize(256, kmeans=3, dither=Image.Dither.NONE)
    few.save(path, format="PNG", optimize=True)
    if path.stat().st_size > MOST_BYTES:
        raise SystemExit(f"{path} has {path.stat().st_size} bytes, more than {MOST_BYTES}")


def stills(scene: Scene, placements: tuple[Placement, ...]) -> dict[str, ViewState]:
    """The pictures of viewer.md: what is chosen in each."""
    choices = choices_of(scene, placements)
    start = first_state(choices, middle_seat(scene))
    return {
        "window-after": start,
        "window-before": replace(start, step=0, other=start.step),
        "window-step": replace(start, step=2, picked=("panel", choices.panels[1])),
        "window-zones": replace(start, loudspeaker=0, view="left", zones=True, step=0),
        "window-path": replace(start, loudspeaker=0, step=1, picked=("path", f"0/{start.seat}/2"), keep_free=False),
        "window-delay": replace(start, loudspeaker=0, order=2, colouring="delay", view="plan", step=4),
        "window-seat": replace(start, view="seat", loudspeaker=0, step=4),
        "window-help": replace(start, help=True),
    }


if __name__ == "__main__":
    name = sys.argv[1] if len(sys.argv) > 1 else "garden-room"
    folder = Path(sys.argv[2]) if len(sys.argv) > 2 else Path(__file__).parent / "pictures"
    folder.mkdir(exist_ok=True)
    room, _ = load_scene(resolve_scene(name))
    panels = make_plan(room).placements
    sent = trace_both(room, panels, RAYS, lambda _: None)
    for still, state in stills(room, panels).items():
        draw(room, panels, state, folder / f"{still}.png", rays=sent)
        print(f"{folder / still}.png")
