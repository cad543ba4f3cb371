"""Files of the user's own that stand in the place of shipped ones."""

from __future__ import annotations

from pathlib import Path

from curvelab.paths import resource_folder, user_data_folder
from curvelab.sheets.output import make_folder, write_output

__all__ = ["own_copy", "own_or_shipped"]


def own_or_shipped(name: str) -> Path:
    """Return the user's own file of a name where there is one, else the shipped one."""
    own = user_data_folder() / name
    return own if own.exists() else resource_folder() / name


def own_copy(name: str) -> Path:
    """Return the user's own file of a name, a copy of the shipped one where there was none.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    own = user_data_folder() / name
    if not own.exists():
        make_folder(own.parent)
        write_output(own, (resource_folder() / name).read_bytes())
    return own
