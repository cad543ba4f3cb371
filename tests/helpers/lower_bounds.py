"""Print each run-time dependency at its lower bound, as constraints for pip."""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2] / "pyproject.toml"


def lower_bounds(dependencies: list[str]) -> list[str]:
    """Return ``name==oldest`` for each, with its environment marker.

    Raises
    ------
    ValueError
        If a dependency has no lower bound.
    """
    lines = []
    for dependency in dependencies:
        requirement, separator, marker = dependency.partition(";")
        match = re.fullmatch(r"([\w.-]+)(?:.*,)?>=([\w.]+)(?:,.*)?", requirement.strip())
        if match is None:
            raise ValueError(f"no lower bound: {dependency}")
        lines.append(f"{match[1]}=={match[2]}{separator}{marker}")
    return lines


if __name__ == "__main__":
    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
    sys.stdout.write("\n".join(lower_bounds(project["dependencies"])) + "\n")
