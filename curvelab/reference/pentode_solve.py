"""Families of types with a screen grid, from points and from curves at a screen voltage.

As for triodes: every printed figure is one constraint on the logarithms, weak priors on the
law's shape make a type with one point well-posed, and where published curves were read off a
smooth correction follows them while the points become the check. All types are solved in one
pass of the engine.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curvelab.fitting.conversion import CARRIED_OPEN, CONTACT_OFFSET, DEGREE
from curvelab.fitting.engine import solve
from curvelab.fitting.hull import Hull
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.pentode_fit import correct_pentode, covered_by, start_from_readings
from curvelab.fitting.pentode_law import PENTODE
from curvelab.fitting.pentode_shape import PENTODE_CENTRE, PENTODE_WIDTH
from curvelab.fitting.screen_steps import usual_screen_voltage
from curvelab.reference.family import BackedRegion, ReferenceFamily
from curvelab.reference.records import Figure, PentodePoint, PublishedCurves, Status, TubeType
from curvelab.reference.solved import Solved, solve_what_is_new
from curvelab.sweep.records import FloatArray, IntArray, Readings

__all__ = ["solve_pentode_families"]

# Standard deviations of the logarithms of printed figures. Plate resistance of a pentode is
# printed as approximate; a screen current varies more between tubes than a plate current.
_TRUST = {
    "plate_current": 0.01,
    "screen_current": 0.05,
    "transconductance": 0.04,
    "plate_resistance": 0.20,
    "screen_amplification_factor": 0.05,
}
_SHORT = dict(zip(_TRUST, ("Ip", "Is", "gm", "rp", "mu g1-g2"), strict=True))
# Points beside the bogey are printed for other service; the further their screen voltage lies
# from its, in logarithm, the less closely a power law carries the figures over.
_OTHER_POINTS = 0.03
_TRUST_CURVE, _CURVES_COUNT_AS = 0.05, 12
# A current is read off paper no closer than this share of the largest drawn; and near cut-off a
# departure is told as a share of some current, not of next to none.
_CURVE_FLOOR, _SOME = 0.003, 0.02
_STEP = 1e-5
_TYPICAL_MU = 10.0  # for a start only


@dataclass(frozen=True, slots=True)
class _Row:
    """Figures at one set of volts (Vp, Vg, Vs), and how closely each logarithm is to be met."""

    volts: tuple[float, float, float]
    figures: Mapping[str, float]
    trust: Mapping[str, float]


def solve_pentode_families(
    types: Sequence[TubeType], solved: Solved | None = None
) -> tuple[ReferenceFamily, ...]:
    """Return the family of every type that prints plate currents with a screen voltage.

    At points, as curves, or both. Each is seen at the screen voltage of its bogey point, or of
    most of its curves, until it is asked at another. ``solved`` has what was solved before; see
    `solve_what_is_new`.
    """
    before = {} if solved is None else solved
    found: dict[str, ReferenceFamily] = {}
    for with_curves in (False, True):  # apart, so that short rows are not padded to long ones
        able = [item for item in types if bool(_curves(item)) is with_curves]
        able = [item for item in able if with_curves or _point_rows(item)]
        if able:
            each = zip(able, _solve(able, before), strict=True)
            found |= {item.name: _family(item, parameters) for item, parameters in each}
    return tuple(found[item.name] for item in types if item.name in found)


def _solve(types: Sequence[TubeType], solved: Solved) -> FloatArray:
    rows = [_point_rows(item) + _curve_rows(_curves(item)) for item in types]
    width = max(map(len, rows))
    volts = np.tile(np.array([100.0, -1.0, 100.0]), (len(types), width, 1))
    logs = np.full((len(types), width, len(_TRUST)), np.nan)
    deviation = np.ones_like(logs)
    for t, found in enumerate(rows):
        for q, row in enumerate(found):
            volts[t, q] = row.volts
            for k, name in enumerate(_TRUST):
                if name in row.figures:
                    logs[t, q, k] = np.log(row.figures[name])
                    deviation[t, q, k] = row.trust[name]
    start = np.stack([_start(item) for item in types])

    def solve_rows(new: IntArray) -> tuple[FloatArray, FloatArray]:
        return _solve_rows(volts[new], logs[new], deviation[new], start[new])

    inputs = [
        (*(item[row, : len(found)] for item in (volts, logs, deviation)), start[row])
        for row, found in enumerate(rows)
    ]
    return solve_what_is_new(solved, PENTODE.name, inputs, solve_rows)[0]


def _solve_rows(
    volts: FloatArray, logs: FloatArray, deviation: FloatArray, start: FloatArray
) -> tuple[FloatArray, FloatArray]:
    types, printed = len(start), np.isfinite(logs)
    observed = (np.where(printed, logs, 0.0) / deviation).reshape(types, -1)
    weight = printed.astype(float).reshape(types, -1)

    def model(internal: FloatArray, index: IntArray) -> tuple[FloatArray, FloatArray]:
        size = internal.shape[1]
        step = np.eye(size) * _STEP
        shifted = internal + np.concatenate([np.zeros((1, size)), step, -step])[:, None]
        at = np.broadcast_to(volts[index], (len(shifted), *volts[index].shape))
        found = (_log_figures(at, shifted) / deviation[index]).reshape(*shifted.shape[:2], -1)
        rise = (found[1 : size + 1] - found[size + 1 :]) / (2 * _STEP)
        return found[0], np.moveaxis(rise, 0, -1)

    pull = 1.0 / PENTODE_WIDTH**2
    solution = solve(model, start, observed, weight, pull=pull, max_iterations=120, tolerance=1e-8)
    return solution.parameters, solution.cost


def _start(tube_type: TubeType) -> FloatArray:
    """Return the prior's centre with G and mu that meet the bogey point, or the curves."""
    rows = _point_rows(tube_type)
    if not rows:
        return start_from_readings(_readings(_curves(tube_type)))
    start = PENTODE_CENTRE.copy()
    row = rows[0]
    (plate, grid, screen), current = row.volts, row.figures["plate_current"]
    bias = grid + CONTACT_OFFSET
    gm = row.figures.get("transconductance")
    mu = row.figures.get("screen_amplification_factor", _TYPICAL_MU)
    if gm is not None:  # by Euler's theorem for a current of degree 3/2; see PentodeFamily
        mu = gm * screen / max((DEGREE - 0.1) * current - bias * gm, 0.1 * current)
    start[1] = np.log(np.clip(mu, 1.5, 300.0))
    volts = (np.array([[plate]]), np.array([[grid]]), np.array([[screen]]))
    at = PENTODE.slopes(*volts, start[None])
    start[0] = np.log(current / max(float(at.plate[0, 0]), 1e-12))
    return start


