"""What of the files could not be used, said on standard error."""

from __future__ import annotations

from collections import defaultdict

from curvelab.cli.console import note
from curvelab.sweep.records import SetAside
from curvelab.workbench.characterize import Batch

__all__ = ["note_what_was_not_read"]


def note_what_was_not_read(batch: Batch) -> None:
    """Say which rows were set aside, which files are no sweeps and which could not be read."""
    rows: defaultdict[str, list[SetAside]] = defaultdict(list)
    for item in batch.set_aside:
        rows[item.file].append(item)
    for file, items in rows.items():
        first = min(items, key=lambda item: item.line)
        note(
            f"{file}: {_counted(len(items), 'row')} set aside, the first at line {first.line}: "
            f"{first.reason}"
        )
    if batch.not_read:
        note(f"{_counted(batch.not_read, 'file')} not read: not named as sweeps are")
    for error in batch.errors:
        note(f"{error.file}: {error.reason}")


def _counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
