"""The main job: paths in, assessments out, with progress and a way to stop."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from functools import cache, partial, reduce
from pathlib import Path
from typing import TypeVar

import numpy as np

from curvelab.assessment.assess import Settings, assess
from curvelab.assessment.records import Assessment
from curvelab.bench_check.correction import (
    AcceptedCorrection,
    apply_correction,
    bench_after,
)
from curvelab.errors import (
    AmbiguousFileError,
    BenchCheckError,
    SweepFileError,
    UnknownTypeError,
)
from curvelab.health.limits import HouseLimits
from curvelab.ingest.choices import NOTHING_CHOSEN, ReadingChoices
from curvelab.ingest.decode import load
from curvelab.ingest.reader import read_source
from curvelab.paths import resource_folder
from curvelab.reference.families import FamilyLibrary
from curvelab.reference.own_curves import OwnCurves, family_of_curves
from curvelab.sweep.bench import Bench
from curvelab.sweep.records import FloatArray, SetAside, SourceFile, Sweep
from curvelab.workbench.bench_file import load_description
from curvelab.workbench.drawn_curves import read_curves
from curvelab.workbench.type_library import current_families

__all__ = [
    "Batch",
    "FileError",
    "Request",
    "characterize",
    "expected_current",
    "files_of",
    "house_limits",
    "is_named_as_sweep",
    "reading_of",
    "settings_of",
]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]

_Item = TypeVar("_Item")
_Done = TypeVar("_Done")

_PAYS = 64  # files a process: with fewer, starting it costs more than it saves
_AT_A_TIME = 32  # sweeps between two looks at whether to stop: well below a second
_SWEEP_NAMES = (".csv", ".tsv", ".txt")


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
    reference_curves : Path or None
        The user's own readings of published curves: their family is compared with.
    bench : Path or None
        Bench description (TOML): its meters, and how its files are read.
    workers : int or None
        Processes to spread the work over; None is as many as pay.
    answers : tuple of str
        Choices a person has made for files that can be read in more than one way.
    corrections : tuple of AcceptedCorrection
        Of the bench's meters, as a person has accepted them; applied to every sweep. A file
        whose meter has been corrected otherwise is an error.
    sources : tuple of SourceFile
        Files whose bytes are at hand, characterised after the paths.
    meters : Bench or None
        A bench that is at hand, in place of a description; what the corrections add to its
        limits of error is in it already.
    read_as : tuple of (str, ReadingChoices)
        By path, how single files are read instead of as the bench description says.
    choices : ReadingChoices or None
        How all other files are read, where that is at hand, in place of a description.
    """

    paths: tuple[Path, ...]
    type_name: str | None = None
    reference: str | None = None
    at: tuple[float, ...] | None = None
    predict: tuple[tuple[float, ...], ...] = ()
    reference_curves: Path | None = None
    bench: Path | None = None
    workers: int | None = 1
    answers: tuple[str, ...] = ()
    corrections: tuple[AcceptedCorrection, ...] = ()
    sources: tuple[SourceFile, ...] = ()
    meters: Bench | None = None
    read_as: tuple[tuple[str, ReadingChoices], ...] = ()
    choices: ReadingChoices | None = None


