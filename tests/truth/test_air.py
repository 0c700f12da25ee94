"""Air against the printed tables of ISO 9613 and the speed of sound of its annex A."""

import numpy as np
import pyfar
import pytest

from treatment import bands
from treatment.air import Air
from treatment.errors import TreatmentError

# ISO 9613-1:1993, Table 1 (dB/km at exact mid-bands), as transcribed in the reference data of an open
# measurement library: (temperature, humidity, exact frequency, attenuation).
TABLE_1 = [
    (20.0, 50.0, 1000.0, 4.66),
    (20.0, 50.0, 1995.26, 9.86),
    (10.0, 70.0, 1000.0, 3.66),
    (0.0, 20.0, 1995.26, 34.6),
    (-20.0, 50.0, 1000.0, 9.14),
    (15.0, 50.0, 1000.0, 4.16),
]
# ISO 9613-2:1996, Table 2 (dB/km, octave bands 63 Hz to 8 kHz, printed to one decimal or three figures).
TABLE_2 = [
    (10.0, 70.0, [0.1, 0.4, 1.0, 1.9, 3.7, 9.7, 32.8, 117.0]),
    (20.0, 70.0, [0.1, 0.3, 1.1, 2.8, 5.0, 9.0, 22.9, 76.6]),
    (15.0, 20.0, [0.3, 0.6, 1.2, 2.7, 8.2, 28.2, 88.8, 202.0]),
]


@pytest.mark.parametrize(("temperature", "humidity", "frequency", "printed"), TABLE_1)
def test_attenuation_matches_iso_9613_1_table_1(temperature, humidity, frequency, printed):
    found = 1000.0 * Air(temperature, humidity).attenuation_db_per_m(np.array([frequency]))[0]
    assert found == pytest.approx(printed, rel=0.005)  # the table prints three figures


@pytest.mark.parametrize(("temperature", "humidity", "printed"), TABLE_2)
def test_attenuation_matches_iso_9613_2_table_2(temperature, humidity, printed):
    found = 1000.0 * Air(temperature, humidity).attenuation_db_per_m()
    # Half of the last printed digit, and half a percent for the three-figure cells.
    allowed = np.where(np.array(printed) < 100.0, 0.0501, 0.5) + 0.005 * np.array(printed)
    assert np.all(np.abs(found - printed) <= allowed)


def test_attenuation_matches_pyfar_at_nominal_frequencies():
    nominal = np.array(bands.NOMINAL_HZ, dtype=float)
    oracle = pyfar.constants.air_attenuation(20.0, nominal, 0.5)[0]
    found = Air().attenuation_db_per_m(nominal)
    assert found == pytest.approx(np.ravel(oracle), rel=1e-3)


def test_power_attenuation_is_decibels_over_4_34():
    # 10 lg e = 4.3429; 20 degrees C, 50 %: m = 1.074e-3 at 1 kHz (independent computation).
    assert Air().power_attenuation()[4] == pytest.approx(1.074e-3, rel=1e-3)


@pytest.mark.parametrize(
    ("temperature", "speed"), [(0.0, 331.29), (10.0, 337.30), (20.0, 343.20), (25.0, 346.11), (30.0, 349.00)]
)
def test_speed_of_sound_matches_iso_9613_1_annex_a(temperature, speed):
    # c = 343.2 sqrt(T/293.15), ISO 9613-1:1993, A.5.
    assert Air(temperature).speed_of_sound == pytest.approx(speed, abs=0.01)


@pytest.mark.parametrize(
    "wrong", [{"temperature_c": 200.0}, {"relative_humidity": 0.0}, {"pressure_kpa": 5.0}]
)
def test_air_outside_its_range_is_refused(wrong):
    with pytest.raises(TreatmentError, match="outside"):
        Air(**wrong)


def test_exact_mid_bands_match_iec_61260():
    # IEC 61260-1:2014, base 10: 1000 * 10**(3x/10); printed values to three decimals.
    printed = [63.096, 125.893, 251.189, 501.187, 1000.0, 1995.262, 3981.072, 7943.282]
    assert pytest.approx(printed, abs=6e-4) == bands.EXACT_HZ
    assert bands.LOWER_EDGE_HZ[4] == pytest.approx(707.946, abs=1e-3)
    assert bands.UPPER_EDGE_HZ[4] == pytest.approx(1412.538, abs=1e-3)
