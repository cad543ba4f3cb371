"""Files of the user's own that stand in the place of shipped ones."""

from __future__ import annotations

from pathlib import Path

from curvelab.paths import resource_folder, user_data_folder

__all__ = ["own_or_shipped"]


def own_or_shipped(name: str) -> Path:
    """Return the user's own file of a name where there is one, else the shipped one."""
    own = user_data_folder() / name
    return own if own.exists() else resource_folder() / name
