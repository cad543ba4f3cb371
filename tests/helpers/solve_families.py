"""Solve the shipped families and keep the solutions: ``python tests/helpers/solve_families.py``.

To be run after a change of a type, a curve or a prior; a test says so when it was forgotten.
"""

from __future__ import annotations

import json

from curvelab.paths import resource_folder
from curvelab.reference.families import family_library
from curvelab.reference.loader import load_library
from curvelab.workbench.type_library import SOLVED_FILE

__all__ = ["solved_anew"]


def solved_anew() -> dict[str, tuple[float, ...]]:
    """Return every solution of the shipped library, solved from its figures now."""
    solved: dict[str, tuple[float, ...]] = {}
    family_library(load_library(), solved)
    return solved


if __name__ == "__main__":
    lines = (f'"{key}": {json.dumps(values)}' for key, values in sorted(solved_anew().items()))
    text = "{\n" + ",\n".join(lines) + "\n}\n"
    (resource_folder() / SOLVED_FILE).write_text(text, encoding="utf-8")
