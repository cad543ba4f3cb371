"""Assessments made by hand for the tests of sheets and drawing: invented tubes, real records.

The family below is Koren's law (Glass Audio 8(5), 1996) with invented parameters, so that
a picture has smooth curves to show; nothing here claims to be a published figure.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

import numpy as np

from curvelab.assessment.records import Assessment, BenchUsed, OperatingPoint, Prediction
from curvelab.fitting.records import (
    Constant,
    Constants,
    FitResult,
    LawFit,
    LeftOut,
    LeftOutReason,
    Outcome,
)
from curvelab.health.records import (
    DriftBehaviour,
    DriftReport,
    Finding,
    FindingCode,
    Severity,
    Verdict,
)
from curvelab.reference.family import BackedRegion, ReferenceFamily
from curvelab.reference.records import (
    Comparison,
    Figure,
    HandbookPoint,
    Rating,
    Status,
    TubeType,
)
from curvelab.sweep.records import (
    Conditions,
    Readings,
    Remark,
    RemarkCode,
    SetAside,
    SourceFile,
    Sweep,
    SweepKind,
)

SOURCE = "Invented sheet, first edition"
SIX_FINDINGS = (
    Finding(
        FindingCode.GAS,
        Severity.REJECT,
        "Reverse grid current follows the plate current and vanishes at cut-off: positive "
        "ions carry it, and at the hot end it is more than five times the limit.",
        6.2,
        0.4,
        "uA",
        1.0,
        SOURCE,
        tuple(range(40, 52)),
    ),
    Finding(
        FindingCode.WEAK_EMISSION,
        Severity.CAUTION,
        "The top of the zero-grid curve stays below the law fitted at low current, most "
        "at its end, as a worn cathode does.",
        -11.0,
        2.0,
        "%",
        -8.0,
        "common practice, no source",
        (150, 151, 152),
    ),
    Finding(
        FindingCode.OVER_RATING,
        Severity.CAUTION,
        "The sweep went beyond the dissipation rating; the readings are kept.",
        1.9,
        None,
        "W",
        1.2,
        SOURCE,
        (148, 149, 151),
    ),
    Finding(
        FindingCode.CONTACT,
        Severity.CAUTION,
        "Isolated readings fell toward zero: a bad contact, not the tube.",
        2.0,
        None,
        "readings",
        None,
        None,
        (12, 77),
    ),
    Finding(
        FindingCode.FAR_FROM_BOGEY,
        Severity.NOTE,
        "The plate current is far from the family's.",
        71.0,
        1.5,
        "%",
        80.0,
        "house rule, editable",
    ),
    Finding(
        FindingCode.SHORT_WARM_UP,
        Severity.NOTE,
        "The file says 40 s of warm-up; cathodes settle in minutes.",
        40.0,
        None,
        "s",
        180.0,
        "common practice, no source",
    ),
)


@dataclass(frozen=True, slots=True)
class AnalyticFamily:
    """Koren's law as the family of a fitted tube."""

    mu: float = 97.0
    kg: float = 1010.0
    kp: float = 600.0
    kvb: float = 300.0
    exponent: float = 1.4

    def current(self, plate_voltage, grid_voltage):
        """Return the plate current [A]."""
        plate = np.asarray(plate_voltage, dtype=float)
        drive = 1 / self.mu + np.asarray(grid_voltage) / np.sqrt(self.kvb + plate**2)
        return 2 * (plate / self.kp * np.logaddexp(0, self.kp * drive)) ** self.exponent / self.kg

    def slopes(self, plate_voltage, grid_voltage):
        """Return (dIp/dVp, dIp/dVg) [S] by central difference."""
        plate, grid = np.asarray(plate_voltage, float), np.asarray(grid_voltage, float)
        return (
            self.current(plate + 0.5, grid) - self.current(plate - 0.5, grid),
            (self.current(plate, grid + 0.005) - self.current(plate, grid - 0.005)) / 0.01,
        )

    def amplification_factor(self, plate_voltage, grid_voltage):
        """Return mu against the plate."""
        by_plate, by_grid = self.slopes(plate_voltage, grid_voltage)
        return by_grid / by_plate

    def covers(self, plate_voltage, grid_voltage):
        """Tell where the readings back the family."""
        plate, grid = np.broadcast_arrays(plate_voltage, grid_voltage)
        return (plate >= 15) & (plate <= 300) & (grid >= -3.5) & (grid <= 0)


