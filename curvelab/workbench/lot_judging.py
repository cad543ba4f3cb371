"""Tubes of a lot file judged from their stored bytes, as they were judged when they were filed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from curvelab.catalog.lot_file import LotFile, open_lot
from curvelab.catalog.records import StoredResult, StoredTube
from curvelab.catalog.results import StoredTest, settings_used, stored_sources, tests_beside
from curvelab.sweep.records import SourceFile
from curvelab.workbench.characterize import Batch, FileError, Request, characterize
from curvelab.workbench.session import Wish
from curvelab.workbench.stored_settings import request_of_settings

__all__ = ["judge_stored", "newest_tests", "requests_of_tubes", "wishes_of"]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]


def judge_stored(
    path: Path,
    tubes: Iterable[StoredTube],
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> Batch:
    """Judge the newest sweep of each section of some tubes; nothing is filed.

    Tests under a changed set-up that go with them are judged along.

    Every source keeps its name; its path becomes that of the lot file with its SHA-256, so
    that two files of one name stay two.

    Raises
    ------
    CatalogError
        If the lot cannot be opened or read.
    DocumentError
        If the settings of a result cannot be read.
    """
    with open_lot(path, write=False) as opened:
        requests = requests_of_tubes(opened, tubes)
    batches, lost = [], []
    for request in requests:
        lost += [source for source in request.sources if not source.content]
        there = tuple(source for source in request.sources if source.content)
        batches.append(characterize(replace(request, sources=there), progress, should_stop))
        if batches[-1].stopped:
            break
    gone = (FileError(item.name, "its bytes were lost to a damaged lot file") for item in lost)
    return Batch(
        assessments=tuple(item for batch in batches for item in batch.assessments),
        set_aside=tuple(row for batch in batches for row in batch.set_aside),
        errors=(*(error for batch in batches for error in batch.errors), *gone),
        stopped=any(batch.stopped for batch in batches),
        read_as=tuple(item for batch in batches for item in batch.read_as),
    )


def requests_of_tubes(opened: LotFile, tubes: Iterable[StoredTube]) -> tuple[Request, ...]:
    """Return how the newest tests of some tubes were judged, those judged alike together.

    Raises
    ------
    CatalogError
        If the lot cannot be read.
    DocumentError
        If the settings of a result cannot be read.
    """
    filed = newest_tests(opened, tubes)
    texts = settings_used(opened, [item.key for item in filed])
    by_settings: defaultdict[str, dict[str, None]] = defaultdict(dict)
    for item in filed:
        by_settings[texts[item.key]][item.sha256] = None
    return tuple(
        replace(
            request_of_settings(text),
            sources=tuple(_of_lot(opened.path, each) for each in stored_sources(opened, hashes)),
        )
        for text, hashes in by_settings.items()
    )


def newest_tests(
    opened: LotFile, tubes: Iterable[StoredTube]
) -> tuple[StoredResult | StoredTest, ...]:
    """Return the newest of each kind of test of some tubes, and what goes with them."""
    found: list[StoredResult | StoredTest] = []
    for tube in tubes:
        found += [*tube.results, *tests_beside(opened, tube.key)]
    return tuple(found)


def wishes_of(path: Path, tubes: Iterable[StoredTube]) -> dict[str, Wish]:
    """Return what a person wished of tubes that are filed so, by the path of each source.

    Raises
    ------
    CatalogError
        If the lot cannot be opened or read.
    DocumentError
        If the settings of a result cannot be read.
    """
    with open_lot(path, write=False) as opened:
        requests = requests_of_tubes(opened, tubes)
    return {
        source.path: wish
        for request in requests
        if (wish := Wish(request.type_name, request.reference)) != Wish()
        for source in request.sources
    }


def _of_lot(path: Path, source: SourceFile) -> SourceFile:
    return replace(source, path=f"{path}/{source.sha256[:12]}/{source.name}")
