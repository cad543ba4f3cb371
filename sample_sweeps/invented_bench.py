"""An invented bench and invented tubes for the sample lot that ``generate.py`` writes.

The tubes follow a law of their own. Three stretches of one uneven grid, each with its own
amplification factor, conduct side by side; each gives the three-halves power of the smoothed
positive part of its drive; the cathode cannot give more than its emission.

Nothing but the standard library is needed, so that the files come out the same everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from random import Random

__all__ = [
    "KINDS",
    "Kind",
    "Reading",
    "Take",
    "Tube",
    "block_rows",
    "clip",
    "drop_contact",
    "exchanged_rows",
    "log",
    "long_rows",
    "sag",
    "section_rows",
    "sweep",
    "table_rows",
]

_SHARES = (0.25, 0.5, 0.25)
_PLACES = (-math.sqrt(2.0), 0.0, math.sqrt(2.0))
_FLOOR = 1e-4  # of the largest current


@dataclass(frozen=True, slots=True)
class Kind:
    """A type: constants solved once so that the average tube meets its published point.

    V, mA, W. ``plates`` are first, last and number of the plate voltages; ``grids`` first
    step, step and number.
    """

    label: str
    perveance: float
    mu: float
    uneven: float
    contact: float
    foot: float
    dissipation: float
    bogey: tuple[float, float]
    plates: tuple[float, float, int]
    grids: tuple[float, float, int]


KINDS = {
    kind.label: kind
    for kind in (
        Kind(
            "6SN7GTB",
            0.84287,
            21.3553,
            0.187,
            0.6444,
            0.62,
            5.0,
            (250, -8),
            (15, 360, 24),
            (0, -2, 10),
        ),
        Kind(
            "6SL7GT",
            0.78630,
            76.2892,
            0.250,
            0.5658,
            0.26,
            1.0,
            (250, -2),
            (15, 360, 24),
            (0, -2, 10),
        ),
        Kind(
            "12AX7",
            1.11358,
            107.4732,
            0.202,
            0.6138,
            0.14,
            1.2,
            (250, -2),
            (10, 300, 30),
            (0, -0.5, 8),
        ),
        Kind(
            "2A3", 0.94327, 4.3866, 0.130, 2.4556, 2.06, 15.0, (250, -45), (10, 300, 30), (0, -9, 9)
        ),
        Kind(
            "300B",
            1.01633,
            3.9708,
            0.095,
            -0.7156,
            1.96,
            40.0,
            (300, -61),
            (15, 435, 29),
            (-1, -15, 8),
        ),
        Kind(
            "211",
            0.46603,
            12.5641,
            0.136,
            2.6652,
            3.03,
            75.0,
            (1000, -61),
            (50, 1250, 25),
            (-1, -15, 7),
        ),
    )
}


@dataclass(frozen=True, slots=True)
class Tube:
    """One tube of a type and what is wrong with it.

    ``emission`` [mA]; ``gas`` ions over plate current; ``leak`` grid to plate [nS]; ``cold``
    grid emission without load [uA]; ``warming`` grid volts by which the hold slips at full load.
    """

    kind: Kind
    strength: float = 1.0
    longer: float = 1.0
    emission: float = math.inf
    gas: float = 3e-6
    leak: float = 1e-4
    cold: float = 0.0
    warming: float = 0.0

    def current(self, plate: float, grid: float) -> float:
        """Return the plate current [mA]."""
        kind, total = self.kind, 0.0
        for share, place in zip(_SHARES, _PLACES, strict=True):
            mu = kind.mu * self.longer * math.exp(kind.uneven * place)
            drive = grid + plate / mu + kind.contact
            total += share * (0.5 * (drive + math.hypot(drive, kind.foot))) ** 1.5
        total *= kind.perveance * self.strength * -math.expm1(-plate)
        return total / math.sqrt(1.0 + (total / self.emission) ** 2)

    def grid_current(self, plate: float, grid: float) -> float:
        """Return the grid current [uA]: electrons positive, reverse current negative."""
        flowing = self.current(plate, grid)
        load = plate * flowing * 1e-3 / self.kind.dissipation
        ions = self.gas * flowing * 1e3 / (1.0 + math.exp((20.0 - plate) / 2.0))
        emitted = self.cold * math.exp(2.0 * load)
        return 12.0 * math.exp(grid / 0.2) - ions + self.leak * 1e-3 * (grid - plate) - emitted


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading as logged: V, V, mA, uA, +1 up or -1 down, s."""

    plate: float
    grid: float
    current: float
    grid_current: float
    way: int = 0
    time: float | None = None


