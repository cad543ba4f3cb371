"""From arguments to a command, and from whatever goes wrong to one plain line."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from collections.abc import Sequence

from curvelab.cli.arguments import parse
from curvelab.cli.console import note
from curvelab.errors import BenchDescriptionError, CurvelabError, UnknownTypeError

__all__ = ["main"]

_FAILED, _WRONG_USAGE, _INTERRUPTED = 1, 2, 130
_TRACE = "CURVELAB_TRACE"


# The core multiplies many small matrices; threads inside each product only wait for each other
# (twice as slow on a busy machine). Whoever sets it otherwise is obeyed.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status."""
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
        wrong_usage = isinstance(error, (UnknownTypeError, BenchDescriptionError))
        return _WRONG_USAGE if wrong_usage else _FAILED
    except Exception as error:  # the last resort of the command line
        if os.environ.get(_TRACE):
            raise
        note(
            f"something unexpected went wrong ({type(error).__name__}: {error}); no file of yours "
            f"was changed. {_TRACE}=1 in the environment shows where, for a report"
        )
        return _FAILED
    return status


def _run(arguments: Namespace) -> int:
    # Each command imports what it needs: help needs nothing, a table no Qt.
    if arguments.command == "characterize":
        from curvelab.cli import lot  # noqa: PLC0415

        return lot.run(arguments)
    if arguments.command == "lot":
        from curvelab.cli import lot_commands  # noqa: PLC0415

        return lot_commands.run(arguments)
    if arguments.command == "constants":
        from curvelab.cli import courses  # noqa: PLC0415

        return courses.run(arguments)
    if arguments.command == "stage":
        from curvelab.cli import stages  # noqa: PLC0415

        return stages.run(arguments)
    if arguments.command == "netlist":
        from curvelab.cli import netlists  # noqa: PLC0415

        return netlists.run(arguments)
    if arguments.command == "types":
        from curvelab.cli import library  # noqa: PLC0415

        return library.run(arguments)
    if arguments.command == "samples":
        from curvelab.cli import samples  # noqa: PLC0415

        return samples.run()
    from curvelab.cli import screen  # noqa: PLC0415

    return screen.open_window(tuple(getattr(arguments, "paths", ())))
