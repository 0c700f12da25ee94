"""``treatment view``: the room in a window or in a web page."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from treatment.cli.talk import RaysOption, load, progress, say
from treatment.errors import PlanError


def view(
    subject: Annotated[
        str,
        typer.Argument(
            metavar="SCENE_OR_PLAN", help="A room file, or a folder that `plan` wrote (or its plan.json)."
        ),
    ],
    browser: Annotated[
        bool, typer.Option("--browser", help="In a web page on this machine, where it can be changed too.")
    ] = False,
    folder: Annotated[
        Path | None, typer.Option(metavar="DIR", help="With --browser: where the work is kept.")
    ] = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="With --browser: 0 takes a free one.")] = 0,
    show_page: Annotated[
        bool, typer.Option("--open/--no-open", help="With --browser: open the page.")
    ] = True,
    still: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write what the window would show, as PNG.")
    ] = None,
    loudspeaker: Annotated[str, typer.Option(metavar="NAME", help="Paths of this one, or `all`.")] = "",
    seat: Annotated[str, typer.Option(metavar="NAME", help="Paths to this one, or `all`.")] = "",
    paths: Annotated[str, typer.Option(metavar="WHICH", help="single, double, both, direct or none.")] = "",
    band: Annotated[str, typer.Option(metavar="HZ", help="Octave: 63 to 8000, or `loudest`.")] = "",
    colour: Annotated[str, typer.Option(metavar="WHAT", help="Colour paths by level or delay.")] = "",
    step: Annotated[
        str, typer.Option(metavar="N", help="How many panels hang: a number, before or after.")
    ] = "",
    view_from: Annotated[
        str, typer.Option("--from", metavar="VIEW", help="corner, plan, front, back, left, right or seat.")
    ] = "",
    zones: Annotated[bool, typer.Option("--zones", help="Paint on the walls where bounces land.")] = False,
    rays: RaysOption = 0,
) -> None:
    """Look at the room, and at a plan for it, in a window or in a web page."""
    plan_folder = Path(subject)
    if plan_folder.name == "plan.json" and plan_folder.is_file():
        plan_folder = plan_folder.resolve().parent
    if browser:
        if rays:
            raise typer.BadParameter("the page has a button for rays", param_hint="--rays")
        try:
            from treatment.present.browser import serve
        except ImportError as error:
            from treatment.present.extras import install_hint

            raise PlanError(
                f"the page needs the package '{error.name}'", where="--browser", hint=install_hint("browser")
            ) from error
        from treatment.scene.load import resolve_scene

        path = plan_folder if plan_folder.is_dir() else resolve_scene(subject)
        serve(path, folder or Path(f"{path.stem}-planner"), port, show_page, say)
        return
    from treatment.present.native.choices import choices_of, middle_seat
    from treatment.present.native.open import open_window, write_still
    from treatment.present.native.state import first_state
    from treatment.present.native.wishes import Wishes, wished
    from treatment.present.ray_times import RayTimes, planned_rays, trace_both

    found: Sequence[RayTimes] = ()
    if plan_folder.is_dir():
        from treatment.present.reopen import read_room

        room, placements = read_room(plan_folder)
        keep, stem = plan_folder, "view"
        found = () if rays else planned_rays(plan_folder, room, placements)
    else:
        (room, _), placements = load(subject), ()
        keep, stem = Path(), f"{Path(subject).stem}-view"
    if rays:
        with progress("tracing rays") as step_of:
            found = trace_both(room, placements, rays, step_of)
    choices = choices_of(room, placements)
    wishes = Wishes(loudspeaker, seat, paths, band, colour, step, view_from, zones)
    state = wished(first_state(choices, middle_seat(room)), choices, wishes)
    if still is None:
        open_window(room, placements, state, keep, stem, found)
        return
    write_still(room, placements, state, still, rays=found)
    say(f"written to {still}")
