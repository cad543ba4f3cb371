"""A table of hand tests, a row a tube: what was measured beside the sweeps."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from curvelab.errors import SweepFileError
from curvelab.ingest.decode import decode, load, split_lines
from curvelab.ingest.metadata import Key, canonical_key, read_conditions, value_of
from curvelab.ingest.numbers import shorten
from curvelab.sweep.records import Conditions, SetAside

__all__ = ["HandTestRow", "HandTestTable", "read_hand_tests"]

_LOT, _NOTE = "lot", "note"
_TESTED = frozenset(
    {
        Key.HEATER_VOLTAGE,
        Key.HEATER_CURRENT,
        Key.LEAKAGE,
        Key.SHORTS,
        Key.TAP_TEST,
        Key.WARM_UP,
    }
)
_SEPARATORS = (",", ";", "\t")


@dataclass(frozen=True, slots=True)
class HandTestRow:
    """What one row says of one tube or section."""

    tube: str
    lot: str | None
    section: str | None
    conditions: Conditions
    note: str | None
    line: int
    text: str


@dataclass(frozen=True, slots=True)
class HandTestTable:
    """The rows of a table, and those that could not be read."""

    rows: tuple[HandTestRow, ...]
    set_aside: tuple[SetAside, ...]


def read_hand_tests(path: Path) -> HandTestTable:
    """Read a table of hand tests; its headings are the keys of a sweep file's metadata.

    A row with a value that is not understood is set aside whole: half a test would pass for
    one that found nothing.

    Raises
    ------
    SweepFileError
        If the file cannot be read, or has no heading of tubes and of what was tested.
    """
    source = load(path)
    text, _ = decode(source)
    lines = [
        (number, line)
        for number, line in enumerate(split_lines(text), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    heading_line, heading = lines[0] if lines else (1, "")
    separator = max(_SEPARATORS, key=heading.count)
    headings = _cells(heading, separator)
    keys = {canonical_key(name) for name in headings}
    if Key.TUBE not in keys or not keys & _TESTED:
        raise SweepFileError(
            source.path,
            "this is no table of hand tests: its first row must name 'tube' and what was tested, "
            f"such as 'shorts' or 'heater ma', not {shorten(heading)!r}",
            heading_line,
        )
    rows: list[HandTestRow] = []
    set_aside: list[SetAside] = []
    for number, line in lines[1:]:
        row = _row(headings, _cells(line, separator), number, shorten(line))
        if isinstance(row, HandTestRow):
            rows.append(row)
        else:
            set_aside.append(SetAside(source.name, number, shorten(line), row))
    return HandTestTable(tuple(rows), tuple(set_aside))


def _cells(line: str, separator: str) -> list[str]:
    cells = next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
    return [cell.strip() for cell in cells]


def _row(headings: list[str], cells: list[str], number: int, text: str) -> HandTestRow | str:
    """Return a row, or why it cannot be used."""
    if any(cells[len(headings) :]):
        return "it has more cells than the heading"
    values = {name: cell for name, cell in zip(headings, cells, strict=False) if cell}
    tube = value_of(values, Key.TUBE)
    if tube is None:
        return "it names no tube"
    tested = {name: cell for name, cell in values.items() if canonical_key(name) in _TESTED}
    conditions, remarks = read_conditions(tested)
    if remarks:
        return f"a value is not understood: {remarks[0].text}"
    if conditions == Conditions():
        return "it holds no test"
    return HandTestRow(
        tube=tube,
        lot=value_of(values, _LOT),
        section=value_of(values, Key.SECTION),
        conditions=conditions,
        note=value_of(values, _NOTE),
        line=number,
        text=text,
    )