@dataclass(frozen=True, slots=True)
class FileError:
    """A file that could not be read at all.

    ``choices`` are the ways it can be read, where a person must pick one.
    """

    file: str
    reason: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """What came of a request.

    ``read_as`` says by path how files were read otherwise than they speak for themselves;
    ``not_read`` counts files of the folders whose names are not those of sweeps.
    """

    assessments: tuple[Assessment, ...]
    set_aside: tuple[SetAside, ...]
    errors: tuple[FileError, ...]
    not_read: int = 0
    stopped: bool = False
    read_as: tuple[tuple[str, ReadingChoices], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Read:
    """One file as read, or why it could not be."""

    sweeps: tuple[Sweep, ...]
    set_aside: tuple[SetAside, ...]
    error: FileError | None


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
    ReferenceDataError
        If the reference curves cannot be read or make no family.
    BenchDescriptionError
        If the bench description or the house limits cannot be read.
    """
    current_families()  # before any process starts, so that it need not solve again
    settings = settings_of(request)
    paths, missing, not_read = files_of(request.paths)
    files: list[Path | SourceFile] = [*paths, *request.sources]
    workers = request.workers or min(os.cpu_count() or 1, len(files) // _PAYS)
    found: list[_Read] = []
    stopped = False
    read = partial(  # sent with each file
        _read,
        request=replace(request, paths=(), sources=()),
        choices=_choices(request),
    )
    with _processes(workers, len(files)) as pool:
        in_one_go = max(1, len(files) // (8 * max(workers, 1)))
        for done, item in enumerate(_each(pool, read, files, in_one_go), start=1):
            found.append(item)
            if progress is not None:
                progress(done, len(files), files[done - 1].name)
            if should_stop is not None and should_stop():
                stopped = done < len(files)
                break
        sweeps = [sweep for item in found for sweep in item.sweeps]
        judged = _judge(pool, sweeps, settings, progress, should_stop)
    reading = reading_of(request)
    paths_read = dict.fromkeys(sweep.source.path for sweep in sweeps)
    return Batch(
        assessments=judged,
        set_aside=tuple(row for item in found for row in item.set_aside),
        errors=(*missing, *(item.error for item in found if item.error is not None)),
        not_read=not_read,
        stopped=stopped or len(judged) < len(sweeps),
        read_as=tuple(
            (path, choices) for path in paths_read if (choices := reading(path)) != NOTHING_CHOSEN
        ),
    )


def _judge(
    pool: ProcessPoolExecutor | None,
    sweeps: Sequence[Sweep],
    settings: Settings,
    progress: Progress | None,
    should_stop: ShouldStop | None,
) -> tuple[Assessment, ...]:
    """Assess sweeps, a few at a time; once told to stop, return those that are done."""
    done: dict[int, Assessment] = {}
    together = list(_together(sweeps))
    judge = partial(_assess, settings=settings)
    if progress is not None and sweeps:
        progress(0, len(sweeps), "fitting")
    portions = _each(pool, judge, ([sweeps[place] for place in places] for places in together))
    for places, found in zip(together, portions, strict=True):
        done.update(zip(places, found, strict=True))
        if progress is not None:
            progress(len(done), len(sweeps), "fitting")
        if should_stop is not None and should_stop():
            break
    return tuple(done[place] for place in sorted(done))


def _assess(sweeps: Sequence[Sweep], settings: Settings) -> tuple[Assessment, ...]:
    return assess(sweeps, current_families(), settings)


def _together(sweeps: Sequence[Sweep]) -> Iterator[list[int]]:
    """Yield places of sweeps to assess together; all of one tube are, for their balance."""
    tubes: dict[str, list[int]] = {}
    for place, sweep in enumerate(sweeps):
        tubes.setdefault(sweep.tube, []).append(place)
    waiting: list[int] = []
    for places in tubes.values():
        waiting += places
        if len(waiting) >= _AT_A_TIME:
            yield waiting
            waiting = []
    if waiting:
        yield waiting


def settings_of(request: Request) -> Settings:
    """Return how the tubes of a request are judged.

    Raises
    ------
    UnknownTypeError
        If ``type_name`` or ``reference`` is not in the library.
    BenchDescriptionError
        If the bench description or the house limits cannot be read.
    ReferenceDataError
        If the curves that the request brings make no family.
    """
    library = current_families()
    for name in (request.type_name, request.reference):
        if name is not None:
            library.find(name)
    return Settings(
        type_name=request.type_name,
        reference=request.reference,
        at=request.at,
        predict=request.predict,
        own_curves=_own_curves(request, library),
        bench=_bench(request),
        limits=house_limits(),
    )


def _own_curves(request: Request, library: FamilyLibrary) -> OwnCurves | None:
    """Return the family of the curves that the request brings.

    Raises
    ------
    ReferenceDataError
        If the file cannot be read, holds several tubes, or its readings make no family.
    """
    path = request.reference_curves
    if path is None:
        return None
    drawn = read_curves(path, request.reference)
    name = request.reference or drawn.type_name
    try:
        tube_type, _ = library.find(name)
    except UnknownTypeError:
        tube_type = None
    return family_of_curves(drawn.readings, drawn.title, tube_type, name)


def _bench(request: Request) -> Bench:
    if request.meters is not None:
        return request.meters
    bench = load_description(request.bench).bench
    return reduce(bench_after, request.corrections, bench)


def _choices(request: Request) -> ReadingChoices:
    return request.choices or load_description(request.bench).choices


def reading_of(request: Request) -> Callable[[str], ReadingChoices]:
    """Return how a request has each file read, as a function of the file's path.

    Raises
    ------
    BenchDescriptionError
        If the bench description cannot be read.
    """
    own, otherwise = dict(request.read_as), _choices(request)
    return lambda path: own.get(path, otherwise)


@cache
def house_limits() -> HouseLimits:
    """Return the thresholds that tubes are judged by, with whatever the house has edited."""
    text = (resource_folder() / "house_limits.toml").read_text(encoding="utf-8")
    return HouseLimits.from_mapping(tomllib.loads(text))


def is_named_as_sweep(name: str) -> bool:
    """Tell whether a file of a folder is to be read, by its name."""
    return name.lower().endswith(_SWEEP_NAMES)


def files_of(paths: Sequence[Path]) -> tuple[list[Path], list[FileError], int]:
    """Return the files to read, what is not there, and how many others a folder holds."""
    files: list[Path] = []
    missing: list[FileError] = []
    not_read = 0
    for path in paths:
        try:
            if not path.is_dir():
                files.append(path)
                continue
            inside = sorted(path.iterdir())
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            missing.append(FileError(str(path), f"the folder cannot be opened: {why}"))
            continue
        for item in inside:
            if item.name.startswith("."):
                continue
            if is_named_as_sweep(item.name):
                files.append(item)
            elif not item.is_dir():
                not_read += 1
    return files, missing, not_read


def _processes(workers: int, files: int) -> AbstractContextManager[ProcessPoolExecutor | None]:
    if workers <= 1 or files < 2 * workers:
        return nullcontext()
    return ProcessPoolExecutor(max_workers=workers)


def _each(
    pool: ProcessPoolExecutor | None,
    work: Callable[[_Item], _Done],
    items: Iterable[_Item],
    in_one_go: int = 1,
) -> Iterator[_Done]:
    if pool is None:
        return map(work, items)
    return pool.map(work, items, chunksize=in_one_go)


def _read(file: Path | SourceFile, *, request: Request, choices: ReadingChoices) -> _Read:
    path = str(file) if isinstance(file, Path) else file.path
    try:
        found = read_source(
            load(file) if isinstance(file, Path) else file,
            type_name=request.type_name,
            expected_current=expected_current,
            answers=request.answers,
            choices=dict(request.read_as).get(path, choices),
        )
        sweeps = (reduce(apply_correction, request.corrections, item) for item in found.sweeps)
        return _Read(tuple(sweeps), found.set_aside, None)
    except SweepFileError as error:
        where = "" if error.line is None else f"line {error.line}: "
        ways = error.choices if isinstance(error, AmbiguousFileError) else ()
        return _Read((), (), FileError(path, where + error.reason, ways))
    except BenchCheckError as error:
        return _Read((), (), FileError(path, str(error)))


def expected_current(
    type_name: str, plate_voltage: FloatArray, grid_voltage: FloatArray
) -> FloatArray | None:
    """Return a type's plate current [A] at some volts, or None for a type without a family."""
    library = current_families()
    try:
        tube_type, _ = library.find(type_name)
    except UnknownTypeError:
        return None
    family = library.families.get(tube_type.name)
    return None if family is None else family.current(np.asarray(plate_voltage), grid_voltage)
