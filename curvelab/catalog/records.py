"""What a lot file keeps: frozen records, in SI, that cross the border of this room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from types import MappingProxyType

from curvelab.assessment.records import OperatingPoint
from curvelab.catalog.curves import CurveGrid
from curvelab.fitting.records import Constants
from curvelab.health.records import Verdict
from curvelab.sweep.records import Conditions, SourceFile, SweepKind

__all__ = [
    "Characterisation",
    "Claim",
    "Figures",
    "FindingMark",
    "HandTest",
    "KeptRecord",
    "LotContent",
    "Measurement",
    "Overrule",
    "SetMember",
    "SetState",
    "StoredResult",
    "StoredTube",
    "TubeHistory",
    "TubeIdentity",
    "TubeSet",
]


@dataclass(frozen=True, slots=True)
class TubeIdentity:
    """Which tube it is and what the house knows of it.

    Serial and lot together name one tube of the file.

    Attributes
    ----------
    type_label : str or None
        Type as labelled.
    maker_mark : str or None
        What is printed on the glass or base, as free text.
    cost, price : Decimal or None
        What was paid for it, and what is asked; in the currency of the house.
    return_by : date or None
        Until when the supplier takes it back.
    """

    serial: str
    lot: str = ""
    type_label: str | None = None
    maker_mark: str | None = None
    box: str | None = None
    shelf: str | None = None
    supplier: str | None = None
    cost: Decimal | None = None
    price: Decimal | None = None
    return_by: date | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class FindingMark:
    """Code and severity of a finding; its evidence is in the document it came from.

    Words of ``FindingCode`` and ``Severity``, as text: a later program may know more of them.
    """

    code: str
    severity: str


@dataclass(frozen=True, slots=True, eq=False)
class Figures:
    """What of a result is kept in columns, to list, grade and match by. SI units.

    Attributes
    ----------
    of_bogey : mapping of str to float
        Constant over the reference family's, by name of the constant.
    family_deviation : float or None
        RMS distance from the reference family, as a fraction.
    behaviour : str or None
        Of a drift log.
    """

    type_name: str | None
    type_label: str | None
    operating_point: OperatingPoint | None
    constants: Constants
    of_bogey: Mapping[str, float]
    family_deviation: float | None
    findings: tuple[FindingMark, ...]
    verdict: Verdict
    behaviour: str | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "of_bogey", MappingProxyType(dict(self.of_bogey)))


@dataclass(frozen=True, slots=True, eq=False)
class Characterisation:
    """One judging of one sweep or log.

    Attributes
    ----------
    made_with : str
        Program and version.
    settings : str
        How it was judged, as JSON.
    document : str
        The tube's element of the results, schema ``curvelab.characteristics/1``, as JSON.
    curves : CurveGrid or None
        The fitted family; None where there is none.
    """

    made_at: datetime
    made_with: str
    bench: str
    settings: str
    figures: Figures
    document: str = field(repr=False)
    curves: CurveGrid | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True, eq=False)
class Measurement:
    """One tube or section of one file, with every judging of it, the newest last.

    Attributes
    ----------
    named : str
        The tube's name in the file.
    set_up : str or None
        What was changed for a test, such as ``low heater``; the figures are not the tube's
        then. None for usual readings.
    """

    named: str
    section: str | None
    kind: SweepKind
    sha256: str
    characterisations: tuple[Characterisation, ...]
    set_up: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class HandTest:
    """What a person measured beside the sweep, and how it was judged.

    ``document`` holds the findings with their evidence, as JSON.
    """

    made_at: datetime
    section: str | None
    conditions: Conditions
    note: str | None
    findings: tuple[FindingMark, ...]
    verdict: Verdict
    document: str = '{"findings": []}'


@dataclass(frozen=True, slots=True)
class Overrule:
    """A verdict that a person set in place of the measured one, with the reason.

    It holds for the evidence there was: ``characterisations`` and ``hand_tests`` count
    what the tube's history held by then, and a new test puts it out of force.
    """

    made_at: datetime
    verdict: Verdict
    reason: str
    person: str
    characterisations: int = 0
    hand_tests: int = 0


class SetState(StrEnum):
    """What has become of a set."""

    LOCKED = "locked"
    SOLD = "sold"
    DISSOLVED = "dissolved"


@dataclass(frozen=True, slots=True)
class SetMember:
    """A tube of a set; ``spare`` for one that goes along in reserve."""

    serial: str
    lot: str = ""
    spare: bool = False


@dataclass(frozen=True, slots=True)
class TubeSet:
    """Tubes that belong together; ``payload`` is how they were matched, as JSON."""

    name: str
    state: SetState
    members: tuple[SetMember, ...]
    made_at: datetime
    payload: str = "{}"


@dataclass(frozen=True, slots=True)
class KeptRecord:
    """A record whose shape another room owns, as JSON, kept in versions by kind and name.

    Kinds in use: ``bench-check``, ``correction``, ``refusal``, ``grade``.
    """

    kind: str
    name: str
    version: int
    made_at: datetime
    payload: str


@dataclass(frozen=True, slots=True, eq=False)
class StoredResult:
    """The newest judging of one section by one kind of test.

    ``key`` finds its document and curves again; ``named`` is the tube's name in the file.
    """

    key: int
    section: str | None
    kind: SweepKind
    file: str
    sha256: str
    made_at: datetime
    made_with: str
    bench: str
    figures: Figures
    named: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class StoredTube:
    """A tube as it stands today.

    Attributes
    ----------
    results : tuple of StoredResult
        The newest of each section and kind of test.
    hand_tests : tuple of HandTest
        The newest of each section.
    overrule : Overrule or None
        Only while it is in force.
    set_name, set_state : str or None, SetState or None
        The set it is locked in or sold with.
    """

    key: int
    identity: TubeIdentity
    results: tuple[StoredResult, ...]
    hand_tests: tuple[HandTest, ...] = ()
    overrule: Overrule | None = None
    set_name: str | None = None
    set_state: SetState | None = None

    @property
    def measured_verdict(self) -> Verdict | None:
        """The worst verdict of its tests; None for a tube not tested."""
        given = {result.figures.verdict for result in self.results}
        given |= {test.verdict for test in self.hand_tests}
        order = (Verdict.REJECT, Verdict.HOLD, Verdict.ACCEPT)
        return next((verdict for verdict in order if verdict in given), None)

    @property
    def verdict(self) -> Verdict | None:
        """The measured verdict, or the one that a person set in its place."""
        return self.overrule.verdict if self.overrule else self.measured_verdict

    @property
    def findings(self) -> tuple[FindingMark, ...]:
        """What was found by all its tests, each once."""
        by_test = (*(result.figures.findings for result in self.results),)
        by_hand = (*(test.findings for test in self.hand_tests),)
        return tuple(dict.fromkeys(mark for marks in (*by_test, *by_hand) for mark in marks))


@dataclass(frozen=True, slots=True)
class Claim:
    """A reject, with what is to be said to its supplier.

    Attributes
    ----------
    reasons : tuple of str
        Evidence of every finding that rejects it, a sentence each.
    days_left : int or None
        Until the return-by date, negative once it has passed; None where there is none.
    """

    tube: TubeIdentity
    reasons: tuple[str, ...]
    cost: Decimal | None
    days_left: int | None


@dataclass(frozen=True, slots=True, eq=False)
class TubeHistory:
    """All that a lot file holds of one tube, oldest first."""

    identity: TubeIdentity
    measurements: tuple[Measurement, ...]
    hand_tests: tuple[HandTest, ...]
    overrules: tuple[Overrule, ...]


@dataclass(frozen=True, slots=True, eq=False)
class LotContent:
    """A whole lot file.

    ``sources`` are the files, each once; one whose bytes a salvage lost has none.
    """

    tubes: tuple[TubeHistory, ...]
    sources: tuple[SourceFile, ...]
    sets: tuple[TubeSet, ...]
    kept: tuple[KeptRecord, ...]
