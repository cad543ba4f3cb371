"""Read one file: the steps in order, and the report of what was done."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePath
from types import MappingProxyType

import numpy as np

from curvelab.errors import SweepFileError
from curvelab.ingest.accuracy import read_bench
from curvelab.ingest.bundles import Bundle, gather
from curvelab.ingest.choices import (
    NOTHING_CHOSEN,
    ReadingChoices,
    name_by_choice,
    state_identity,
)
from curvelab.ingest.decode import MAX_BYTES, decode, load, split_lines
from curvelab.ingest.dialect import Dialect, detect_dialect, rules_out, separator_line
from curvelab.ingest.electrode import correct_supply_volts
from curvelab.ingest.headings import Column, is_wide
from curvelab.ingest.long import read_long
from curvelab.ingest.metadata import Key, value_of
from curvelab.ingest.numbers import shorten
from curvelab.ingest.passes import find_direction, find_kind
from curvelab.ingest.plausible import set_aside_impossible, settle_plate_current_size
from curvelab.ingest.positional import name_columns
from curvelab.ingest.scan import Scan, Segment, scan
from curvelab.ingest.settle import (
    ExpectedCurrent,
    settle_currents,
    settle_voltages_and_time,
)
from curvelab.ingest.signs import (
    Family,
    settle_chosen_grid_sign,
    settle_grid_current_sign,
    settle_grid_sign,
    settle_reversed,
    settle_swapped,
)
from curvelab.ingest.tables import REQUIRED, Fault, Table, adopt_units
from curvelab.ingest.wide import read_wide
from curvelab.quantities import Unit
from curvelab.sweep.records import (
    FloatArray,
    Readings,
    Remark,
    RemarkCode,
    SetAside,
    SourceFile,
    Sweep,
    SweepKind,
)

__all__ = ["SETTLED", "FileReading", "find_dialect", "read_file", "read_source"]

# The value of the key ``conventions`` in the project's own form: signs and voltages are
# those of the records, nothing is to be guessed.
SETTLED = "settled"
_TEXT_SHOWN = 120
_WITHOUT_TUBE = (Column.PLATE_VOLTAGE, Column.PLATE_CURRENT)


@dataclass(frozen=True, slots=True, eq=False)
class FileReading:
    """What one file holds.

    Attributes
    ----------
    sweeps : tuple of Sweep
        One for each tube and section, in the order of the file.
    set_aside : tuple of SetAside
        Every row, cell and line of the file that could not be read.
    remarks : tuple of Remark
        What was understood and guessed, for the file as a whole.
    units : mapping of Column to Unit
        In which each column was read.
    guessed : frozenset of Column
        Those of the units that no heading states.
    """

    sweeps: tuple[Sweep, ...]
    set_aside: tuple[SetAside, ...]
    remarks: tuple[Remark, ...]
    source: SourceFile
    units: Mapping[Column, Unit] = field(default_factory=lambda: MappingProxyType({}))
    guessed: frozenset[Column] = frozenset()


def read_file(  # noqa: PLR0913 - the one door of the room, with its options
    path: Path,
    *,
    type_name: str | None = None,
    expected_current: ExpectedCurrent | None = None,
    answers: Collection[str] = (),
    choices: ReadingChoices = NOTHING_CHOSEN,
    tube_in_socket: bool = True,
    max_bytes: int = MAX_BYTES,
) -> FileReading:
    """Read a sweep file or drift log of any known shape.

    Parameters
    ----------
    path : Path
        A regular file.
    type_name : str, optional
        Overrules the type that the file names when units and signs are settled.
    expected_current : callable, optional
        ``expected_current(type, plate_voltage, grid_voltage)`` gives the handbook
        family's plate current [A] at arrays of volts, or None for an unknown type.
    answers : collection of str, optional
        Choices of an earlier `AmbiguousFileError` that a person has picked.
    choices : ReadingChoices, optional
        What a person or a bench description has said about columns, units, signs, encoding.
    tube_in_socket : bool, optional
        False for a resistor in the tube's place or an empty socket: the grid voltage may be
        missing, and nothing is concluded about signs, exchanged columns or units from what
        a tube would do.
    max_bytes : int, optional
        Largest size that is read.

    Raises
    ------
    SweepFileError
        If the file cannot be read at all.
    AmbiguousFileError
        If it can be read in more than one way; its ``choices`` can be given back as
        ``answers``.
    """
    source = load(Path(path), max_bytes)
    return read_source(
        source,
        type_name=type_name,
        expected_current=expected_current,
        answers=answers,
        choices=choices,
        tube_in_socket=tube_in_socket,
    )


def read_source(  # noqa: PLR0913 - as `read_file`
    source: SourceFile,
    *,
    type_name: str | None = None,
    expected_current: ExpectedCurrent | None = None,
    answers: Collection[str] = (),
    choices: ReadingChoices = NOTHING_CHOSEN,
    tube_in_socket: bool = True,
) -> FileReading:
    """Read a file whose bytes are at hand, as `read_file` does one on the disk.

    Raises
    ------
    SweepFileError
        If the bytes cannot be read at all.
    AmbiguousFileError
        If they can be read in more than one way.
    """
    text, encoding = decode(source, choices.encoding)
    lines = split_lines(text)
    del text
    dialect = find_dialect(lines, choices)
    scanned = scan(lines, dialect, choices.heading)
    name_by_choice(scanned.segments, dialect, choices)
    answers = (*answers, *choices.answers_for(scanned.headings))
    remarks = name_columns(source.path, scanned.segments, dialect, answers)
    needed = REQUIRED if tube_in_socket else _WITHOUT_TUBE
    read = _TableReader(source.path, dialect, answers, needed, choices.step_unit)
    tables = [read.table(item) for item in scanned.segments]
    adopt_units(tables)
    remarks += state_identity(tables, choices)
    bundles, homeless = gather(tables, PurePath(source.name).stem)
    homeless += [fault for item in bundles if not item.line.size for fault in item.faults]
    bundles = [bundle for bundle in bundles if bundle.line.size]
    if not bundles:
        raise _no_readings(source, scanned, tables)
    remarks += choices.describe(scanned.headings, dialect.decimal)
    remarks = [*_describe(scanned, tables, dialect, encoding), *remarks]
    if not tube_in_socket:
        remarks += _fill_grid_voltage(bundles)
    settler = _Settler(
        source,
        bundles,
        tables,
        type_name,
        expected_current,
        replace(choices, answers=answers),
        tube_in_socket,
    )
    remarks += settler.settle(lines)
    general = [Fault(*item) for item in scanned.not_understood] + homeless + settler.homeless
    return _report(source, settler, remarks, general)


def find_dialect(lines: Sequence[str], choices: ReadingChoices) -> Dialect:
    """Return how a file separates its cells and marks its decimals, or as was chosen.

    What a bench's description says gives way to cells that cannot be read so.
    """
    found = detect_dialect(lines, separator_line(lines[0]))
    if choices.decimal is None:
        return found
    if "decimal" not in choices.overrules and rules_out(lines, found, choices.decimal):
        return found
    return replace(found, decimal=choices.decimal, decimal_guessed=False)


@dataclass(frozen=True, slots=True)
class _TableReader:
    """Reads the segments of one file."""

    path: str
    dialect: Dialect
    answers: Collection[str]
    needed: Collection[Column]
    step_unit: Unit | None

    def table(self, segment: Segment) -> Table:
        """Return the readings of a segment, whatever its shape."""
        if is_wide(segment.headings or []):
            table = read_wide(self.path, segment, self.dialect, self.answers, self.step_unit)
        else:
            table = read_long(self.path, segment, self.dialect, self.answers, self.needed)
        table.set_up = segment.set_up
        return table


def _fill_grid_voltage(bundles: Sequence[Bundle]) -> list[Remark]:
    """Put 0 V where no grid voltage is written, in place."""
    filled = 0
    for bundle in bundles:
        grid = bundle.values.get(Column.GRID_VOLTAGE, np.full(bundle.line.size, np.nan))
        filled += int(np.isnan(grid).sum())
        bundle.values[Column.GRID_VOLTAGE] = np.nan_to_num(grid)
    if not filled:
        return []
    text = "readings without a grid voltage are taken at 0 V: no tube is in the socket"
    return [Remark(RemarkCode.OTHER, text)]


@dataclass(slots=True)
class _Settler:
    """Settles units, signs and reference of all bundles of a file."""

    source: SourceFile
    bundles: list[Bundle]
    tables: list[Table]
    type_name: str | None
    expected_current: ExpectedCurrent | None
    choices: ReadingChoices
    tube_in_socket: bool
    homeless: list[Fault] = field(default_factory=list)

    def settle(self, lines: Sequence[str]) -> list[Remark]:
        path, answers = self.source.path, self.choices.answers
        unsettled = {column for table in self.tables for column in table.unsettled}
        stated = self.stated_units()
        settled = all(
            value_of(bundle.metadata, Key.CONVENTIONS) == SETTLED for bundle in self.bundles
        )
        remarks = settle_voltages_and_time(path, self.bundles, unsettled, answers)
        if not settled and self.tube_in_socket:
            remarks += self.settle_volts()
        remarks += settle_currents(
            path,
            self.bundles,
            unsettled,
            self.expected,
            answers,
            by_size=self.tube_in_socket,
        )
        if not settled:
            remarks += settle_plate_current_size(path, self.bundles, stated, answers)
            self.keep_possible(lines)
            remarks += settle_grid_current_sign(
                self.bundles, self.choices, guess=self.tube_in_socket
            )
            for bundle in self.bundles:
                self.finish(bundle)
        return remarks

    def stated_units(self) -> dict[Column, Unit]:
        """Return the units that the file itself states, or that were chosen."""
        return {column: unit for table in self.tables for column, unit in table.units.items()}

    def settle_volts(self) -> list[Remark]:
        """Settle signs and columns of the voltages, as chosen or as the values say."""
        choices = self.choices
        remarks = settle_reversed(self.bundles)
        if not (choices.names(Column.PLATE_VOLTAGE) and choices.names(Column.GRID_VOLTAGE)):
            remarks += settle_swapped(self.bundles, self.family)
        if choices.grid_volts is None:
            return remarks + settle_grid_sign(self.bundles, self.family)
        return remarks + settle_chosen_grid_sign(self.bundles, choices.grid_volts, choices.said_by)

    def keep_possible(self, lines: Sequence[str]) -> None:
        """Set aside what no bench can have read; a bundle without readings goes."""
        for bundle in self.bundles:
            set_aside_impossible(bundle, lines)
        if not any(bundle.line.size for bundle in self.bundles):
            raise _none_of(self.source, [fault for item in self.bundles for fault in item.faults])
        for bundle in self.bundles:
            if not bundle.line.size:
                self.homeless += bundle.faults
        self.bundles = [bundle for bundle in self.bundles if bundle.line.size]

    def finish(self, bundle: Bundle) -> None:
        """Correct supply volts and find the passes of one tube."""
        bundle.remarks += correct_supply_volts(self.source.path, bundle, self.choices.answers)
        if bundle.direction is None:
            bundle.direction = find_direction(
                bundle.values[Column.PLATE_VOLTAGE], bundle.values[Column.GRID_VOLTAGE]
            )

    def family(self, bundle: Bundle) -> Family | None:
        """Return the handbook family of a bundle's type, or None."""
        kind = self.type_name or bundle.type_label
        known = self.expected_current
        if known is None or kind is None:
            return None
        return lambda plate, grid: known(kind, plate, grid)

    def expected(self, bundle: Bundle) -> FloatArray | None:
        """Return the handbook's current at a bundle's readings, or None."""
        family = self.family(bundle)
        if family is None:
            return None
        return family(bundle.values[Column.PLATE_VOLTAGE], bundle.values[Column.GRID_VOLTAGE])


