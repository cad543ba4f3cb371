"""From arguments to a command, and from whatever goes wrong to one plain line."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from collections.abc import Sequence
from importlib import import_module

from curvelab.cli.arguments import parse
from curvelab.cli.console import note
from curvelab.errors import (
    BenchCheckError,
    BenchDescriptionError,
    CurvelabError,
    GradeRulesError,
    LabelSheetError,
    MatchingInputError,
    ReferenceDataError,
)

__all__ = ["main"]

_FAILED, _WRONG_USAGE, _INTERRUPTED = 1, 2, 130
_TRACE = "CURVELAB_TRACE"
_USAGE_ERRORS = (
    BenchCheckError,
    BenchDescriptionError,
    GradeRulesError,
    LabelSheetError,
    MatchingInputError,
    ReferenceDataError,
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status."""
    # The matrices of a tube are small: threads of the linear algebra only wait for one another,
    # and take several times as long. It is read when numpy is first imported, which is later.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        status = _run(parse(argv))
        sys.stdout.flush()
    except KeyboardInterrupt:
        note("interrupted")
        return _INTERRUPTED
    except BrokenPipeError:  # the reader of our output has had enough: nothing to tell it
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _FAILED
    except CurvelabError as error:
        note(str(error))
        return _WRONG_USAGE if isinstance(error, _USAGE_ERRORS) else _FAILED
    except Exception as error:  # the last resort of the command line
        if os.environ.get(_TRACE):
            raise
        note(
            f"something unexpected went wrong ({type(error).__name__}: {error}); no file of yours "
            f"was changed. {_TRACE}=1 in the environment shows where, for a report"
        )
        return _FAILED
    return status


# Each command's module is imported when it is asked for: help needs nothing, a table no Qt.
_MODULES = {
    "characterize": "characterize",
    "constants": "courses",
    "identify": "identify",
    "lot": "lot",
    "netlist": "netlists",
    "own-types": "own_types",
    "samples": "samples",
    "stage": "stages",
    "substitute": "substitute",
    "types": "library",
    None: "screen",
    "window": "screen",
}


def _run(arguments: Namespace) -> int:
    module = import_module(f"curvelab.cli.{_MODULES[arguments.command]}")
    return int(module.run(arguments))
