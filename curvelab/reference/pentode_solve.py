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
from curvelab.fitting.hull import Hull, convex_hull
from curvelab.fitting.pentode_family import PentodeFamily
from curvelab.fitting.pentode_fit import correct_pentode
from curvelab.fitting.pentode_law import PENTODE
from curvelab.fitting.pentode_shape import PENTODE_CENTRE, PENTODE_WIDTH
from curvelab.reference.family import BackedRegion, ReferenceFamily
from curvelab.reference.records import Figure, PentodePoint, PublishedCurves, Status, TubeType
from curvelab.sweep.records import FloatArray, IntArray

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
_STEP = 1e-5
_TYPICAL_MU = 10.0  # for a start only


@dataclass(frozen=True, slots=True)
class _Row:
    """Figures at one set of volts (Vp, Vg, Vs), and how closely the current is to be met.

    ``carried`` is what carrying them from the bogey's screen voltage adds to every deviation.
    """

    volts: tuple[float, float, float]
    figures: Mapping[str, float]
    current_trust: float
    carried: float = 0.0


def solve_pentode_families(types: Sequence[TubeType]) -> tuple[ReferenceFamily, ...]:
    """Return the family of every type that prints a plate current with a screen voltage.

    Each is seen at the screen voltage of its bogey point until it is asked at another.
    """
    able = [item for item in types if _point_rows(item)]
    if not able:
        return ()
    internal = _solve(able)
    return tuple(
        _family(tube_type, parameters) for tube_type, parameters in zip(able, internal, strict=True)
    )


def _solve(types: Sequence[TubeType]) -> FloatArray:
    rows = [_point_rows(item) + _curve_rows(_curves(item)) for item in types]
    width = max(map(len, rows))
    volts = np.tile(np.array([100.0, -1.0, 100.0]), (len(types), width, 1))
    logs = np.full((len(types), width, len(_TRUST)), np.nan)
    deviation = np.ones_like(logs)
    for t, found in enumerate(rows):
        for q, row in enumerate(found):
            volts[t, q] = row.volts
            for k, (name, trust) in enumerate(_TRUST.items()):
                if name in row.figures:
                    logs[t, q, k] = np.log(row.figures[name])
                    deviation[t, q, k] = np.hypot(trust if k else row.current_trust, row.carried)
    printed = np.isfinite(logs)
    observed = (np.where(printed, logs, 0.0) / deviation).reshape(len(types), -1)
    weight = printed.astype(float).reshape(len(types), -1)

    def predict(internal: FloatArray, index: IntArray) -> FloatArray:
        found = _log_figures(volts[index], internal)
        return (found / deviation[index]).reshape(index.size, -1)

    def model(internal: FloatArray, index: IntArray) -> tuple[FloatArray, FloatArray]:
        columns = []
        for shift in np.eye(internal.shape[1]) * _STEP:
            rise = predict(internal + shift, index) - predict(internal - shift, index)
            columns.append(rise / (2 * _STEP))
        return predict(internal, index), np.stack(columns, axis=-1)

    start = np.stack([_start(item) for item in types])
    pull = 1.0 / PENTODE_WIDTH**2
    solution = solve(model, start, observed, weight, pull=pull, max_iterations=120, tolerance=1e-8)
    return solution.parameters


def _start(tube_type: TubeType) -> FloatArray:
    """Return the prior's centre with G and mu that meet the bogey point."""
    start = PENTODE_CENTRE.copy()
    row = _point_rows(tube_type)[0]
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
    return [
        _Row(
            (point.plate_voltage, point.grid_voltage, point.screen_voltage),
            {name: figure.value for name, figure in _figures(point).items()},
            _OTHER_POINTS if order else _TRUST["plate_current"],
            CARRIED_OPEN * abs(np.log(point.screen_voltage / points[0].screen_voltage)),
        )
        for order, point in enumerate(points)
    ]


def _figures(point: PentodePoint) -> dict[str, Figure]:
    found = {name: getattr(point, name) for name in _TRUST}
    return {name: figure for name, figure in found.items() if figure is not None}


