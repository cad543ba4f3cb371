"""Use cases of a lot file: make it, fill it, judge it again, list it, take it out whole."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cache, partial
from pathlib import Path

from curvelab.assessment.records import Assessment
from curvelab.bench_check.correction import AcceptedCorrection
from curvelab.catalog import lot_file
from curvelab.catalog.hand_tests import overrule_verdict
from curvelab.catalog.listing import list_tubes, lot_content
from curvelab.catalog.lot_file import LotFile, open_lot
from curvelab.catalog.merge import Merged, merge
from curvelab.catalog.records import LotContent, Overrule, StoredTube, TubeIdentity
from curvelab.catalog.results import (
    known_hashes,
    newest_settings,
    stored_sources,
)
from curvelab.catalog.salvage import Salvaged, salvage
from curvelab.errors import DocumentError, SweepFileError
from curvelab.ingest.decode import load
from curvelab.sheets.lot_reader import read_lot
from curvelab.sheets.results_reader import source_of_result
from curvelab.sheets.text import plain
from curvelab.sweep.records import SetAside, SourceFile
from curvelab.workbench.characterize import (
    Batch,
    FileError,
    Request,
    characterize,
    files_of,
    reading_of,
    settings_of,
)
from curvelab.workbench.lot_bench import corrections_in_force
from curvelab.workbench.lot_companions import beside_the_stored
from curvelab.workbench.lot_filing import Filing
from curvelab.workbench.lot_records import (
    settings_text,
)
from curvelab.workbench.lot_upkeep import EnteredTests, enter_hand_tests
from curvelab.workbench.stored_settings import request_of_settings

__all__ = [
    "Added",
    "Addition",
    "Listing",
    "add_to_lot",
    "create_lot",
    "file_judged",
    "judge_lot",
    "list_lot",
    "salvage_lot",
    "whole_lot",
]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]

_EXPORT = ".json"


@dataclass(frozen=True, slots=True)
class Addition:
    """What is to be added to a lot, and how it is judged.

    Attributes
    ----------
    request : Request
        Its paths are sweeps, logs, folders, and exports of lots (.json); its sources are
        filed too.
    labels : TubeIdentity
        What holds for every tube added; its serial is not used.
    again : bool
        Whether files that the lot holds are judged once more, as a new entry of their
        history.
    hand_tests : Path or None
        A table of hand tests, entered once the sweeps are filed.
    """

    request: Request
    labels: TubeIdentity = field(default_factory=partial(TubeIdentity, ""))
    again: bool = False
    hand_tests: Path | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Added:
    """What came of adding files to a lot.

    Attributes
    ----------
    batch : Batch
        The tubes judged now, and what could not be read.
    filed : int
        Files stored now.
    known : tuple of str
        Files whose bytes the lot held already; left alone unless judged again.
    judged_again : int
        Sweeps of the lot that were judged once more.
    notices : tuple of str
        What a person should look at, a sentence each.
    merged : tuple of Merged
        What exports of other lots brought.
    tested_by_hand : int
        Hand tests entered now.
    not_entered : tuple of SetAside
        Rows of the table of hand tests that were not.
    """

    batch: Batch
    filed: int
    known: tuple[str, ...]
    judged_again: int
    notices: tuple[str, ...]
    merged: tuple[Merged, ...] = ()
    tested_by_hand: int = 0
    not_entered: tuple[SetAside, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Listing:
    """The tubes as they stand; ``newer`` where a later program made the file."""

    tubes: tuple[StoredTube, ...]
    newer: bool


def create_lot(path: Path) -> None:
    """Make an empty lot file.

    Raises
    ------
    CatalogError
        If something of that name is there, or it cannot be written.
    """
    lot_file.create_lot(path)


def salvage_lot(damaged: Path, path: Path) -> Salvaged:
    """Make a lot file of what can still be read of a damaged one, which is only read.

    Raises
    ------
    CatalogError
        If not even the list of its tables can be read, or the new file cannot be made.
    """
    return salvage(damaged, path, source_of_result)


def list_lot(path: Path) -> Listing:
    """Return the tubes of a lot as they stand.

    Raises
    ------
    CatalogError
        If the file cannot be opened or read.
    """
    with open_lot(path, write=False) as opened:
        return Listing(list_tubes(opened), opened.newer)


def whole_lot(path: Path) -> LotContent:
    """Return all that a lot file holds.

    Raises
    ------
    CatalogError
        If the file cannot be opened or read.
    """
    with open_lot(path, write=False) as opened:
        return lot_content(opened)


def judge_lot(
    path: Path,
    request: Request,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> Batch:
    """Judge every stored sweep and log anew from its original bytes; nothing is filed.

    For what needs the fitted families themselves: grades, sheets, the window.

    Raises
    ------
    CatalogError
        If the lot cannot be opened or read.
    UnknownTypeError, BenchDescriptionError
        As `characterize`.
    """
    with open_lot(path, write=False) as opened:
        stored = tuple(source for source in stored_sources(opened) if source.content)
    return characterize(replace(request, paths=(), sources=stored), progress, should_stop)


def add_to_lot(
    path: Path,
    addition: Addition,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> Added:
    """Judge sweeps, logs and folders and file them; take in exports of other lots.

    Each file is stored whole or not at all; what is stored stays if a later one fails. The
    corrections of the bench that are in force in the lot file are applied to what is new.
    Stopped while it judges, it files nothing; stopped while it files, what is filed stays.

    Raises
    ------
    CatalogError
        If the lot cannot be opened or changed.
    UnknownTypeError, BenchDescriptionError
        As `characterize`.
    """
    request = addition.request
    exports = tuple(item for item in request.paths if item.suffix.lower() == _EXPORT)
    paths = tuple(item for item in request.paths if item not in exports)
    settings_of(request)  # what is wrong with it is said before anything is taken in
    with open_lot(path, write=True) as opened:
        merged, bad_exports = _take_in(opened, exports)
        loaded, errors, not_read = _load(paths)
        fresh, known = _split((*request.sources, *loaded), known_hashes(opened))
        in_force = request.corrections or corrections_in_force(opened, request.bench)
        jobs = [_Job(replace(request, paths=(), sources=tuple(fresh), corrections=in_force))]
        if addition.again:
            jobs += _as_corrected(opened, request, known)
        batch = _judged(jobs, progress, should_stop)
        batch = replace(batch, errors=(*bad_exports, *errors, *batch.errors), not_read=not_read)
        requests = {source.sha256: job.request for job in jobs for source in job.request.sources}
        judged, again = beside_the_stored(
            opened,
            [(item, requests[item.sweep.source.sha256]) for item in batch.assessments],
            addition.labels,
        )
        batch = replace(batch, assessments=judged)
        by_source: defaultdict[str, list[Assessment]] = defaultdict(list)
        for assessment in (*batch.assessments, *(item.assessment for item in again)):
            by_source[assessment.sweep.source.sha256].append(assessment)
        filing = Filing(opened, addition.labels, datetime.now(UTC))
        wanted = [filed for job in jobs for filed in job.with_settings()]
        wanted += [(item.source, item.settings) for item in again]
        # Of a batch that was stopped a file may be judged in part; it is not filed so.
        for done, (source, settings) in enumerate(() if batch.stopped else wanted, start=1):
            filing.file(source, by_source.get(source.sha256, ()), settings)
            if progress is not None:
                progress(done, len(wanted), source.name)
            if should_stop is not None and should_stop():
                batch = replace(batch, stopped=done < len(wanted))
                break
        by_hand, bad_table = _hand_tests(opened, addition.hand_tests)
    return Added(
        batch=replace(
            batch,
            errors=(*batch.errors, *filing.refused, *bad_table),
        ),
        filed=filing.filed,
        known=tuple(source.name for source in known),
        judged_again=filing.judged_again,
        notices=(
            *(notice for item in merged for notice in item.notices),
            *filing.notices,
            *(_corrected(item) for item in (in_force if fresh else ())),
        ),
        merged=merged,
        tested_by_hand=by_hand.entered,
        not_entered=by_hand.set_aside,
    )


def file_judged(
    path: Path,
    judged: Iterable[tuple[Assessment, Request]],
    overrules: Mapping[str, Overrule],
) -> tuple[str, ...]:
    """File what has been judged already, with its original bytes; return what was refused.

    Parameters
    ----------
    judged : iterable of (Assessment, Request)
        Each with how it was judged; all that a source holds, else the rest of it is lost.
    overrules : mapping of str to Overrule
        Verdicts that persons set, by the SHA-256 of the source.

    Raises
    ------
    CatalogError
        If the lot cannot be opened or changed.
    """
    by_source: defaultdict[str, list[tuple[Assessment, Request]]] = defaultdict(list)
    for assessment, request in judged:
        by_source[assessment.sweep.source.sha256].append((assessment, request))
    refused: list[str] = []
    now = datetime.now(UTC)
    with open_lot(path, write=True) as opened:
        known = known_hashes(opened)
        for sha256, items in by_source.items():
            if sha256 in known:
                continue
            request = items[0][1]
            reading = reading_of(request)(items[0][0].sweep.source.path)
            text = settings_text(settings_of(request), request, reading)
            filing = Filing(opened, TubeIdentity(""), now)
            filing.file(items[0][0].sweep.source, [assessment for assessment, _ in items], text)
            refused += [error.reason for error in filing.refused]
        for tube in list_tubes(opened) if overrules else ():
            found = next(
                (overrules[item.sha256] for item in tube.results if item.sha256 in overrules), None
            )
            if found is not None and tube.overrule is None:
                overrule_verdict(opened, tube.key, found)
    return tuple(refused)


@dataclass(frozen=True, slots=True)
class _Job:
    """Sources that are judged alike."""

    request: Request

    def with_settings(self) -> Iterator[tuple[SourceFile, str]]:
        """Yield each source with how it is read and judged, as it is filed."""
        settings, reading = settings_of(self.request), reading_of(self.request)
        how = cache(lambda choices: settings_text(settings, self.request, choices))
        for source in self.request.sources:
            yield source, how(reading(source.path))


def _as_corrected(opened: LotFile, request: Request, known: Sequence[SourceFile]) -> list[_Job]:
    """Return what judges files again: each through the corrections that it was filed with.

    A correction holds from the day it was accepted, not for what was measured before.
    """
    filed = newest_settings(opened)
    alike: defaultdict[tuple[AcceptedCorrection, ...], list[SourceFile]] = defaultdict(list)
    for source in known:
        text = filed.get(source.sha256)
        corrections = () if text is None else request_of_settings(text).corrections
        alike[corrections].append(source)
    return [
        _Job(replace(request, paths=(), sources=tuple(sources), corrections=corrections))
        for corrections, sources in alike.items()
    ]


def _judged(
    jobs: Sequence[_Job], progress: Progress | None, should_stop: ShouldStop | None
) -> Batch:
    batches: list[Batch] = []
    for job in jobs:
        batches.append(characterize(job.request, progress, should_stop))
        if batches[-1].stopped:
            break
    return Batch(
        assessments=tuple(item for batch in batches for item in batch.assessments),
        set_aside=tuple(item for batch in batches for item in batch.set_aside),
        errors=tuple(item for batch in batches for item in batch.errors),
        stopped=any(batch.stopped for batch in batches),
        read_as=tuple(item for batch in batches for item in batch.read_as),
    )


def _corrected(item: AcceptedCorrection) -> str:
    return (
        f"corrected: {item.correction.words} (accepted by {item.accepted_by}, {item.accepted_on})"
    )


def _hand_tests(opened: LotFile, table: Path | None) -> tuple[EnteredTests, list[FileError]]:
    if table is None:
        return EnteredTests(0, ()), []
    try:
        return enter_hand_tests(opened, table), []
    except SweepFileError as error:
        return EnteredTests(0, ()), [FileError(str(table), error.reason)]


def _load(paths: Sequence[Path]) -> tuple[list[SourceFile], list[FileError], int]:
    """Return the bytes of what is to be read; files of one content count once."""
    files, errors, not_read = files_of(paths)
    loaded: dict[str, SourceFile] = {}
    for file in files:
        try:
            source = load(file)
        except SweepFileError as error:
            errors.append(FileError(str(file), error.reason))
            continue
        loaded.setdefault(source.sha256, replace(source, name=plain(source.name)))
    return list(loaded.values()), errors, not_read


def _split(
    loaded: Iterable[SourceFile], held: frozenset[str]
) -> tuple[list[SourceFile], list[SourceFile]]:
    fresh: list[SourceFile] = []
    known: list[SourceFile] = []
    for source in loaded:
        (known if source.sha256 in held else fresh).append(source)
    return fresh, known


def _take_in(
    opened: LotFile, exports: Sequence[Path]
) -> tuple[tuple[Merged, ...], list[FileError]]:
    merged, errors = [], []
    for path in exports:
        try:
            merged.append(merge(opened, read_lot(path.read_text(encoding="utf-8"))))
        except (OSError, UnicodeDecodeError) as error:
            reason = getattr(error, "strerror", None) or "it is no text"
            errors.append(FileError(str(path), reason))
        except DocumentError as error:
            errors.append(FileError(str(path), str(error)))
    return tuple(merged), errors
