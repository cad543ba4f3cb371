"""The records a sweep file turns into.

Sign conventions: voltages to the cathode (or to the filament's stated return); plate
current positive from plate to cathode; grid current positive when the grid collects
electrons, negative for reverse grid current.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from enum import StrEnum
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curvelab.errors import SweepShapeError
from curvelab.sweep.bench import Bench

__all__ = [
    "Conditions",
    "FloatArray",
    "Readings",
    "Remark",
    "RemarkCode",
    "SetAside",
    "SourceFile",
    "Sweep",
    "SweepKind",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def _frozen_array(value: object, dtype: type[np.generic]) -> NDArray[np.generic]:
    array: NDArray[np.generic] = np.array(
        value, dtype=dtype
    )  # a copy: nobody outside holds a writable view
    array.setflags(write=False)
    return array


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """The readings of one tube or section, one element a reading.

    Attributes
    ----------
    plate_voltage, grid_voltage, plate_current : ndarray, shape (n,)
        [V], [V], [A]. Always finite: a reading without one of them is set aside.
    line : ndarray of int, shape (n,)
        Line of the source file, counted from 1; a wide file's row holds several readings.
    grid_current, screen_voltage, screen_current, heater_voltage, time : ndarray or None
        [A], [V], [A], [V], [s]; None where the file has no such column, NaN where the
        cell of a reading is empty.
    direction : ndarray of int or None
        +1 on an up pass, -1 on a down pass, 0 unknown.
    grid_resistor : ndarray or None
        Resistor in the grid lead at each reading [ohm], 0 for none; None where it was the
        same throughout, which the conditions then state.

    Raises
    ------
    SweepShapeError
        If the arrays differ in length or a required one is not finite.
    """

    plate_voltage: FloatArray
    grid_voltage: FloatArray
    plate_current: FloatArray
    line: IntArray
    grid_current: FloatArray | None = None
    screen_voltage: FloatArray | None = None
    screen_current: FloatArray | None = None
    heater_voltage: FloatArray | None = None
    time: FloatArray | None = None
    direction: IntArray | None = None
    grid_resistor: FloatArray | None = None

    def __post_init__(self) -> None:
        size = np.size(self.plate_voltage)
        for item in fields(self):
            value = getattr(self, item.name)
            if value is None:
                continue
            dtype = np.int64 if item.name in ("line", "direction") else np.float64
            array = _frozen_array(value, dtype)
            if array.shape != (size,):
                raise SweepShapeError(
                    f"{item.name} has shape {array.shape}, the plate voltage has ({size},)"
                )
            object.__setattr__(self, item.name, array)
        for name in ("plate_voltage", "grid_voltage", "plate_current"):
            if not np.isfinite(getattr(self, name)).all():
                raise SweepShapeError(f"{name} holds a value that is not finite")

    def __reduce__(self) -> tuple[type, tuple[object, ...]]:
        # Through the constructor, so that arrays stay read-only in another process.
        return type(self), tuple(getattr(self, item.name) for item in fields(self))

    def __len__(self) -> int:
        return self.plate_voltage.size

    def take(self, index: NDArray[np.generic]) -> Readings:
        """Return the readings at ``index`` (a boolean mask or positions)."""
        taken: dict[str, Any] = {
            item.name: None if (value := getattr(self, item.name)) is None else value[index]
            for item in fields(self)
        }
        return Readings(**taken)


@dataclass(frozen=True, slots=True)
class Conditions:
    """How a tube was connected and run; None where the file does not say. SI units.

    ``grid_resistor`` [ohm] is a resistor in the grid lead whose drop is *not* corrected
    (it reveals reverse grid current); plate and cathode resistors were corrected by the
    reader, which turns supply volts into electrode volts and says so.
    """

    connection: str | None = None  # "triode", "pentode" or "triode-connected"
    filament: str | None = None  # "AC" or "DC"
    filament_return: str | None = None  # "negative end", "centre tap" or "midpoint"
    screen_voltage: float | None = None
    heater_voltage: float | None = None
    heater_current: float | None = None
    warm_up: float | None = None  # [s]
    plate_resistor: float | None = None
    cathode_resistor: float | None = None
    grid_resistor: float | None = None
    heater_cathode_leakage: float | None = None  # [A]
    heater_cathode_voltage: float | None = None  # [V] at which the leakage was read
    shorts: str | None = None  # "none", or which electrodes
    tap_test: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class SourceFile:
    """The file a tube's readings came from, with its original bytes."""

    name: str
    path: str
    sha256: str
    content: bytes = field(repr=False)


class RemarkCode(StrEnum):
    """What the reader did, for rules that must know it."""

    LAYOUT = "layout"
    COLUMNS = "columns"
    UNITS_GUESSED = "units-guessed"
    GRID_SIGN = "grid-sign"  # positive grid volts read as negative bias
    GRID_CURRENT_SIGN = "grid-current-sign"  # reverse grid current logged as positive
    SWAPPED = "swapped"  # headings of two columns exchanged
    REVERSED = "reversed"  # a column's sign turned round
    SUPPLY = "supply"  # supply volts corrected to electrode volts
    CORRECTED = "corrected"  # a correction of a meter that a person accepted
    METADATA = "metadata"
    CHOSEN = "chosen"  # read as a person or a bench description says
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing the reader understood or guessed, in one plain sentence.

    ``weighs`` marks a guess without which the figures would be others than those that the
    trade would read in the file, so that a person should look at it.
    """

    code: RemarkCode
    text: str
    guessed: bool = False
    weighs: bool = False


@dataclass(frozen=True, slots=True)
class SetAside:
    """A row, cell or line that could not be read; ``text`` is shortened, never dropped."""

    file: str
    line: int
    text: str
    reason: str


class SweepKind(StrEnum):
    """Whether readings are a family of curves or a log in time."""

    CURVES = "curves"
    DRIFT_LOG = "drift log"


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """One tube (or one section of it) as one file has it.

    Attributes
    ----------
    tube : str
        The tube's name: from the file's metadata or column, else the file's name.
    section : str or None
        Section of a dual tube, as the file writes it.
    type_label : str or None
        Type as labelled; None where the file names none.
    set_aside : tuple of SetAside
        What of the file could not be read and belongs to this tube.
    metadata : mapping of str to str
        Every ``key: value`` of the file, unknown keys included.
    bench : Bench or None
        The bench as the file states it; None where it states neither name nor accuracy.
    """

    tube: str
    section: str | None
    type_label: str | None
    kind: SweepKind
    readings: Readings
    source: SourceFile
    conditions: Conditions = Conditions()
    remarks: tuple[Remark, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    metadata: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    bench: Bench | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "metadata", MappingProxyType(dict(self.metadata)))

    def __reduce__(self) -> tuple[type, tuple[object, ...]]:
        values = {item.name: getattr(self, item.name) for item in fields(self)}
        return type(self), tuple({**values, "metadata": dict(self.metadata)}.values())

    def has_remark(self, code: RemarkCode) -> bool:
        """Tell whether the reader left a remark of this code."""
        return any(remark.code is code for remark in self.remarks)

    @property
    def title(self) -> str:
        """Tube name with its section, and whether it is a log, for lists and headings."""
        title = self.tube if self.section is None else f"{self.tube} section {self.section}"
        logged = self.kind is SweepKind.DRIFT_LOG and not title.lower().endswith("log")
        return f"{title} log" if logged else title
