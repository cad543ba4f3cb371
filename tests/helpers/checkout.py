"""The checkout that the tests look at, and fresh processes to look from."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

__all__ = ["PACKAGE", "ROOT", "module_names", "project_files", "run_command", "run_python"]

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "curvelab"
TOP_LEVEL = ("curvelab", "resources", "tests", "sample_sweeps", ".ci")


def module_names(*, without: tuple[str, ...] = ()) -> list[str]:
    """Return the dotted names of all modules, those of the rooms ``without`` left out."""
    names = []
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        if path.name == "__main__.py" or (len(parts) > 1 and parts[1] in without):
            continue
        names.append(".".join(parts[:-1] if path.name == "__init__.py" else parts))
    return names


def project_files() -> Iterator[Path]:
    """Yield the files of the project, generated ones left out."""
    for path in sorted(ROOT.iterdir()):
        if path.is_file() and path.name != ".git":
            yield path
    for folder in TOP_LEVEL:
        for path in sorted((ROOT / folder).rglob("*")):
            if path.is_file() and "__pycache__" not in path.parts:
                yield path


def run_python(
    code: str, *, folder: Path = ROOT, path: Path | None = ROOT, **environment: str
) -> subprocess.CompletedProcess[str]:
    """Run ``code`` in a fresh process that finds curvelab in ``path``."""
    given = {**os.environ, **environment}
    given.pop("PYTHONPATH", None)
    if path is not None:
        given["PYTHONPATH"] = str(path)
    return run_command(sys.executable, "-c", code, folder=folder, environment=given)


def run_command(
    *command: str, folder: Path = ROOT, environment: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """Run a command and return what it said, whatever its exit status."""
    return subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, check=False,
        stdin=subprocess.DEVNULL,
    )  # fmt: skip
