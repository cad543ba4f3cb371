"""Use case: whether a batch may be measured on this bench today."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from pathlib import Path

import numpy as np

from curvelab.assessment.records import Assessment
from curvelab.bench_check.correction import AcceptedCorrection, apply_correction, corrections_of
from curvelab.bench_check.empty_socket import EmptySocketCheck, check_empty_socket
from curvelab.bench_check.golden import check_golden
from curvelab.bench_check.limits import CheckLimits
from curvelab.bench_check.records import GoldenReading, Measured
from curvelab.bench_check.resistor import ResistorCheck, ResistorStandard, check_resistor
from curvelab.bench_check.verdict import BenchCheck, CheckParts, Evidence, judge_bench
from curvelab.errors import BenchCheckError, BenchDescriptionError, SweepFileError
from curvelab.fitting.constants import with_bench
from curvelab.fitting.records import Constants
from curvelab.health.records import Verdict
from curvelab.ingest import read_file
from curvelab.sweep.bench import Bench
from curvelab.sweep.records import FloatArray, Sweep, SweepKind
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.characterize import (
    Batch,
    FileError,
    Progress,
    Request,
    ShouldStop,
    characterize,
)
from curvelab.workbench.user_files import own_or_shipped

__all__ = ["CheckRequest", "CheckResult", "check_bench", "load_check_limits"]

_LIMITS_FILE = "bench_check.toml"


@dataclass(frozen=True, slots=True)
class CheckRequest:
    """What is measured before a batch. Every part may be missing.

    Attributes
    ----------
    date : str
        ISO 8601: when the readings were taken.
    golden : tuple of Path
        Sweeps of the golden tubes, each tube once.
    history : tuple of GoldenReading
        What earlier checks have left, in any order.
    resistor, standard : Path, ResistorStandard or None
        Sweep of a resistor in the tube's place, and what it is; both or neither.
    empty_socket : Path or None
        Sweep of the socket with nothing in it.
    bench : Path or None
        Bench description; its name tells the histories of two benches apart.
    type_name : str or None
        Overrides the type that the golden tubes' files name.
    corrections : tuple of AcceptedCorrection
        Those in force; the check then tells whether they still hold.
    answers : tuple of str
        Choices a person has made for files that can be read in more than one way.
    """

    date: str
    golden: tuple[Path, ...] = ()
    history: tuple[GoldenReading, ...] = ()
    resistor: Path | None = None
    standard: ResistorStandard | None = None
    empty_socket: Path | None = None
    bench: Path | None = None
    type_name: str | None = None
    corrections: tuple[AcceptedCorrection, ...] = ()
    answers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class CheckResult:
    """What came of it.

    Attributes
    ----------
    check : BenchCheck
        Its ``golden.readings`` are what the history is to keep.
    left_out : tuple of str
        Golden tubes that could not take part, with the reason.
    """

    check: BenchCheck
    errors: tuple[FileError, ...]
    left_out: tuple[str, ...]


def check_bench(
    request: CheckRequest,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> CheckResult:
    """Read, fit and judge what was measured before a batch.

    Raises
    ------
    BenchCheckError
        If a golden tube comes twice, the date is none, a correction does not fit, or a
        resistor's sweep comes without what it is.
    BenchDescriptionError
        If the bench description or the limits cannot be read.
    UnknownTypeError
        If ``type_name`` is not in the library.
    """
    if (request.resistor is None) != (request.standard is None):
        raise BenchCheckError("a resistor's sweep and what the resistor is go together")
    limits = load_check_limits()
    bench = load_description(request.bench).bench
    batch = _characterize(request, progress, should_stop)
    readings, left_out = _golden_readings(batch.assessments, bench, request.date)
    errors = list(batch.errors)
    empty_sweep = _without_tube(request, request.empty_socket, None, errors)
    resistor_sweep = _without_tube(request, request.resistor, request.standard, errors)
    empty = _empty_socket(empty_sweep, limits, bench)
    parts = CheckParts(
        bench=bench.name,
        date=request.date,
        golden=check_golden(readings, request.history, limits) if readings else None,
        resistor=_resistor(resistor_sweep, request.standard, limits, bench, empty),
        empty_socket=empty,
        limits=limits,
        undone=(*left_out, *(f"{Path(error.file).name}: {error.reason}" for error in errors)),
        in_force=request.corrections,
        evidence=Evidence(
            golden=tuple(reading.sha256 for reading in readings),
            resistor=_hashes(resistor_sweep),
            empty_socket=_hashes(empty_sweep),
        ),
    )
    return CheckResult(judge_bench(parts), tuple(errors), tuple(left_out))


def load_check_limits() -> CheckLimits:
    """Return the limits of the user's own file, else the shipped ones.

    Raises
    ------
    BenchDescriptionError
        If the file cannot be read or holds what makes no sense.
    """
    path = own_or_shipped(_LIMITS_FILE)
    try:
        return CheckLimits.from_mapping(tomllib.loads(path.read_text(encoding="utf-8-sig")))
    except OSError as error:
        raise BenchDescriptionError(f"{path}: {error.strerror or 'cannot be opened'}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise BenchDescriptionError(f"{path}: not a TOML file ({error})") from error


def _characterize(
    request: CheckRequest, progress: Progress | None, should_stop: ShouldStop | None
) -> Batch:
    """Characterise the golden tubes without the meters' accuracy, which is common to all days."""
    if not request.golden:
        return Batch((), (), ())
    return characterize(
        Request(
            paths=request.golden,
            type_name=request.type_name,
            answers=request.answers,
            corrections=request.corrections,
        ),
        progress,
        should_stop,
    )


