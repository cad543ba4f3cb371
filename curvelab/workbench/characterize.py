"""The main job: paths in, assessments out, with progress and a way to stop."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from curvelab.assessment.records import Assessment
from curvelab.sweep.records import SetAside

__all__ = ["Batch", "FileError", "Request", "characterize"]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Request:
    """What is to be characterised and how.

    Attributes
    ----------
    paths : tuple of Path
        Sweep files, drift logs or folders.
    type_name : str or None
        Overrides the type that a file names.
    reference : str or None
        Compare with this type's family instead (the twin whose sheet exists).
    at : tuple of float or None
        (Vp, Vg) or (Vp, Vg, Vs) in the file's own reference.
    predict : tuple of tuple of float
        Points at which the fitted family is evaluated.
    bench : Path or None
        Bench description (TOML).
    workers : int
        Processes to spread the files over.
    """

    paths: tuple[Path, ...]
    type_name: str | None = None
    reference: str | None = None
    at: tuple[float, ...] | None = None
    predict: tuple[tuple[float, ...], ...] = ()
    bench: Path | None = None
    workers: int = 1


@dataclass(frozen=True, slots=True)
class FileError:
    """A file that could not be read at all."""

    file: str
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """What came of a request.

    ``not_read`` counts files of the folders whose names are not those of sweeps.
    """

    assessments: tuple[Assessment, ...]
    set_aside: tuple[SetAside, ...]
    errors: tuple[FileError, ...]
    not_read: int = 0
    stopped: bool = False


def characterize(
    request: Request,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> Batch:
    """Read, fit, compare and judge every tube of ``request``.

    Raises
    ------
    UnknownTypeError
        If ``type_name`` or ``reference`` is not in the library.
    BenchDescriptionError
        If the bench description cannot be read.
    """
    raise NotImplementedError  # being written
