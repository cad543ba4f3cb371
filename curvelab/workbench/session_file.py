"""What lies on the table, as a small file: to go on after a crash, or on another day.

Kept are the paths of what was opened and what a person did to it; the readings stay in their
files, and what is in a lot file is safe there.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from curvelab.catalog.records import Overrule
from curvelab.errors import BenchDescriptionError, DocumentError
from curvelab.health.records import Verdict
from curvelab.ingest.choices import NOTHING_CHOSEN, ReadingChoices
from curvelab.sheets.json_fields import Fields, parsed
from curvelab.sheets.output import make_folder, write_output
from curvelab.workbench.bench_choices import choices_of_stored, stored_choices
from curvelab.workbench.characterize import Batch, Request, characterize
from curvelab.workbench.session import Entry, Problem, ProblemKind, Session, Wish

__all__ = [
    "KeptSession",
    "KeptTube",
    "judge_again",
    "kept_session",
    "put_back",
    "read_session",
    "write_session",
]

Progress = Callable[[int, int, str], None]
ShouldStop = Callable[[], bool]

_SCHEMA = "curvelab.session/1"


@dataclass(frozen=True, slots=True)
class KeptTube:
    """One tube or section of the list and what a person said of it."""

    path: str
    sha256: str
    tube: str
    section: str | None
    kind: str
    wish: Wish
    overrule: Overrule | None
    answers: tuple[str, ...]
    reading: ReadingChoices = NOTHING_CHOSEN


@dataclass(frozen=True, slots=True)
class KeptSession:
    """The tubes that are in no lot file, and the lot file that was open."""

    tubes: tuple[KeptTube, ...]
    lot_file: str | None = None

    @property
    def changed(self) -> int:
        """How many tubes a person judged otherwise or set a verdict for."""
        return sum(tube.wish != Wish() or tube.overrule is not None for tube in self.tubes)


def kept_session(
    loose: Iterable[Entry],
    answers: Mapping[Path, tuple[str, ...]],
    lot_file: Path | None,
    readings: Mapping[str, ReadingChoices] = MappingProxyType({}),
) -> KeptSession:
    """Return what is to be kept of the tubes that are in no lot file.

    Parameters
    ----------
    answers : mapping of Path to tuple of str
        How a person had files read that have two meanings.
    readings : mapping of str to ReadingChoices
        How the files were read, by their paths.
    """
    return KeptSession(
        tuple(_kept(entry, answers, readings) for entry in loose),
        None if lot_file is None else str(lot_file.absolute()),
    )


def _kept(
    entry: Entry,
    answers: Mapping[Path, tuple[str, ...]],
    readings: Mapping[str, ReadingChoices],
) -> KeptTube:
    sweep = entry.assessment.sweep
    return KeptTube(
        path=str(Path(sweep.source.path).absolute()),
        sha256=sweep.source.sha256,
        tube=sweep.tube,
        section=sweep.section,
        kind=sweep.kind.value,
        wish=entry.wish,
        overrule=entry.overrule,
        answers=answers.get(Path(sweep.source.path), ()),
        reading=readings.get(sweep.source.path, NOTHING_CHOSEN),
    )


def write_session(path: Path, kept: KeptSession) -> None:
    """Write a session so that the file is always whole.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    document = {
        "schema": _SCHEMA,
        "lot_file": kept.lot_file,
        "tubes": [_entry(tube) for tube in kept.tubes],
    }
    make_folder(path.parent)
    text = json.dumps(document, ensure_ascii=True, allow_nan=False)
    write_output(path, text.encode("ascii"))


def _entry(tube: KeptTube) -> dict[str, Any]:
    overrule = tube.overrule
    return {
        "path": tube.path,
        "sha256": tube.sha256,
        "tube": tube.tube,
        "section": tube.section,
        "kind": tube.kind,
        "judged_as": tube.wish.judged_as,
        "compared_with": tube.wish.compared_with,
        "answers": list(tube.answers),
        "reading": stored_choices(tube.reading),
        "overruled": None
        if overrule is None
        else {
            "made_at": overrule.made_at.isoformat(),
            "verdict": overrule.verdict.value,
            "reason": overrule.reason,
            "person": overrule.person,
        },
    }