def _no_readings(source: SourceFile, scanned: Scan, tables: Sequence[Table]) -> SweepFileError:
    """Return the error of a file without a single reading."""
    faults = [fault for table in tables for fault in table.faults]
    if faults:
        return _none_of(source, faults)
    if scanned.first_heading is not None:
        line, text = scanned.first_heading
        reason = f"there are no readings under the heading {shorten(text)!r}"
        return SweepFileError(source.path, reason, line)
    return SweepFileError(source.path, "the file holds no heading and no readings")


def _none_of(source: SourceFile, faults: Sequence[Fault]) -> SweepFileError:
    first = faults[0]
    reason = f"none of its {len(faults)} rows could be read; the first: {first.reason}"
    return SweepFileError(source.path, reason, first.line)


def _describe(
    scanned: Scan, tables: Sequence[Table], dialect: Dialect, encoding: str
) -> list[Remark]:
    """Say how the file was understood."""
    shapes = list(dict.fromkeys(table.shape for table in tables if table.line.size))
    blocks = f" in {len(tables)} blocks" if len(tables) > 1 else ""
    text = f"{' and '.join(shapes)} table{blocks}; {dialect.describe()}; {encoding}"
    remarks = [Remark(RemarkCode.LAYOUT, text)]
    if dialect.decimal_guessed:
        mark = "decimal commas" if dialect.decimal == "," else "thousands separators"
        text = f"commas before three digits are read as {mark}"
        remarks.append(Remark(RemarkCode.LAYOUT, text, guessed=True, weighs=True))
    used = dict.fromkeys(name for table in tables for name in table.used)
    if used:
        remarks.append(Remark(RemarkCode.COLUMNS, shorten(f"read: {', '.join(used)}", 300)))
    unused = dict.fromkeys(name for table in tables for name in table.unused)
    if unused:
        names = ", ".join(repr(shorten(name, 30)) for name in unused)
        remarks.append(Remark(RemarkCode.COLUMNS, shorten(f"columns not used: {names}", 300)))
    for line, title in scanned.titles:
        remarks.append(Remark(RemarkCode.OTHER, f"line {line} is taken as a title: {title}"))
    return remarks


