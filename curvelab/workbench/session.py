"""What is on the bench table: the tubes of a lot, the one looked at, and how it is shown.

The window shows this state and changes it only through these functions; it holds no Qt, so
that everything a person can do to a lot can be tried without a screen.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from pathlib import Path

from curvelab import __version__
from curvelab.assessment.records import Assessment
from curvelab.catalog.records import Overrule
from curvelab.health.records import Verdict
from curvelab.ingest.choices import NOTHING_CHOSEN, ReadingChoices
from curvelab.quantities import MICROMHO, TRANSCONDUCTANCE
from curvelab.sheets.constants_picture import ConstantsPicture, constants_picture
from curvelab.sheets.document import SheetDocument, sheet_document
from curvelab.sheets.plane_picture import PlanePicture, deviation_picture, difference_picture
from curvelab.sheets.plot_records import CurvePicture
from curvelab.sheets.side_by_side import side_by_side_table
from curvelab.sheets.tables import CONSTANT_QUANTITIES, ConstantQuantities, Table
from curvelab.workbench.characterize import Batch, Request
from curvelab.workbench.view_cache import ViewCache
from curvelab.workbench.views import View, ViewPicture, view_picture

__all__ = ["Display", "Entry", "Problem", "ProblemKind", "Session", "Wish"]

Own = tuple[str, str, str | None, str]
Identity = tuple[str, str, str | None, str, int]

_MICROMHO_QUANTITIES: ConstantQuantities = tuple(
    (name, replace(quantity, unit=MICROMHO) if quantity is TRANSCONDUCTANCE else quantity)
    for name, quantity in CONSTANT_QUANTITIES
)


@dataclass(frozen=True, slots=True)
class Display:
    """What of a plot is shown, and the unit of the transconductance."""

    measured: bool = True
    fitted: bool = True
    reference: bool = True
    ratings: bool = True
    marks: bool = True
    others: bool = True
    micromho: bool = False


@dataclass(frozen=True, slots=True)
class Wish:
    """What a person asked for one tube instead of what its file says.

    Attributes
    ----------
    judged_as : str or None
        Type whose ratings and limits count, in place of the label's.
    compared_with : str or None
        Stand-in whose family is laid under the curves.
    """

    judged_as: str | None = None
    compared_with: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Entry:
    """One tube or section of the lot, with what a person said of it.

    ``overrule`` is the verdict that a person set in place of the measured one.
    """

    key: int
    assessment: Assessment
    wish: Wish = Wish()
    overrule: Overrule | None = None

    @property
    def verdict(self) -> Verdict:
        """The verdict that holds: a person's, or the measured one."""
        return self.overrule.verdict if self.overrule else self.assessment.verdict


class ProblemKind(StrEnum):
    """What did not go as it should."""

    ERROR = "not read"
    SET_ASIDE = "set aside"
    NOTICE = "notice"


@dataclass(frozen=True, slots=True)
class Problem:
    """A file, row or request that needs a person's eye.

    Attributes
    ----------
    text : str
        The row as it stands in the file.
    path : Path or None
        The file, where it could not be read at all.
    choices : tuple of str
        The ways it can be read, where a person must pick one.
    """

    kind: ProblemKind
    file: str
    line: int | None
    reason: str
    text: str = ""
    path: Path | None = None
    choices: tuple[str, ...] = ()


