"""``treatment new``: a commented starter room file."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from treatment.cli.talk import say, write_file
from treatment.errors import PlanError


def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The room file to write.")],
    title: Annotated[str | None, typer.Option(help="Name of the room.")] = None,
    shape: Annotated[str | None, typer.Option(help="box, plan (L-shaped) or attic.")] = None,
    units: Annotated[str | None, typer.Option(help="Unit of plain numbers: m, cm, mm, ft, in.")] = None,
    length: Annotated[str | None, typer.Option(help="Front wall to back wall.")] = None,
    width: Annotated[str | None, typer.Option(help="Left wall to right wall.")] = None,
    height: Annotated[str | None, typer.Option(help="Floor to ceiling, or to the flat strip.")] = None,
    missing_length: Annotated[str | None, typer.Option(help="Of the corner that an L lacks.")] = None,
    missing_width: Annotated[str | None, typer.Option(help="Of the corner that an L lacks.")] = None,
    knee: Annotated[str | None, typer.Option(help="Height of an attic's knee walls.")] = None,
    pitch: Annotated[float | None, typer.Option(help="Pitch of an attic's slopes, degrees.")] = None,
    rows: Annotated[int | None, typer.Option(help="Rows of seats.")] = None,
    seats: Annotated[int | None, typer.Option(help="Seats in each row.")] = None,
    layout: Annotated[str | None, typer.Option(help="2.0, 5.1, 7.1, 5.1.4 or 7.1.4.")] = None,
    budget: Annotated[float | None, typer.Option(help="What may be spent; 0 for no limit.")] = None,
    currency: Annotated[str | None, typer.Option(help="Any label.")] = None,
    ask: Annotated[bool, typer.Option(help="Ask for what is not given (on a terminal).")] = True,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
) -> None:
    """Write a commented starter room file: loudspeakers placed by ITU-R BS.2051, seats proposed."""
    from treatment.planning.starter import StarterOptions, starter_scene
    from treatment.units import parse_length

    if file.exists() and not force:
        raise PlanError(f"'{file}' exists", where="FILE", hint="name another file, or use --force")
    given = {k: v for k, v in locals().items() if k in StarterOptions.__dataclass_fields__ and v is not None}
    defaults = StarterOptions()
    if ask and sys.stdin.isatty():
        given |= _asked(given, defaults)
    unit = str(given.get("units", defaults.units))
    lengths = ("length", "width", "height", "missing_length", "missing_width", "knee")
    values: dict[str, Any] = {k: parse_length(v, unit) if k in lengths else v for k, v in given.items()}
    if not values.get("budget"):
        values["budget"] = None
    text = starter_scene(StarterOptions(**values))
    write_file(file, text.encode("utf-8"), "FILE")
    say(f"next: treatment check {file}")


def _asked(given: dict[str, Any], defaults: Any) -> dict[str, Any]:
    """Ask for the few things that matter, those that are not given."""
    from treatment.units import format_length

    answers: dict[str, Any] = {}

    def ask(key: str, words: str, default: Any) -> None:
        if key not in given:
            answers[key] = typer.prompt(words, default=default, err=True)

    ask("title", "Name of the room", defaults.title)
    ask("units", "Unit of plain numbers (m, cm, mm, ft, in)", defaults.units)
    unit = str({**given, **answers}["units"])
    ask("shape", "Shape (box, plan for an L, attic)", defaults.shape)
    shape = {**given, **answers}["shape"]
    ask("length", "Length, front wall to back wall", format_length(defaults.length, unit))
    ask("width", "Width, left wall to right wall", format_length(defaults.width, unit))
    ask("height", "Height", format_length(defaults.height, unit))
    if shape == "plan":
        ask("missing_length", "Length of the missing corner", format_length(defaults.missing_length, unit))
        ask("missing_width", "Width of the missing corner", format_length(defaults.missing_width, unit))
    if shape == "attic":
        ask("knee", "Height of the knee walls", format_length(defaults.knee, unit))
        ask("pitch", "Pitch of the slopes in degrees", defaults.pitch)
    ask("rows", "Rows of seats", defaults.rows)
    ask("seats", "Seats in each row", defaults.seats)
    ask("layout", "Loudspeakers (2.0, 5.1, 7.1, 5.1.4, 7.1.4)", defaults.layout)
    ask("budget", "Budget, 0 for no limit", 450.0)
    ask("currency", "Currency", defaults.currency)
    return answers
