"""Single numbers for a curve of absorption: practical and weighted coefficient, class, NRC, SAA.

All rounding is done in whole thousandths or hundredths: a half way case such as 0.725 has no exact binary
value, and would else fall either way.

References
----------
ISO 11654:1997, 4.1 (practical coefficient), 4.2 and 4.3 (weighted coefficient, shape indicators), annex B
(classes; limits from memory but for C, which was read). Not opened; the reference curve was read in an
open implementation, the worked example of annex A in a library copy.
ASTM C423: NRC, mean of the coefficients at 250, 500, 1000 and 2000 Hz to the nearest 0.05; SAA, mean of the
twelve third octaves from 200 to 2500 Hz to the nearest 0.01; a half way case goes up. From memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from treatment.bands import NOMINAL_HZ

#: Reference curve at 250, 500, 1000, 2000, 4000 Hz, in hundredths (ISO 11654:1997, Figure 1).
REFERENCE: Final = (80, 100, 100, 100, 90)
_STEP: Final = 5
_ALLOWED: Final = 10  # hundredths of unfavourable deviation, sum
_EXCESS: Final = 25  # hundredths above the shifted curve that earn a shape indicator
_INDICATORS: Final = ("L", "M", "M", "H", "H")
_CLASSES: Final = ((90, "A"), (80, "B"), (60, "C"), (30, "D"), (15, "E"))
_SAA_THIRDS: Final = (200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500)

#: What is approximate when only octaves are known.
OCTAVES_ONLY: Final = (
    "rated from octave values: SAA is the mean of four octaves, each taken as the mean of its thirds; NRC "
    "wants the third octaves at the four mid-bands"
)


@dataclass(frozen=True)
class Rating:
    """Single numbers of one curve.

    Parameters
    ----------
    practical : tuple of float
        Practical coefficients at 250, 500, 1000, 2000, 4000 Hz.
    weighted : float
        ``alpha_w``.
    shape : str
        Letters of ``LMH``; empty when no band stands out. With a letter the whole curve should be used.
    absorption_class : str
        ``A`` to ``E``, or ``not classified``.
    nrc, saa : float
        ASTM C423.
    approximate : str
        What is approximate; empty when third octaves were given.
    """

    practical: tuple[float, ...]
    weighted: float
    shape: str
    absorption_class: str
    nrc: float
    saa: float
    approximate: str = ""


def _thousandths(value: float) -> int:
    """Whole thousandths of a coefficient, a half way case up; a millionth makes up for binary digits."""
    return int(value * 1000.0 + 0.5 + 1e-6)


def _nearest(numerator: int, denominator: int, step: int) -> int:
    """``numerator/denominator`` to the nearest multiple of ``step``, a half way case up."""
    return (2 * numerator + step * denominator) // (2 * step * denominator) * step


def practical_coefficient(thirds: Sequence[float]) -> float:
    """Practical coefficient of one octave.

    Parameters
    ----------
    thirds : sequence of float
        The three third-octave coefficients, as printed (two decimals).

    Returns
    -------
    float
        Their mean to two decimals, then to the nearest 0.05, at most 1.00 (ISO 11654:1997, 4.1).

    Raises
    ------
    ValueError
        When there are not three.
    """
    if len(thirds) != 3:
        raise ValueError("an octave has three third octaves")
    hundredths = _nearest(sum(_thousandths(x) for x in thirds), 30, 1)
    return min(_nearest(hundredths, 1, _STEP), 100) / 100.0


def practical_from_octave(coefficient: float) -> float:
    """Practical coefficient from an octave value.

    Parameters
    ----------
    coefficient : float
        Octave coefficient, the mean of its thirds.

    Returns
    -------
    float
        To two decimals, then to the nearest 0.05, at most 1.00.
    """
    hundredths = _nearest(_thousandths(coefficient), 10, 1)
    return min(_nearest(hundredths, 1, _STEP), 100) / 100.0


def weighted_coefficient(practical: Sequence[float]) -> tuple[float, str]:
    """Weighted coefficient and shape indicators.

    Parameters
    ----------
    practical : sequence of float
        Practical coefficients at 250, 500, 1000, 2000, 4000 Hz.

    Returns
    -------
    weighted : float
        Value at 500 Hz of the reference curve, lowered in steps of 0.05 until the practical coefficients
        fall short of it by no more than 0.10 in sum (ISO 11654:1997, 4.2).
    shape : str
        Letters of ``LMH`` for bands that exceed that curve by 0.25 or more (4.3).

    Raises
    ------
    ValueError
        When there are not five.
    """
    if len(practical) != len(REFERENCE):
        raise ValueError("five practical coefficients are needed, 250 Hz to 4 kHz")
    values = [_nearest(_thousandths(x), 10, 1) for x in practical]
    shift = 0
    while sum(max(r - shift - v, 0) for r, v in zip(REFERENCE, values, strict=True)) > _ALLOWED:
        shift += _STEP
    above = [v - (r - shift) >= _EXCESS for r, v in zip(REFERENCE, values, strict=True)]
    letters = [letter for letter, over in zip(_INDICATORS, above, strict=True) if over]
    # With nothing to weight the curve sinks below zero, where a band cannot stand out.
    weighted = max(100 - shift, 0)
    return weighted / 100.0, "".join(dict.fromkeys(letters)) if weighted else ""


def absorption_class(weighted: float) -> str:
    """Class of a weighted coefficient.

    Parameters
    ----------
    weighted : float
        ``alpha_w``.

    Returns
    -------
    str
        ``A`` to ``E`` or ``not classified`` (ISO 11654:1997, annex B).
    """
    hundredths = _nearest(_thousandths(weighted), 10, 1)
    return next((name for least, name in _CLASSES if hundredths >= least), "not classified")


def noise_reduction_coefficient(coefficients: Sequence[float]) -> float:
    """NRC of four coefficients.

    Parameters
    ----------
    coefficients : sequence of float
        At 250, 500, 1000, 2000 Hz.

    Returns
    -------
    float
        Mean to the nearest 0.05 (ASTM C423).

    Raises
    ------
    ValueError
        When there are not four.
    """
    if len(coefficients) != 4:
        raise ValueError("four coefficients are needed, 250 Hz to 2 kHz")
    return _nearest(sum(_thousandths(x) for x in coefficients), 4, 50) / 1000.0


def sound_absorption_average(coefficients: Sequence[float]) -> float:
    """SAA of twelve third-octave coefficients.

    Parameters
    ----------
    coefficients : sequence of float
        Third octaves 200 Hz to 2.5 kHz. Four octaves, each the mean of its thirds, have the same mean.

    Returns
    -------
    float
        Mean to the nearest 0.01 (ASTM C423).

    Raises
    ------
    ValueError
        When there are not twelve, or four.
    """
    count = len(coefficients)
    if count not in (4, len(_SAA_THIRDS)):
        raise ValueError("twelve third octaves are needed, 200 Hz to 2.5 kHz, or their four octaves")
    return _nearest(sum(_thousandths(x) for x in coefficients), 10 * count, 1) / 100.0


def rate(absorption: Sequence[float], thirds: Mapping[int, float] | None = None) -> Rating:
    """Rate one curve.

    Parameters
    ----------
    absorption : sequence of float
        Octave coefficients, eight bands.
    thirds : mapping of int to float, optional
        Third-octave coefficients by nominal mid-band, 200 Hz to 5 kHz: then nothing is approximate.

    Returns
    -------
    Rating
        A rating of predicted values is no test result.
    """
    octaves = {f: float(a) for f, a in zip(NOMINAL_HZ, absorption, strict=True)}
    if thirds is None:
        practical = [practical_from_octave(octaves[f]) for f in (250, 500, 1000, 2000, 4000)]
        four = [octaves[f] for f in (250, 500, 1000, 2000)]
        nrc, saa = noise_reduction_coefficient(four), sound_absorption_average(four)
    else:
        triples = (
            (200, 250, 315), (400, 500, 630), (800, 1000, 1250), (1600, 2000, 2500), (3150, 4000, 5000),
        )  # fmt: skip
        practical = [practical_coefficient([thirds[f] for f in triple]) for triple in triples]
        nrc = noise_reduction_coefficient([thirds[f] for f in (250, 500, 1000, 2000)])
        saa = sound_absorption_average([thirds[f] for f in _SAA_THIRDS])
    weighted, shape = weighted_coefficient(practical)
    return Rating(
        tuple(practical),
        weighted,
        shape,
        absorption_class(weighted),
        nrc,
        saa,
        OCTAVES_ONLY if thirds is None else "",
    )
