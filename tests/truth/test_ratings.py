"""Single-number ratings against worked examples.

ISO 11654:1997, annex A.1: read in a library copy. 'Separate script': computed once outside this project
from the rules of the standard. ISO 12999-2:2020, Table 5: read in open reference data.
"""

import pytest

from treatment.materials.ratings import (
    absorption_class,
    noise_reduction_coefficient,
    practical_coefficient,
    practical_from_octave,
    rate,
    sound_absorption_average,
    weighted_coefficient,
)


@pytest.mark.parametrize(
    ("practical", "weighted", "shape", "name"),
    [
        ((0.35, 0.70, 0.65, 0.60, 0.55), 0.60, "", "C"),  # ISO 11654:1997, annex A.1
        ((0.50, 0.65, 0.70, 0.85, 0.80), 0.70, "", "C"),  # ISO 12999-2:2020, Table 5: alpha_w 0.70
        ((0.25, 0.70, 0.95, 0.95, 0.90), 0.55, "MH", "D"),  # separate script: sum exactly 0.10
        ((0.90, 0.60, 0.35, 0.25, 0.20), 0.30, "LM", "D"),  # separate script
        ((0.05, 0.10, 0.15, 0.20, 0.25), 0.15, "", "E"),  # separate script
        ((0.85, 1.00, 1.00, 1.00, 1.00), 1.00, "", "A"),  # separate script
        # By hand: at 0.40 the curve is 0.20 0.40 0.40 0.40 0.30, and 4 kHz exceeds it by exactly 0.25, which
        # earns the letter (ISO 11654:1997, 4.3: 0.25 or more); at 0.45 the sum would be 0.15.
        ((0.30, 0.40, 0.40, 0.40, 0.55), 0.40, "H", "D"),
        ((0.00, 0.00, 0.00, 0.00, 0.00), 0.00, "", "not classified"),
    ],
)
def test_weighted_coefficient(practical, weighted, shape, name):
    assert weighted_coefficient(practical) == (weighted, shape)
    assert absorption_class(weighted) == name


def test_deviations_of_the_worked_example():
    # ISO 11654:1997, annex A.1: with the curve at 0.65 the sum of unfavourable deviations would be 0.15.
    reference = (0.45, 0.65, 0.65, 0.65, 0.55)
    practical = (0.35, 0.70, 0.65, 0.60, 0.55)
    assert sum(max(r - a, 0.0) for r, a in zip(reference, practical, strict=True)) == pytest.approx(0.15)


@pytest.mark.parametrize(
    ("weighted", "name"),
    [
        (0.90, "A"), (0.85, "B"), (0.80, "B"), (0.75, "C"), (0.60, "C"), (0.55, "D"), (0.30, "D"),
        (0.25, "E"), (0.15, "E"), (0.10, "not classified"),
    ],
)  # fmt: skip
def test_limits_of_the_classes(weighted, name):
    # ISO 11654:1997, annex B; from memory but for class C.
    assert absorption_class(weighted) == name


def test_practical_coefficient():
    # ISO 11654:1997, 4.1, note: 0.92 becomes 0.90; above 1.00 is set to 1.00.
    assert practical_coefficient([0.92, 0.92, 0.92]) == 0.90
    assert practical_from_octave(0.92) == 0.90
    assert practical_coefficient([1.10, 1.12, 1.08]) == 1.00
    assert practical_from_octave(0.93) == 0.95
    # The mean is rounded to two decimals first: 0.925 becomes 0.93 and then 0.95, where one rounding of
    # 0.9233 would give 0.90.
    assert practical_coefficient([0.92, 0.92, 0.93]) == 0.90
    assert practical_coefficient([0.92, 0.93, 0.93]) == 0.95


@pytest.mark.parametrize(
    ("coefficients", "nrc"),
    [
        # Separate script: means 0.7125, 0.8375, 0.9825.
        ((0.25, 0.70, 0.95, 0.95), 0.70),
        ((0.45, 0.90, 1.00, 1.00), 0.85),
        ((0.85, 1.02, 1.05, 1.01), 1.00),
        # Half way cases, ASTM C423 from memory: up. 0.675 and 0.725 have no exact binary value.
        ((0.675, 0.675, 0.675, 0.675), 0.70),
        ((0.725, 0.725, 0.725, 0.725), 0.75),
        ((0.60, 0.70, 0.70, 0.70), 0.70),
        ((0.80, 0.70, 0.70, 0.70), 0.75),
    ],
)
def test_noise_reduction_coefficient(coefficients, nrc):
    assert noise_reduction_coefficient(coefficients) == nrc


def test_every_tie_of_the_nrc_goes_up():
    for hundredths in range(0, 120, 5):
        tie = (hundredths + 2.5) / 100.0
        assert noise_reduction_coefficient([tie] * 4) == pytest.approx((hundredths + 5) / 100.0, abs=1e-12)


def test_sound_absorption_average():
    # ASTM C423 (from memory): mean of twelve thirds to the nearest 0.01. By hand: 6 x 0.50 + 6 x 0.75 is
    # 7.50, a mean of 0.625: half way, so 0.63.
    assert sound_absorption_average([0.50] * 6 + [0.75] * 6) == 0.63
    assert sound_absorption_average([0.50, 0.50, 0.75, 0.74]) == 0.62


def test_thirds_and_their_octaves_agree():
    thirds = {
        200: 0.30, 250: 0.36, 315: 0.42, 400: 0.55, 500: 0.61, 630: 0.70, 800: 0.78, 1000: 0.85, 1250: 0.90,
        1600: 0.92, 2000: 0.95, 2500: 0.95, 3150: 0.93, 4000: 0.90, 5000: 0.87,
    }  # fmt: skip
    octaves = [0.1, 0.2, 0.36, 0.62, 0.8433, 0.94, 0.90, 0.85]
    exact, about = rate(octaves, thirds), rate(octaves)
    assert exact.practical == about.practical == (0.35, 0.60, 0.85, 0.95, 0.90)
    assert exact.weighted == about.weighted
    assert exact.saa == about.saa == 0.69
    # NRC takes the thirds at the mid-bands: (0.36 + 0.61 + 0.85 + 0.95)/4 = 0.6925.
    assert exact.nrc == 0.70
    assert not exact.approximate
    assert "octave" in about.approximate


def test_wrong_counts_are_refused():
    for function, values in (
        (practical_coefficient, [0.5, 0.5]),
        (weighted_coefficient, [0.5] * 4),
        (noise_reduction_coefficient, [0.5] * 5),
        (sound_absorption_average, [0.5] * 11),
    ):
        with pytest.raises(ValueError):
            function(values)
