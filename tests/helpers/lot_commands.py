"""``curvelab lot`` as a person at a terminal runs it, in this process."""

from __future__ import annotations

import contextlib
import io
import json
import sqlite3
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

from curvelab.cli import main
from helpers.boxes_of_tubes import Box

__all__ = ["RETURN_BY", "as_json", "copy_of", "fill", "lot"]

RETURN_BY = date.today() + timedelta(days=9)


def lot(*arguments: object) -> tuple[int, str, str]:
    """Run ``curvelab lot`` and return its exit status and what it said."""
    out, err = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            status = main(["lot", *map(str, arguments)])
        except SystemExit as end:  # what argparse does with wrong usage
            status = int(end.code or 0)
    out.flush()
    return status, out.buffer.getvalue().decode("utf-8"), err.getvalue()


def as_json(*arguments: object) -> dict:
    """Return the JSON document that a command writes to standard output."""
    status, out, err = lot(*arguments, "--json", "-")
    assert status == 0, err
    return json.loads(out)


def fill(path: Path, box: Box) -> dict:
    """Make a lot file of a box, grade it, and return the results of adding it."""
    assert lot("create", path) == (0, "", "")
    added = as_json(
        "add", path, box.folder, "--lot", "spring", "--supplier", "a fair", "--box", "3",
        "--shelf", "north", "--cost", "6.50", "--return-by", RETURN_BY.isoformat(),
    )  # fmt: skip
    as_json("grade", path)
    return added


def copy_of(path: Path, folder: Path) -> Path:
    """Return a copy of a lot file, to be changed."""
    copy = folder / path.name
    with closing(sqlite3.connect(path)) as old, closing(sqlite3.connect(copy)) as new:
        old.backup(new)
    return copy
