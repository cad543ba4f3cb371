"""What a log at fixed bias says: steady, settles, drifts or runs away."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from curvelab.fitting.drift import DriftFit, TrendModel, fit_drift
from curvelab.health.limits import HouseLimits, Limit
from curvelab.health.records import (
    DriftBehaviour,
    DriftReport,
    Finding,
    FindingCode,
    Severity,
)
from curvelab.health.set_points import split_at_set_points
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, format_number
from curvelab.reference.records import Figure, TubeType
from curvelab.sweep.records import FloatArray, IntArray, Sweep, SweepKind

__all__ = ["DRIFT_BAND", "drift_findings", "drift_report"]

DRIFT_BAND = HouseLimits().drift_band

# House rules. Warm-up is over after the first minute, or a twentieth of a shorter log.
_WARM_UP_SECONDS = 60.0
_WARM_UP_SHARE = 0.05
# A plateau stands above three times its uncertainty; its end is flat when a fifth or less
# of the movement is still to come, or the last quarter moved by less than a quarter band.
_PLATEAU_SIGMAS = 3.0
_STILL_TO_COME = 0.2
# A tube is called steady where three times the uncertainty of its level is inside the band.
# The first dozen readings count for one: too few to tell a bent trend from scatter.
_STEADY_SIGMAS = 3.0
_COUNT_FOR_ONE = 11.0  # beside the twelfth
# A rise is still quickening when its slope grew by a fifth over the second half. Growth
# of less than three quarters of the band is left to the next, longer log.
_QUICKENING = 1.2
_GROWTH_SHARE_OF_BAND = 0.75
_HORIZON = 100.0  # lengths of the log; a projection further ahead says nothing

_PLOT_POINTS = 160
_PLOT_AHEAD = 0.25  # of the log's length, past its end
_SUPPLY_MOVED = 0.005  # of the plate voltage, from the first fifth to the last
_RANK = (
    DriftBehaviour.STEADY,
    DriftBehaviour.SETTLES,
    DriftBehaviour.DRIFTS,
    DriftBehaviour.RUNS_AWAY,
)
# Names of current ratings; the grid being negative, the cathode's is the plate's too.
_CURRENT_RATINGS = {"plate_current": "plate current", "cathode_current": "cathode current"}


def drift_report(
    sweep: Sweep, tube_type: TubeType | None, band: Limit = DRIFT_BAND
) -> DriftReport | None:
    """Judge a log at fixed bias; where set-points were changed, stretch by stretch.

    The worst stretch is reported, among equals the last.

    Parameters
    ----------
    tube_type : TubeType or None
        Its ratings give the time to the limit; without a type there is none.
    band : Limit
        Share of the value after warm-up that a steady tube stays within.

    Returns
    -------
    DriftReport or None
        None for a sweep that is no log, or has no stretch with five usable readings and
        plate current, or only such as scatter too much to be called steady.

    Notes
    -----
    *Value after warm-up*: the fitted current one minute (or a twentieth of a shorter log)
    after the first usable reading; beside creep or growth without the warm-up transient,
    which is then still dying out.
    """
    readings = sweep.readings
    if sweep.kind is not SweepKind.DRIFT_LOG or readings.time is None:
        return None
    reports = []
    for stretch in split_at_set_points(readings):
        fit = fit_drift(readings.time[stretch], readings.plate_current[stretch])
        if fit is None or _course(fit)[0] <= 0:
            continue
        used = stretch[fit.used]
        plate_voltage = float(np.median(readings.plate_voltage[used]))
        report = _report(fit, used, _limits(tube_type, plate_voltage), band.value)
        if report.behaviour is not DriftBehaviour.STEADY or _steadiness_shown(fit, band.value):
            reports.append(report)
    return max(reversed(reports), key=lambda report: _RANK.index(report.behaviour), default=None)


def drift_findings(
    sweep: Sweep, report: DriftReport | None, band: Limit = DRIFT_BAND
) -> tuple[Finding, ...]:
    """Turn the behaviour of a log into findings; a steady or settling tube has none.

    Returns
    -------
    tuple of Finding
        ``runaway`` (reject; its value is the final slope), ``bias-drift`` (caution; its
        value is the movement since warm-up), or ``not-covered`` for a log that cannot
        be judged.
    """
    if report is None:
        return (_cannot_tell(),) if sweep.kind is SweepKind.DRIFT_LOG else ()
    if report.behaviour is DriftBehaviour.RUNS_AWAY:
        return (_runaway(sweep, report, band),)
    if report.behaviour is DriftBehaviour.DRIFTS:
        return (_bias_drift(sweep, report, band),)
    return ()


def _report(
    fit: DriftFit, used: IntArray, limits: tuple[tuple[float, str], ...], band: float
) -> DriftReport:
    end = np.array(fit.end)
    reference = float(_course(fit)[0])
    slope = float(fit.slope(end))
    behaviour = _behaviour(fit, band)
    seconds, limit = (None, None)
    if behaviour is not DriftBehaviour.STEADY and slope > 0:
        seconds, limit = _time_to_limit(fit, limits)
    settled = behaviour is DriftBehaviour.SETTLES and fit.model is TrendModel.PLATEAU
    final = fit.level if settled else float(fit.current(end))
    time, fitted = _plot_curve(fit, seconds)
    return DriftReport(
        behaviour=behaviour,
        slope_per_minute=60 * slope / reference,
        final=final / reference - 1,
        seconds_to_limit=seconds,
        limit=limit,
        model=str(fit.model),
        time=tuple(time.tolist()),
        fitted=tuple(fitted.tolist()),
        after_warm_up=reference,
        readings=tuple(used.tolist()),
    )


def _warm_up_end(fit: DriftFit) -> float:
    return fit.start + min(_WARM_UP_SECONDS, _WARM_UP_SHARE * fit.length)


def _course(fit: DriftFit) -> FloatArray:
    """Return the trend from the end of warm-up to the end of the log [A].

    A plateau is reached by its decaying terms; beside creep or growth they are warm-up.
    """
    time = np.linspace(_warm_up_end(fit), fit.end, 100)
    return fit.current(time) if fit.model is TrendModel.PLATEAU else fit.settled_current(time)


def _behaviour(fit: DriftFit, band: float) -> DriftBehaviour:
    course = _course(fit)
    reference = float(course[0])
    if fit.model is TrendModel.GROWTH:
        middle, end = fit.slope(np.array([fit.start + fit.length / 2, fit.end]))
        risen = (course[-1] - course.min()) / reference
        quickening = end > 0 and end >= _QUICKENING * middle
        if quickening and risen > _GROWTH_SHARE_OF_BAND * band:
            return DriftBehaviour.RUNS_AWAY
    outside = bool(np.abs(course / reference - 1).max() > band)
    flat = (
        not outside if fit.model is not TrendModel.PLATEAU else _end_is_flat(fit, reference, band)
    )
    if flat and _has_plateau(fit):
        return DriftBehaviour.SETTLES
    return DriftBehaviour.DRIFTS if outside else DriftBehaviour.STEADY


def _steadiness_shown(fit: DriftFit, band: float) -> bool:
    """Tell whether a movement out of the band could have been seen at all."""
    uncertainty = fit.noise / math.sqrt(max(fit.effective_readings - _COUNT_FOR_ONE, 1.0))
    return _STEADY_SIGMAS * uncertainty < band * float(_course(fit)[0])


def _has_plateau(fit: DriftFit) -> bool:
    moved, uncertainty = fit.transient()
    return bool(fit.decays) and abs(moved) > _PLATEAU_SIGMAS * uncertainty


def _end_is_flat(fit: DriftFit, reference: float, band: float) -> bool:
    course = fit.current(fit.start + fit.length * np.array([0.0, 0.25, 0.5, 0.75, 1.0]))
    away = np.abs(course - fit.level)
    last_quarter = abs(course[-1] - course[-2]) / reference
    return bool(away[-1] <= _STILL_TO_COME * away.max() or last_quarter <= band / 4)


def _limits(tube_type: TubeType | None, plate_voltage: float) -> tuple[tuple[float, str], ...]:
    """Return the currents [A] that a rating forbids to exceed, with the rating in words."""
    if tube_type is None:
        return ()
    found = []
    power = tube_type.rating("plate_dissipation")
    if power is not None and plate_voltage > 0:
        words = f"{power.value:.4g} W at {plate_voltage:.4g} V"
        found.append((power.value / plate_voltage, _words("plate dissipation", words, power)))
    for name, title in _CURRENT_RATINGS.items():
        rating = tube_type.rating(name)
        if rating is not None:
            words = f"{MILLIAMPERE.from_si(rating.value):.4g} mA"
            found.append((rating.value, _words(title, words, rating)))
    return tuple(found)


def _words(title: str, value: str, figure: Figure) -> str:
    return f"maximum {title} {value} ({figure.source if figure.verified else 'from memory'})"


def _time_to_limit(
    fit: DriftFit, limits: tuple[tuple[float, str], ...]
) -> tuple[float | None, str | None]:
    """Return the seconds from the last reading to the first limit met, and its name."""
    if not limits:
        return None, None
    current, words = min(limits)
    ahead = np.concatenate(([0.0], fit.length * np.geomspace(1e-4, _HORIZON, 300)))
    for _ in range(3):  # each pass divides the step that holds the crossing
        beyond = np.flatnonzero(fit.current(fit.end + ahead) >= current)
        if not beyond.size:
            return None, None
        first = int(beyond[0])
        if first == 0:
            return float(ahead[0]), words
        ahead = np.linspace(ahead[first - 1], ahead[first], 60)
    return float(ahead[-1]), words


def _plot_curve(fit: DriftFit, seconds_to_limit: float | None) -> tuple[FloatArray, FloatArray]:
    ahead = _PLOT_AHEAD * fit.length
    if seconds_to_limit is not None:  # nothing is projected beyond a limit
        ahead = min(ahead, seconds_to_limit)
    time = np.union1d(np.linspace(fit.start, fit.end + ahead, _PLOT_POINTS), [fit.end])
    fitted = fit.current(time)
    shown = np.isfinite(fitted) & (fitted >= 0)
    shown &= fitted <= 2 * fitted[time <= fit.end].max()
    return time[shown], fitted[shown]


@dataclass(frozen=True, slots=True)
class _Movement:
    """A trend in numbers for a sentence: currents [A], duration [s]."""

    first: float
    last: float
    seconds: float
    outside: tuple[int, ...]

    @property
    def percent(self) -> float:
        return 100 * (self.last / self.first - 1)

    @property
    def words(self) -> str:
        verb = "rose" if self.last > self.first else "fell"
        first, last = (MILLIAMPERE.from_si(value) for value in (self.first, self.last))
        return (
            f"{verb} from {format_number(first, 4)} to {format_number(last, 4)} mA "
            f"({self.percent:+.1f} %) in {_duration(self.seconds)}"
        )


def _movement(sweep: Sweep, report: DriftReport, band: float) -> _Movement:
    """Return the movement since warm-up, with the readings outside the band."""
    places = np.array(report.readings)
    first = float(report.after_warm_up or 0.0)
    time = sweep.readings.time
    assert time is not None  # a report is made from times
    fitted = np.interp(time[places], report.time, report.fitted)
    outside = np.abs(fitted / first - 1) > band
    outside[: int(np.argmin(outside))] = False  # the warm-up before, which also lies outside
    shown = places[outside] if outside.any() else places[-max(places.size // 10, 1) :]
    return _Movement(
        first, float(fitted[-1]), float(time[places[-1]] - time[places[0]]), tuple(shown.tolist())
    )


def _runaway(sweep: Sweep, report: DriftReport, band: Limit) -> Finding:
    moved = _movement(sweep, report, band.value)
    slope = 100 * report.slope_per_minute
    text = (
        f"Plate current at fixed bias {moved.words} and rises ever faster, "
        f"{format_number(slope)} % a minute at the end"
    )
    if report.seconds_to_limit == 0:
        text += f", already beyond the {report.limit}"
    elif report.seconds_to_limit is not None:
        text += f", {_duration(report.seconds_to_limit)} away from the {report.limit}"
    return Finding(
        code=FindingCode.RUNAWAY,
        severity=Severity.REJECT,
        evidence=text + _circumstances(sweep, report),
        value=slope,
        unit="%/min",
        readings=moved.outside,
    )


def _bias_drift(sweep: Sweep, report: DriftReport, band: Limit) -> Finding:
    moved = _movement(sweep, report, band.value)
    text = f"Plate current at fixed bias {moved.words} without settling"
    if report.seconds_to_limit == 0:
        text += f", and is beyond the {report.limit}"
    elif report.seconds_to_limit is not None:
        text += f"; at this rate {_duration(report.seconds_to_limit)} to the {report.limit}"
    return Finding(
        code=FindingCode.BIAS_DRIFT,
        severity=Severity.CAUTION,
        evidence=text + _circumstances(sweep, report),
        value=moved.percent,
        unit="%",
        limit=band.printed,
        limit_source=band.source,
        readings=moved.outside,
    )


def _cannot_tell() -> Finding:
    return Finding(
        code=FindingCode.NOT_COVERED,
        severity=Severity.CAUTION,
        evidence="The log has fewer than five usable readings of plate current at one "
        "set-point, or they scatter too much, so what the tube does with time cannot be told.",
    )


def _circumstances(sweep: Sweep, report: DriftReport) -> str:
    """Return what else moved in the stretch judged, as the rest of a sentence."""
    places = np.array(report.readings)
    time = sweep.readings.time
    words = []
    if time is not None and len(split_at_set_points(sweep.readings)) > 1:
        first, last = _duration(float(time[places[0]])), _duration(float(time[places[-1]]))
        words.append(f"the set-points changed in the log, and {first} to {last} was judged")
    grid = _ends(sweep.readings.grid_current, places)
    if grid is not None and grid[1] < min(0.0, grid[0]) - grid[2]:
        before, after = (format_number(-MICROAMPERE.from_si(min(value, 0.0))) for value in grid[:2])
        words.append(f"reverse grid current rose from {before} to {after} {MICROAMPERE.symbol}")
    plate = _ends(sweep.readings.plate_voltage, places)
    if plate is not None and plate[0] > 0 and abs(plate[1] / plate[0] - 1) > _SUPPLY_MOVED:
        words.append(f"the plate supply itself moved by {100 * (plate[1] / plate[0] - 1):+.1f} %")
    return "".join(f"; {part}" for part in words) + "."


def _ends(values: FloatArray | None, places: IntArray) -> tuple[float, float, float] | None:
    """Return the medians of the first and last fifth, and what their noise may differ by."""
    if values is None:
        return None
    known = values[places]
    known = known[np.isfinite(known)]
    if known.size < 5:
        return None
    share = max(known.size // 5, 1)
    noise = 1.4826 * float(np.median(np.abs(np.diff(known))))
    return (
        float(np.median(known[:share])),
        float(np.median(known[-share:])),
        3 * noise / np.sqrt(share),
    )


def _duration(seconds: float) -> str:
    if seconds < 120:
        return f"{format_number(seconds, 2)} s" if seconds > 0 else "0 s"
    if seconds < 7200:
        return f"{format_number(seconds / 60, 2)} min"
    return f"{format_number(seconds / 3600, 2)} h"