class Session:
    """The lot, in the order it was taken in."""

    def __init__(self) -> None:
        self.display = Display()
        self._entries: dict[int, Entry] = {}
        self._problems: list[Problem] = []
        self._documents: dict[int, SheetDocument] = {}
        self.view = View.PLATE
        self._views = ViewCache()
        self._answers: dict[Path, tuple[str, ...]] = {}
        self._readings: dict[str, ReadingChoices] = {}
        self._chosen: tuple[int, ...] = ()
        self._golden: int | None = None
        self._finding: int | None = None
        self._last_key = 0
        self._swept: dict[Own, int] = {}  # how often a file that was read sweeps a tube

    @property
    def entries(self) -> tuple[Entry, ...]:
        """The tubes of the lot."""
        return tuple(self._entries.values())

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What went wrong, each once, in the order it came up."""
        return tuple(self._problems)

    @property
    def current(self) -> Entry | None:
        """The tube looked at."""
        return self._entries[self._chosen[0]] if self._chosen else None

    @property
    def chosen(self) -> tuple[Entry, ...]:
        """The tubes chosen, the one looked at first."""
        return tuple(self._entries[key] for key in self._chosen)

    @property
    def finding(self) -> int | None:
        """Position of the finding whose readings are pointed out."""
        return self._finding

    @property
    def quantities(self) -> ConstantQuantities:
        """The constants with the units they are shown in."""
        return _MICROMHO_QUANTITIES if self.display.micromho else CONSTANT_QUANTITIES

    def document(self, key: int) -> SheetDocument:
        """Return what the sheet of a tube says, made once."""
        if key not in self._documents:
            drawn = self.plots(key, View.PLATE).plots
            self._documents[key] = self.fresh_document(self._entries[key], *drawn[:1])
        return self._documents[key]

    def fresh_document(self, entry: Entry, picture: CurvePicture | None = None) -> SheetDocument:
        """Return what the sheet of a tube says; changes nothing, so that any thread may ask."""
        return sheet_document(
            entry.assessment,
            made_with=f"curvelab {__version__}",
            date=date.today(),
            quantities=self.quantities,
            overrule=entry.overrule,
            picture=picture,
        )

    def course(self, key: int, plate_voltage: float | None = None) -> ConstantsPicture:
        """Return a tube's constants against plate current, made once for a plate voltage [V].

        Without one it is the operating point's.
        """
        assessment, units = self._entries[key].assessment, self.quantities
        return self._views.get(
            (key,),
            ("course", plate_voltage),
            lambda: constants_picture(assessment, plate_voltage, units),
        )

    def plots(self, key: int, view: View, levels: tuple[float, ...] = ()) -> ViewPicture:
        """Return what a view of lines and points shows of a tube, made once.

        ``levels`` are those of `view_picture`.
        """
        assessment = self._entries[key].assessment
        return self._views.get(
            (key,), (view, levels), lambda: view_picture(view, assessment, levels)
        )

    def deviation(self, key: int) -> PlanePicture:
        """Return how far a tube lies from its reference family over the plane, made once."""
        assessment = self._entries[key].assessment
        return self._views.get((key,), ("plane",), lambda: deviation_picture(assessment))

    @property
    def golden(self) -> Entry | None:
        """The tube that a single one is compared with, where a person has named one."""
        return None if self._golden is None else self._entries.get(self._golden)

    def name_golden(self, key: int | None) -> None:
        """Name the tube that single ones are compared with; None names none."""
        self._golden = key

    @property
    def pair(self) -> tuple[Entry, Entry] | None:
        """The two tubes to compare.

        The first two chosen; else the golden tube and the one; else the one's two sections.
        """
        if len(self._chosen) > 1:
            return self.chosen[0], self.chosen[1]
        current, golden = self.current, self.golden
        if current is None:
            return None
        if golden is not None and golden.key != current.key:
            return golden, current
        other = next(iter(self.other_sections(current.key)), None)
        return None if other is None else (current, other)

    def other_sections(self, key: int) -> tuple[Entry, ...]:
        """Return the other sections of a tube that the lot holds."""
        own = self._entries[key].assessment.sweep
        return tuple(
            entry
            for entry in self.entries
            if (sweep := entry.assessment.sweep).tube == own.tube
            and sweep.section is not None
            and sweep.section != own.section
        )

    def difference(self, first: int, second: int) -> PlanePicture:
        """Return how far the second tube lies from the first over the plane, made once."""
        one, two = (self._entries[key].assessment for key in (first, second))
        return self._views.get((first, second), ("plane",), lambda: difference_picture(one, two))

    def beside(self, first: int, second: int) -> Table:
        """Return the constants of two tubes side by side, made once."""
        one, two = (self._entries[key].assessment for key in (first, second))
        units = self.quantities
        return self._views.get(
            (first, second), ("beside",), lambda: side_by_side_table(one, two, units)
        )

    def request_with_answer(self, problem: Problem, choice: str) -> Request:
        """Return what to run to read a file again, now that a person has picked a meaning.

        Raises
        ------
        ValueError
            If the problem is not about a file.
        """
        if problem.path is None:
            raise ValueError("this problem has no file to read again")
        answers = (*self._answers.get(problem.path, ()), choice)
        self._answers[problem.path] = answers
        return Request(paths=(problem.path,), answers=answers)

    @property
    def answers(self) -> Mapping[Path, tuple[str, ...]]:
        """How a person had files read that have two meanings."""
        return dict(self._answers)

    @property
    def readings(self) -> Mapping[str, ReadingChoices]:
        """How the files of the lot were read, by their paths."""
        return dict(self._readings)

    def take_in(self, batch: Batch, wish: Wish = Wish()) -> tuple[int, ...]:
        """Add the tubes of a batch and return their keys; a file opened again is replaced.

        A file with the same bytes as one of the lot under another name is left out, with a
        notice: the same readings twice would count as two tubes.
        """
        paths = {item.sweep.source.path for item in batch.assessments}
        old = {ident: entry for ident, entry in self._identified() if ident[0] in paths}
        first_of = {
            entry.assessment.sweep.source.sha256: entry.assessment.sweep.source.path
            for entry in self.entries
        }
        self._swept |= Counter(map(_own, batch.assessments))
        read_as = dict(batch.read_as)
        self._readings |= {path: read_as.get(path, NOTHING_CHOSEN) for path in paths}
        taken: list[int] = []
        for ident, assessment in _identified(batch.assessments):
            source = assessment.sweep.source
            first = first_of.setdefault(source.sha256, source.path)
            if first != source.path:
                self._note_repeat(source.name, Path(first).name)
                continue
            known = old.pop(ident, None)
            key = known.key if known else self._new_key()
            same = known is not None and known.assessment.sweep.source.sha256 == source.sha256
            self._put(Entry(key, assessment, wish, known.overrule if known and same else None))
            taken.append(key)
        self._drop(entry.key for entry in old.values())
        self._note_problems(batch, paths)
        return tuple(taken)

    def request_for(self, keys: Iterable[int], wish: Wish) -> Request:
        """Return what to run so that some tubes are judged as wished.

        The files of a tube's other sections go along: its balance needs them. The bytes that
        were read are judged, wherever their files are by now.
        """
        tubes = {self._entries[key].assessment.sweep.tube for key in keys}
        sources = {
            entry.assessment.sweep.source.path: entry.assessment.sweep.source
            for entry in self.entries
            if entry.assessment.sweep.tube in tubes
        }
        answers = [answer for path in sources for answer in self._answers.get(Path(path), ())]
        return Request(
            paths=(),
            sources=tuple(sources.values()),
            read_as=tuple((path, self._readings.get(path, NOTHING_CHOSEN)) for path in sources),
            type_name=wish.judged_as,
            reference=wish.compared_with,
            answers=tuple(answers),
        )

    def replace(self, keys: Iterable[int], batch: Batch, wish: Wish) -> tuple[Entry, ...]:
        """Put the new assessments of some tubes in the place of their old ones; return those."""
        keys = set(keys)
        fresh = dict(_identified(batch.assessments))
        old = []
        for ident, entry in self._identified():
            if entry.key in keys and ident in fresh:
                old.append(entry)
                self._put(replace(entry, assessment=fresh[ident], wish=wish))
        self._note_problems(batch, set())
        return tuple(old)

    def overrule(self, keys: Iterable[int], overrule: Overrule | None) -> None:
        """Set a verdict in place of the measured one, or let the measured one hold again."""
        for entry in self.of_keys(keys):
            if entry.overrule != overrule:
                self._put(replace(entry, overrule=overrule))

    def note_wishes(self, wishes: Mapping[str, Wish]) -> None:
        """Note of tubes, by the paths of their files, what a person wished when they were filed."""
        for entry in self.entries:
            wish = wishes.get(entry.assessment.sweep.source.path, entry.wish)
            if wish != entry.wish:
                self._put(replace(entry, wish=wish))

    def remove(self, keys: Iterable[int]) -> tuple[Entry, ...]:
        """Take tubes off the lot and return them; their files are not touched."""
        gone = tuple(self._entries[key] for key in keys if key in self._entries)
        self._drop(entry.key for entry in gone)
        return gone

    def put(self, entries: Iterable[Entry]) -> tuple[int, ...]:
        """Put entries at the place of their keys and return those put.

        One whose sweep has meanwhile been opened again stays away: it would count twice.
        """
        here = Counter(_own(entry.assessment) for entry in self.entries)
        done = []
        for entry in entries:
            own = _own(entry.assessment)
            if entry.key not in self._entries:
                if here[own] >= self._swept.get(own, 1):
                    continue
                here[own] += 1
            self._put(entry)
            done.append(entry.key)
        self._entries = dict(sorted(self._entries.items()))
        return tuple(done)

    def of_keys(self, keys: Iterable[int]) -> tuple[Entry, ...]:
        """Return the entries of some keys, those that there are."""
        return tuple(self._entries[key] for key in keys if key in self._entries)

    def choose(self, keys: Iterable[int]) -> None:
        """Choose tubes, the one to look at first."""
        chosen = tuple(key for key in dict.fromkeys(keys) if key in self._entries)
        if chosen[:1] != self._chosen[:1]:
            self._finding = None
        self._chosen = chosen

    def point_out(self, finding: int | None) -> None:
        """Point out the readings of a finding of the current tube, or of none."""
        self._finding = finding

    def show(self, display: Display) -> None:
        """Change what is shown."""
        if display.micromho != self.display.micromho:
            self._documents.clear()
            self._views.clear()
        self.display = display

    def report(self, problem: Problem) -> None:
        """Add a problem to the list, once."""
        if problem not in self._problems:
            self._problems.append(problem)

    def clear_problems(self) -> None:
        """Empty the list of problems."""
        self._problems.clear()

    def _new_key(self) -> int:
        self._last_key += 1
        return self._last_key

    def _put(self, entry: Entry) -> None:
        self._entries[entry.key] = entry
        self._forget(entry.key)
        if self._chosen[:1] == (entry.key,):
            self._finding = None

    def _drop(self, keys: Iterable[int]) -> None:
        for key in tuple(keys):
            self._entries.pop(key, None)
            self._forget(key)
        self.choose(self._chosen)

    def _forget(self, key: int) -> None:
        self._documents.pop(key, None)
        self._views.forget(key)

    def _identified(self) -> Iterator[tuple[Identity, Entry]]:
        entries = self.entries
        identities = _identified(entry.assessment for entry in entries)
        for (ident, _), entry in zip(identities, entries, strict=True):
            yield ident, entry

    def _note_repeat(self, name: str, first: str) -> None:
        reason = f"holds the same bytes as {first}, which is in the lot already"
        self.report(Problem(ProblemKind.NOTICE, name, None, reason))

    def _note_problems(self, batch: Batch, paths: set[str]) -> None:
        """List what a batch could not read, in place of what its files were said to hold."""
        again = paths | {error.file for error in batch.errors}
        names = {Path(path).name for path in again} if self._problems else set()
        self._problems = [
            problem
            for problem in self._problems
            if (
                problem.file not in names
                if problem.path is None
                else str(problem.path) not in again
            )
        ]
        for error in batch.errors:
            path = Path(error.file)
            self.report(
                Problem(
                    kind=ProblemKind.ERROR,
                    file=path.name,
                    line=None,
                    reason=error.reason,
                    path=path,
                    choices=error.choices,
                )
            )
        for row in batch.set_aside:
            self.report(Problem(ProblemKind.SET_ASIDE, row.file, row.line, row.reason, row.text))
        if batch.not_read:
            files = "1 file is" if batch.not_read == 1 else f"{batch.not_read} files are"
            reason = f"{files} not named as sweeps are (.csv, .tsv, .txt), so not read"
            self.report(Problem(ProblemKind.NOTICE, "", None, reason))


def _own(assessment: Assessment) -> Own:
    """Return which tube of which file it is; one file may sweep a tube twice."""
    sweep = assessment.sweep
    return sweep.source.path, sweep.tube, sweep.section, sweep.kind.value


def _identified(assessments: Iterable[Assessment]) -> Iterator[tuple[Identity, Assessment]]:
    """Yield each assessment with what tells it apart: file, tube, section, kind and turn."""
    seen: Counter[Own] = Counter()
    for assessment in assessments:
        own = _own(assessment)
        yield (*own, seen[own]), assessment
        seen[own] += 1