def read_session(path: Path) -> KeptSession:
    """Return the session of a file.

    Raises
    ------
    DocumentError
        If it cannot be read or is of another form.
    """
    try:
        document = parsed(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise DocumentError(f"{path} cannot be read") from error
    if document.words("schema") != _SCHEMA:
        raise DocumentError(f"{path} is no session of this version of the program")
    return KeptSession(tuple(map(_tube, document.tables("tubes"))), document.words("lot_file"))


def _tube(entry: Fields) -> KeptTube:
    overruled = entry.values.get("overruled")
    return KeptTube(
        path=entry.text("path"),
        sha256=entry.text("sha256"),
        tube=entry.text("tube"),
        section=entry.words("section"),
        kind=entry.text("kind"),
        wish=Wish(entry.words("judged_as"), entry.words("compared_with")),
        overrule=None if overruled is None else _overrule(entry.table("overruled")),
        answers=tuple(map(str, entry.values.get("answers") or ())),
        reading=_reading(entry),
    )


def _reading(entry: Fields) -> ReadingChoices:
    if entry.values.get("reading") is None:
        return NOTHING_CHOSEN
    try:
        return choices_of_stored(entry.table("reading").values)
    except BenchDescriptionError as error:
        raise DocumentError(f"{entry.where}/reading cannot be read ({error})") from error


def _overrule(entry: Fields) -> Overrule:
    return Overrule(
        made_at=entry.moment("made_at"),
        verdict=entry.word_of("verdict", Verdict),
        reason=entry.text("reason"),
        person=entry.text("person"),
    )


def judge_again(
    kept: KeptSession,
    progress: Progress | None = None,
    should_stop: ShouldStop | None = None,
    bench: Path | None = None,
) -> tuple[tuple[Wish, Batch], ...]:
    """Read and judge the files of a kept session, all as labelled, then some as was wished.

    ``bench`` is the description in force, for its limits of error; each file is read as it was.
    A file that is gone is an error of its batch, as when it is opened.
    """
    as_labelled: dict[tuple[str, ...], dict[Path, None]] = {}
    as_wished: dict[tuple[Wish, tuple[str, ...]], dict[Path, None]] = {}
    for tube in kept.tubes:
        path = Path(tube.path)
        as_labelled.setdefault(tube.answers, {})[path] = None
        if tube.wish != Wish() and path.exists():
            as_wished.setdefault((tube.wish, tube.answers), {})[path] = None
    asked = [(Wish(), answers, paths) for answers, paths in as_labelled.items()]
    asked += [(wish, answers, paths) for (wish, answers), paths in as_wished.items()]
    read_as = tuple((tube.path, tube.reading) for tube in kept.tubes)
    judged = []
    for wish, answers, paths in asked:
        request = Request(
            paths=tuple(paths),
            type_name=wish.judged_as,
            reference=wish.compared_with,
            answers=answers,
            bench=bench,
            read_as=read_as,
        )
        judged.append((wish, characterize(request, progress, should_stop)))
        if judged[-1][1].stopped:
            break
    return tuple(judged)


def put_back(
    session: Session, kept: KeptSession, judged: Iterable[tuple[Wish, Batch]]
) -> tuple[int, ...]:
    """Take what was judged again into a session, with all that a person had said of it.

    Of a file whose bytes are others by now the tubes are taken in as they are, with a notice.
    """
    said = {(tube.path, tube.tube, tube.section, tube.kind): tube for tube in kept.tubes}
    taken: dict[int, None] = {}
    for wish, batch in judged:
        if wish == Wish():
            taken.update(dict.fromkeys(session.take_in(batch)))
            continue
        keys = [
            entry.key for entry in session.of_keys(taken)
            if (tube := said.get(_name(entry))) is not None
            and tube.wish == wish and tube.sha256 == entry.assessment.sweep.source.sha256
        ]  # fmt: skip
        session.replace(keys, batch, wish)
    other: set[str] = set()
    gone = []
    files = {tube.path: tube.sha256 for tube in kept.tubes}
    for entry in session.of_keys(taken):
        source, tube = entry.assessment.sweep.source, said.get(_name(entry))
        if source.sha256 != files.get(str(Path(source.path).absolute())):
            other.add(source.name)
        elif tube is None:
            gone.append(entry.key)  # it had been taken off the list
        elif tube.overrule is not None:
            session.overrule([entry.key], tube.overrule)
    session.remove(gone)
    for name in sorted(other):
        reason = "the file is another than it was; what had been said of its tubes is left out"
        session.report(Problem(ProblemKind.NOTICE, name, None, reason))
    return tuple(key for key in taken if key not in set(gone))


def _name(entry: Entry) -> tuple[str, str, str | None, str]:
    sweep = entry.assessment.sweep
    path = str(Path(sweep.source.path).absolute())
    return path, sweep.tube, sweep.section, sweep.kind.value
