"""What a tube with a screen grid is like before any reading of it: a prior on its law.

House estimates, wide enough for every published family that was tried; the contact offset is
that of `conversion`.
"""

from __future__ import annotations

import numpy as np

from curvelab.fitting.conversion import CONTACT_OFFSET, CONTACT_OFFSET_OPEN
from curvelab.fitting.pentode_law import PENTODE

__all__ = ["PENTODE_CENTRE", "PENTODE_WIDTH"]

# Centre and standard deviation of each internal parameter (a logarithm; volts for Vc, a power
# for m) by symbol. G and mu are open: they start from the figures at hand.
_SHAPE = {
    "G": (0.0, 10.0),
    "mu": (0.0, 10.0),
    "D": (np.log(0.03), 1.0),
    "x": (np.log(1.4), 0.15),
    "K": (np.log(7.0), 0.7),
    "Vc": (CONTACT_OFFSET, CONTACT_OFFSET_OPEN),
    "n": (np.log(1.2), 0.5),
    "y0": (np.log(0.06), 1.0),
    "m": (0.2, 0.4),
    "r": (np.log(0.12), 1.0),
}
PENTODE_CENTRE = np.array([_SHAPE[symbol][0] for symbol in PENTODE.symbols])
PENTODE_WIDTH = np.array([_SHAPE[symbol][1] for symbol in PENTODE.symbols])
