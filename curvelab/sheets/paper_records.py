"""What the papers of a lot are made from: tubes with their evidence, and sets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType

from curvelab.catalog.curves import CurveGrid
from curvelab.catalog.records import SetMember, SetState, StoredResult, StoredTube
from curvelab.grading.grade import Grade
from curvelab.health.records import Finding, Severity, Verdict
from curvelab.sheets.text import plain
from curvelab.sweep.records import SweepKind

__all__ = ["Basis", "Found", "PaperSet", "PaperTube"]

_WORST_FIRST = (Severity.REJECT, Severity.CAUTION, Severity.NOTE)


@dataclass(frozen=True, slots=True)
class Found:
    """A finding with its evidence, the section it was found in, and by which kind of test."""

    section: str | None
    finding: Finding
    by_hand: bool = False


@dataclass(frozen=True, slots=True)
class Basis:
    """What the figures of a section rest on.

    Attributes
    ----------
    family : str or None
        Type whose family it was compared with; ``stand_in`` where that is another type's.
    bench_assumed : bool
        Whether the bench was taken as it is, without a stated accuracy.
    """

    family: str | None = None
    stand_in: bool = False
    bench_assumed: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class PaperTube:
    """A tube as it stands, with what its papers say beyond a list.

    Attributes
    ----------
    found : tuple of Found
        Every finding of its newest tests.
    grade : Grade or None
        None where it was not graded; ``not_graded`` then says why.
    curves : mapping of str or None to CurveGrid
        Fitted families by section.
    bases : mapping of str or None to Basis
        What the figures of each section rest on.
    """

    stored: StoredTube
    found: tuple[Found, ...] = ()
    grade: Grade | None = None
    not_graded: str = ""
    curves: Mapping[str | None, CurveGrid] = field(default_factory=dict)
    bases: Mapping[str | None, Basis] = field(default_factory=dict)

    def __post_init__(self) -> None:
        order = sorted(self.found, key=lambda item: _WORST_FIRST.index(item.finding.severity))
        object.__setattr__(self, "found", tuple(order))
        for name in ("curves", "bases"):
            object.__setattr__(self, name, MappingProxyType(dict(getattr(self, name))))

    @property
    def serial(self) -> str:
        """The serial, fit to be printed."""
        return plain(self.stored.identity.serial)

    @property
    def sweeps(self) -> tuple[StoredResult, ...]:
        """The newest sweep of each section."""
        return tuple(item for item in self.stored.results if item.kind is SweepKind.CURVES)

    @property
    def type_name(self) -> str:
        """The type it was judged as, else what its label says, else ``type unknown``."""
        judged = next((r.figures.type_name for r in self.stored.results if r.figures.type_name), "")
        return plain(judged or self.stored.identity.type_label or "type unknown")

    @property
    def verdict(self) -> Verdict | None:
        """The verdict in force; None for a tube not tested."""
        return self.stored.verdict

    def of_severity(self, severity: Severity) -> tuple[Found, ...]:
        """Return the findings of one severity."""
        return tuple(item for item in self.found if item.finding.severity is severity)


@dataclass(frozen=True, slots=True)
class PaperSet:
    """Tubes that go together.

    Attributes
    ----------
    spread_percent : float or None
        As the matching gave it.
    distinguishable : bool or None
        Whether the bench can tell its tubes apart; None where the matching did not say.
    matched_by : str or None
        What was compared, in words.
    made_at : datetime or None
        When it was matched; what the matching said holds for what was on file then.
    proposed : bool
        Whether it is only proposed: the lot file does not keep it together.
    """

    name: str
    members: tuple[SetMember, ...]
    spread_percent: float | None = None
    distinguishable: bool | None = None
    matched_by: str | None = None
    state: SetState | None = None
    made_at: datetime | None = None
    proposed: bool = False