def _report(
    source: SourceFile, settler: _Settler, remarks: list[Remark], general: list[Fault]
) -> FileReading:
    own = {id(bundle): _set_aside(source, bundle.faults) for bundle in settler.bundles}
    shared = _set_aside(source, general)
    everything = {item for items in (shared, *own.values()) for item in items}
    sweeps = tuple(
        _sweep(source, bundle, remarks, _in_order([*shared, *own[id(bundle)]]))
        for bundle in settler.bundles
    )
    guessed = {column: unit for item in settler.bundles for column, unit in item.guessed.items()}
    together = [*remarks, *(item for bundle in settler.bundles for item in bundle.remarks)]
    return FileReading(
        sweeps=sweeps,
        set_aside=_in_order(everything),
        remarks=tuple(dict.fromkeys(together)),
        source=source,
        units=MappingProxyType({**guessed, **settler.stated_units()}),
        guessed=frozenset(guessed),
    )


def _set_aside(source: SourceFile, faults: Sequence[Fault]) -> list[SetAside]:
    return [
        SetAside(source.name, fault.line, shorten(fault.text, _TEXT_SHOWN), fault.reason)
        for fault in faults
    ]


def _in_order(items: Collection[SetAside]) -> tuple[SetAside, ...]:
    return tuple(sorted(items, key=lambda item: item.line))


