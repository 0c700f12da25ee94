"""Air: speed of sound, density and attenuation.

References
----------
ISO 9613-1:1993, clause 6, equations (3) to (5), annex A (speed of sound) and annex B (saturation
pressure). Stated accuracy of the attenuation: +-10 % (clause 7.1).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from treatment import bands
from treatment.bands import Array
from treatment.errors import TreatmentError

_TRIPLE_POINT_K = 273.16
_REFERENCE_K = 293.15
_REFERENCE_KPA = 101.325
_GAS_CONSTANT_DRY_AIR = 287.058  # J/(kg K)


@dataclass(frozen=True)
class Air:
    """State of the air in the room.

    Parameters
    ----------
    temperature_c : float
        Temperature in degrees Celsius, -20 to 50.
    relative_humidity : float
        Relative humidity in percent, 1 to 100.
    pressure_kpa : float
        Static pressure in kPa, 60 to 110.

    Raises
    ------
    TreatmentError
        When a value lies outside its range.
    """

    temperature_c: float = 20.0
    relative_humidity: float = 50.0
    pressure_kpa: float = 101.325

    def __post_init__(self) -> None:
        limits = {
            "temperature_c": (-20.0, 50.0),
            "relative_humidity": (1.0, 100.0),
            "pressure_kpa": (60.0, 110.0),
        }
        for name, (low, high) in limits.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise TreatmentError(
                    f"{value:g} is outside {low:g} to {high:g}",
                    where=f"air.{name}",
                    hint="the air model of ISO 9613-1 is used for living rooms only",
                )

    @property
    def temperature_k(self) -> float:
        """Absolute temperature in K."""
        return self.temperature_c + 273.15

    @property
    def speed_of_sound(self) -> float:
        """Speed of sound in m/s: ``343.2 sqrt(T/293.15 K)`` (ISO 9613-1, A.5)."""
        return float(343.2 * np.sqrt(self.temperature_k / _REFERENCE_K))

    @property
    def density(self) -> float:
        """Density of dry air in kg/m3, ideal gas."""
        return self.pressure_kpa * 1000.0 / (_GAS_CONSTANT_DRY_AIR * self.temperature_k)

    def attenuation_db_per_m(self, frequency_hz: Array | None = None) -> Array:
        """Attenuation of a pure tone.

        Parameters
        ----------
        frequency_hz : numpy.ndarray, optional
            Frequencies in Hz, any shape. Default: the exact mid-bands of the eight octaves.

        Returns
        -------
        numpy.ndarray
            Attenuation coefficient in dB/m, same shape (ISO 9613-1, eq. (5)).
        """
        f2 = np.square(bands.EXACT_HZ if frequency_hz is None else np.asarray(frequency_hz, dtype=np.float64))
        t = self.temperature_k
        p = self.pressure_kpa / _REFERENCE_KPA
        tr = t / _REFERENCE_K
        saturation = 10.0 ** (-6.8346 * (_TRIPLE_POINT_K / t) ** 1.261 + 4.6151)  # annex B, eq. (B.2)-(B.3)
        h = self.relative_humidity * saturation / p
        oxygen = p * (24.0 + 4.04e4 * h * (0.02 + h) / (0.391 + h))  # eq. (3)
        nitrogen = p * tr**-0.5 * (9.0 + 280.0 * h * np.exp(-4.170 * (tr ** (-1.0 / 3.0) - 1.0)))  # eq. (4)
        classical = 1.84e-11 / p * np.sqrt(tr)
        relaxation = tr**-2.5 * (
            0.01275 * np.exp(-2239.1 / t) / (oxygen + f2 / oxygen)
            + 0.1068 * np.exp(-3352.0 / t) / (nitrogen + f2 / nitrogen)
        )
        return np.asarray(8.686 * f2 * (classical + relaxation))

    def power_attenuation(self, frequency_hz: Array | None = None) -> Array:
        """Power attenuation coefficient ``m`` for the term ``4 m V``.

        Parameters
        ----------
        frequency_hz : numpy.ndarray, optional
            Frequencies in Hz. Default: the exact mid-bands of the eight octaves.

        Returns
        -------
        numpy.ndarray
            ``m`` in 1/m: the attenuation in dB/m over ``10 lg e``.
        """
        return np.asarray(self.attenuation_db_per_m(frequency_hz) / (10.0 * np.log10(np.e)))
