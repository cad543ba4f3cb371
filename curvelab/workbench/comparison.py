"""Where the tubes of one type are compared, and what bars a tube from every set."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from curvelab.assessment.records import OperatingPoint
from curvelab.fitting.constants import with_bench
from curvelab.fitting.records import Constant, Constants
from curvelab.health.records import Finding, Severity, Verdict
from curvelab.matching.records import Measure, Measured, Section, WorkingCurve
from curvelab.matching.region import CurrentAt, WorkingRegion, choose_region
from curvelab.reference.records import TubeType
from curvelab.sweep.bench import Bench, MeterAccuracy
from curvelab.sweep.records import BoolArray, FloatArray

__all__ = [
    "UNKNOWN_TYPE",
    "Common",
    "Swept",
    "barring_findings",
    "bench_along",
    "bench_part",
    "class_of",
    "common_places",
    "common_screens",
    "same_screen",
    "section_of",
    "untyped",
    "working_curve",
]

UNKNOWN_TYPE = "type not known"
_RATINGS = ("plate_voltage", "plate_dissipation")
# A current that is open by more than this along the curve compares with nothing.
_USELESS = 0.3
_OWN_SCREEN = "screen at a voltage of its own"
_SAME_SCREEN = 0.01  # share of it


@dataclass(frozen=True, slots=True, eq=False)
class Swept:
    """What one sweep says about where it can be compared.

    Attributes
    ----------
    type_class : str
        Only tubes of one class are compared; see `class_of`.
    point : OperatingPoint or None
        The one that was chosen for it.
    screen_voltage : float or None
        At which its class is compared [V], and ``covers`` and ``current`` hold; None where
        there is no screen at a voltage of its own.
    covers : callable or None
        Tells which points (Vp, Vg) [V] its readings surround; None where they surround nothing.
    current : callable or None
        Its fitted current, NaN where no readings back it; None without a fitted family.
    """

    type_class: str
    tube_type: TubeType | None
    verdict: Verdict
    point: OperatingPoint | None
    screen_voltage: float | None
    covers: Callable[[FloatArray, FloatArray], BoolArray] | None
    current: CurrentAt | None


@dataclass(frozen=True, slots=True, eq=False)
class Common:
    """Where the tubes of one type are compared.

    Attributes
    ----------
    at : tuple of float or None
        (Vp, Vg) [V]
    region : WorkingRegion or None
        None where no sweep has a fitted family.
    covered : tuple of Swept
        Those that the region holds for.
    screen_voltage : float or None
        As `Swept`.
    """

    at: tuple[float, float] | None
    region: WorkingRegion | None
    covered: tuple[Swept, ...]
    screen_voltage: float | None = None

    @property
    def words(self) -> str:
        """Over which working region curves are compared, or why over none."""
        if self.region is None:
            return "no fitted family"
        if self.screen_voltage is None:
            return self.region.words
        return f"{self.region.words}; {self.screen_voltage:g} V on the screen"


def class_of(type_name: str | None, point: OperatingPoint | None) -> str:
    """Return with which tubes one is compared: those of its type, connected as it was.

    A pentode that was swept with its screen at a voltage of its own is another tube than one
    that was connected as a triode.
    """
    name = type_name or UNKNOWN_TYPE
    screened = point is not None and point.screen_voltage is not None
    return f"{name}, {_OWN_SCREEN}" if screened else name


def untyped(classes: Iterable[str]) -> Iterator[str]:
    """Yield why a tube of these classes matches none, if nobody says of which type it is."""
    if any(name == UNKNOWN_TYPE or name.startswith(f"{UNKNOWN_TYPE}, ") for name in classes):
        yield "no type is named: judge it again with one ('lot add --again --type')"


def common_screens(
    points: Iterable[tuple[str, Verdict, OperatingPoint | None]], given: float | None = None
) -> Mapping[str, float | None]:
    """Return at which screen voltage [V] each class is compared; None for a class without one.

    The one at which most of its tubes were measured, rejected ones last, a handbook's first.

    Parameters
    ----------
    points : iterable of (str, Verdict, OperatingPoint or None)
        Class, verdict and operating point of every sweep.
    given : float, optional
        [V] at which all are compared, as when a sheet prints another tube's figures.
    """
    found: dict[str, list[tuple[Verdict, OperatingPoint]]] = {}
    for name, verdict, point in points:
        of_class = found.setdefault(name, [])
        if point is not None and point.screen_voltage is not None:
            of_class.append((verdict, point))
    return {name: _common_screen(members, given) for name, members in found.items()}


def _common_screen(
    members: Sequence[tuple[Verdict, OperatingPoint]], given: float | None
) -> float | None:
    if not members or given is not None:
        return given if members else None
    sound = [point for verdict, point in members if verdict is not Verdict.REJECT]
    chosen = sound or [point for _, point in members]

    def worth(point: OperatingPoint) -> tuple[int, bool]:
        near = sum(same_screen(point.screen_voltage, other.screen_voltage) for other in chosen)
        return near, point.origin != "sweep"

    return max(chosen, key=worth).screen_voltage


def same_screen(one: float | None, other: float | None) -> bool:
    """Tell whether two screen voltages [V] are near enough to convert between them.

    Currents go with the 3/2 power of all voltages; over this little the contact potential,
    which does not, makes no more than a tenth of a percent.
    """
    if one is None or other is None:
        return one is other
    return abs(one - other) <= _SAME_SCREEN * other


def common_places(
    swept: Iterable[Swept], at: tuple[float, float] | None = None
) -> Mapping[str, Common]:
    """Return where the tubes of each class are compared, by class.

    Parameters
    ----------
    at : tuple of float, optional
        (Vp, Vg) [V] at which all are compared.
    """
    classes: dict[str, list[Swept]] = {}
    for one in swept:
        classes.setdefault(one.type_class, []).append(one)
    return {name: _common(members, at) for name, members in classes.items()}


def _common(members: Sequence[Swept], at: tuple[float, float] | None) -> Common:
    at, screen = at or _common_point(members), members[0].screen_voltage
    fitted = [(one, one.current) for one in members if one.current is not None]
    if at is None or not fitted:
        return Common(at, None, (), screen)
    tube_type = fitted[0][0].tube_type
    ratings = {
        name: rating.value
        for name in _RATINGS
        if tube_type is not None and (rating := tube_type.rating(name)) is not None
    }
    region = choose_region([current for _, current in fitted], at, ratings)
    pairs = zip(fitted, region.covered, strict=True)
    return Common(at, region, tuple(one for (one, _), covered in pairs if covered), screen)


def _common_point(members: Sequence[Swept]) -> tuple[float, float] | None:
    """Return the operating point of those chosen for the tubes that serves most of them.

    A handbook's point that at least half of the sweeps cover goes first; else the one that
    most cover. Rejected tubes have no say while there are others.
    """
    sound = [one for one in members if one.verdict is not Verdict.REJECT] or members
    # Each point once: most tubes of a type were taken at the same.
    chosen = Counter(
        point
        for one in sound
        if (point := one.point) is not None
        and same_screen(point.screen_voltage, one.screen_voltage)
    )

    plate = np.array([point.plate_voltage for point in chosen])
    grid = np.array([point.grid_voltage for point in chosen])
    count = np.zeros(len(chosen), dtype=np.int64)
    for one in sound:
        if one.covers is not None:
            count += one.covers(plate, grid)
    covered = dict(zip(chosen, count.tolist(), strict=True))

    def worth(point: OperatingPoint) -> tuple[bool, int, int]:
        published = point.origin != "sweep" and 2 * covered[point] >= len(sound)
        return published, covered[point], chosen[point]

    best = max(chosen, key=worth, default=None)
    return None if best is None else (best.plate_voltage, best.grid_voltage)


def barring_findings(
    verdict: Verdict, findings: Iterable[Finding], with_held: bool
) -> Iterator[str]:
    """Yield what bars a tube from every set, a sentence a finding.

    Parameters
    ----------
    with_held : bool
        Whether tubes on hold take part; rejects never do.
    """
    barred = {Severity.REJECT}
    if verdict is Verdict.HOLD and not with_held:
        barred.add(Severity.CAUTION)
    word = "on hold" if verdict is Verdict.HOLD else verdict.value
    for finding in findings:
        if finding.severity in barred:
            yield f"{word}, {finding.code}: {finding.evidence}"


def section_of(
    name: str | None,
    at: tuple[float, float] | None,
    figures: tuple[Constants, Constants],
    curve: WorkingCurve | str,
) -> Section:
    """Return a section of a candidate, saying why each measure that it lacks is missing.

    Parameters
    ----------
    figures : tuple of Constants
        At ``at``: with the uncertainty of noise and fit alone, and `bench_part` of them.
    curve : WorkingCurve or str
        The curve over the common region, or why there is none.
    """
    if at is None:
        return Section(name, missing=dict.fromkeys(Measure, "no operating point"))
    own, of_bench = figures
    missing: dict[Measure, str] = {}
    measured: dict[str, Measured] = {}
    for measure, quantity in (
        (Measure.PLATE_CURRENT, "plate_current"),
        (Measure.TRANSCONDUCTANCE, "transconductance"),
    ):
        constant: Constant = getattr(own, quantity)
        if constant.value is None:
            missing[measure] = constant.reason or constant.outcome.value
        else:
            shared = getattr(of_bench, quantity).u95 or 0.0
            measured[quantity] = Measured(constant.value, constant.u95, shared)
    if isinstance(curve, str):
        missing[Measure.CURVE] = curve
    held = None if isinstance(curve, str) else curve
    return Section(name, at, curve=held, missing=missing, **measured)


def working_curve(
    swept: Swept,
    common: Common,
    values: Callable[[FloatArray, FloatArray], tuple[FloatArray, FloatArray, FloatArray]],
) -> WorkingCurve | str:
    """Return a tube's curve over the working region, or why it has none.

    Parameters
    ----------
    values : callable
        Plate current [A] at points (Vp, Vg) [V], and its relative expanded uncertainty from
        noise and fit, and from the bench.
    """
    region = common.region
    if region is None or not region.plate_voltage.size:
        return "there is no common working region"
    if not any(one is swept for one in common.covered):
        return "its sweep does not cover the common working region"
    plate, grid = region.plate_voltage, region.grid_voltage
    current, relative, of_bench = values(plate, grid)
    if not (relative < _USELESS).all():
        return f"the readings leave it open by more than {100 * _USELESS:.0f} %"
    return WorkingCurve(plate, grid, current, relative, of_bench)


def bench_part(constants: Constants, at: tuple[float, float], bench: Bench) -> Constants:
    """Return the constants with the uncertainty of the bench's meters alone."""

    def exact(constant: Constant) -> Constant:
        return constant if constant.value is None else replace(constant, u95=0.0)

    return with_bench(
        Constants(
            exact(constants.plate_current),
            exact(constants.transconductance),
            exact(constants.plate_resistance),
            exact(constants.amplification_factor),
        ),
        at,
        bench,
    )


def bench_along(
    points: tuple[FloatArray, FloatArray],
    family: tuple[FloatArray, FloatArray, FloatArray],
    bench: Bench,
) -> FloatArray:
    """Return the relative expanded uncertainty from the bench's meters at each point.

    Parameters
    ----------
    points : tuple of ndarray
        (Vp, Vg) [V], each of shape (n,).
    family : tuple of ndarray
        Current [A] and its slopes by plate and grid voltage [S] there.
    """
    plate, grid = points
    if bench.assumed and bench.plate_current == MeterAccuracy():
        return np.zeros(plate.size)
    shares = []
    for vp, vg, ip, to_plate, gm in np.column_stack([plate, grid, *family]).tolist():
        # A tetrode's current may fall as the plate's volts rise.
        known = to_plate > 0
        exact = (ip, gm, 1.0 / to_plate, gm / to_plate) if known else (ip, gm, None, None)
        constants = Constants(*(Constant(v, None if v is None else 0.0) for v in exact))
        shares.append((with_bench(constants, (vp, vg), bench).plate_current.u95 or 0.0) / ip)
    return np.array(shares)
