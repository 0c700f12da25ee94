"""Recordings: a measured impulse response from a WAV file."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.errors import PlanError

#: Larger files are no impulse responses.
_MOST_BYTES: Final = 300_000_000
_LEAST_RATE: Final = 8_000
_LEAST_SECONDS: Final = 0.2
#: Samples this near to full scale in a row mean that the input was overdriven.
_CLIPPED: Final = 0.9995


@dataclass(frozen=True, eq=False)
class Recording:
    """An impulse response.

    Parameters
    ----------
    samples : numpy.ndarray
        One channel, shape (n,), full scale 1.
    rate : int
        Samples per second.
    channels : int
        How many the file holds.
    clipped : bool
        Whether it seems overdriven.
    """

    samples: Array
    rate: int
    channels: int
    clipped: bool


def read_recording(path: Path, channel: int = 1) -> Recording:
    """Read one channel of a WAV file.

    Parameters
    ----------
    path : Path
        The file: 16, 24 or 32 bit integers or floating point, any number of channels.
    channel : int
        Which, counted from 1.

    Returns
    -------
    Recording
        The samples.

    Raises
    ------
    PlanError
        When the file is missing, no WAV file, damaged, silent, too short or too coarsely sampled.
    """
    from scipy.io import wavfile

    where = str(path)
    if not path.is_file():
        raise PlanError(f"there is no file '{path}'", where=where)
    if path.stat().st_size > _MOST_BYTES:
        raise PlanError(
            f"'{path.name}' has {path.stat().st_size / 1e6:.0f} MB; an impulse response has a few",
            where=where,
            hint="cut it to the impulse response, a few seconds",
        )
    try:
        with warnings.catch_warnings():
            # Chunks that the reader skips (notes of an editor) are no concern.
            warnings.simplefilter("ignore")
            rate, data = wavfile.read(path)
    except (OSError, ValueError, EOFError, KeyError, IndexError, OverflowError, MemoryError) as error:
        raise PlanError(
            f"'{path.name}' cannot be read as a WAV file: {error}", where=where, hint="save it as WAV, PCM"
        ) from error
    except Exception as error:  # the reader raises whatever its parsing of a damaged header meets
        raise PlanError(
            f"'{path.name}' is damaged: {type(error).__name__}", where=where, hint="save it again as WAV, PCM"
        ) from error
    samples = _full_scale(np.asarray(data))
    if samples.ndim == 1:
        samples = samples[:, None]
    channels = samples.shape[1]
    if not 1 <= channel <= channels:
        raise PlanError(
            f"'{path.name}' has {channels} channel{'s' * (channels != 1)}, not {channel}",
            where=where,
            hint=f"take --channel 1{f' to {channels}' if channels > 1 else ''}",
        )
    one = samples[:, channel - 1]
    if not np.isfinite(one).all():
        raise PlanError(f"'{path.name}' holds samples that are no numbers", where=where)
    if rate < _LEAST_RATE:
        raise PlanError(
            f"'{path.name}' has {rate} samples per second; {_LEAST_RATE} are the least", where=where,
            hint="record with 44100 or 48000",
        )  # fmt: skip
    if len(one) < _LEAST_SECONDS * rate:
        raise PlanError(
            f"'{path.name}' lasts {len(one) / rate:.2f} s; a decay takes {_LEAST_SECONDS} s at least",
            where=where,
        )
    largest = float(np.abs(one).max())
    if largest == 0.0:
        raise PlanError(
            f"channel {channel} of '{path.name}' is silent", where=where, hint="take another --channel"
        )
    near = np.abs(one) >= _CLIPPED
    clipped = (
        bool(np.any(near[1:] & near[:-1] & (np.sign(one[1:]) == np.sign(one[:-1]))))
        and data.dtype.kind != "f"
    )
    return Recording(frozen(one), int(rate), channels, clipped)


def _full_scale(data: NDArray[Any]) -> Array:
    """Integers of any width, and floating point, to full scale 1."""
    values = np.asarray(data, dtype=np.float64)
    if data.dtype.kind == "f":
        return values
    if data.dtype == np.uint8:
        return np.asarray((values - 128.0) / 128.0)
    return np.asarray(values / float(np.iinfo(data.dtype).max))
