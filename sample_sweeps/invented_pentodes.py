"""Invented tubes with a screen grid for the sample lot, and how the bench sweeps them.

As in ``invented_bench``, three stretches of one uneven grid conduct side by side. Screen and, far
less, plate draw upon the cathode. What passes the screen's wires reaches the plate but for a part
that turns back below the knee, whose volts grow with the current; a beam tube loses some more in a
dip below half the screen's volts.

Nothing but the standard library is needed, so that the files come out the same everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from random import Random

from invented_bench import number

__all__ = [
    "SCREEN_KINDS",
    "ScreenKind",
    "ScreenReading",
    "ScreenTube",
    "screen_rows",
    "sweep_screen",
]

_SHARES = (0.25, 0.5, 0.25)
_PLACES = (-math.sqrt(2.0), 0.0, math.sqrt(2.0))
_FLOOR = 1e-4  # of the largest current
_KNEE_MOVES, _KNEE_BENDS = 0.05, 0.8  # powers of the load and of the plate voltage


@dataclass(frozen=True, slots=True)
class ScreenKind:
    """A type: constants solved once so that the average tube meets its published point.

    V, mA, W; shares of the voltage (``reach``) and of the current (``passed``, ``climb``, ``dip``).
    ``plates`` are the plate voltages; ``grids`` first step, step and number.
    """

    label: str
    perveance: float
    mu: float
    uneven: float
    contact: float
    foot: float
    reach: float
    passed: float
    knee: float
    climb: float
    dip: float
    bogey_current: float
    dissipation: float
    screen_dissipation: float
    plates: tuple[float, ...]
    grids: tuple[float, float, int]


SCREEN_KINDS = {
    kind.label: kind
    for kind in (
        ScreenKind(
            label="EL84",
            perveance=3.67502,
            mu=19.48578,
            uneven=0.11938,
            contact=-0.513,
            foot=2.0434,
            reach=0.04327,
            passed=0.89733,
            knee=16.29989,
            climb=0.0,
            dip=0.0,
            bogey_current=53.5,
            dissipation=12.0,
            screen_dissipation=2.0,
            plates=(15, 30, 45, 60, 80, 100, 120, 140, 160, 180, 200, 220, 240, 250, 260, 280, 300),
            grids=(-4.3, -0.5, 15),
        ),
        ScreenKind(
            label="6V6",
            perveance=0.7671,
            mu=9.66256,
            uneven=0.15598,
            contact=1.20184,
            foot=0.30001,
            reach=0.03486,
            passed=0.91523,
            knee=33.42034,
            climb=0.0,
            dip=0.2,
            bogey_current=49.5,
            dissipation=12.0,
            screen_dissipation=2.0,
            plates=(20, 35, 50, 65, 80, 95, 110, 130, 150, 170, 190, 210, 230, 250, 270, 290, 310),
            grids=(-7.5, -2.5, 8),
        ),
    )
}


@dataclass(frozen=True, slots=True)
class ScreenTube:
    """One tube of a type."""

    kind: ScreenKind
    strength: float = 1.0
    longer: float = 1.0

    def currents(self, plate: float, grid: float, screen: float) -> tuple[float, float]:
        """Return plate and screen current [mA]."""
        kind, whole = self.kind, 0.0
        for share, place in zip(_SHARES, _PLACES, strict=True):
            mu = kind.mu * self.longer * math.exp(kind.uneven * place)
            drive = grid + (screen + kind.reach * plate) / mu + kind.contact
            whole += share * (0.5 * (drive + math.hypot(drive, kind.foot))) ** 1.5
        whole *= kind.perveance * self.strength
        load, ratio = whole / kind.bogey_current, plate / screen
        arrives = -math.expm1(-((plate / (kind.knee * load**_KNEE_MOVES)) ** _KNEE_BENDS))
        lost = kind.dip * math.exp(-(((ratio - 0.3) / 0.1) ** 2) - 2.0 * load)
        share = kind.passed * arrives * (1.0 + kind.climb * math.tanh(ratio - 1.0)) * (1.0 - lost)
        return whole * share, whole * (1.0 - share)


@dataclass(frozen=True, slots=True)
class ScreenReading:
    """One reading as logged: V, V, V, mA, mA."""

    plate: float
    grid: float
    screen: float
    current: float
    screen_current: float


def sweep_screen(
    tube: ScreenTube,
    random: Random,
    screens: Sequence[float] = (250.0,),
    *,
    plate_load: float = 1.0,
    screen_load: float = 1.0,
) -> list[ScreenReading]:
    """Take a sweep at each screen voltage.

    A reading is left out where plate or screen would dissipate more than these shares of what is
    rated.
    """
    kind = tube.kind
    start, step, steps = kind.grids
    floor = _FLOOR * tube.currents(250.0, start, max(screens))[0]
    readings = []
    for screen in screens:
        for grid in (start + step * count for count in range(steps)):
            for plate in kind.plates:
                current, drawn = tube.currents(plate, grid, screen)
                if plate * current > plate_load * kind.dissipation * 1e3:
                    continue
                if screen * drawn > screen_load * kind.screen_dissipation * 1e3:
                    continue
                read, read_drawn = (
                    flowing * random.gauss(1.0, 0.003) + random.gauss(0.0, floor)
                    for flowing in (current, drawn)
                )
                readings.append(ScreenReading(plate, grid, screen, read, read_drawn))
    return readings


def screen_rows(readings: Sequence[ScreenReading], *, metered: bool = True) -> Iterable[str]:
    """Yield heading and rows of the long form; ``metered`` logs the screen's current too."""
    yield "plate_v,grid_v,screen_v,plate_ma" + (",screen_ma" if metered else "")
    for item in readings:
        cells = [number(item.plate, 1), number(item.grid, 2), number(item.screen, 1)]
        cells.append(number(item.current, 3))
        if metered:
            cells.append(number(item.screen_current, 3))
        yield ",".join(cells)
