"""Simulated sweeps written in the shapes and dialects that benches write."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from .bench import SimulatedSweep

__all__ = [
    "Dialect",
    "blocks_text",
    "drift_text",
    "long_text",
    "several_text",
    "swapped_headings",
    "transposed_text",
    "wide_text",
    "write",
]

_LONG_NAMES = {
    "plate_voltage": "plate_v",
    "grid_voltage": "grid_v",
    "plate_current": "plate_ma",
    "grid_current": "grid_ua",
    "heater_voltage": "heater_v",
    "direction": "direction",
    "time": "time_s",
}


@dataclass(frozen=True, slots=True)
class Dialect:
    """How numbers, cells and lines are written.

    ``digits`` are decimals of the plate current in its unit; ``current_unit`` is mA, uA
    or A; ``voltage_unit`` of the plate is V or kV. ``mirrored`` writes negative grid volts
    as positive numbers; ``reverse_positive`` logs reverse grid current as positive.
    """

    separator: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    newline: str = "\n"
    digits: int = 4
    current_unit: str = "mA"
    voltage_unit: str = "V"
    mirrored: bool = False
    reverse_positive: bool = False
    names: tuple[tuple[str, str], ...] = ()
    excel_line: bool = False

    def name(self, column: str) -> str:
        """Return the heading of a column."""
        return dict(self.names).get(column, _LONG_NAMES[column])

    def number(self, value: float, decimals: int) -> str:
        """Return a number with so many decimals, trailing zeros kept, never ``-0``."""
        text = f"{value:.{decimals}f}"
        if float(text) == 0.0:
            text = text.lstrip("-")
        return text.replace(".", self.decimal)

    def current(self, amperes: float) -> str:
        """Return a plate current in the dialect's unit."""
        scale, extra = {"mA": (1e3, 0), "uA": (1e6, -3), "A": (1.0, 3)}[self.current_unit]
        return self.number(amperes * scale, max(0, self.digits + extra))

    def plate(self, volts: float) -> str:
        """Return a plate voltage in the dialect's unit."""
        return self.number(volts / 1e3, 5) if self.voltage_unit == "kV" else self.number(volts, 2)

    def grid(self, volts: float) -> str:
        """Return a grid voltage, mirrored where the bench writes it so."""
        return self.number(-volts if self.mirrored else volts, 3)

    def line(self, cells: Sequence[str]) -> str:
        """Join cells."""
        return self.separator.join(cells)


def _head(sweep: SimulatedSweep, dialect: Dialect, tube: str | None) -> list[str]:
    lines = ["sep=" + dialect.separator] if dialect.excel_line else []
    if tube is not None:
        lines.append(f"# tube: {tube}")
    lines.append(f"# type: {sweep.type_label}")
    return lines + [f"# {key}: {value}" for key, value in sweep.metadata]


def _columns(sweep: SimulatedSweep) -> list[str]:
    return [name for name in _LONG_NAMES if getattr(sweep, name) is not None]


def _cell(sweep: SimulatedSweep, column: str, index: int, dialect: Dialect) -> str:
    value = getattr(sweep, column)[index]
    if column == "direction":
        return "up" if value > 0 else "down"
    if column == "plate_current":
        return dialect.current(value)
    if column == "plate_voltage":
        return dialect.plate(value)
    if column == "grid_voltage":
        return dialect.grid(value)
    if column == "grid_current":
        return dialect.number((-1e6 if dialect.reverse_positive else 1e6) * value, 4)
    return dialect.number(value, 2)


def long_text(
    sweep: SimulatedSweep, dialect: Dialect | None = None, *, tube: str | None = None
) -> str:
    """Return the long form: one row a reading."""
    dialect = dialect or Dialect()
    columns = _columns(sweep)
    lines = [*_head(sweep, dialect, tube), dialect.line([dialect.name(c) for c in columns])]
    lines += [
        dialect.line([_cell(sweep, column, index, dialect) for column in columns])
        for index in range(len(sweep))
    ]
    return "\n".join(lines) + "\n"


def drift_text(
    sweep: SimulatedSweep, dialect: Dialect | None = None, *, tube: str | None = None
) -> str:
    """Return the drift-log form: time first, set-points constant."""
    dialect = dialect or Dialect()
    order = ["time", "plate_voltage", "grid_voltage", "plate_current", "grid_current"]
    columns = [name for name in order if getattr(sweep, name) is not None]
    lines = [*_head(sweep, dialect, tube), dialect.line([dialect.name(c) for c in columns])]
    lines += [
        dialect.line([_cell(sweep, column, index, dialect) for column in columns])
        for index in range(len(sweep))
    ]
    return "\n".join(lines) + "\n"


