"""``curvelab lot`` as a person at a terminal runs it, in this process."""

from __future__ import annotations

import contextlib
import io
import json

from curvelab.cli import main

__all__ = ["as_json", "lot"]


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
