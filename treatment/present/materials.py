"""What a surface can be made of, as a table, and as a JSON document."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from rich.console import Console
from rich.markup import escape

from treatment import bands
from treatment.materials.lay_words import lay_words, words_of
from treatment.materials.material import Material
from treatment.present.documents import numbers

_MIDDLE: Final = bands.band_slice(500, 1000)
_HEADINGS: Final = {
    "wall": "Walls", "floor": "Floors", "ceiling": "Ceilings", "ceiling-tile": "Ceiling tiles",
    "window": "Windows", "door": "Doors", "opening": "Openings", "curtain": "Curtains and blinds",
    "porous-panel": "Absorbers, as a surface", "furnishing": "Seats", "audience": "People",
}  # fmt: skip
_END: Final = (
    "Absorption is the share of sound taken, mean of 500 Hz and 1 kHz, and ± of it (k = 2: 95 % of cases). "
    "--json gives all bands. Panels to hang are builds: treatment compare."
)


def listed_materials(materials: Sequence[Material]) -> list[Material]:
    """Order materials for a list: what rooms are made of first, then absorbers, seats and people.

    Parameters
    ----------
    materials : sequence of Material
        Any.

    Returns
    -------
    list of Material
        By category, then by name.
    """
    order = {c: i for i, c in enumerate(_HEADINGS)}
    return sorted(materials, key=lambda m: (order.get(m.category, len(order)), m.id))


def materials_document(materials: Sequence[Material], word: str = "") -> dict[str, Any]:
    """Make the document of ``treatment materials --json``.

    Parameters
    ----------
    materials : sequence of Material
        In the order wanted.
    word : str
        What was asked for.

    Returns
    -------
    dict
        Word, bands, and a row for each material.
    """
    return {
        "word": word,
        "bands_hz": list(bands.NOMINAL_HZ),
        "materials": [
            {
                "id": m.id,
                "description": m.description,
                "category": m.category,
                "absorption": numbers(m.absorption, 3),
                "uncertainty": numbers(m.uncertainty, 3),
                "assumed_bands_hz": [f for f, a in zip(bands.NOMINAL_HZ, m.assumed, strict=True) if a],
                "middle": numbers(_middle(m), 3),
                "source": m.provenance.source,
            }
            for m in materials
        ],
    }


def print_materials(console: Console, materials: Sequence[Material], word: str = "") -> None:
    """Print materials by what they are for, or the ones that fit a word, the likeliest first.

    Parameters
    ----------
    console : rich.console.Console
        Where to.
    materials : sequence of Material
        In the order wanted.
    word : str
        What was asked for; with one there are no headings.
    """
    notes = [lay_words()[w].note for w in words_of(word) if w in lay_words() and lay_words()[w].note]
    for note in dict.fromkeys(notes):
        console.print(escape(note), soft_wrap=True)
    groups = [(word, list(materials))] if word else _groups(materials)
    for heading, members in groups:
        title = heading if word else _HEADINGS[heading]
        console.print(f"[bold]{escape(title)}[/bold]", soft_wrap=True)
        for m in members:
            middle, doubt = _middle(m), float(m.uncertainty[_MIDDLE].max())
            console.print(
                f"  [bold]{escape(m.id)}[/bold]  {middle:.2f} ± {doubt:.2f}\n"
                f"      {escape(m.description)}  [dim]{escape(m.provenance.source)}[/dim]",
                soft_wrap=True,
            )
        console.print()
    console.print(f"[dim]{_END}[/dim]", soft_wrap=True)


def _groups(materials: Sequence[Material]) -> list[tuple[str, list[Material]]]:
    found: dict[str, list[Material]] = {}
    for m in listed_materials(materials):
        found.setdefault(m.category, []).append(m)
    return list(found.items())


def _middle(m: Material) -> float:
    return float(np.mean(m.absorption[_MIDDLE]))
