"""Small panels absorb more per square metre than big samples: an option, off by default.

Sound bends towards an absorber's edges. A reverberation-room sample of 10 to 12 m2 has a perimeter of about
1.2 m for each m2, a panel of 0.6 by 1.2 m has 5. Measured coefficients rise about linearly with that ratio
from 1.3 to 3.3 1/m; nothing is claimed beyond, nor for an infinite sheet.

References
----------
T. W. Bartel, Effect of absorber geometry on apparent absorption coefficients as measured in a reverberation
chamber, J. Acoust. Soc. Am. 69 (1981) 1065: about linear in E for 1.3 to 3.3 1/m, and an extrapolation to
E = 0 is not valid (abstract read).
``alpha + beta E`` with beta of 0.1 to 0.3 m in the middle bands: textbook form, from memory. The lower end
is taken.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from treatment.bands import COUNT, NOMINAL_HZ, Array, frozen
from treatment.materials.make_material import LARGEST_COEFFICIENT

#: Slope in m, and its expanded uncertainty (k = 2): the slope may be nothing or twice as much.
BETA: Final = 0.1
BETA_UNCERTAINTY: Final = 0.1
#: Perimeter over area of an ordinary laboratory sample, 3 m by 4 m, in 1/m.
SAMPLE: Final = 1.2
#: The largest ratio that the published measurement holds, in 1/m.
LARGEST: Final = 3.3
#: Bands that the slope is published for, the middle ones.
BANDS: Final = frozen([250 <= f <= 4000 for f in NOMINAL_HZ])


def edge_gain(absorption: Array, width: float, height: float) -> tuple[Array, Array]:
    """Absorption that a panel's edges may add.

    Parameters
    ----------
    absorption : numpy.ndarray
        Coefficients of a big sample, shape (8,).
    width, height : float
        Of the panel, m.

    Returns
    -------
    gain : numpy.ndarray
        ``beta (E - 1.2) alpha`` from 250 Hz to 4 kHz, shape (8,), with E at most 3.3 1/m: at most 0.21,
        and no more than lifts the coefficient to 1.3. What does not absorb gains nothing (an assumption).
    uncertainty : numpy.ndarray
        Expanded, k = 2, shape (8,).
    """
    ratio = min(2.0 * (width + height) / (width * height), LARGEST)
    reach = max(ratio - SAMPLE, 0.0) * BANDS * np.minimum(absorption, 1.0)
    gain = np.clip(BETA * reach, 0.0, np.maximum(LARGEST_COEFFICIENT - absorption, 0.0))
    return frozen(gain.reshape(COUNT)), frozen((BETA_UNCERTAINTY * reach).reshape(COUNT))
