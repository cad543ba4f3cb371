"""How a file separates its cells and marks its decimals."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from curvelab.ingest.numbers import is_missing, looks_numeric

__all__ = ["COMMENT_MARKS", "Dialect", "detect_dialect", "rules_out", "separator_line"]

COMMENT_MARKS = ("#", "%", "//")

_CANDIDATES = (";", "\t", "|", ",", " ")
_NAMES = {";": "semicolons", "\t": "tabs", "|": "bars", ",": "commas", " ": "blanks"}
_SEPARATOR_LINE = re.compile(r"\"?sep=(.)\"?[;,\t]*", re.IGNORECASE)
_DATA_START = frozenset('+-.0123456789"\u2212')
_SAMPLE = 16
_DECIMAL_SAMPLE = 400
_WIDTH_ALONE = 1e-3  # where no cell is a number, lines of one width still speak for a mark
_COMMA_NUMBER = re.compile(r"[+-]?(\d*),(\d*)(?:[eE][+-]?\d+)?")


@dataclass(frozen=True, slots=True)
class Dialect:
    """The separator of cells (a blank stands for any run of blanks) and the decimal mark."""

    separator: str
    decimal: str
    decimal_guessed: bool = False

    def cells(self, line: str) -> list[str]:
        """Split one line; a quote that is never closed ends with its line."""
        if '"' in line:
            separator = " " if self.separator == " " else self.separator
            text = re.sub(r"\s+", " ", line.strip()) if separator == " " else line
            row = next(csv.reader([text], delimiter=separator, skipinitialspace=True), [])
            return [cell.strip().strip('"').strip() for cell in row]
        if self.separator == " ":
            return line.split()
        return [cell.strip() for cell in line.split(self.separator)]

    def heading_cells(self, line: str) -> list[str]:
        """Split a heading, whose names may hold blanks where blanks part the columns."""
        if self.separator != " ":
            return self.cells(line)
        parts = re.split(r"\s{2,}", line.strip())
        return parts if len(parts) > 1 else re.sub(r"\s+(?=[(\[])", "", line).split()

    def describe(self) -> str:
        """Return the dialect in words."""
        mark = "comma" if self.decimal == "," else "point"
        return f"cells separated by {_NAMES.get(self.separator, self.separator)}, decimal {mark}"


def separator_line(line: str) -> str | None:
    """Return the separator that a spreadsheet's ``sep=`` line names, or None."""
    found = _SEPARATOR_LINE.fullmatch(line.strip(" "))
    return None if found is None else found.group(1)


def detect_dialect(lines: Sequence[str], declared: str | None = None) -> Dialect:
    """Find separator and decimal mark from the lines that look like readings.

    The separator is the one that splits most lines into the same number of cells, all
    of them numbers. The decimal mark is a comma when cells show it where no thousands
    separator could stand.
    """
    data = _data_lines(lines, _SAMPLE)
    if declared in _CANDIDATES:
        separator = declared
    else:
        separator = max(
            _CANDIDATES,
            key=lambda mark: (_score(data, mark), -_CANDIDATES.index(mark)),
        )
    # The decimal mark may show in few lines, so that more of them are asked.
    more = _data_lines(lines, _DECIMAL_SAMPLE) if _may_hold_commas(lines, separator) else ()
    decimal, guessed = _decimal_mark(more, Dialect(separator, "."))
    return Dialect(separator, decimal, guessed)


def _data_lines(lines: Sequence[str], count: int) -> list[str]:
    """Return lines that begin like a number, else whatever is neither blank nor comment."""
    found: list[str] = []
    other: list[str] = []
    for line in lines:
        text = line.strip(" ")
        if text[:1] in _DATA_START:
            found.append(text)
            if len(found) == count:
                break
        elif text and len(other) < count and not text.startswith(COMMENT_MARKS):
            other.append(text)
    return found if len(found) >= 2 else found + other


def _score(lines: Sequence[str], separator: str) -> float:
    present = [line for line in lines if separator in line]
    if not present:
        return 0.0
    dialect = Dialect(separator, ".")
    rows = [dialect.cells(line) for line in present]
    width = Counter(map(len, rows)).most_common(1)[0][0]
    if width < 2:
        return 0.0
    even = [row for row in rows if len(row) == width]
    good = sum(sum(map(_fits, row)) / len(row) for row in even)
    return (good + _WIDTH_ALONE * len(even)) / len(lines)


def _fits(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return not cell or looks_numeric(cell) or is_missing(cell) is not None
    return True


def _may_hold_commas(lines: Sequence[str], separator: str) -> bool:
    mark = '"' if separator == "," else ","
    return any(mark in line for line in lines)


def _decimal_mark(lines: Iterable[str], dialect: Dialect) -> tuple[str, bool]:
    commas = points = False
    for line in lines:
        if "," not in line or (dialect.separator == "," and '"' not in line):
            points = points or "." in line
            continue
        for cell in dialect.cells(line):
            if "," in cell and "." in cell:
                return ("," if cell.rindex(",") > cell.rindex(".") else "."), False
            points = points or "." in cell
            found = _COMMA_NUMBER.fullmatch(cell)
            if found is not None and _must_be_decimal(found):
                return ",", False
            commas = commas or found is not None
    if not commas:
        return ".", False
    # Every comma stands before exactly three digits: thousands where points are used too.
    return (".", True) if points else (",", True)


def rules_out(lines: Sequence[str], dialect: Dialect, decimal: str) -> bool:
    """Tell whether cells show beyond doubt that a decimal mark is not the file's."""
    other = "." if decimal == "," else ","
    for line in _data_lines(lines, _DECIMAL_SAMPLE):
        # A comma that parts the cells cannot stand in one without quotes.
        parts = dialect.separator == decimal and '"' not in line
        for cell in dialect.cells(line):
            found = _COMMA_NUMBER.fullmatch(cell.replace(other, ",")) if other in cell else None
            if found is not None and decimal not in cell and (parts or _must_be_decimal(found)):
                return True
    return False


def _must_be_decimal(found: re.Match[str]) -> bool:
    whole, rest = found.group(1), found.group(2)
    return len(rest) != 3 or not 1 <= len(whole) <= 3 or whole.startswith("0")