def reference_family(type_name: str = "12AX7", *, from_memory: bool = False) -> ReferenceFamily:
    """Return the family of the invented type, a little below the invented tube."""
    return ReferenceFamily(
        type_name=type_name,
        law="koren",
        parameters={"mu": 100.0, "x": 1.4, "Kg1": 1060.0, "Kp": 600.0, "Kvb": 300.0, "Vct": 0.0},
        residual={"250 V, -2 V: gm": 0.034, "250 V, -2 V: Ip": -0.004},
        origin="Solved from one invented point.",
        from_memory=from_memory,
        region=BackedRegion(250.0, 250.0, 1.2e-3, 1.2e-3),
    )


def figure(value: float, status: Status = Status.VERIFIED) -> Figure:
    """Return a published number of the invented sheet."""
    return Figure(value, SOURCE, status)


def triode_type(name: str = "12AX7", *, status: Status = Status.VERIFIED) -> TubeType:
    """Return a small high-mu triode type with one bogey point and two ratings."""
    point = HandbookPoint(
        plate_voltage=250.0,
        grid_voltage=-2.0,
        plate_current=figure(1.2e-3, status),
        transconductance=figure(1.6e-3, status),
        plate_resistance=figure(62500.0, status),
        amplification_factor=figure(100.0, status),
        bogey=True,
        source=SOURCE,
        status=status,
    )
    rating = Rating(
        "design centre",
        {"plate_dissipation": figure(1.0, status), "plate_voltage": figure(330.0, status)},
    )
    return TubeType(
        name=name,
        aliases=("ECC83",),
        kind="triode",
        cathode="indirect",
        base=None,
        points=(point,),
        cutoffs=(),
        ratings=(rating,),
        printed_limits=(),
        heaters=(),
        notes=(),
        near=(),
    )


def make_sweep(
    tube: str = "A17",
    section: str | None = "1",
    *,
    content: bytes = b"a,b\n",
    noise: float = 4e-6,
    **fields: object,
) -> Sweep:
    """Return eight plate curves of twenty readings, grid -3.5 V to 0 V, seeded noise."""
    grid = np.repeat(np.arange(-3.5, 0.1, 0.5), 20)
    plate = np.tile(np.linspace(15, 300, 20), 8)
    current = AnalyticFamily().current(plate, grid)
    current = current + np.random.default_rng(17).normal(0, noise, current.size)
    readings = Readings(plate, grid, current, np.arange(2, 162))
    given: dict = {
        "tube": tube,
        "section": section,
        "type_label": "ECC83",
        "kind": SweepKind.CURVES,
        "readings": readings,
        "source": SourceFile(
            "A17.csv", "bench/A17.csv", hashlib.sha256(content).hexdigest(), content
        ),
        "conditions": Conditions(heater_voltage=6.3, warm_up=600.0, filament=None),
        "remarks": (Remark(RemarkCode.UNITS_GUESSED, "plate current read as mA", guessed=True),),
    }
    return Sweep(**{**given, **fields})


def make_fit(sweep: Sweep, left_out: tuple[int, ...] = ()) -> FitResult:
    """Return a fit whose family is the law the readings were drawn from."""
    family = AnalyticFamily()
    size = len(sweep.readings)
    used = np.ones(size, dtype=bool)
    used[list(left_out)] = False
    law = LawFit("koren", {"mu": 97.0, "Kg1": 1010.0}, np.eye(2) * 1e-6, -812.0, 4e-6, Outcome.GOOD)
    residual = sweep.readings.plate_current - family.current(
        sweep.readings.plate_voltage, sweep.readings.grid_voltage
    )
    parts = (LeftOut(LeftOutReason.CONTACT, np.array(left_out)),) if left_out else ()
    return FitResult(
        used=used,
        left_out=parts,
        law=law,
        laws=(law,),
        corrected=True,
        family=family,
        residual=residual,
        noise=np.full(size, 4e-6),
        hull=None,
        rms=4e-6,
        outcome=Outcome.GOOD,
    )


def no_fit(sweep: Sweep, reason: str) -> FitResult:
    """Return the fit of a sweep that could not be fitted."""
    size = len(sweep.readings)
    nothing = np.full(size, np.nan)
    return FitResult(
        used=np.ones(size, dtype=bool),
        left_out=(),
        law=None,
        laws=(),
        corrected=False,
        family=None,
        residual=nothing,
        noise=nothing,
        hull=None,
        rms=None,
        outcome=Outcome.TOO_FEW,
        reason=reason,
    )


def constants(scale: float = 1.0) -> Constants:
    """Return four constants near the invented point."""
    return Constants(
        Constant(1.24e-3 * scale, 0.012e-3),
        Constant(1.63e-3 * scale, 0.02e-3),
        Constant(61.2e3 / scale, 900.0),
        Constant(99.8, 1.2),
    )


