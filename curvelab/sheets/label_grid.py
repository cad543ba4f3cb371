"""Sticker sheets by their dimensions: where each label lies on the page."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from curvelab.errors import LabelSheetError

__all__ = ["LabelGrid", "Spot", "place_labels", "read_label_sheets"]

_ROUNDING = 0.05  # [mm]: dimensions are stated to a tenth
_LEAST_SIDE = 8.0  # [mm]: below it not even the serial can be read


@dataclass(frozen=True, slots=True)
class LabelGrid:
    """A sheet of equal labels; all lengths in millimetres.

    Attributes
    ----------
    left, top : float
        From the page's edges to the first label.
    across, down : float
        Pitch: from the edge of a label to the same edge of the next.
    corner : float
        Radius of the labels' corners; nothing is printed within them.

    Raises
    ------
    LabelSheetError
        If the labels overlap, leave the page, or are too small to read.
    """

    page_width: float
    page_height: float
    left: float
    top: float
    width: float
    height: float
    across: float
    down: float
    columns: int
    rows: int
    corner: float = 0.0

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if not math.isfinite(value) or value < 0:
                raise LabelSheetError(f"{item.name} is {value}, wanted: a length of 0 mm or more")
        if self.columns < 1 or self.rows < 1:
            raise LabelSheetError("a sheet needs at least one column and one row of labels")
        if min(self.width, self.height) < _LEAST_SIDE:
            raise LabelSheetError(
                f"labels of {self.width:g} x {self.height:g} mm are too small: "
                f"{_LEAST_SIDE:g} mm a side at least"
            )
        for pitch, side, count, name in (
            (self.across, self.width, self.columns, "across"),
            (self.down, self.height, self.rows, "down"),
        ):
            if count > 1 and pitch < side - _ROUNDING:
                raise LabelSheetError(
                    f"the labels overlap: {name} is {pitch:g} mm, less than their {side:g} mm"
                )
        right = self.left + (self.columns - 1) * self.across + self.width
        bottom = self.top + (self.rows - 1) * self.down + self.height
        if right > self.page_width + _ROUNDING or bottom > self.page_height + _ROUNDING:
            raise LabelSheetError(
                f"the labels reach to {right:g} x {bottom:g} mm, beyond the page of "
                f"{self.page_width:g} x {self.page_height:g} mm"
            )

    @property
    def count(self) -> int:
        """How many labels a sheet has."""
        return self.columns * self.rows


@dataclass(frozen=True, slots=True)
class Spot:
    """Where one label lies: sheet counted from 0, left and top edge [mm]."""

    sheet: int
    left: float
    top: float


def place_labels(grid: LabelGrid, count: int, start: int = 1) -> list[Spot]:
    """Return where ``count`` labels lie, row by row.

    Parameters
    ----------
    start : int
        The first label used on the first sheet, counted from 1: those before it are gone.

    Raises
    ------
    LabelSheetError
        If the sheet has no such label.
    """
    if not 1 <= start <= grid.count:
        raise LabelSheetError(
            f"there is no label {start} on a sheet of {grid.count}: count row by row from 1"
        )
    spots = []
    for number in range(start - 1, start - 1 + count):
        sheet, place = divmod(number, grid.count)
        row, column = divmod(place, grid.columns)
        left = grid.left + column * grid.across
        spots.append(Spot(sheet, left, grid.top + row * grid.down))
    return spots


def read_label_sheets(content: bytes, where: str) -> Mapping[str, LabelGrid]:
    """Return the sheets that a TOML file describes, by name.

    Parameters
    ----------
    where : str
        The file, for messages.

    Raises
    ------
    LabelSheetError
        If the file cannot be read, or a sheet in it is impossible.
    """
    try:
        tables = tomllib.loads(content.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise LabelSheetError(f"{where}: {error}") from error
    sheets = {}
    for name, table in tables.items():
        try:
            sheets[name] = _grid(table)
        except LabelSheetError as error:
            raise LabelSheetError(f"{where}, [{name}]: {error}") from error
    if not sheets:
        raise LabelSheetError(f"{where}: it describes no sheet")
    return sheets


def _grid(table: object) -> LabelGrid:
    if not isinstance(table, dict):
        raise LabelSheetError("wanted: a table of lengths in millimetres")
    names = [item.name for item in fields(LabelGrid)]
    unknown = sorted(set(table) - set(names))
    if unknown:
        raise LabelSheetError(f"{unknown[0]} is not known (known: {', '.join(names)})")
    missing = [name for name in names if name not in table and name != "corner"]
    if missing:
        raise LabelSheetError(f"{missing[0]} is missing")
    values: dict[str, Any] = {}
    for name, value in table.items():
        whole = name in ("columns", "rows")
        kind = int if whole else int | float
        if isinstance(value, bool) or not isinstance(value, kind):
            wanted = "a whole number" if whole else "a length in millimetres"
            raise LabelSheetError(f"{name} is {value!r}, wanted: {wanted}")
        values[name] = value
    return LabelGrid(**values)
