"""Bench descriptions that are kept by name, in ``benches/*.toml`` of the user's data folder."""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass
from pathlib import Path

from curvelab.errors import BenchDescriptionError
from curvelab.ingest.choices import ReadingChoices
from curvelab.paths import user_data_folder
from curvelab.sheets.names import safe_file_stem
from curvelab.sheets.output import make_folder, write_output
from curvelab.workbench.bench_choices import with_choices
from curvelab.workbench.bench_file import load_description

__all__ = ["KeptBench", "bench_folder", "keep_choices", "kept_benches"]

_LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class KeptBench:
    """One description; ``problem`` says why it cannot be used, if so."""

    name: str
    path: Path
    problem: str | None = None


def bench_folder() -> Path:
    """Return where descriptions are kept; nothing is created."""
    return user_data_folder() / "benches"


def kept_benches() -> tuple[KeptBench, ...]:
    """Return the descriptions there are, in the order of their names."""
    found = []
    for path in bench_folder().glob("*.toml"):
        try:
            found.append(KeptBench(load_description(path).bench.name, path))
        except BenchDescriptionError as error:
            found.append(KeptBench(path.stem, path, str(error)))
    return tuple(sorted(found, key=lambda item: (item.name.casefold(), item.path.name)))


def keep_choices(name: str, choices: ReadingChoices) -> Path:
    """Keep how a bench writes its files under a name, and return the description's file.

    A description of that name keeps its meters; only what it said of reading is replaced.

    Raises
    ------
    BenchDescriptionError
        If the name is none, or the description of that name cannot be read.
    OutputError
        If it cannot be written.
    """
    name = name.strip()
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise BenchDescriptionError(
            f"{name!r} cannot be a bench's name: wanted up to {_LONGEST_NAME} letters and figures"
        )
    known = kept_benches()
    mine = next((item for item in known if item.name.casefold() == name.casefold()), None)
    if mine is not None and mine.problem is not None:
        raise BenchDescriptionError(mine.problem)
    if mine is not None:
        path, text = mine.path, mine.path.read_text(encoding="utf-8")
    else:
        stem = safe_file_stem(name, None, [item.path.stem for item in known])
        path, text = bench_folder() / f"{stem}.toml", f"name = {json.dumps(name)}\n"
    written = with_choices(text, choices)
    tomllib.loads(written)  # what cannot be read back must not be kept
    make_folder(path.parent)
    write_output(path, written.encode("utf-8"))
    return path
