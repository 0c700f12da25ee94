"""Loudspeaker entries to loudspeakers: the ways in which they may be said to radiate."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from treatment.bands import COUNT, frozen
from treatment.errors import Finding
from treatment.scene.codes import finding
from treatment.scene.model import Directivity, Loudspeaker
from treatment.scene.schema import LoudspeakerEntry

#: Width of a box that is not stated, in diameters of its piston (common practice).
_BOX = 1.3


def make_loudspeakers(
    entries: Mapping[int, LoudspeakerEntry], findings: list[Finding]
) -> tuple[Loudspeaker, ...]:
    """Make loudspeakers of their entries.

    Parameters
    ----------
    entries : mapping of int to LoudspeakerEntry
        By number in the file.
    findings : list of Finding
        Taken along; what is unclear is added.

    Returns
    -------
    tuple of Loudspeaker
        In their order; one whose directivity is unclear sends evenly.
    """
    made = []
    for number, e in entries.items():
        try:
            directivity = _directivity(e)
        except ValueError as problem:
            message, _, hint = str(problem).partition(" | ")
            findings.append(finding("directivity-unclear", f"loudspeakers[{number}]", message, hint))
            directivity = None
        aim = None if e.aim is None else frozen(e.aim)
        made.append(Loudspeaker(e.name, frozen(e.position), e.channel, directivity, aim, e.weight))
    return tuple(made)


def _directivity(e: LoudspeakerEntry) -> Directivity | None:
    """Way of radiating of one entry; ValueError says what is unclear, and after a bar what to do."""
    said = [k for k in ("piston", "coverage", "off_axis") if getattr(e, k) is not None]
    if len(said) > 1:
        raise ValueError(f"it has {' and '.join(said)} | leave one of them")
    if e.box_width is not None and e.piston is None:
        raise ValueError("box_width goes with piston | add piston, the diameter of the driver")
    if e.piston is not None:
        return Directivity("piston", diameter=e.piston, box_width=e.box_width or _BOX * e.piston)
    if e.coverage is not None:
        if len(e.coverage) != 2 or not all(5.0 <= a <= 360.0 for a in e.coverage):
            raise ValueError("coverage is not two angles of 5 to 360 degrees | write coverage = [90, 40]")
        if not 100.0 <= e.coverage_from <= 10_000.0:
            raise ValueError(f"coverage_from is {e.coverage_from:g} Hz | from 100 to 10000 Hz")
        across, up = e.coverage
        return Directivity("horn", coverage=(across, up), lowest_hz=e.coverage_from)
    if e.off_axis is not None:
        return _table(e.off_axis)
    return None


def _table(rows: list[list[float]]) -> Directivity:
    """Directivity of a table: each row an angle and eight levels."""
    hint = "each row: an angle in degrees, eight levels in dB re the axis: [30, 0, 0, 0, -1, -2, -3, -5, -8]"
    if len(rows) < 2 or any(len(r) != COUNT + 1 for r in rows):
        raise ValueError(f"off_axis has a row without nine numbers, or fewer than two rows | {hint}")
    angles = [r[0] for r in rows]
    if angles[0] != 0.0 or any(b <= a for a, b in pairwise(angles)) or angles[-1] > 180.0:
        raise ValueError(f"the angles of off_axis do not climb from 0 to 180 at most | {hint}")
    if any(not -60.0 <= v <= 10.0 for r in rows for v in r[1:]):
        raise ValueError(f"a level of off_axis lies outside -60 to 10 dB | {hint}")
    return Directivity("table", angles=frozen(angles), levels=frozen([r[1:] for r in rows]))
