"""Builds side by side as a JSON document, a CSV table, and text on a terminal."""

from __future__ import annotations

import csv
import io
from typing import Any, Final

import numpy as np
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from treatment import bands, measures
from treatment.bands import Array
from treatment.planning.comparison import LACK_FORMULA, SABIN_BANDS, BuildLine, Comparison
from treatment.present.documents import finding_documents, numbers
from treatment.units import format_imperial

#: Below this much a doubt is the same to both sides.
_ALIKE: Final = 0.005
#: Published rows shown under a predicted build.
_SHOWN: Final = 2
CSV_COLUMNS: Final = (
    "name", "description", "basis",
    *(f"absorption_{f}" for f in bands.NOMINAL_HZ),
    *(f"uncertainty_{f}" for f in bands.NOMINAL_HZ),
    "alpha_w", "shape", "class", "nrc", "saa",
    "price_per_m2", *(f"price_per_sabin_{f}" for f in SABIN_BANDS), "currency",
    "mass_per_m2_kg", "depth_m", "help", "words", "published_rows", "findings",
)  # fmt: skip
#: Said under every table: what the columns mean.
LEGEND: Final = (
    "± is the expanded uncertainty, k = 2. Measured: about 95 of 100 laboratories, and every source named "
    "here, lie inside. Predicted: spread of the airflow resistivity and of laboratories, without the edge "
    "effect; + where it is to the side of more alone. Prices: for {face} of face, and @ for {sabin} at that "
    "band."
)
LIKE_WITH_LIKE: Final = (
    "Predicted builds are sheets without edges, published rows are laboratory samples, which show more, at "
    "250 and 500 Hz often by 0.2 to 0.4: compare like with like."
)


def _sabins(line: BuildLine) -> dict[str, float | None]:
    return {
        f"price_per_sabin_{f}": numbers(p, 2) for f, p in zip(SABIN_BANDS, line.price_per_sabin, strict=True)
    }


def _build_document(line: BuildLine) -> dict[str, Any]:
    r, build = line.rating, line.build
    return {
        "name": build.id,
        "description": build.description,
        "basis": build.basis,
        "absorption": numbers(line.absorption, 4),
        "uncertainty": numbers(line.uncertainty, 4),
        "uncertainty_below": numbers(line.less, 4),
        "tuning_hz": None
        if line.tuning is None
        else numbers([line.tuning.frequency, line.tuning.low, line.tuning.high], 1),
        "alpha_w": r.weighted,
        "shape": r.shape,
        "M": numbers(line.mass_per_m2, 3),
        "class": r.absorption_class,
        "nrc": r.nrc,
        "saa": r.saa,
        "practical": list(r.practical),
        "price_per_m2": numbers(line.price_per_m2, 2),
        **_sabins(line),
        "mass_per_m2_kg": numbers(line.mass_per_m2, 3),
        "depth_m": numbers(line.depth),
        "help": numbers(line.help, 4),
        "words": list(line.words),
        "published": [
            {
                "name": m.id,
                "mounting": m.mounting,
                "absorption": numbers(m.absorption, 4),
                "uncertainty": numbers(m.uncertainty, 4),
                "assumed": [bool(x) for x in m.assumed],
                "clipped": [bool(x) for x in m.clipped],
                "source": m.provenance.source,
                "how_checked": m.provenance.how_known,
            }
            for m in line.published
        ],
        "source": build.material.provenance.source,
        "findings": finding_documents(line.findings),
    }


def compare_document(comparison: Comparison) -> dict[str, Any]:
    """Comparison as the document of ``compare --json``.

    Parameters
    ----------
    comparison : Comparison
        Any comparison.

    Returns
    -------
    dict
        As agreed, with more keys; what is not known is None. ``M`` is the mass per m2 of face in kg, also
        given as ``mass_per_m2_kg``.
    """
    return {
        "bands_hz": list(bands.NOMINAL_HZ),
        "order": comparison.order,
        "currency": comparison.currency,
        "coverage_factor": 2.0,
        "edge_effect": comparison.edge_effect,
        "lacking_m2": None if comparison.lacking is None else numbers(comparison.lacking, 3),
        "builds": [_build_document(line) for line in comparison.lines],
    }


def compare_csv(comparison: Comparison) -> str:
    """Comparison as a table of comma-separated values.

    Parameters
    ----------
    comparison : Comparison
        Any comparison.

    Returns
    -------
    str
        One row a build, columns `CSV_COLUMNS`; a cell is empty where nothing is known. SI units.
    """
    text = io.StringIO()
    writer = csv.DictWriter(text, CSV_COLUMNS, lineterminator="\n")
    writer.writeheader()
    for line in comparison.lines:
        document = _build_document(line)
        row = {k: v for k, v in document.items() if k in CSV_COLUMNS}
        for name in ("absorption", "uncertainty"):
            row |= {f"{name}_{f}": v for f, v in zip(bands.NOMINAL_HZ, document[name], strict=True)}
        row |= {
            "currency": comparison.currency,
            "words": "; ".join(line.words),
            "published_rows": " ".join(m.id for m in line.published),
            "findings": "; ".join(f"{f.code}: {f.message}" for f in line.findings),
        }
        writer.writerow(row)
    return text.getvalue()


