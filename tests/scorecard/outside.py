"""Published curve readings through the whole chain: residuals, and constants at printed points.

The source of each file of readings stands in its head (``tests/data/outside``); that of each
printed figure stands beside it here. A curve and a table of one sheet differ by up to a tenth:
both are averages drawn by hand.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from curvelab.assessment import Assessment, Settings, assess
from curvelab.ingest import read_file
from curvelab.workbench.type_library import shipped_families

__all__ = ["OUTSIDE", "OutsideCase", "PrintedPoint", "oscillates", "outside_lines", "residual_of"]

_DATA = Path(__file__).parents[1] / "data" / "outside"
_NAMES = ("plate_current", "transconductance", "plate_resistance", "amplification_factor")


@dataclass(frozen=True, slots=True)
class PrintedPoint:
    """Ip [A], gm [S], rp [ohm] and mu at (Vp, Vg) [V]; None for what is not printed."""

    at: tuple[float, float]
    figures: tuple[float | None, float | None, float | None, float | None]
    source: str


@dataclass(frozen=True, slots=True)
class OutsideCase:
    """A file of published readings with their accuracy: a share, or a current [A] if larger."""

    file: str
    share: float
    floor: float
    points: tuple[PrintedPoint, ...]


OUTSIDE = (
    OutsideCase(
        "C1-12AX7-triode.csv", 0.05, 0.2e-3,
        (
            PrintedPoint((250, -2), (1.2e-3, 1.6e-3, 62.5e3, 100), "RCA 12AX7-A DATA 1, 10-60"),
            PrintedPoint((100, -1), (0.5e-3, 1.25e-3, 80e3, 100), "RCA 12AX7-A DATA 1, 10-60"),
        ),
    ),
    OutsideCase(
        "C5-12AU7-triode.csv", 0.05, 0.2e-3,
        (PrintedPoint((250, -8.5), (10.5e-3, 2.2e-3, 7.7e3, 17), "Philips ECC82 sheets 1-4"),),
    ),
    OutsideCase(
        "C6-6SL7GT-triode.csv", 0.05, 0.2e-3,
        (PrintedPoint((250, -2), (2.3e-3, 1.6e-3, 44e3, 70), "from memory (RCA RC-30)"),),
    ),
    OutsideCase(
        "D1-6SN7GT-triode.csv", 0.05, 0.2e-3,
        (
            PrintedPoint((250, -8), (9e-3, 2.6e-3, 7.7e3, 20), "Tung-Sol 6SN7GT, July 31, 1945"),
            PrintedPoint((90, 0), (10e-3, None, None, None), "Tung-Sol 6SN7GT, July 31, 1945"),
        ),
    ),
    OutsideCase(
        # Plate at 250 V, bias by 270 ohm: Vg = -34 mA x 270 ohm.
        "C3-EL84-triode.csv", 0.03, 1e-3,
        (PrintedPoint((250, -9.2), (34e-3, None, None, None), "Philips EL84 sheets, page D"),),
    ),
    OutsideCase(
        "C4-EL84-pentode.csv", 0.03, 1e-3,
        (PrintedPoint((250, -7.3), (48e-3, None, None, None), "Philips EL84 sheets 1-6"),),
    ),
    OutsideCase(
        "D4-6V6-tetrode.csv", 0.03, 1e-3,
        (PrintedPoint((250, -12.5), (45e-3, 4.1e-3, 50e3, None), "Tung-Sol 6V6, June 6, 1941"),),
    ),
    OutsideCase(
        "textbook-family.csv", 0.05, 0.2e-3,
        (
            PrintedPoint(
                (150, -1), (None, 7.1e-3, 6.06e3, 43),
                "Bhargava, Kulshreshtha and Gupta, ch. 6, Example 6.2",
            ),
        ),
    ),
)  # fmt: skip


def _assessed(case: OutsideCase, point: PrintedPoint | None) -> Assessment:
    (sweep,) = read_file(_DATA / case.file).sweeps
    settings = Settings(at=None if point is None else point.at)
    (found,) = assess([sweep], shipped_families(), settings)
    return found


def residual_of(case: OutsideCase, found: Assessment) -> float | None:
    """Return the RMS residual in units of the readings' accuracy; None without a fit."""
    current, used = found.sweep.readings.plate_current, found.fit.used
    if found.fit.family is None:
        return None
    accuracy = np.maximum(case.share * current, case.floor)
    return float(np.sqrt(np.mean((found.fit.residual / accuracy)[used] ** 2)))


def oscillates(found: Assessment) -> bool | None:
    """Tell whether a slope is not positive where current flows; None without a fit."""
    family, hull = found.fit.family, found.fit.hull
    if family is None or hull is None:
        return None
    plate, grid = np.meshgrid(
        hull.origin[0] + hull.span[0] * np.linspace(0, 1, 80),
        hull.origin[1] + hull.span[1] * np.linspace(0, 1, 60),
    )
    current = family.current(plate, grid)
    flowing = family.covers(plate, grid) & (current > 0.03 * current.max())
    return not all(bool((slope[flowing] > 0).all()) for slope in family.slopes(plate, grid))


def outside_lines() -> Iterable[str]:
    """Yield residual and constants of every published case."""
    yield "residual in units of the readings' accuracy (goal: at most 1); difference from the"
    yield "printed figure (goal: 10 %) and the 95 % uncertainty (goal: below 15 %), in percent"
    yield f"{'case':<22} {'readings':>8} {'residual':>8} {'smooth':>7}   law"
    for case in OUTSIDE:
        found = _assessed(case, None)
        residual, rough = residual_of(case, found), oscillates(found)
        law = "none" if found.fit.law is None else found.fit.law.name
        yield (
            f"{case.file.removesuffix('.csv'):<22} {len(found.sweep.readings):>8} "
            f"{_number(residual, '8.2f')} {_smooth(rough):>7}   {law}"
            f"{' with correction' if found.fit.corrected else ''}"
        )
    yield f"{'case':<22} {'at':<13}" + "".join(f"{name:>16}" for name in ("Ip", "gm", "rp", "mu"))
    for case in OUTSIDE:
        for point in case.points:
            yield _point_line(case, point)


def _point_line(case: OutsideCase, point: PrintedPoint) -> str:
    constants = _assessed(case, point).constants
    cells = []
    for name, printed in zip(_NAMES, point.figures, strict=True):
        constant = getattr(constants, name)
        if printed is None:
            cells.append("-")
        elif constant.value is None:
            cells.append("no value")
        else:
            away = 100 * (constant.value / printed - 1)
            missed = abs(away) > 10 or 100 * constant.u95 / constant.value > 15
            cells.append(
                f"{away:+.1f} ± {100 * constant.u95 / constant.value:.1f}{'!' if missed else ''}"
            )
    at = f"{point.at[0]:g}, {point.at[1]:g} V"
    return f"{case.file.removesuffix('.csv'):<22} {at:<13}" + "".join(f"{c:>16}" for c in cells)


def _number(value: float | None, form: str) -> str:
    return f"{'-':>8}" if value is None else f"{value:{form}}"


def _smooth(rough: bool | None) -> str:
    return "-" if rough is None else "NO" if rough else "yes"