@dataclass(frozen=True, slots=True)
class Take:
    """How a sweep is taken.

    Attributes
    ----------
    load : float
        Dissipation, over the rated one, where a curve ends.
    highest : float
        Highest plate voltage the supply gives [V].
    noise : float
        Scatter of a reading, as a fraction.
    stuck : int or None
        The grid step that never came: the bench logs it, the tube gets the one before.
    both_ways : bool
        Each curve up and then down again.
    spoil : function or None
        What the bench then does to the readings.
    """

    load: float = 0.95
    highest: float = math.inf
    noise: float = 0.003
    stuck: int | None = None
    both_ways: bool = False
    spoil: Callable[[list[Reading], Random], list[Reading]] | None = None


def sweep(tube: Tube, random: Random, take: Take = Take()) -> list[Reading]:
    """Take a sweep of a tube."""
    kind = tube.kind
    first, last, many = kind.plates
    plates = [first + (last - first) * k / (many - 1) for k in range(many)]
    plates = [plate for plate in plates if plate <= take.highest]
    start, step, steps = kind.grids
    scale, warmth, readings = _FLOOR * tube.current(0.6 * last, start), 0.0, []
    for count in range(steps):
        grid = start + step * count
        real = grid - step if count == take.stuck else grid
        most = take.load * kind.dissipation * 1e3
        path = [(plate, 1) for plate in plates if plate * tube.current(plate, real) <= most]
        path += [(plate, -1) for plate, _ in reversed(path)] if take.both_ways else []
        for plate, way in path:
            here = real + tube.warming * warmth
            flowing = tube.current(plate, here)
            warmth += 0.2 * (plate * flowing * 1e-3 / kind.dissipation - warmth)
            read = flowing * random.gauss(1.0, take.noise) + random.gauss(0.0, scale)
            reverse = tube.grid_current(plate, here) * random.gauss(1.0, 0.005)
            reverse += random.gauss(0.0, 0.004)
            readings.append(Reading(plate, grid, read, reverse, way * take.both_ways))
    return readings if take.spoil is None else take.spoil(readings, random)


def log(
    tube: Tube, random: Random, course: Callable[[float], float], *, minutes: float = 15
) -> list[Reading]:
    """Log a tube at its bogey point every ten seconds; ``course`` multiplies its current."""
    plate, grid = tube.kind.bogey
    base, readings = tube.current(plate, grid), []
    for k in range(int(minutes * 6) + 1):
        flowing = base * course(10.0 * k) * random.gauss(1.0, 0.001)
        reverse = tube.gas * flowing * 1e3 + 4.0 * max(course(10.0 * k) - 1.0, 0.0)
        reverse += random.gauss(0.0, 0.004)
        readings.append(Reading(plate, grid, flowing, -reverse, 0, 10.0 * k))
    return readings


# What a bench, not a tube, does to readings -------------------------------------------------


def drop_contact(readings: list[Reading], random: Random, count: int = 6) -> list[Reading]:
    """Let isolated readings fall: a tired socket."""
    top = max(item.current for item in readings)
    strong = [k for k, item in enumerate(readings) if item.current > 0.15 * top]
    hit = set(random.sample(strong, count))
    return [
        replace(item, current=item.current * random.uniform(0.0, 0.3)) if k in hit else item
        for k, item in enumerate(readings)
    ]