def _table(
    sweep: SimulatedSweep,
) -> tuple[np.ndarray, list[float], dict[tuple[float, float], float]]:
    plates = np.unique(sweep.plate_voltage)
    grids = list(dict.fromkeys(sweep.grid_voltage.tolist()))
    cells = {
        (float(plate), float(grid)): float(current)
        for plate, grid, current in zip(
            sweep.plate_voltage, sweep.grid_voltage, sweep.plate_current, strict=True
        )
    }
    return plates, grids, cells


def wide_text(
    sweep: SimulatedSweep,
    dialect: Dialect | None = None,
    *,
    tube: str | None = None,
    heading: str = "Vg={step} V",
) -> str:
    """Return the wide form: a column for each grid step, empty where nothing was read."""
    dialect = dialect or Dialect()
    plates, grids, cells = _table(sweep)
    first = f"plate {dialect.voltage_unit}"
    steps = [heading.format(step=_short(dialect.grid(g), dialect)) for g in grids]
    lines = [*_head(sweep, dialect, tube), dialect.line([first, *steps])]
    for plate in plates:
        row = [cells.get((float(plate), grid)) for grid in grids]
        lines.append(
            dialect.line(
                [dialect.plate(plate), *("" if c is None else dialect.current(c) for c in row)]
            )
        )
    return "\n".join(lines) + "\n"


def transposed_text(
    sweep: SimulatedSweep, dialect: Dialect | None = None, *, tube: str | None = None
) -> str:
    """Return the transposed wide form: a row for each grid step."""
    dialect = dialect or Dialect()
    plates, grids, cells = _table(sweep)
    heading = ["grid V", *(f"Vp={_short(dialect.plate(p), dialect)} V" for p in plates)]
    lines = [*_head(sweep, dialect, tube), dialect.line(heading)]
    for grid in grids:
        row = [cells.get((float(plate), grid)) for plate in plates]
        lines.append(
            dialect.line(
                [dialect.grid(grid), *("" if c is None else dialect.current(c) for c in row)]
            )
        )
    return "\n".join(lines) + "\n"


def blocks_text(
    sweep: SimulatedSweep, dialect: Dialect | None = None, *, tube: str | None = None
) -> str:
    """Return the form in blocks: a line names the grid step, then heading and rows."""
    dialect = dialect or Dialect()
    lines = _head(sweep, dialect, tube)
    heading = dialect.line([dialect.name("plate_voltage"), dialect.name("plate_current")])
    for grid in dict.fromkeys(sweep.grid_voltage.tolist()):
        lines += ["", f"grid_v = {_short(dialect.grid(grid), dialect)}", heading]
        for index in np.flatnonzero(sweep.grid_voltage == grid):
            lines.append(
                dialect.line(
                    [
                        dialect.plate(sweep.plate_voltage[index]),
                        dialect.current(sweep.plate_current[index]),
                    ]
                )
            )
    return "\n".join(lines) + "\n"


def several_text(
    sweeps: Sequence[tuple[str, SimulatedSweep]],
    dialect: Dialect | None = None,
    *,
    column: str = "section",
    tube: str | None = None,
) -> str:
    """Return the long form of several tubes or sections, told apart by a column."""
    dialect = dialect or Dialect()
    columns = _columns(sweeps[0][1])
    lines = _head(sweeps[0][1], dialect, tube)
    lines.append(dialect.line([column, *(dialect.name(c) for c in columns)]))
    for name, sweep in sweeps:
        lines += [
            dialect.line([name, *(_cell(sweep, c, index, dialect) for c in columns)])
            for index in range(len(sweep))
        ]
    return "\n".join(lines) + "\n"


def _short(text: str, dialect: Dialect) -> str:
    """Return a number without trailing zeros, as people write headings."""
    if dialect.decimal not in text:
        return text
    return text.rstrip("0").rstrip(dialect.decimal)


def write(path: Path, text: str, dialect: Dialect | None = None) -> Path:
    """Write a file's text in the dialect's encoding and line ends."""
    dialect = dialect or Dialect()
    data = text.replace("\n", dialect.newline)
    path.write_bytes(data.encode(dialect.encoding))
    return path


def swapped_headings(dialect: Dialect, first: str, second: str) -> Dialect:
    """Return the dialect with the headings of two columns exchanged."""
    names = dict(dialect.names)
    names[first], names[second] = dialect.name(second), dialect.name(first)
    return replace(dialect, names=tuple(names.items()))
