"""Use case: tubes of a lot file judged as another type, or against another family, and filed so."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from curvelab.assessment.records import Assessment
from curvelab.catalog.lot_file import LotFile, open_lot
from curvelab.catalog.records import Characterisation, StoredTube
from curvelab.catalog.results import (
    add_characterisations,
    measurement_keys,
    take_back_characterisations,
)
from curvelab.sheets.text import plain
from curvelab.workbench.characterize import Request, characterize, reading_of, settings_of
from curvelab.workbench.lot_judging import newest_tests, requests_of_tubes
from curvelab.workbench.lot_records import measurement_of, settings_text
from curvelab.workbench.session import Entry, Wish

__all__ = ["Refiled", "file_again", "judge_filed_as", "rejudged_entries", "take_back_judging"]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]
Filed = tuple[tuple[int, Characterisation], ...]
Place = tuple[str, str, str | None, str]


@dataclass(frozen=True, slots=True, eq=False)
class Refiled:
    """What came of judging tubes of a lot file otherwise.

    Attributes
    ----------
    filed : tuple of (int, Characterisation)
        The new judgings with the keys of their measurements; none where it was stopped.
    """

    assessments: tuple[Assessment, ...]
    filed: Filed
    stopped: bool = False


def judge_filed_as(
    path: Path,
    tubes: Sequence[StoredTube],
    wish: Wish,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
) -> Refiled:
    """Judge the newest tests of some tubes as a person wishes, and add that to their history.

    All else is as it was filed: bench, corrections, how the files are read. Stopped, nothing
    is filed.

    Raises
    ------
    CatalogError
        If the lot cannot be opened or changed.
    DocumentError
        If the settings of a result cannot be read.
    UnknownTypeError
        If a type is not in the library.
    """
    now = datetime.now(UTC)
    found: list[Assessment] = []
    filed: list[tuple[int, Characterisation]] = []
    with open_lot(path, write=True) as opened:
        tests = newest_tests(opened, tubes)
        wanted = {(item.sha256, item.named, item.section) for item in tests}
        for filed_so in requests_of_tubes(opened, tubes):
            there = tuple(source for source in filed_so.sources if source.content)
            request = replace(
                filed_so,
                sources=there,
                type_name=wish.judged_as,
                reference=wish.compared_with,
            )
            batch = characterize(request, progress, should_stop)
            if batch.stopped:
                return Refiled((), (), stopped=True)
            judged = [one for one in batch.assessments if _place(one)[:3] in wanted]
            found += judged
            filed += _judgings(opened, judged, request, now)
        add_characterisations(opened, filed)
    return Refiled(tuple(found), tuple(filed))


def file_again(path: Path, filed: Filed) -> None:
    """Add judgings to the history once more, after they were taken back.

    Raises
    ------
    CatalogError
        If the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        add_characterisations(opened, filed)


def take_back_judging(path: Path, filed: Filed) -> None:
    """Remove judgings from the history; those before hold again.

    Raises
    ------
    CatalogError
        If one of the tubes has been judged again since, or the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        take_back_characterisations(opened, filed)


def rejudged_entries(
    entries: Iterable[Entry], assessments: Iterable[Assessment], wish: Wish
) -> tuple[tuple[Entry, ...], tuple[Entry, ...]]:
    """Return the entries that were judged otherwise, as they were and as they are then.

    The new ones keep key and path of the old: whichever name a file was opened by, its bytes
    are the same.
    """
    fresh = {_place(one): one for one in assessments}
    old = tuple(entry for entry in entries if _place(entry.assessment) in fresh)
    new = tuple(
        replace(entry, assessment=_at_path_of(fresh[_place(entry.assessment)], entry), wish=wish)
        for entry in old
    )
    return old, new


def _at_path_of(assessment: Assessment, entry: Entry) -> Assessment:
    source = entry.assessment.sweep.source
    return replace(assessment, sweep=replace(assessment.sweep, source=source))


def _judgings(
    opened: LotFile, judged: Sequence[Assessment], request: Request, now: datetime
) -> Iterator[tuple[int, Characterisation]]:
    """Yield each judging with the key of the measurement that holds its sweep."""
    settings, reading = settings_of(request), reading_of(request)
    keys: defaultdict[Place, list[int]] = defaultdict(list)
    for sha256 in dict.fromkeys(one.sweep.source.sha256 for one in judged):
        for key, named, section, kind in measurement_keys(opened, sha256):
            keys[sha256, named, section, kind].append(key)
    for one in judged:
        own = keys[_place(one)]
        if own:  # read otherwise by this version, it has no place in the history
            text = settings_text(settings, request, reading(one.sweep.source.path))
            yield own.pop(0), measurement_of(one, text, now).characterisations[0]


def _place(assessment: Assessment) -> Place:
    sweep = assessment.sweep
    section = None if sweep.section is None else plain(sweep.section)
    return sweep.source.sha256, plain(sweep.tube), section, sweep.kind.value
