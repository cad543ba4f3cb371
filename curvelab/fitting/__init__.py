"""From readings to laws, families and constants with uncertainty. Pure numpy."""

from curvelab.fitting.constants import constants_at, local_constants_at, with_bench
from curvelab.fitting.family import FittedFamily
from curvelab.fitting.fit import fit_sweep, fit_sweeps
from curvelab.fitting.pentode_fit import fit_pentodes
from curvelab.fitting.records import (
    Constant,
    Constants,
    FitResult,
    LawFit,
    LeftOut,
    LeftOutReason,
    Outcome,
    PlateFamily,
)

__all__ = [
    "Constant",
    "Constants",
    "FitResult",
    "FittedFamily",
    "LawFit",
    "LeftOut",
    "LeftOutReason",
    "Outcome",
    "PlateFamily",
    "constants_at",
    "fit_pentodes",
    "fit_sweep",
    "fit_sweeps",
    "local_constants_at",
    "with_bench",
]
