"""Panel builds side by side: what each absorbs, how sure that is, what it costs, what it does not do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.bands import Array, frozen
from treatment.errors import Finding
from treatment.materials.build import PanelBuild
from treatment.materials.edge import edge_gain
from treatment.materials.library import Library
from treatment.materials.material import Material
from treatment.materials.ratings import Rating, rate
from treatment.materials.resonant import Tuning, sheet_tuning
from treatment.materials.sheet import FEW_HOLES, HOLE_TOLERANCE
from treatment.materials.twins import twins
from treatment.measures import area_unit
from treatment.planning.caveats import MORE_ABOVE_500
from treatment.planning.enough import area_off
from treatment.planning.plan import Evaluation

#: Bands at which a price per m2 of absorption is given, Hz.
SABIN_BANDS: Final = (125, 500, 2000)
#: Formula by which a lack is told; Sabine's asks for more.
LACK_FORMULA: Final = "eyring"
#: Below this a build does nearly nothing; from the other on it takes at least half (common practice).
NEARLY_NOTHING: Final = 0.2
HALF: Final = 0.5


@dataclass(frozen=True, eq=False)
class BuildLine:
    """One build in a comparison.

    Parameters
    ----------
    build : PanelBuild
        The build.
    absorption, uncertainty : numpy.ndarray
        Coefficients and expanded uncertainty (k = 2), shape (8,); with the edge effect where asked for.
    less : numpy.ndarray
        Expanded uncertainty downwards, shape (8,): smaller where it is known to which side a model errs.
    rating : Rating
        Single numbers; of a predicted build they are no test result.
    price_per_m2 : float
        Of the face; NaN where no price is given.
    price_per_sabin : numpy.ndarray
        For 1 m2 of absorption at `SABIN_BANDS`, shape (3,); NaN where no price is given or nothing is
        absorbed.
    mass_per_m2 : float
        kg/m2 of the face, frame included; NaN when not known.
    depth : float
        Taken from the room, m.
    help : float
        Absorption per m2 in the bands that the scene lacks, weighted by the lack; NaN without a scene.
    published : tuple of Material
        Measured rows of much the same build, for a predicted one.
    words : tuple of str
        What it does and does not do.
    findings : tuple of Finding
        What to know before the numbers are used.
    tuning : Tuning or None
        Of a perforated face.
    """

    build: PanelBuild
    absorption: Array
    uncertainty: Array
    less: Array
    rating: Rating
    price_per_m2: float
    price_per_sabin: Array
    mass_per_m2: float
    depth: float
    help: float
    published: tuple[Material, ...]
    words: tuple[str, ...]
    findings: tuple[Finding, ...]
    tuning: Tuning | None = None


@dataclass(frozen=True, eq=False)
class Comparison:
    """Builds side by side.

    Parameters
    ----------
    lines : tuple of BuildLine
        In the order stated.
    order : str
        How they are sorted, in words.
    lacking : numpy.ndarray or None
        Absorption area that the scene lacks by band to come down to its upper limit, m2, shape (8,).
    currency : str
        Of the prices; empty when not known.
    edge_effect : bool
        Whether the edge effect is counted in.
    units : str
        What the person of the scene measures in.
    """

    lines: tuple[BuildLine, ...]
    order: str
    lacking: Array | None
    currency: str
    edge_effect: bool
    units: str = "m"


def lacking_area(evaluation: Evaluation) -> Array:
    """Absorption area that a room lacks by band.

    Parameters
    ----------
    evaluation : Evaluation
        The room as it is.

    Returns
    -------
    numpy.ndarray
        By `LACK_FORMULA`, m2, shape (8,), as `treatment.planning.enough.area_off` has it; 0 where the room is
        not too live or the range is silent.
    """
    return frozen(np.maximum(np.nan_to_num(area_off(evaluation, LACK_FORMULA)), 0.0))


def _labels(mask: NDArray[np.bool_]) -> str:
    return ", ".join(bands.band_label(f) for f, on in zip(bands.NOMINAL_HZ, mask, strict=True) if on)


def what_it_does(absorption: Array) -> tuple[str, ...]:
    """Say in words what a curve does, and what it does not.

    Parameters
    ----------
    absorption : numpy.ndarray
        Coefficients, shape (8,).

    Returns
    -------
    tuple of str
        Sentences without a full stop; bands by their mid-frequency.
    """
    some = np.flatnonzero(absorption >= NEARLY_NOTHING)
    if len(some) == 0:
        return ("nearly nothing in any band",)
    label = [bands.band_label(f) for f in bands.NOMINAL_HZ]
    words = []
    half = np.flatnonzero(absorption >= HALF)
    if len(half) == 0:
        best = int(np.argmax(absorption))
        words.append(f"less than half in every band, most at {label[best]}")
    else:
        # Bands in between may fall short of half; then each run is named.
        runs = np.split(half, np.flatnonzero(np.diff(half) > 1) + 1)
        spans = [label[r[0]] if len(r) == 1 else f"{label[r[0]]} to {label[r[-1]]}" for r in runs]
        words.append(f"at least half at {' and '.join(spans)}")
    if some[0] > 0:
        words.append(f"below {label[some[0]]} nearly nothing")
    if some[-1] < bands.COUNT - 1:
        words.append(f"above {label[some[-1]]} nearly nothing: the treble comes back")
    return tuple(words)


def _findings(build: PanelBuild, rating: Rating, published: Sequence[Material], edge: bool) -> list[Finding]:
    m, found = build.material, []

    def add(code: str, severity: str, message: str, hint: str = "") -> None:
        found.append(Finding(code, severity, build.id, message, hint))  # type: ignore[arg-type]

    if build.basis == "predicted":
        more = f"; measured rows of much the same: {', '.join(p.id for p in published)}" if published else ""
        add(
            "predicted-not-measured",
            "note",
            f"predicted for a sheet without edges; a laboratory sample shows more, beyond the ± too{more}",
            "compare predicted builds with predicted ones",
        )
        if "corner" in build.on:
            add(
                "corner-as-flat",
                "note",
                "predicted flat on a wall, without the space behind it in the corner",
                "a plan counts the mean depth of the corner in",
            )
    if build.outside_model.any():
        add(
            "outside-model",
            "warning",
            f"{_labels(build.outside_model)}: outside the range the formula was fitted to",
            "take these bands as indicative",
        )
    if build.sheet:
        add("more-above-500", "warning", MORE_ABOVE_500, "choose it for what it does up to 500 Hz")
        if build.sheet.open_share > FEW_HOLES:
            add(
                "many-holes",
                "warning",
                f"{100.0 * build.sheet.open_share:.0f} % of the face is open, and the formula for the ends "
                f"of its holes is meant for less than about {100.0 * FEW_HOLES:.0f} %",
                "take its numbers as indicative",
            )
    if m.assumed.any():
        add(
            "bands-assumed",
            "note",
            f"{_labels(m.assumed)}: nothing is published, the neighbour band's value is held",
            "treat these bands as a guess",
        )
    if m.clipped.any():
        add("clipped-at-1", "note", f"{_labels(m.clipped)}: the source seems to cut at 1.00")
    if m.provenance.conflicts_with:
        add(
            "sources-disagree",
            "warning",
            f"other rows differ: {', '.join(m.provenance.conflicts_with)}; the uncertainty reaches them",
        )
    if rating.approximate:
        add("rated-from-octaves", "note", rating.approximate)
    if build.price <= 0.0:
        add("price-unknown", "note", "no price is given", "give one in the room file")
    elif build.price_note.startswith("invented"):
        add("price-invented", "note", "the price is an invented example", "put your own in the room file")
    if build.mass <= 0.0:
        add("mass-unknown", "note", "the mass is not known", "weigh a slab: fixings depend on it")
    if edge:
        add(
            "edge-effect", "note", "edge effect counted in from 250 Hz to 4 kHz: an option with its own doubt"
        )
    return found


def _tuning_words(tuning: Tuning | None) -> tuple[str, ...]:
    if tuning is None:
        return ()
    return (
        f"tuned to about {tuning.frequency:.0f} Hz; holes {1000.0 * HOLE_TOLERANCE:.0f} mm narrower or wider "
        f"put it at {tuning.low:.0f} or {tuning.high:.0f} Hz",
    )


def _line(build: PanelBuild, library: Library, weights: Array | None, edge: bool) -> BuildLine:
    absorption, uncertainty = build.material.absorption, build.material.uncertainty
    less = build.material.alone if build.basis == "predicted" else uncertainty
    if edge:
        gain, doubt = edge_gain(absorption, build.width, build.height)
        absorption = frozen(absorption + gain)
        uncertainty, less = frozen(np.hypot(uncertainty, doubt)), frozen(np.hypot(less, doubt))
    rating = rate([float(a) for a in absorption])
    price = build.price / build.face_area if build.price > 0.0 else math.nan
    at = absorption[[bands.band_index(f) for f in SABIN_BANDS]]
    per_sabin = np.array([price / a if a >= 0.005 else math.nan for a in at])
    # A published row of bare wool tells nothing of wool behind a board.
    alike = build.basis == "predicted" and not build.sheet
    published = twins(build.layers, build.air_gap, library) if alike else ()
    tuning = sheet_tuning(build.sheet, build.depth - build.sheet.thickness) if build.sheet else None
    return BuildLine(
        build,
        absorption,
        uncertainty,
        less,
        rating,
        price,
        frozen(per_sabin),
        build.mass / build.face_area if build.mass > 0.0 else math.nan,
        build.depth,
        math.nan if weights is None else float(weights @ np.minimum(absorption, 1.0)),
        published,
        (*what_it_does(absorption), *_tuning_words(tuning)),
        tuple(_findings(build, rating, published, edge)),
        tuning,
    )


def compare_builds(
    builds: Sequence[PanelBuild],
    library: Library,
    evaluation: Evaluation | None = None,
    *,
    edge_effect: bool = False,
    currency: str = "",
) -> Comparison:
    """Compare panel builds.

    Parameters
    ----------
    builds : sequence of PanelBuild
        What there is.
    library : Library
        Where measured rows of predicted builds are looked up.
    evaluation : Evaluation, optional
        The room as it is: builds are sorted by what it lacks.
    edge_effect : bool
        Count in what the edges of a small panel may add (`treatment.materials.edge`).
    currency : str
        Of the prices; default the scene's.

    Returns
    -------
    Comparison
        Without a room in the order given. With one: most absorption per m2 in the lacking bands first,
        each band weighted by its lack; by price for 1 m2 of absorption at 500 Hz when nothing is lacking.
    """
    lacking, weights, order, units = None, None, "as listed", "m"
    if evaluation is not None:
        lacking = lacking_area(evaluation)
        area = area_unit(evaluation.scene.units)
        budget, units = evaluation.scene.budget, evaluation.scene.units
        currency = currency or (budget.currency if budget else "")
        if lacking.sum() > 0.0:
            weights = frozen(lacking / lacking.sum())
            most = bands.band_label(bands.NOMINAL_HZ[int(np.argmax(lacking))])
            order = f"by absorption per {area} where this room lacks it, most at {most}"
        else:
            order = f"by price for 1 {area} of absorption at 500 Hz: this room lacks nothing"
    lines = [_line(b, library, weights, edge_effect) for b in builds]
    if weights is not None:
        lines.sort(key=lambda x: (-round(x.help, 6), x.build.price))
    elif lacking is not None:
        middle = SABIN_BANDS.index(500)
        lines.sort(key=lambda x: np.nan_to_num(x.price_per_sabin[middle], nan=math.inf))
    return Comparison(tuple(lines), order, lacking, currency, edge_effect, units)