def _log_figures(volts: FloatArray, internal: FloatArray) -> FloatArray:
    """Return the logarithms of what may be printed, in the order of the trusts."""
    at = PENTODE.slopes(volts[..., 0], volts[..., 1], volts[..., 2], internal)
    return np.log(
        np.maximum(
            np.stack(
                [
                    at.plate,
                    at.cathode - at.plate,
                    at.plate * at.plate_by_grid,
                    1.0 / np.maximum(at.plate * at.plate_by_plate, 1e-15),
                    at.plate_by_grid / np.maximum(at.plate_by_screen, 1e-9),
                ],
                axis=-1,
            ),
            1e-12,
        )
    )


def _point_rows(tube_type: TubeType) -> list[_Row]:
    points = [p for p in tube_type.pentode_points if p.plate_current is not None]
    points.sort(key=lambda point: not point.bogey)
    rows = []
    for order, point in enumerate(points):
        trust = _TRUST | ({"plate_current": _OTHER_POINTS} if order else {})
        carried = CARRIED_OPEN * abs(np.log(point.screen_voltage / points[0].screen_voltage))
        rows.append(
            _Row(
                (point.plate_voltage, point.grid_voltage, point.screen_voltage),
                {name: figure.value for name, figure in _figures(point).items()},
                {name: float(np.hypot(own, carried)) for name, own in trust.items()},
            )
        )
    return rows


def _figures(point: PentodePoint) -> dict[str, Figure]:
    found = {name: getattr(point, name) for name in _TRUST}
    return {name: figure for name, figure in found.items() if figure is not None}


def _curves(tube_type: TubeType) -> tuple[PublishedCurves, ...]:
    return tuple(item for item in tube_type.curves if item.screen_voltage is not None)


def _readings(curves: Sequence[PublishedCurves]) -> Readings:
    """Return published curves at one or more screen voltages as the readings of one tube."""

    def joined(name: str) -> FloatArray:
        return np.concatenate([np.asarray(getattr(item, name)) for item in curves])

    counts = [item.plate_voltage.size for item in curves]
    drawn = [
        np.full(count, np.nan) if item.screen_current is None else item.screen_current
        for item, count in zip(curves, counts, strict=True)
    ]
    return Readings(
        plate_voltage=joined("plate_voltage"),
        grid_voltage=joined("grid_voltage"),
        plate_current=joined("plate_current"),
        line=np.arange(sum(counts)),
        screen_voltage=np.repeat([item.screen_voltage for item in curves], counts).astype(float),
        screen_current=np.concatenate(drawn),
    )


def _curve_rows(curves: Sequence[PublishedCurves]) -> list[_Row]:
    if not curves:
        return []
    read = _readings(curves)
    assert read.screen_voltage is not None
    assert read.screen_current is not None
    # Readings of one drawing share its errors: together they count as a few.
    shared = float(np.sqrt(max(len(read) / _CURVES_COUNT_AS, 1.0)))
    columns = {"plate_current": read.plate_current, "screen_current": read.screen_current}
    floors = {
        name: _CURVE_FLOOR * float(np.nanmax(np.nan_to_num(column)))
        for name, column in columns.items()
    }
    volts = np.column_stack([read.plate_voltage, read.grid_voltage, read.screen_voltage])
    rows = []
    for place, (plate, grid, screen) in enumerate(volts.tolist()):
        figures = {name: float(column[place]) for name, column in columns.items()}
        figures = {name: current for name, current in figures.items() if current > 0}
        trust = {
            name: shared * float(np.hypot(_TRUST_CURVE, floors[name] / current))
            for name, current in figures.items()
        }
        if figures:
            rows.append(_Row((plate, grid, screen), figures, trust))
    return rows


