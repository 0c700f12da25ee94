"""``treatment view``: the room in a window or in a web page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from treatment.cli.talk import load, say
from treatment.errors import PlanError


def view(
    subject: Annotated[
        str, typer.Argument(metavar="SCENE_OR_PLAN", help="A room file, or a folder that `plan` wrote.")
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
) -> None:
    """Look at the room, and at a plan for it, in a window or in a web page."""
    plan_folder = Path(subject)
    if browser:
        try:
            from treatment.present.browser import serve
        except ImportError as error:
            hint = "install it with the extra: pip install 'treatment[browser]'"
            raise PlanError(
                f"the page needs the package '{error.name}'", where="--browser", hint=hint
            ) from error
        from treatment.scene.load import resolve_scene

        path = plan_folder if plan_folder.is_dir() else resolve_scene(subject)
        serve(path, folder or Path(f"{path.stem}-planner"), port, show_page, say)
        return
    from treatment.planning.evaluate import evaluate
    from treatment.present.drawables import drawables, picture
    from treatment.present.viewer import show

    if plan_folder.is_dir():
        from treatment.present.reopen import reopen_plan

        shapes = picture(reopen_plan(plan_folder))
    else:
        room, _ = load(subject)
        shapes = drawables(evaluate(room))
    show(shapes)