def print_comparison(console: Console, comparison: Comparison) -> None:
    """Print builds side by side: absorption, ratings and cost, then what each does not do.

    Parameters
    ----------
    console : rich.console.Console
        Where to; 80 columns are enough.
    comparison : Comparison
        Any comparison.
    """
    console.print(f"Panel builds, {escape(comparison.order)}.", soft_wrap=True)
    if comparison.lacking is not None and comparison.lacking.sum() > 0.0:
        lacks = [
            f"{measures.absorption_words(a, comparison.units)} at {bands.band_label(f)}"
            for f, a in zip(bands.NOMINAL_HZ, comparison.lacking, strict=True)
            if a >= 0.05
        ]
        console.print(
            f"By {LACK_FORMULA.capitalize()}'s formula the room lacks {', '.join(lacks)} of absorption.",
            soft_wrap=True,
        )
    console.print()
    console.print(_absorption(comparison))
    if any(line.published for line in comparison.lines):
        console.print("[dim]Indented: published rows of much the same build. ? not published, held.[/dim]")
    console.print()
    console.print(_costs(comparison))
    console.print(f"[dim]{escape(_legend(comparison.units))}[/dim]\n", soft_wrap=True)
    for line in comparison.lines:
        console.print(
            f"[bold]{escape(line.build.id)}[/bold]: {escape('; '.join(line.words))}.", soft_wrap=True
        )
    console.print()
    shared: dict[tuple[str, str], list[str]] = {}
    for line in comparison.lines:
        for f in line.findings:
            if f.code != "predicted-not-measured":
                shared.setdefault((f.message, f.hint), []).append(f.where)
    if any(line.build.basis == "predicted" for line in comparison.lines):
        console.print(f"[dim]{LIKE_WITH_LIKE}[/dim]", soft_wrap=True)
    for m in {m.id: m for line in comparison.lines for m in line.published[:_SHOWN]}.values():
        words = f"published {m.id}: {m.mounting or 'mounting not stated'}; {m.provenance.source}"
        cut = "; cells of 1.00 look clipped" if m.clipped.any() else ""
        console.print(f"[dim]{escape(words + cut)}[/dim]", soft_wrap=True)
    for (message, hint), names in shared.items():
        whose = "all builds" if len(names) == len(comparison.lines) else ", ".join(names)
        advice = f" ({hint})" if hint else ""
        console.print(f"[dim]{escape(f'{whose}: {message}{advice}')}[/dim]", soft_wrap=True)


def _cells(values: Array, sign: str = "") -> list[str]:
    return [f"{sign}{v:.2f}" for v in values]


def _doubts(line: BuildLine) -> list[str]:
    """Uncertainty by band, with a plus where it is to the side of more absorption."""
    pairs = zip(line.uncertainty, line.less, strict=True)
    return [f"{'+' if less < u - _ALIKE else '±'}{u:.2f}" for u, less in pairs]


def _absorption(comparison: Comparison) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 1, 0, 0))
    table.add_column("Absorption", overflow="fold")
    for f in bands.NOMINAL_HZ:
        table.add_column(bands.band_label(f), justify="right", no_wrap=True)
    for line in comparison.lines:
        table.add_row(f"{escape(line.build.id)}", *_cells(line.absorption))
        table.add_row(f"  {line.build.basis}", *_doubts(line), style="dim")
        for m in line.published[:_SHOWN]:
            marked = [
                f"{v:.2f}{'?' if guessed else ''}" for v, guessed in zip(m.absorption, m.assumed, strict=True)
            ]
            table.add_row(f"  {escape(m.id)}", *marked, style="cyan")
    return table


def _legend(units: str) -> str:
    feet = measures.in_feet(units)
    sabin = "1 sq ft of absorption (a sabin)" if feet else "1 m2 of absorption (a metric sabin)"
    return LEGEND.format(face=f"1 {measures.area_unit(units)}", sabin=sabin)


def _known(value: float, digits: int) -> str:
    return f"{value:.{digits}f}" if np.isfinite(value) else "-"


def _costs(comparison: Comparison) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 1, 0, 0))
    feet = measures.in_feet(comparison.units)
    area, unit = measures.area_unit(comparison.units), measures.SQUARE_FOOT if feet else 1.0
    money = f"{comparison.currency or 'price'}/{area}"
    table.add_column("Build", overflow="fold")
    at = [f"@{f}" for f in SABIN_BANDS]
    for name in ("alpha_w", "class", "NRC", "SAA", money, *at, "kg/m2", "deep" if feet else "mm deep"):
        table.add_column(escape(name), justify="right", no_wrap=True)
    for line in comparison.lines:
        r = line.rating
        table.add_row(
            escape(line.build.id),
            f"{r.weighted:.2f}{f'({r.shape})' if r.shape else ''}",
            r.absorption_class if len(r.absorption_class) == 1 else "-",
            f"{r.nrc:.2f}",
            f"{r.saa:.2f}",
            _known(unit * line.price_per_m2, 2 if feet else 0),
            *(_known(unit * p, 2 if feet else 0) for p in line.price_per_sabin),
            _known(line.mass_per_m2, 1),
            format_imperial(line.depth) if feet else f"{1000.0 * line.depth:.0f}",
        )
    return table
