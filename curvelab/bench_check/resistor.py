"""A precision power resistor in the tube's place: ammeter against voltmeter.

The readings must lie on a straight line I = a + V / R. Its slope, times the resistance, is the
gain of the ammeter over that of the voltmeter; no resistor can tell which of the two is off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.linear import LinearFit, fit_linear
from curvelab.bench_check.records import Estimate
from curvelab.errors import BenchCheckError
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, format_number, format_uncertain
from curvelab.sweep.records import Readings

__all__ = [
    "RESISTOR_CAUTION",
    "ResistorCheck",
    "ResistorOutcome",
    "ResistorStandard",
    "check_resistor",
]

_FEWEST = 5
_NEAR = 1.25  # farther from the stated value than this factor is another resistor

RESISTOR_CAUTION = (
    "A resistor in the tube's place stands at the plate supply's lethal voltage on bare wires and "
    "gets hot enough to burn: use one rated for the voltage as well as for the power, mount it "
    "so that nothing can touch it, switch off, let the capacitors discharge and measure before "
    "reaching for it. The bench's own interlocks come first."
)


class ResistorOutcome(StrEnum):
    """What the line says."""

    AGREES = "the meters agree"
    OFF = "the meters disagree"
    BENT = "not a straight line"
    OTHER_RESISTOR = "not the resistor that was stated"
    TOO_FEW = "too few readings"


@dataclass(frozen=True, slots=True)
class ResistorStandard:
    """The resistor as its maker or a calibration states it.

    Attributes
    ----------
    resistance : float
        [ohm]
    tolerance : float
        Limits of error as a fraction of it, warming included.
    rated_power : float
        [W], as mounted.
    rated_voltage : float or None
        Highest working voltage [V], where it is stated.
    """

    resistance: float
    tolerance: float
    rated_power: float
    rated_voltage: float | None = None

    def __post_init__(self) -> None:
        stated = [self.resistance, self.rated_power]
        stated += [self.rated_voltage] if self.rated_voltage is not None else []
        if not all(math.isfinite(value) and value > 0 for value in stated):
            raise BenchCheckError("a resistor has a resistance and ratings above 0")
        if not 0 <= self.tolerance < 0.5:
            raise BenchCheckError("a resistor's tolerance is a fraction from 0 to below 0.5")

    def highest_voltage(self, load: float) -> float:
        """Return the voltage [V] that loads it with a share of its rated power."""
        by_power = math.sqrt(load * self.rated_power * self.resistance)
        return min(by_power, self.rated_voltage or math.inf)


@dataclass(frozen=True, slots=True)
class ResistorCheck:
    """What a resistor in the tube's place shows.

    Attributes
    ----------
    gain : Estimate or None
        Ammeter's over voltmeter's [1], the resistor's tolerance in its uncertainty.
    offset : Estimate or None
        What the ammeter shows at no voltage [A].
    bend : Estimate or None
        Distance of the middle of the readings from the straight line between their ends,
        as a fraction of the highest current.
    scatter : float or None
        Standard deviation of a reading about the line [A].
    used, left_out : int
        Readings below and above the load that was allowed.
    highest_power : float
        [W] of any reading.
    """

    standard: ResistorStandard
    outcome: ResistorOutcome
    gain: Estimate | None
    offset: Estimate | None
    bend: Estimate | None
    scatter: float | None
    used: int
    left_out: int
    highest_power: float
    sentences: tuple[str, ...]

    @property
    def trusted(self) -> bool:
        """Whether gain and offset stand for the meters."""
        return self.outcome in (ResistorOutcome.AGREES, ResistorOutcome.OFF)


def check_resistor(
    readings: Readings,
    standard: ResistorStandard,
    limits: CheckLimits,
    *,
    resolution: float = 0.0,
    leads: float = 0.0,
) -> ResistorCheck:
    """Judge the readings of a resistor.

    Parameters
    ----------
    resolution : float
        Last digit of the ammeter [A].
    leads : float
        Conductance of the leads with an empty socket [S], which is in parallel.

    Notes
    -----
    The gain's uncertainty joins that of the slope with the tolerance, taken as the half-width
    of a rectangle (JCGM 100:2008, clauses 4.3.7 and 5.1).
    """
    voltage, current = readings.plate_voltage, readings.plate_current
    power = np.abs(voltage * current)
    allowed = np.abs(voltage) <= standard.highest_voltage(limits.resistor_load.value) * 1.001
    used = int(allowed.sum())
    load = _load_sentences(readings, standard, limits, used)

    def result(
        outcome: ResistorOutcome, sentence: str, estimates: _Estimates | None = None
    ) -> ResistorCheck:
        return ResistorCheck(
            standard=standard,
            outcome=outcome,
            gain=estimates.gain if estimates else None,
            offset=estimates.offset if estimates else None,
            bend=estimates.bend if estimates else None,
            scatter=estimates.line.residual if estimates else None,
            used=used,
            left_out=len(readings) - used,
            highest_power=float(power.max(initial=0.0)),
            sentences=(sentence, *load),
        )

    found = None
    if used >= _FEWEST:
        found = _estimates(readings.take(allowed), standard, resolution, leads)
    if found is None:
        few = f"{used} readings within the allowed load: a line needs {_FEWEST} voltages."
        return result(ResistorOutcome.TOO_FEW, few)
    if not 1 / _NEAR < found.gain.value < _NEAR:
        shown = format_number(standard.resistance / found.gain.value) if found.gain.value else "no"
        return result(
            ResistorOutcome.OTHER_RESISTOR,
            f"The readings are those of {shown} ohm, not of {standard.resistance:g} ohm: "
            "another resistor, a bad contact, or a wrong unit.",
            found,
        )
    if abs(found.bend.value) - found.bend.u95 > limits.resistor_bend.value:
        return result(
            ResistorOutcome.BENT,
            f"The readings bend by {_percent(found.bend)} of the highest current: a meter that "
            "changes its range, a resistor that warms, or a contact. No single gain says it.",
            found,
        )
    outcome, sentence = _verdict(found, limits)
    return result(outcome, sentence, found)


@dataclass(frozen=True, slots=True)
class _Estimates:
    gain: Estimate
    offset: Estimate
    bend: Estimate
    line: LinearFit


def _estimates(
    readings: Readings, standard: ResistorStandard, resolution: float, leads: float
) -> _Estimates | None:
    voltage, current = readings.plate_voltage, readings.plate_current
    one = np.ones_like(voltage)
    middle, reach = 0.5 * (voltage.max() + voltage.min()), 0.5 * float(np.ptp(voltage))
    if np.unique(voltage.round(1)).size < _FEWEST or reach == 0:
        return None
    scaled = (voltage - middle) / reach
    line = fit_linear((one, voltage), current, resolution)
    parabola = fit_linear((one, scaled, scaled**2), current, resolution)
    if line is None or parabola is None:
        return None
    slope = line.estimate(1)
    gain = (slope.value - leads) * standard.resistance
    tolerance = 2.0 * standard.tolerance / 3**0.5
    bend, highest = parabola.estimate(2), float(np.abs(current).max()) or 1.0
    return _Estimates(
        gain=Estimate(gain, math.hypot(slope.u95 * standard.resistance, tolerance * gain)),
        offset=line.estimate(0),
        bend=Estimate(bend.value / highest, bend.u95 / highest),
        line=line,
    )


def _verdict(found: _Estimates, limits: CheckLimits) -> tuple[ResistorOutcome, str]:
    gain, offset = found.gain, found.offset
    measured = (
        f"The ammeter reads {_percent(Estimate(gain.value - 1, gain.u95))} against the voltmeter, "
        f"with {format_uncertain(offset.value, offset.u95, MICROAMPERE)} at no voltage"
    )
    off = Estimate(gain.value - 1.0, gain.u95)
    gain_off = off.stands_out and abs(off.value) > limits.meter_gain.value
    zero_off = offset.stands_out and abs(offset.value) > limits.plate_zero.value
    if gain_off or zero_off:
        return ResistorOutcome.OFF, (
            f"{measured}: more than the house allows. A resistor cannot tell which of the two "
            "meters is off."
        )
    if off.u95 > limits.meter_gain.value:
        return ResistorOutcome.AGREES, (
            f"{measured}: within the uncertainty, which is wider than the "
            f"{limits.meter_gain.printed:g} % that is looked for."
        )
    return ResistorOutcome.AGREES, f"{measured}: within what the house allows."


def _load_sentences(
    readings: Readings, standard: ResistorStandard, limits: CheckLimits, used: int
) -> list[str]:
    power = np.abs(readings.plate_voltage * readings.plate_current)
    highest = float(np.abs(readings.plate_voltage).max(initial=0.0))
    sentences = []
    if power.max(initial=0.0) > standard.rated_power:
        sentences.append(
            f"The resistor took {power.max():.1f} W and is rated for {standard.rated_power:g} W: "
            "it may have been damaged, and its value may have moved for good."
        )
    if standard.rated_voltage is not None and highest > standard.rated_voltage:
        sentences.append(
            f"It stood at {highest:.0f} V and is rated for {standard.rated_voltage:g} V."
        )
    if used < len(readings):
        bound = standard.highest_voltage(limits.resistor_load.value)
        sentences.append(
            f"{len(readings) - used} readings above {bound:.0f} V were left out: they load the "
            f"resistor with more than {limits.resistor_load.printed:g} % of its rated power "
            f"({limits.resistor_load.source}) or voltage."
        )
    top = float(np.abs(readings.plate_current).max(initial=0.0))
    sentences.append(f"The line reaches to {format_number(MILLIAMPERE.from_si(top))} mA.")
    return sentences


def _percent(estimate: Estimate) -> str:
    return f"{100 * estimate.value:+.2f} % ± {100 * estimate.u95:.2f} %"
