"""``treatment materials``: what a surface can be made of."""

from __future__ import annotations

from typing import Annotated

import typer

from treatment.cli.talk import JsonOption, console_of, print_json
from treatment.errors import MaterialError


def materials(
    word: Annotated[
        str, typer.Argument(metavar="[WORD]", help="What you call it: drywall, parquet, glass, brick ...")
    ] = "",
    every: Annotated[
        bool, typer.Option("--all", help="Absorbers, seats and people too, which no wall is made of.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """List what walls, floors and ceilings can be made of, or what fits a word."""
    from treatment.materials.lay_words import SURFACES, materials_for, surfaces_for
    from treatment.materials.library import load_library
    from treatment.present.materials import listed_materials, materials_document, print_materials

    known = load_library().materials
    if word:
        found = list((materials_for if every else surfaces_for)(word, known))
    else:
        found = [m for m in listed_materials(list(known.values())) if every or m.category in SURFACES]
    if word and not found:
        raise MaterialError(
            f"nothing fits '{word[:40]}'",
            hint="list them all with: treatment materials; or write your own: [materials.my-wall] with "
            "absorption = [eight numbers] in the scene file",
        )
    if as_json:
        print_json(materials_document(found, word))
    else:
        print_materials(console_of(), found, word)