def _sweep(
    source: SourceFile, bundle: Bundle, remarks: list[Remark], set_aside: tuple[SetAside, ...]
) -> Sweep:
    bench, unclear = read_bench(bundle.metadata)
    return Sweep(
        tube=bundle.tube,
        section=bundle.section,
        type_label=bundle.type_label,
        kind=_kind(bundle),
        readings=_readings(bundle),
        source=source,
        conditions=bundle.conditions,
        remarks=(*remarks, *bundle.remarks, *unclear),
        set_aside=set_aside,
        metadata=bundle.metadata,
        bench=bench,
    )


def _kind(bundle: Bundle) -> SweepKind:
    stated = value_of(bundle.metadata, Key.KIND)
    if stated in (SweepKind.CURVES, SweepKind.DRIFT_LOG):
        return SweepKind(stated)
    return find_kind(bundle)


def _readings(bundle: Bundle) -> Readings:
    return Readings(
        plate_voltage=bundle.values[Column.PLATE_VOLTAGE],
        grid_voltage=bundle.values[Column.GRID_VOLTAGE],
        plate_current=bundle.values[Column.PLATE_CURRENT],
        line=bundle.line,
        grid_current=_optional(bundle, Column.GRID_CURRENT),
        screen_voltage=_optional(bundle, Column.SCREEN_VOLTAGE),
        screen_current=_optional(bundle, Column.SCREEN_CURRENT),
        heater_voltage=_optional(bundle, Column.HEATER_VOLTAGE),
        time=_optional(bundle, Column.TIME),
        direction=bundle.direction,
        grid_resistor=_optional(bundle, Column.GRID_RESISTOR),
    )


def _optional(bundle: Bundle, column: Column) -> FloatArray | None:
    """Return a column, or None where not one of its cells holds a number."""
    values = bundle.get(column)
    return None if values is None or np.isnan(values).all() else values
