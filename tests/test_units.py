"""Lengths, against the definition of the inch and against hand values."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from treatment.errors import UnitError
from treatment.units import UNITS, format_imperial, format_length, format_metric, parse_length

# Hand values from the definition: 1 in = 25.4 mm exactly, 1 ft = 12 in (agreement of 1959, ISO 31-1).
HAND = [
    ("2.35 m", 2.35),
    ("235cm", 2.35),
    ("235 CM", 2.35),
    ("2350 mm", 2.35),
    ("2 m 35 cm", 2.35),
    ("2 metres 5 mm", 2.005),
    ("1 in", 0.0254),
    ("1 ft", 0.3048),
    ("5 ft", 1.524),
    ("7 ft 8 1/2 in", 2.3495),  # 92.5 in
    ("7' 8 1/2\"", 2.3495),
    ("7'8-1/2\"", 2.3495),
    ("7'-8 1/2\"", 2.3495),
    ("7 ft 8½ in", 2.3495),
    ("7′ 8½″", 2.3495),
    ("7’ 8 1/2”", 2.3495),
    ("7 feet 8.5 inches", 2.3495),
    ("7 ft. 8.5 in.", 2.3495),
    ("7' 8.5''", 2.3495),
    ("92.5 in", 2.3495),
    ("92 1/2 in", 2.3495),
    ("1/2 in", 0.0127),
    ("½ in", 0.0127),
    ("⅞ in", 0.022225),
    (".5 in", 0.0127),
    ("-3 in", -0.0762),
    ("−3 in", -0.0762),
    ("+3 in", 0.0762),
    ("-1 ft 3 in", -0.381),
    ("\u00a02.35\u00a0m ", 2.35),
    ("0 m", 0.0),
]


@pytest.mark.parametrize(("text", "metres"), HAND)
def test_text(text: str, metres: float) -> None:
    for unit in UNITS:  # text carries its own unit
        assert parse_length(text, unit) == pytest.approx(metres, rel=1e-12, abs=1e-15)


@pytest.mark.parametrize(
    ("value", "unit", "metres"),
    [(2.35, "m", 2.35), (235, "cm", 2.35), (2350, "mm", 2.35), (8, "ft", 2.4384), (92.5, "in", 2.3495)],
)
def test_plain_numbers_use_the_unit(value: float, unit: str, metres: float) -> None:
    assert parse_length(value, unit) == pytest.approx(metres, rel=1e-12)
    assert parse_length(str(value), unit) == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize(
    "value",
    [
        True, False, None, [1], {}, math.nan, math.inf, -math.inf, 10**400,
        "", " ", "-", "m", "2,35 m", "1,200 mm", "2.35 M M", "2.35 yd", "two metres", "7 ft 8", "7 ft 14 in",
        "5.5 ft 3 in", "3 in 2 ft", "2 m 3 in", "2 m 2 m", "1/0 in", "8 3/2 in", "1e3 mm", "nan m", "inf",
        "2.35.1 m", "--3 in", "9" * 500, "2 m - 3 cm", "٣ m x",
    ],
)  # fmt: skip
def test_refused(value: object) -> None:
    with pytest.raises(UnitError) as caught:
        parse_length(value)
    assert caught.value.hint
    assert len(str(caught.value)) < 300


def test_a_number_too_long_to_print_is_refused() -> None:
    with pytest.raises(UnitError, match="thousands of digits"):
        parse_length(10**5000)


def test_refusals_say_what_was_understood() -> None:
    with pytest.raises(UnitError, match=r'"2,35 m" holds a comma.*"2\.35 m"'):
        parse_length("2,35 m")
    with pytest.raises(UnitError, match="name every unit"):
        parse_length("7 ft 8")
    with pytest.raises(UnitError, match='unknown unit "yd"'):
        parse_length("3 yd")
    with pytest.raises(UnitError, match="true is not a length"):
        parse_length(True)
    with pytest.raises(UnitError, match='"yd" is not a unit'):
        parse_length(3.0, "yd")


@pytest.mark.parametrize(
    ("metres", "step", "text"),
    [
        (2.35, None, "2.35 m"),
        (0.8649999, None, "0.865 m"),
        (0.0, None, "0.00 m"),
        (-0.0001, None, "0.00 m"),
        (2.3524, 0.005, "2.35 m"),
        (2.3526, 0.005, "2.355 m"),
        (2.9976, 0.005, "3.00 m"),
        (-1.2, None, "-1.20 m"),
        (2.3025, 0.005, "2.305 m"),
    ],
)
def test_metric(metres: float, step: float | None, text: str) -> None:
    assert format_metric(metres, step) == text


@pytest.mark.parametrize(
    ("inches", "text"),
    [
        (92.5, "7 ft 8 1/2 in"),
        (96.0, "8 ft"),
        (95.95, "8 ft"),
        (11.97, "1 ft"),
        (0.0, "0 in"),
        (0.5, "1/2 in"),
        (60.125, "5 ft 0 1/8 in"),
        (8.25, "8 1/4 in"),
        (-3.0, "-3 in"),
        (12.06, "1 ft"),
        (12.07, "1 ft 0 1/8 in"),
        (0.01, "0 in"),
        (-0.01, "0 in"),
        (23.99, "2 ft"),
    ],
)
def test_imperial_to_the_eighth_with_carry(inches: float, text: str) -> None:
    assert format_imperial(inches * 0.0254) == text


@pytest.mark.parametrize(
    ("unit", "text"),
    [("m", "2.35 m"), ("cm", "235 cm"), ("mm", "2350 mm"), ("ft", "7 ft 8 1/2 in (2.35 m)")],
)
def test_length_in_the_persons_unit(unit: str, text: str) -> None:
    assert format_length(2.35, unit) == text


@given(st.floats(-200.0, 200.0))
def test_round_trips(metres: float) -> None:
    assert parse_length(format_metric(metres)) == pytest.approx(metres, abs=0.0005 + 1e-9)
    assert parse_length(format_metric(metres, 0.005)) == pytest.approx(metres, abs=0.0025 + 1e-8)
    assert parse_length(format_imperial(metres)) == pytest.approx(metres, abs=0.0254 / 16 + 1e-8)


@given(st.text(max_size=70))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        metres = parse_length(text)
    except UnitError:
        return
    assert math.isfinite(metres)


def test_wild_numbers_are_written_short() -> None:
    assert format_metric(1e300) == "1e+300 m"
    assert len(format_length(-1e200, "ft")) < 40
    assert format_length(1e200, "mm") == "1e+200 m"
