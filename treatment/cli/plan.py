"""``treatment plan``: where panels go, and everything to carry into the room."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from treatment.cli.talk import (
    FullOption,
    JsonOption,
    PrecisionOption,
    RaysOption,
    SceneArgument,
    console_of,
    load,
    print_json,
    progress,
    rays_asked,
    say,
)

if TYPE_CHECKING:
    from treatment.planning.plan import Placement
    from treatment.scene.model import Scene


def plan(
    scene: SceneArgument,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the plan.")],
    force: Annotated[bool, typer.Option("--force", help="Move a foreign folder of that name aside.")] = False,
    pictures: Annotated[
        bool, typer.Option(help="Render room.png (needs OpenGL), and make report.pdf.")
    ] = True,
    as_json: JsonOption = False,
    start: Annotated[
        Path | None,
        typer.Option("--from", metavar="DIR", help="An earlier plan, to be changed as little as it can."),
    ] = None,
    rays: RaysOption = 0,
    precision: PrecisionOption = 0.0,
    prices: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Prices of your own (CSV: item, price, unit, date).")
    ] = None,
    budgets: Annotated[
        str,
        typer.Option(
            metavar="AMOUNTS",
            help="Several budgets at once, as in '150,300,450': a table and a chart of what each buys. DIR "
            "gets the plan of the one to stop at. The scene's own budget is set aside.",
        ),
    ] = "",
    lock: Annotated[
        str, typer.Option(metavar="IDS", help="Panels of --from that stay: 'P1,P4', or 'all'.")
    ] = "",
    full: FullOption = False,
) -> None:
    """Plan where panels go: before and after, lists, drawings, report, pictures."""
    from treatment.materials.prices import read_prices
    from treatment.planning.budgets import plan_budgets
    from treatment.planning.make import Options, make_plan
    from treatment.present.console import print_plan
    from treatment.present.documents import plan_document
    from treatment.present.folder import check_folder, write_folder
    from treatment.present.plan_summary import print_plan_summary

    amounts = _amounts(budgets)
    check_folder(out, force=force)
    room, findings = load(scene)
    keep, earlier = _earlier(start, lock, room)
    own = None if prices is None else read_prices(prices)
    if rays or precision:
        rays, precision = rays_asked(rays, precision)
    options = Options(rays=rays, prices=own, precision=precision)
    if amounts:
        workers = os.cpu_count() or 1
        made = plan_budgets(room, amounts, say, keep=keep, earlier=earlier, options=options, workers=workers)
    else:
        with progress("rays") as step:
            options = replace(options, progress=step if rays else None)
            made = make_plan(room, say, keep=keep, earlier=earlier, options=options)
    for note in write_folder(made, out, findings, force=force, pictures=pictures, say=say):
        say(note)
    if as_json:
        print_json(plan_document(made, findings))
    elif full:
        print_plan(console_of(), made)
    else:
        print_plan_summary(console_of(), made)
    say(f"written to {out}: open {out / 'report.html'}")


def _amounts(text: str) -> tuple[float, ...]:
    """Read a list of budgets."""
    if not text.strip():
        return ()
    try:
        found = tuple(float(word) for word in text.split(","))
    except ValueError:
        raise typer.BadParameter(
            f"'{text}' is no list of amounts; write 150,300,450", param_hint="--budgets"
        ) from None
    if not all(0.0 < a < float("inf") for a in found):
        raise typer.BadParameter("a budget is an amount above zero", param_hint="--budgets")
    return found


def _earlier(
    start: Path | None, lock: str, room: Scene
) -> tuple[tuple[Placement, ...], tuple[Placement, ...]]:
    """Locked and other panels of an earlier plan."""
    if start is None:
        if lock:
            raise typer.BadParameter("it needs --from", param_hint="--lock")
        return (), ()
    from treatment.present.reopen import read_placements

    placements = read_placements(room, start)
    wanted = {w.strip() for w in lock.split(",") if w.strip()}
    unknown = wanted - {p.id for p in placements} - {"all"}
    if unknown:
        raise typer.BadParameter(f"the plan has no panel {', '.join(sorted(unknown))}", param_hint="--lock")
    locked = tuple(p for p in placements if "all" in wanted or p.id in wanted)
    return locked, tuple(p for p in placements if p not in locked)
