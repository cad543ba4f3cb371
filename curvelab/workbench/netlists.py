"""Writing tubes as subcircuits for a circuit simulator, a file each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from curvelab import __version__
from curvelab.assessment.records import Assessment
from curvelab.sheets.netlist import netlist_text, subcircuit_name, why_no_netlist
from curvelab.sheets.output import make_folder, write_output

__all__ = ["NetlistsWritten", "write_netlists"]

_SUFFIX = ".cir"


@dataclass(frozen=True, slots=True)
class NetlistsWritten:
    """The files written, and each tube that could not be one, with the reason."""

    paths: tuple[Path, ...]
    left_out: tuple[tuple[str, str], ...]


def write_netlists(
    assessments: Sequence[Assessment],
    folder: Path,
    progress: Callable[[int, int, str], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> NetlistsWritten:
    """Write every tube that has a family of curves; the file is named as its subcircuit.

    Raises
    ------
    OutputError
        If the folder cannot be made or a file cannot be written.
    """
    make_folder(folder)
    paths: list[Path] = []
    left_out: list[tuple[str, str]] = []
    used: set[str] = set()
    for done, assessment in enumerate(assessments, start=1):
        if should_stop is not None and should_stop():
            break
        reason = why_no_netlist(assessment)
        if reason is not None:
            left_out.append((assessment.sweep.title, reason))
            continue
        used.add(name := subcircuit_name(assessment.sweep, used))
        text = netlist_text(assessment, name=name, made_with=f"curvelab {__version__}")
        paths.append(folder / f"{name}{_SUFFIX}")
        write_output(paths[-1], text.encode("utf-8"))
        if progress is not None:
            progress(done, len(assessments), name)
    return NetlistsWritten(tuple(paths), tuple(left_out))