def _curves(tube_type: TubeType) -> PublishedCurves | None:
    return next((item for item in tube_type.curves if item.screen_voltage is not None), None)


def _curve_rows(curves: PublishedCurves | None) -> list[_Row]:
    if curves is None or curves.screen_voltage is None:
        return []
    # Readings of one drawing share its errors: together they count as a few.
    trust = _TRUST_CURVE * float(np.sqrt(max(curves.plate_current.size / _CURVES_COUNT_AS, 1.0)))
    columns = (curves.plate_voltage, curves.grid_voltage, curves.plate_current)
    return [
        _Row((plate, grid, curves.screen_voltage), {"plate_current": current}, trust)
        for plate, grid, current in zip(*(item.tolist() for item in columns), strict=True)
        if current > 0
    ]


def _family(tube_type: TubeType, internal: FloatArray) -> ReferenceFamily:
    rows, curves = _point_rows(tube_type), _curves(tube_type)
    volts = np.array([row.volts for row in rows])
    amperes = [row.figures["plate_current"] for row in rows]
    followed = _followed(internal, rows[0].volts[2], volts[:, 2], curves)
    plates = volts[:, 0].tolist()
    if curves is not None:
        plates += curves.plate_voltage.tolist()
        amperes += curves.plate_current.tolist()
    points = [p for p in tube_type.pentode_points if p.plate_current is not None]
    known = [figure.verified for point in points for figure in _figures(point).values()]
    return ReferenceFamily(
        type_name=tube_type.name,
        law=PENTODE.name,
        parameters=PENTODE.physical(internal),
        residual=_residual(followed, rows, curves),
        origin=_origin(len(rows), known, curves),
        from_memory=not all(known) or (curves is not None and curves.status is not Status.VERIFIED),
        region=BackedRegion(min(plates), max(plates), min(amperes), max(amperes)),
        followed=followed,
    )


def _followed(
    internal: FloatArray,
    bogey_screen: float,
    screens: FloatArray,
    curves: PublishedCurves | None,
) -> PentodeFamily:
    hull: Hull | None = None
    correction, freedom, reference = None, 1.0, bogey_screen
    if curves is not None and curves.screen_voltage is not None:
        reference = curves.screen_voltage
        hull = convex_hull(curves.plate_voltage, curves.grid_voltage)
        found = correct_pentode(
            internal, curves.plate_voltage, curves.grid_voltage, curves.plate_current, reference
        )
        correction, freedom = found.corrections[0], float(found.freedom[0])
    size = internal.size
    family = PentodeFamily(
        internal=internal,
        law_covariance=np.zeros((size, size)),  # an average, not a measurement
        correction=correction,
        hull=hull,
        freedom=freedom,
        reference_screen=reference,
        least_screen=min(float(screens.min()), reference),
        most_screen=max(float(screens.max()), reference),
        screen_voltage=reference,
    )
    return family.at_screen(bogey_screen)


def _residual(
    family: PentodeFamily, rows: Sequence[_Row], curves: PublishedCurves | None
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
    if curves is not None and curves.screen_voltage is not None:
        flowing = curves.plate_current > 0
        there = family.at_screen(curves.screen_voltage)
        drawn = curves.plate_current[flowing]
        ratio = there.current(curves.plate_voltage[flowing], curves.grid_voltage[flowing]) / drawn
        label = f"{drawn.size} readings of published curves, RMS: Ip"
        residual[label] = float(np.sqrt(np.mean((ratio - 1.0) ** 2)))
    return residual


def _origin(points: int, known: Sequence[bool], curves: PublishedCurves | None) -> str:
    verified = sum(known)
    counts = {"verified": verified, "from memory": len(known) - verified}
    words = ", ".join(f"{count} {name}" for name, count in counts.items() if count)
    of_points = (
        f"{points} handbook point{'s' if points != 1 else ''} with a screen ({words} figures)"
    )
    if curves is None:
        return f"solved from {of_points}"
    memory = "" if curves.status is Status.VERIFIED else " (from memory)"
    return (
        f"follows {curves.plate_voltage.size} readings of the curves in {curves.source}{memory}; "
        f"checked by {of_points}"
    )
