"""A table of text that fits the terminal by stacking what does not fit beside."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["Cell", "table_text"]

Cell = tuple[str, ...]
_GAP = "  "


def table_text(rows: Sequence[Sequence[Cell]], width: int) -> str:
    """Return the rows, the first of them headings, as lines of at most ``width`` if they can be.

    Each cell is a tuple of parts. The parts stand in one line where there is room for
    that; else the later ones stand below the first.
    """
    most = max(len(cell) for row in rows for cell in row)
    for beside in range(most, 0, -1):
        lines = _lines([[_stacked(cell, beside) for cell in row] for row in rows])
        if max(map(len, lines)) <= width:
            break
    return "".join(f"{line}\n" for line in lines)


def _stacked(cell: Cell, beside: int) -> Cell:
    """Return the lines of a cell whose first ``beside`` parts share one."""
    return (" ".join(cell[:beside]), *cell[beside:])


def _lines(rows: list[list[Cell]]) -> list[str]:
    widths = [
        max(len(line) for row in rows for line in row[column]) for column in range(len(rows[0]))
    ]
    lines = []
    for row in rows:
        for depth in range(max(map(len, row))):
            parts = (cell[depth] if depth < len(cell) else "" for cell in row)
            padded = (part.ljust(size) for part, size in zip(parts, widths, strict=True))
            lines.append(_GAP.join(padded).rstrip())
    lines.insert(max(map(len, rows[0])), _GAP.join("-" * size for size in widths).rstrip())
    return lines
