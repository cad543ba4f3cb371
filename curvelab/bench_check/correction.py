"""Corrections of a meter: suggested by a check, accepted by a person, applied to readings.

Nothing is applied that nobody accepted. The corrected sweep keeps its file with the original
bytes, says what was done in a remark, and carries it in its metadata, so that an exported
sweep still tells.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, replace

import numpy as np

from curvelab.bench_check.records import moment
from curvelab.errors import BenchCheckError
from curvelab.quantities import MICROAMPERE, format_number
from curvelab.sweep.bench import Bench, MeterAccuracy
from curvelab.sweep.records import FloatArray, Remark, RemarkCode, Sweep

__all__ = [
    "AcceptedCorrection",
    "MeterCorrection",
    "accept",
    "apply_correction",
    "bench_after",
    "corrections_of",
]

_METERS = ("plate_current", "grid_current")
_KEY = "meter correction "
_FARTHEST = 2.0  # a meter off by more than this factor is broken, not to be corrected


@dataclass(frozen=True, slots=True)
class MeterCorrection:
    """A correction of one ammeter: I = (read - offset - conductance Vp) factor.

    Attributes
    ----------
    meter : str
        ``plate_current`` or ``grid_current``.
    bench : str
        The bench it was found on.
    factor, factor_u95 : float
        [1]
    offset, offset_u95 : float
        What the meter shows at nothing [A].
    conductance : float
        Of the leads, past the tube [S].
    reason : str
        What suggests it, in one sentence.
    evidence : tuple of str
        SHA-256 of the sweep files it rests on.
    """

    meter: str
    bench: str
    factor: float = 1.0
    factor_u95: float = 0.0
    offset: float = 0.0
    offset_u95: float = 0.0
    conductance: float = 0.0
    reason: str = ""
    evidence: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.meter not in _METERS:
            raise BenchCheckError(f"no meter to correct is named {self.meter!r}")
        numbers = (
            self.factor, self.factor_u95, self.offset, self.offset_u95, self.conductance,
        )  # fmt: skip
        if not all(map(math.isfinite, numbers)):
            raise BenchCheckError("a correction is made of finite numbers")
        if not 1 / _FARTHEST <= self.factor <= _FARTHEST:
            raise BenchCheckError(
                f"a meter off by a factor of {self.factor:.3g} is to be repaired, not corrected"
            )

    @property
    def identity(self) -> str:
        """Twelve characters that stand for this correction and no other."""
        text = "|".join(
            repr(getattr(self, name)) for name in ("meter", "bench", *_NUMBERS, "evidence")
        )
        return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:12]

    @property
    def words(self) -> str:
        """What it does, in words."""
        parts = []
        if self.offset:
            parts.append(_less(self.offset, 4))
        if self.conductance:
            parts.append(f"{_less(self.conductance)} for each volt on the plate")
        if self.factor != 1.0:
            parts.append(f"times {self.factor:.5f} ± {self.factor_u95:.5f}")
        return f"{self.meter.replace('_', ' ')} {', '.join(parts) or 'as it is read'}"


def _less(current: float, digits: int = 3) -> str:
    """Return what is taken off a reading, or added to it, in words; SI."""
    word = "plus" if current < 0 else "less"
    return f"{word} {format_number(MICROAMPERE.from_si(abs(current)), digits)} µA"


_NUMBERS = ("factor", "factor_u95", "offset", "offset_u95", "conductance")


@dataclass(frozen=True, slots=True)
class AcceptedCorrection:
    """A correction that a person has accepted, with name and date (ISO 8601)."""

    correction: MeterCorrection
    accepted_by: str
    accepted_on: str

    def __post_init__(self) -> None:
        if not self.accepted_by.strip():
            raise BenchCheckError("a correction is accepted by a person, whose name is kept")
        moment(self.accepted_on)


def accept(correction: MeterCorrection, by: str, on: str) -> AcceptedCorrection:
    """Return a correction as accepted.

    Raises
    ------
    BenchCheckError
        If no name is given, or the date is none.
    """
    return AcceptedCorrection(correction, by.strip(), on)


def corrections_of(sweep: Sweep) -> tuple[str, ...]:
    """Return the identities of the corrections that a sweep has been through."""
    return tuple(key[len(_KEY) :] for key in sweep.metadata if key.startswith(_KEY))


def apply_correction(sweep: Sweep, accepted: AcceptedCorrection) -> Sweep:
    """Return a sweep with its readings corrected.

    A sweep that has been through this very correction is returned as it is. Where the reader
    took the drop in resistors of the bench's leads off the voltages, the drop is taken again
    with the corrected current.

    Raises
    ------
    BenchCheckError
        If another correction of the same meter was applied already.
    """
    correction = accepted.correction
    if correction.identity in corrections_of(sweep):
        return sweep
    meter = correction.meter.replace("_", " ")
    for key, value in sweep.metadata.items():
        if key.startswith(_KEY) and value.startswith(meter):
            raise BenchCheckError(f"{sweep.title}: its {meter} has been corrected otherwise")
    readings = sweep.readings
    read = getattr(readings, correction.meter)
    if read is None:
        return sweep
    flowing = (
        read - correction.offset - correction.conductance * readings.plate_voltage
    ) * correction.factor
    if correction.meter == "plate_current":
        plate, grid = _voltages(sweep, flowing - read)
        readings = replace(readings, plate_current=flowing, plate_voltage=plate, grid_voltage=grid)
    else:
        readings = replace(readings, grid_current=flowing)
    told = (
        f"{correction.words} (accepted by {accepted.accepted_by}, {accepted.accepted_on}; "
        f"{correction.reason})"
    )
    return replace(
        sweep,
        readings=readings,
        remarks=(*sweep.remarks, Remark(RemarkCode.CORRECTED, f"corrected: {told}")),
        metadata={**sweep.metadata, _KEY + correction.identity: told},
    )


def bench_after(bench: Bench, accepted: AcceptedCorrection) -> Bench:
    """Return a bench whose meter has the uncertainty of a correction added to its limits.

    A limit of error is the half-width of a rectangle, root three times its standard
    uncertainty (JCGM 100:2008, clause 4.3.7).
    """
    correction = accepted.correction
    meter: MeterAccuracy = getattr(bench, correction.meter)
    root3 = 3**0.5
    widened = replace(
        meter,
        gain=float(np.hypot(meter.gain, root3 * correction.factor_u95 / 2)),
        offset=float(np.hypot(meter.offset, root3 * correction.offset_u95 / 2)),
    )
    if correction.meter == "plate_current":
        return replace(bench, plate_current=widened)
    return replace(bench, grid_current=widened)


def _voltages(sweep: Sweep, change: FloatArray) -> tuple[FloatArray, FloatArray]:
    readings, conditions = sweep.readings, sweep.conditions
    if not sweep.has_remark(RemarkCode.SUPPLY):
        return readings.plate_voltage, readings.grid_voltage
    cathode = conditions.cathode_resistor or 0.0
    both = cathode + (conditions.plate_resistor or 0.0)
    return readings.plate_voltage - both * change, readings.grid_voltage - cathode * change