def healthy(**changes: object) -> Assessment:
    """Return a tube with nothing against it."""
    sweep = make_sweep()
    base = Assessment(
        sweep=sweep,
        tube_type=triode_type(),
        type_name="12AX7",
        fit=make_fit(sweep),
        operating_point=OperatingPoint(250.0, -2.0, None, "handbook"),
        constants=constants(),
        local=constants(1.004),
        reference=reference_family(),
        comparison=Comparison(
            "12AX7",
            "alias",
            0.042,
            {
                "plate_current": 1.033,
                "transconductance": 1.019,
                "plate_resistance": 0.979,
                "amplification_factor": 0.998,
            },
            {"250 V, -2 V: gm": 0.034, "250 V, -2 V: Ip": -0.004},
            np.array([100.0]),
            np.array([-1.0]),
            np.array([0.03]),
        ),
        family_constants=constants(0.97),
        findings=(),
        verdict=Verdict.ACCEPT,
        drift=None,
        predictions=(Prediction(300.0, -3.0, None, 0.61e-3, False),),
        bench=BenchUsed("two meters and a counter", True),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def gassy() -> Assessment:
    """Return a reject with six findings, two left-out readings and a set-aside row."""
    base = make_sweep("B02", None)
    current = base.readings.plate_current.copy()
    current[[12, 77]] = 2e-6
    readings = replace(base.readings, plate_current=current)
    sweep = replace(
        base,
        readings=readings,
        set_aside=(SetAside("B02.csv", 17, "oops,,", "a cell is not a number"),),
    )
    return healthy(
        sweep=sweep,
        fit=make_fit(sweep, (12, 77)),
        findings=SIX_FINDINGS,
        verdict=Verdict.REJECT,
        constants=constants(0.71),
        local=constants(0.78),
    )


def without_constants() -> Assessment:
    """Return a single curve of an unknown type: nothing but the readings."""
    base = make_sweep("C3", None)
    sweep = replace(base, readings=base.readings.take(np.arange(60, 80)), type_label=None)
    reason = "One grid curve gives no transconductance."
    missing = Constants.missing(Outcome.NOT_COVERED, reason)
    one = replace(
        missing,
        plate_resistance=Constant(58e3, 2.1e3),
        amplification_factor=Constant.missing(
            Outcome.ILL_CONDITIONED, "The grid voltage never changed."
        ),
    )
    finding = Finding(
        FindingCode.NOT_COVERED, Severity.CAUTION, "The sweep holds one grid step only."
    )
    return healthy(
        sweep=sweep,
        tube_type=None,
        type_name=None,
        fit=no_fit(sweep, reason),
        operating_point=OperatingPoint(150.0, -2.0, None, "sweep"),
        constants=one,
        local=missing,
        reference=None,
        comparison=None,
        family_constants=None,
        findings=(finding,),
        verdict=Verdict.HOLD,
        predictions=(),
    )


def drifting() -> Assessment:
    """Return a log at fixed bias that runs away."""
    time = np.arange(0.0, 600.0, 10.0)
    growth = 60e-3 * (1 + 0.004 * np.exp(time / 150.0))
    readings = Readings(
        np.full(60, 250.0),
        np.full(60, -45.0),
        growth + np.random.default_rng(3).normal(0, 3e-5, 60),
        np.arange(2, 62),
        time=time,
    )
    sweep = make_sweep(
        "D-run 2A3", None, readings=readings, kind=SweepKind.DRIFT_LOG, type_label="2A3"
    )
    later = np.arange(0.0, 800.0, 10.0)
    report = DriftReport(
        DriftBehaviour.RUNS_AWAY,
        0.061,
        0.21,
        140.0,
        "maximum plate dissipation",
        "growth",
        tuple(later),
        tuple(60e-3 * (1 + 0.004 * np.exp(later / 150.0))),
    )
    kind = triode_type("2A3")
    kind = replace(kind, ratings=(Rating("design centre", {"plate_dissipation": figure(19.0)}),))
    finding = Finding(
        FindingCode.RUNAWAY,
        Severity.REJECT,
        "The plate current grows and its slope is still rising.",
        6.1,
        0.3,
        "%/min",
        2.0,
        "house rule, editable",
        tuple(range(50, 60)),
    )
    missing = Constants.missing(Outcome.NOT_MEASURED, "A log at fixed bias has one point.")
    return healthy(
        sweep=sweep,
        tube_type=kind,
        type_name="2A3",
        fit=no_fit(sweep, "A log at fixed bias is not a family."),
        operating_point=None,
        constants=missing,
        local=missing,
        reference=None,
        comparison=None,
        family_constants=None,
        findings=(finding,),
        verdict=Verdict.REJECT,
        drift=report,
        predictions=(),
    )