def _golden_readings(
    assessments: Sequence[Assessment], bench: Bench, date: str
) -> tuple[list[GoldenReading], list[str]]:
    readings, left_out = [], []
    for assessment in assessments:
        title = assessment.sweep.title
        reason = _unfit(assessment)
        if reason is not None:
            left_out.append(f"{title}: {reason}")
            continue
        reading = _reading(assessment, bench, date)
        if reading is None:
            left_out.append(f"{title}: no plate current or transconductance at its point")
        else:
            readings.append(reading)
    return readings, left_out


def _unfit(assessment: Assessment) -> str | None:
    if assessment.sweep.kind is SweepKind.DRIFT_LOG:
        return "a log at fixed bias is no sweep of a golden tube"
    if assessment.verdict is Verdict.REJECT:
        return f"rejected: {assessment.findings[0].code.value}"
    return None


def _reading(assessment: Assessment, bench: Bench, date: str) -> GoldenReading | None:
    point, sweep, own = assessment.operating_point, assessment.sweep, assessment.constants
    if point is None:
        return None
    total = with_bench(own, (point.plate_voltage, point.grid_voltage), bench)
    current = _measured(own, total, "plate_current")
    slope = _measured(own, total, "transconductance")
    if current is None or slope is None:
        return None
    return GoldenReading(
        tube=sweep.tube,
        section=sweep.section,
        type_name=assessment.type_name,
        bench=bench.name,
        accuracy_stated=not bench.assumed,
        date=date,
        plate_voltage=point.plate_voltage,
        grid_voltage=point.grid_voltage,
        plate_current=current,
        transconductance=slope,
        file=sweep.source.name,
        sha256=sweep.source.sha256,
        corrections=corrections_of(sweep),
    )


def _measured(own: Constants, total: Constants, quantity: str) -> Measured | None:
    fit, whole = getattr(own, quantity), getattr(total, quantity)
    if fit.value is None or fit.u95 is None or whole.u95 is None or fit.value <= 0:
        return None
    return Measured(fit.value, fit.u95, whole.u95)


def _without_tube(
    request: CheckRequest,
    path: Path | None,
    standard: ResistorStandard | None,
    errors: list[FileError],
) -> Sweep | None:
    """Read a sweep with no tube in the socket, through the corrections in force."""
    if path is None:
        return None

    def expected(_: str, plate: FloatArray, __: FloatArray) -> FloatArray | None:
        return None if standard is None else np.asarray(plate) / standard.resistance

    try:
        found = read_file(
            path,
            type_name="resistor" if standard is not None else None,
            expected_current=expected,
            answers=request.answers,
            choices=load_description(request.bench).choices,
            tube_in_socket=False,
        )
    except SweepFileError as error:
        errors.append(FileError(str(path), str(error), getattr(error, "choices", ())))
        return None
    if len(found.sweeps) > 1:
        errors.append(FileError(str(path), f"wanted one sweep, it holds {len(found.sweeps)}"))
        return None
    return reduce(apply_correction, request.corrections, found.sweeps[0])


def _resistor(
    sweep: Sweep | None,
    standard: ResistorStandard | None,
    limits: CheckLimits,
    bench: Bench,
    empty: EmptySocketCheck | None,
) -> ResistorCheck | None:
    if sweep is None or standard is None:
        return None
    leads = empty.plate_leads if empty is not None else None
    return check_resistor(
        sweep.readings,
        standard,
        limits,
        resolution=bench.plate_current.resolution,
        leads=leads.value if leads is not None and leads.stands_out else 0.0,
    )


def _empty_socket(
    sweep: Sweep | None, limits: CheckLimits, bench: Bench
) -> EmptySocketCheck | None:
    if sweep is None:
        return None
    return check_empty_socket(
        sweep.readings,
        limits,
        plate_resolution=bench.plate_current.resolution,
        grid_resolution=bench.grid_current.resolution,
    )


def _hashes(sweep: Sweep | None) -> tuple[str, ...]:
    return () if sweep is None else (sweep.source.sha256,)
