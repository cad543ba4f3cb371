"""Everything known of one tube after the main job."""

from __future__ import annotations

from dataclasses import dataclass

from curvelab.fitting.records import Constant, Constants, FitResult
from curvelab.health.case import SetUp
from curvelab.health.records import DriftReport, Finding, Verdict
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.records import Comparison, Figure, TubeType
from curvelab.sweep.records import Sweep

__all__ = ["Assessment", "BenchUsed", "OperatingPoint", "Prediction", "ScreenAtPoint"]


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """Where the constants are taken; ``origin`` is ``handbook``, ``sweep`` or ``given``."""

    plate_voltage: float
    grid_voltage: float
    screen_voltage: float | None
    origin: str


@dataclass(frozen=True, slots=True)
class Prediction:
    """The fitted family at a point that was asked for; None where there is no family.

    ``u95`` is None where no reading surrounds the point: nobody knows how far off a law is there.
    """

    plate_voltage: float
    grid_voltage: float
    screen_voltage: float | None
    plate_current: float | None
    extrapolated: bool
    u95: float | None = None


@dataclass(frozen=True, slots=True)
class ScreenAtPoint:
    """What the screen draws at the operating point.

    Attributes
    ----------
    current : Constant
        By the readings nearest the point [A].
    dissipation : float
        [W]
    printed : Figure or None
        What the type's handbook prints there [A].
    of_family : float or None
        What the reference family has [A].
    """

    current: Constant
    dissipation: float
    printed: Figure | None
    of_family: float | None


@dataclass(frozen=True, slots=True)
class BenchUsed:
    """The bench whose accuracy entered the uncertainty, and what states it."""

    name: str
    assumed: bool
    origin: str = "a bench description"


@dataclass(frozen=True, slots=True, eq=False)
class Assessment:
    """One tube or section of one file, from readings to verdict.

    Attributes
    ----------
    tube_type : TubeType or None
        The type the tube was judged as; None where none is known.
    reference : ReferenceFamily or None
        The family it was compared with, of ``tube_type`` or of the stand-in asked for.
    constants, local : Constants
        At the operating point, from the fitted family and from the local quadratic.
    family_constants : Constants or None
        The reference family's own at the same point.
    screen : ScreenAtPoint or None
        Of a tube whose screen was metered at a voltage of its own.
    notes : tuple of str
        What cannot be told or compared, and what to measure; no findings.
    set_up : SetUp or None
        What was changed for a test of a tube whose usual readings are in another file; its
        figures are not the tube's then. None for usual readings.
    """

    sweep: Sweep
    tube_type: TubeType | None
    type_name: str | None
    fit: FitResult
    operating_point: OperatingPoint | None
    constants: Constants
    local: Constants
    reference: ReferenceFamily | None
    comparison: Comparison | None
    family_constants: Constants | None
    findings: tuple[Finding, ...]
    verdict: Verdict
    drift: DriftReport | None
    predictions: tuple[Prediction, ...]
    bench: BenchUsed
    notes: tuple[str, ...] = ()
    screen: ScreenAtPoint | None = None
    set_up: SetUp | None = None
