"""The command that writes tubes as subcircuits for a circuit simulator."""

from __future__ import annotations

from argparse import Namespace

from curvelab.cli.console import Progress, note, show
from curvelab.cli.not_read import note_what_was_not_read
from curvelab.workbench.characterize import Request, characterize
from curvelab.workbench.netlists import write_netlists

__all__ = ["run"]

_DONE, _NOT_READ = 0, 3


def run(arguments: Namespace) -> int:
    """Characterise what was named, write a netlist a tube, and return the exit status."""
    request = Request(
        paths=tuple(arguments.paths),
        type_name=arguments.type,
        at=arguments.at,
        bench=arguments.bench,
        workers=arguments.workers,
    )
    with Progress() as progress:
        batch = characterize(request, progress)
    note_what_was_not_read(batch)
    with Progress("netlist") as progress:
        written = write_netlists(batch.assessments, arguments.out, progress)
    for title, reason in written.left_out:
        note(f"{title}: no netlist: {reason}")
    show("".join(f"{path}\n" for path in written.paths))
    return _NOT_READ if batch.errors else _DONE
