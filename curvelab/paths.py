"""Where the resources, the sample sweeps and the user's own data are.

A checkout and an editable install keep ``resources`` and ``sample_sweeps`` beside the
package; a wheel carries them inside it, under ``_data``.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from curvelab.errors import CurvelabError

__all__ = ["resource_folder", "sample_folder", "user_data_folder"]

_NAME = "curvelab"


def resource_folder() -> Path:
    """Return the folder of the type library and the other data the program ships.

    Raises
    ------
    CurvelabError
        If the installation lacks it.
    """
    return _shipped("resources")


def sample_folder() -> Path:
    """Return the folder of the sample sweeps.

    Raises
    ------
    CurvelabError
        If the installation lacks it.
    """
    return _shipped("sample_sweeps")


def user_data_folder(
    environment: Mapping[str, str] | None = None, platform: str = sys.platform
) -> Path:
    """Return where the user's own types and settings belong; nothing is created.

    ``XDG_DATA_HOME`` decides wherever it holds an absolute path (a relative one is to be
    ignored, says the XDG Base Directory Specification, version 0.8); otherwise the habit of
    the platform does.

    Parameters
    ----------
    environment : mapping of str to str, optional
        Environment variables; those of the process by default.
    platform : str
        As ``sys.platform`` spells it.

    Raises
    ------
    CurvelabError
        If the environment names no home folder.
    """
    environment = os.environ if environment is None else environment
    xdg = environment.get("XDG_DATA_HOME", "")
    if Path(xdg).is_absolute():
        return Path(xdg) / _NAME
    if platform == "win32":
        local = environment.get("LOCALAPPDATA")
        return (Path(local) if local else _home(environment) / "AppData" / "Local") / _NAME
    if platform == "darwin":
        return _home(environment) / "Library" / "Application Support" / _NAME
    return _home(environment) / ".local" / "share" / _NAME


def _shipped(name: str) -> Path:
    package = Path(__file__).parent
    in_wheel = package / "_data" / name
    if in_wheel.is_dir():
        return in_wheel
    checkout = package.parent
    # Beside an installed package lie strangers' folders, so only a project folder counts.
    if (checkout / "pyproject.toml").is_file() and (checkout / name).is_dir():
        return checkout / name
    raise CurvelabError(f"this installation lacks its folder {name!r}; install curvelab again")


def _home(environment: Mapping[str, str]) -> Path:
    named = environment.get("HOME") or environment.get("USERPROFILE")
    if named:
        return Path(named)
    try:
        return Path.home()
    except RuntimeError as error:
        raise CurvelabError("no home folder is known; set XDG_DATA_HOME") from error