def _family(tube_type: TubeType, internal: FloatArray) -> ReferenceFamily:
    rows, curves = _point_rows(tube_type), _curves(tube_type)
    followed = _followed(internal, rows, curves)
    plates = [row.volts[0] for row in rows]
    amperes = [row.figures["plate_current"] for row in rows]
    for item in curves:
        plates += item.plate_voltage.tolist()
        amperes += item.plate_current.tolist()
    points = [p for p in tube_type.pentode_points if p.plate_current is not None]
    known = [figure.verified for point in points for figure in _figures(point).values()]
    unseen = any(item.status is not Status.VERIFIED for item in curves)
    return ReferenceFamily(
        type_name=tube_type.name,
        law=PENTODE.name,
        parameters=PENTODE.physical(internal),
        residual=_residual(followed, rows, curves),
        origin=_origin(len(rows), known, curves),
        from_memory=not all(known) or unseen,
        region=BackedRegion(min(plates), max(plates), min(amperes), max(amperes)),
        followed=followed,
    )


def _followed(
    internal: FloatArray, rows: Sequence[_Row], curves: Sequence[PublishedCurves]
) -> PentodeFamily:
    hull: Hull | None = None
    correction, freedom = None, 1.0
    screens = [row.volts[2] for row in rows]
    seen_at = reference = screens[0] if screens else 0.0
    if curves:
        read = _readings(curves)
        assert read.screen_voltage is not None
        reference = usual_screen_voltage(read.screen_voltage)
        seen_at = screens[0] if screens else reference
        screens += np.unique(read.screen_voltage).tolist()
        hull = covered_by(read, float(internal[PENTODE.symbols.index("Vc")]))
        found = correct_pentode(internal, read)
        correction, freedom = found.corrections[0], float(found.freedom[0])
    size = internal.size
    family = PentodeFamily(
        internal=internal,
        law_covariance=np.zeros((size, size)),  # an average, not a measurement
        correction=correction,
        hull=hull,
        freedom=freedom,
        reference_screen=reference,
        least_screen=min(screens),
        most_screen=max(screens),
        screen_voltage=reference,
    )
    return family.at_screen(seen_at)


def _residual(
    family: PentodeFamily, rows: Sequence[_Row], curves: Sequence[PublishedCurves]
) -> dict[str, float]:
    residual: dict[str, float] = {}
    for row in rows:
        plate, grid, screen = row.volts
        there, p, g = family.at_screen(screen), np.array([plate]), np.array([grid])
        current, by_plate, by_grid = (float(item[0]) for item in there.evaluate(p, g))
        found = {
            "plate_current": current,
            "screen_current": float(there.screen_current(p, g)[0]),
            "transconductance": by_grid,
            "plate_resistance": 1.0 / by_plate if by_plate > 0 else np.inf,
            "screen_amplification_factor": float(there.amplification_factor(p, g)[0]),
        }
        label = f"{plate:.4g} V, {grid:.4g} V, screen {screen:.4g} V"
        for name, printed in row.figures.items():
            residual[f"{label}: {_SHORT[name]}"] = found[name] / printed - 1.0
    for item in curves:
        if item.screen_voltage is None:
            continue
        flowing = item.plate_current > 0
        there = family.at_screen(item.screen_voltage)
        drawn = item.plate_current[flowing]
        astray = there.current(item.plate_voltage[flowing], item.grid_voltage[flowing]) - drawn
        share = astray / np.maximum(drawn, _SOME * drawn.max())
        at = "" if len(curves) == 1 else f" at {item.screen_voltage:.4g} V on the screen"
        label = f"{drawn.size} readings of published curves{at}, RMS: Ip"
        residual[label] = float(np.sqrt(np.mean(share**2)))
    return residual


def _origin(points: int, known: Sequence[bool], curves: Sequence[PublishedCurves]) -> str:
    verified = sum(known)
    counts = {"verified": verified, "from memory": len(known) - verified}
    words = ", ".join(f"{count} {name}" for name, count in counts.items() if count)
    of_points = (
        f"{points} handbook point{'s' if points != 1 else ''} with a screen ({words} figures)"
    )
    if not curves:
        return f"solved from {of_points}"
    count = sum(item.plate_voltage.size for item in curves)
    memory = "" if all(item.status is Status.VERIFIED for item in curves) else " (from memory)"
    sources = " and ".join(dict.fromkeys(item.source for item in curves))
    followed = f"follows {count} readings of the curves in {sources}{memory}"
    return f"{followed}; checked by {of_points}" if points else followed
