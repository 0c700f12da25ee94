"""``treatment compare``: panel builds by band, rating and cost."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from treatment.cli.talk import JsonOption, console_of, load, print_json, write_file


def compare(
    scene: Annotated[
        str | None,
        typer.Argument(metavar="[SCENE]", help="A room file: builds are sorted by what it lacks most."),
    ] = None,
    as_json: JsonOption = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print a table with commas.")] = False,
    chart: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also draw the builds by band: a .svg or .png file.")
    ] = None,
    edge_effect: Annotated[
        bool,
        typer.Option("--edge-effect", help="Add what small panels absorb over their edges (an estimate)."),
    ] = False,
) -> None:
    """Compare panel builds by band, rating and cost, each with its doubt."""
    from treatment.materials.builds import load_builds
    from treatment.materials.library import load_library
    from treatment.planning.comparison import compare_builds
    from treatment.present.compare import compare_csv, compare_document, print_comparison

    if chart is not None and chart.suffix.lower() not in (".svg", ".png"):
        raise typer.BadParameter(f"'{chart.name}' is neither .svg nor .png", param_hint="--chart")
    library = load_library()
    if scene is None:
        result = compare_builds(load_builds(library), library, edge_effect=edge_effect)
    else:
        from treatment.planning.evaluate import evaluate

        room, _ = load(scene)
        currency = room.budget.currency if room.budget else ""
        builds = (*room.builds, *room.unasked_builds)
        result = compare_builds(builds, library, evaluate(room), edge_effect=edge_effect, currency=currency)
    if chart is not None:
        from treatment.present.compare_figure import compare_chart

        drawn = compare_chart(result, "png" if chart.suffix.lower() == ".png" else "svg")
        write_file(chart, drawn.encode() if isinstance(drawn, str) else drawn)
    if as_json:
        print_json(compare_document(result))
    elif as_csv:
        typer.echo(compare_csv(result), nl=False)
    else:
        print_comparison(console_of(), result)
