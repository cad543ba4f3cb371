"""Readings of one tube and section, gathered from all tables of a file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from curvelab.ingest.headings import Column
from curvelab.ingest.metadata import Key, canonical_key, read_conditions, value_of
from curvelab.ingest.tables import Fault, Table
from curvelab.quantities import Unit
from curvelab.sweep.records import Conditions, FloatArray, IntArray, Remark

__all__ = ["Bundle", "gather"]

_UP = frozenset("up u + +1 1 rise rising asc ascending forward fwd ↑ in".split())
_DOWN = frozenset("down d - -1 fall falling desc descending backward back rev ↓ dn out".split())


@dataclass(slots=True)
class Bundle:
    """All readings of one tube and section while their meaning is being settled."""

    tube: str
    section: str | None
    type_label: str | None
    metadata: dict[str, str]
    values: dict[Column, FloatArray]
    line: IntArray
    conditions: Conditions
    direction: IntArray | None = None
    faults: list[Fault] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    guessed: dict[Column, Unit] = field(default_factory=dict)

    def get(self, column: Column) -> FloatArray | None:
        """Return a column's values, or None if the bundle has none."""
        return self.values.get(column)


_Identity = tuple[str, str | None, str | None]


def gather(tables: Iterable[Table], default_tube: str) -> tuple[list[Bundle], list[Fault]]:
    """Join the tables of each tube and section, in the order of the file.

    Returns the bundles, and the faults that belong to none of them.
    """
    parts: dict[_Identity, list[Table]] = {}
    homeless: list[Fault] = []
    for table in tables:
        pieces = _split(table, default_tube)
        for identity, piece in pieces:
            parts.setdefault(identity, []).append(piece)
        if len(pieces) != 1:
            homeless += table.faults
    return [_join(identity, pieces) for identity, pieces in parts.items()], homeless


def _split(table: Table, default_tube: str) -> list[tuple[_Identity, Table]]:
    """Part a table by its tube, section and type columns."""
    base: _Identity = (
        value_of(table.metadata, Key.TUBE) or default_tube,
        value_of(table.metadata, Key.SECTION),
        value_of(table.metadata, Key.TYPE),
    )
    columns = [table.words.get(item) for item in (Column.TUBE, Column.SECTION, Column.TYPE)]
    if not any(columns):
        return [(base, table)] if table.line.size or table.faults else []
    labels = zip(*(column or [""] * table.line.size for column in columns), strict=True)
    rows: dict[_Identity, list[int]] = {}
    for row, (tube, section, kind) in enumerate(labels):
        identity = (tube or base[0], section or base[1], kind or base[2])
        rows.setdefault(identity, []).append(row)
    if len(rows) == 1:
        return [(next(iter(rows)), table)]
    return [(identity, _rows_of(table, np.array(at))) for identity, at in rows.items()]


def _rows_of(table: Table, rows: IntArray) -> Table:
    return Table(
        shape=table.shape,
        metadata=table.metadata,
        values={column: values[rows] for column, values in table.values.items()},
        line=table.line[rows],
        words={column: [cells[row] for row in rows] for column, cells in table.words.items()},
        unsettled=table.unsettled,
        stated=table.stated,
        set_up=table.set_up,
    )


def _join(identity: _Identity, tables: Sequence[Table]) -> Bundle:
    tube, section, type_label = identity
    columns = {column: None for table in tables for column in table.values}
    values = {
        column: np.concatenate(
            [table.values.get(column, np.full(table.line.size, np.nan)) for table in tables]
        )
        for column in columns
    }
    direction = [_directions(table) for table in tables]
    metadata = _labelled(tables[-1].metadata, section, type_label)
    conditions, remarks = read_conditions(metadata)
    bundle = Bundle(
        tube=tube,
        section=section,
        type_label=type_label,
        metadata=metadata,
        values=values,
        line=np.concatenate([table.line for table in tables]),
        conditions=conditions,
        direction=np.concatenate(direction) if any(map(np.any, direction)) else None,
        faults=[fault for table in tables for fault in table.faults],
        remarks=list(remarks),
    )
    _drop_constant_screen(bundle, tables)
    _tell_set_ups_apart(bundle, tables)
    return bundle


def _labelled(metadata: dict[str, str], section: str | None, kind: str | None) -> dict[str, str]:
    """Return metadata without a section or type that a column of the file overrules."""
    overruled = {Key.SECTION: section, Key.TYPE: kind}
    return {
        name: value
        for name, value in metadata.items()
        if (key := canonical_key(name)) not in overruled or overruled[key] == value
    }


def _drop_constant_screen(bundle: Bundle, tables: Sequence[Table]) -> None:
    """Leave a screen or heater voltage stated once above the rows to the conditions."""
    for column in (Column.SCREEN_VOLTAGE, Column.HEATER_VOLTAGE):
        values = bundle.get(column)
        stated = all(column in table.stated or column not in table.values for table in tables)
        if values is not None and stated and np.unique(values).size == 1:
            del bundle.values[column]


# What a reading of a table without the setting has: no resistor, an unknown heater voltage.
_UNSTATED = {Column.GRID_RESISTOR: 0.0, Column.HEATER_VOLTAGE: np.nan}


def _tell_set_ups_apart(bundle: Bundle, tables: Sequence[Table]) -> None:
    """Give each reading its own setting where the blocks of a tube differ in it."""
    for column, unstated in _UNSTATED.items():
        stated = [table.set_up.get(column, unstated) for table in tables]
        if column not in bundle.values and np.unique(stated).size > 1:
            sizes = [table.line.size for table in tables]
            bundle.values[column] = np.repeat(np.array(stated), sizes)
    if Column.GRID_RESISTOR in bundle.values:
        bundle.values[Column.GRID_RESISTOR] = np.nan_to_num(bundle.values[Column.GRID_RESISTOR])
        bundle.conditions = replace(bundle.conditions, grid_resistor=None)


def _directions(table: Table) -> IntArray:
    words = table.words.get(Column.DIRECTION)
    if words is None:
        return np.zeros(table.line.size, dtype=np.int64)
    folded = [word.casefold() for word in words]
    if "2" in folded:  # passes are numbered, not named
        return np.zeros(table.line.size, dtype=np.int64)
    return np.array(
        [1 if word in _UP else -1 if word in _DOWN else 0 for word in folded], dtype=np.int64
    )
