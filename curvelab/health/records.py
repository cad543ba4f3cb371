"""What is wrong with a tube or its bench, and the verdict that follows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["DriftBehaviour", "DriftReport", "Finding", "FindingCode", "Severity", "Verdict"]


class FindingCode(StrEnum):
    """The trade's words for what can be wrong."""

    GAS = "gas"
    GRID_LEAKAGE = "grid-leakage"
    GRID_EMISSION = "grid-emission"
    RUNAWAY = "runaway"
    BIAS_DRIFT = "bias-drift"
    WEAK_EMISSION = "weak-emission"
    CONTACT = "contact"
    CLIPPED = "clipped"
    GRID_STEP = "grid-step"
    OFF_TYPE = "off-type"
    SECTION_IMBALANCE = "section-imbalance"
    OVER_RATING = "over-rating"
    FAR_FROM_BOGEY = "far-from-bogey"
    HEATER_CATHODE = "heater-cathode"
    SHORT = "short"
    NO_EMISSION = "no-emission"
    SHORT_WARM_UP = "short-warm-up"
    NOISY = "noisy"
    DISAGREEMENT = "disagreement"
    NOT_COVERED = "not-covered"
    OFF_SIGN = "off-sign"
    SWAPPED = "swapped"


class Severity(StrEnum):
    """How much a finding weighs."""

    NOTE = "note"
    CAUTION = "caution"
    REJECT = "reject"


class Verdict(StrEnum):
    """What is to be done with a tube: the worst severity decides."""

    ACCEPT = "accept"
    HOLD = "hold"  # a person must decide
    REJECT = "reject"

    @classmethod
    def of(cls, findings: tuple[Finding, ...]) -> Verdict:
        """Return the verdict that the findings make."""
        severities = {finding.severity for finding in findings}
        if Severity.REJECT in severities:
            return cls.REJECT
        return cls.HOLD if Severity.CAUTION in severities else cls.ACCEPT


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found, with its evidence.

    Attributes
    ----------
    value, u95, limit : float or None
        In ``unit``, a unit as printed (``uA``, ``%``, ``V``, ``W`` ...), not SI: a finding is
        an edge, made to be read.
    limit_source : str or None
        Title of the sheet, or ``common practice, no source``, or ``house rule, editable``.
    readings : tuple of int
        Positions of the readings that show it, counted from 0.
    evidence : str
        One plain sentence.
    """

    code: FindingCode
    severity: Severity
    evidence: str
    value: float | None = None
    u95: float | None = None
    unit: str | None = None
    limit: float | None = None
    limit_source: str | None = None
    readings: tuple[int, ...] = ()


class DriftBehaviour(StrEnum):
    """What a log at fixed bias does."""

    STEADY = "steady"
    SETTLES = "settles"
    DRIFTS = "drifts"
    RUNS_AWAY = "runs away"


@dataclass(frozen=True, slots=True)
class DriftReport:
    """The behaviour of a log at fixed bias.

    Attributes
    ----------
    slope_per_minute : float
        Final slope as a fraction of the value after warm-up, per minute.
    final : float
        Projected final value over the value after warm-up, minus one; for growth and
        creep, the value at the end of the log.
    seconds_to_limit : float or None
        Time left to the dissipation or current limit after the last reading [s]; None
        where the tube is not heading there or has no limit on record.
    limit : str or None
        Which limit that is, in words.
    model : str
        ``constant``, ``plateau``, ``creep`` or ``growth``.
    time, fitted : tuple of float
        The fitted behaviour for the plot [s], [A], projected past the last reading.
    after_warm_up : float or None
        The value that ``slope_per_minute`` and ``final`` are fractions of [A].
    readings : tuple of int
        Positions of the readings judged: all usable ones, or those of one stretch where
        the set-points were changed during the log.
    """

    behaviour: DriftBehaviour
    slope_per_minute: float
    final: float
    seconds_to_limit: float | None
    limit: str | None
    model: str
    time: tuple[float, ...] = ()
    fitted: tuple[float, ...] = ()
    after_warm_up: float | None = None
    readings: tuple[int, ...] = ()