def clip(readings: list[Reading], random: Random, top: float) -> list[Reading]:
    """Let a current limit flatten what lies above ``top`` [mA]."""
    return [
        replace(item, current=top * random.gauss(1.0, 1e-4)) if item.current > top else item
        for item in readings
    ]


def sag(readings: list[Reading], grid: float, above: float, by: float) -> list[Reading]:
    """Let the heater supply sag while one curve is taken from ``above`` [V] upward."""
    return [
        replace(item, current=item.current * (1.0 - by))
        if item.grid == grid and item.plate >= above
        else item
        for item in readings
    ]


# Shapes ---------------------------------------------------------------------------------------


def number(value: float, decimals: int, point: str = ".") -> str:
    """Return ``value`` rounded; never a minus before zero."""
    text = f"{value:.{decimals}f}"
    if not text.strip("-0."):
        text = text.lstrip("-")
    return text.replace(".", point)


def short(value: float, point: str = ".") -> str:
    """Return ``value`` as people write it in headings."""
    return f"{value:g}".replace(".", point)


def long_rows(readings: Sequence[Reading], *, flipped: bool = False) -> Iterable[str]:
    """Yield heading and rows of the long form; ``flipped`` has the ammeter's leads reversed."""
    one = readings[0]
    names = ["time_s"] if one.time is not None else []
    names += ["plate_v", "grid_v", "plate_ma", "grid_ua"]
    names += ["direction"] if one.way else []
    yield ",".join(names)
    for item in readings:
        cells = [number(item.time, 0)] if item.time is not None else []
        current = -item.current if flipped else item.current
        cells += [number(item.plate, 1), number(item.grid, 2), number(current, 3)]
        cells += [number(item.grid_current, 3)]
        cells += ["up" if item.way > 0 else "down"] if item.way else []
        yield ",".join(cells)


def exchanged_rows(readings: Sequence[Reading]) -> Iterable[str]:
    """Yield the long form with plate and grid volts under each other's heading."""
    yield "plate_v,grid_v,plate_ma"
    for item in readings:
        yield ",".join((number(item.grid, 2), number(item.plate, 1), number(item.current, 3)))


def table_rows(
    readings: Sequence[Reading], *, across: str = "grid", comma: str = ",", point: str = "."
) -> Iterable[str]:
    """Yield a table with grid steps (or plate voltages) across the top."""
    down = "plate" if across == "grid" else "grid"
    unit = {"grid": "Vg={} V", "plate": "Vp={} V"}[across]
    tops = list(dict.fromkeys(getattr(item, across) for item in readings))
    sides = list(dict.fromkeys(getattr(item, down) for item in readings))
    cells = {(getattr(i, down), getattr(i, across)): i.current for i in readings}
    tops.sort(reverse=across == "grid")
    sides.sort(reverse=across == "plate")
    yield comma.join([f"{down} V", *(unit.format(short(top, point)) for top in tops)])
    for side in sides:
        row = [cells.get((side, top)) for top in tops]
        yield comma.join(
            [short(side, point), *("" if c is None else number(c, 3, point) for c in row)]
        )


def block_rows(readings: Sequence[Reading]) -> Iterable[str]:
    """Yield the form in blocks: a line naming the grid step, a heading, its rows."""
    for grid in dict.fromkeys(item.grid for item in readings):
        yield ""
        yield f"grid_v = {short(grid)}"
        yield "Vp (V);Ip (mA)"
        for item in readings:
            if item.grid == grid:
                yield f"{number(item.plate, 1)};{number(item.current, 3)}"


def section_rows(sections: dict[str, Sequence[Reading]]) -> Iterable[str]:
    """Yield the long form of a dual tube, told apart by a column."""
    for count, (name, readings) in enumerate(sections.items()):
        rows = iter(long_rows(readings))
        heading = next(rows)
        if count == 0:
            yield f"section,{heading}"
        for row in rows:
            yield f"{name},{row}"
