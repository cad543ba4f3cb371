"""What a person does to the tubes of a lot: test by hand, overrule, send back, sell."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from datetime import UTC, date, datetime
from pathlib import Path

from curvelab.catalog import hand_tests, kept, sets
from curvelab.catalog.listing import list_tubes, tube_history
from curvelab.catalog.lot_file import LotFile, open_lot
from curvelab.catalog.records import (
    Claim,
    HandTest,
    KeptRecord,
    Overrule,
    SetState,
    StoredTube,
    TubeIdentity,
    TubeSet,
)
from curvelab.catalog.results import documents
from curvelab.catalog.retest import Retest, compare_retests
from curvelab.catalog.tubes import change_tube, find_tube
from curvelab.errors import UnknownTubeError, UnknownTypeError
from curvelab.health.records import Severity, Verdict
from curvelab.ingest.hand_tests import read_hand_tests
from curvelab.reference.records import TubeType
from curvelab.sheets.results_reader import findings_of_document
from curvelab.sweep.records import SetAside
from curvelab.workbench.characterize import Request, settings_of
from curvelab.workbench.lot_records import ByHand, hand_test_of
from curvelab.workbench.type_library import current_types

__all__ = [
    "EnteredTests",
    "change_identity",
    "change_set",
    "compare_returned",
    "enter_hand_test",
    "enter_hand_tests",
    "keep_record",
    "kept_records",
    "kept_sets",
    "list_claims",
    "lock_set",
    "overrule_verdict",
    "standing_sets",
    "take_back_hand_test",
    "take_back_overrule",
    "tube_identity",
]


@dataclass(frozen=True, slots=True)
class EnteredTests:
    """How many hand tests were entered, and the rows of the table that were not."""

    entered: int
    set_aside: tuple[SetAside, ...]


def enter_hand_test(path: Path, serial: str, entered: ByHand, lot: str | None = None) -> HandTest:
    """Judge a hand test and add it to the history of a tube.

    Raises
    ------
    CatalogError
        If there is no such tube, or the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        key, identity = find_tube(opened, serial, lot)
        limits = settings_of(Request(paths=())).limits
        test = hand_test_of(entered, limits, _type_of(identity.type_label), datetime.now(UTC))
        hand_tests.add_hand_test(opened, key, test)
    return test


def enter_hand_tests(opened: LotFile, path: Path) -> EnteredTests:
    """Judge a table of hand tests and add its rows to the histories of their tubes.

    A row that says of a tube what its newest hand test said is not entered again.

    Raises
    ------
    SweepFileError
        If the table cannot be read.
    CatalogError
        If the lot file cannot be changed.
    """
    table = read_hand_tests(path)
    limits, now = settings_of(Request(paths=())).limits, datetime.now(UTC)
    newest = {
        (tube.key, test.section): test for tube in list_tubes(opened) for test in tube.hand_tests
    }
    set_aside = list(table.set_aside)
    entered = 0
    for row in table.rows:
        try:
            key, identity = find_tube(opened, row.tube, row.lot)
        except UnknownTubeError as error:
            set_aside.append(SetAside(path.name, row.line, row.text, error.reason))
            continue
        last = newest.get((key, row.section))
        if last is not None and (last.conditions, last.note) == (row.conditions, row.note):
            continue
        by_hand = ByHand(row.conditions, row.section, row.note)
        test = hand_test_of(by_hand, limits, _type_of(identity.type_label), now)
        hand_tests.add_hand_test(opened, key, test)
        newest[key, row.section] = test
        entered += 1
    return EnteredTests(entered, tuple(set_aside))


def _type_of(label: str | None) -> TubeType | None:
    if label is None:
        return None
    try:
        return current_types().types.find(label)[0]
    except UnknownTypeError:
        return None


def overrule_verdict(path: Path, serial: str, overrule: Overrule, lot: str | None = None) -> None:
    """Set a verdict in place of the measured one, until the tube is tested again.

    Raises
    ------
    ValueError
        If no reason or no person is named.
    CatalogError
        If there is no such tube, or the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        key, _ = find_tube(opened, serial, lot)
        hand_tests.overrule_verdict(opened, key, overrule)


def take_back_overrule(path: Path, key: int, made_at: datetime) -> None:
    """Remove the newest overruling of a tube; the one before it holds again.

    Raises
    ------
    CatalogError
        If the newest was made at another time, or the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        hand_tests.take_back_overrule(opened, key, made_at)


def take_back_hand_test(path: Path, key: int, made_at: datetime) -> None:
    """Remove the newest hand test of a tube.

    Raises
    ------
    CatalogError
        If the newest was made at another time, or the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        hand_tests.take_back_hand_test(opened, key, made_at)


def change_identity(
    path: Path, key: int, identity: TubeIdentity, before: TubeIdentity | None = None
) -> None:
    """Put what is now known of a tube in the place of what was.

    With what was known ``before``, only the fields that differ from it are put: another
    window may have changed the others meanwhile.

    Raises
    ------
    CatalogError
        If another tube is called so, or the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        if before is not None:
            changed = {
                field.name: getattr(identity, field.name)
                for field in fields(TubeIdentity)
                if getattr(identity, field.name) != getattr(before, field.name)
            }
            identity = replace(tube_history(opened, key).identity, **changed)
        change_tube(opened, key, identity)


def compare_returned(path: Path, serial: str, lot: str | None = None) -> tuple[Retest, ...]:
    """Compare the newest sweep of each section of a tube with the one before it.

    Raises
    ------
    CatalogError
        If there is no such tube, or the file cannot be read.
    """
    limits = settings_of(Request(paths=())).limits
    with open_lot(path, write=False) as opened:
        key, _ = find_tube(opened, serial, lot)
        return compare_retests(tube_history(opened, key), limits)


def tube_identity(path: Path, serial: str, lot: str | None = None) -> TubeIdentity:
    """Return which tube a serial means.

    Raises
    ------
    CatalogError
        If there is no such tube, or several lots have one and none was named.
    """
    with open_lot(path, write=False) as opened:
        return find_tube(opened, serial, lot)[1]


def kept_sets(path: Path) -> tuple[TubeSet, ...]:
    """Return every set there ever was, oldest first.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    """
    with open_lot(path, write=False) as opened:
        return sets.list_sets(opened)


def standing_sets(
    path: Path,
) -> tuple[tuple[TubeSet, ...], dict[tuple[str, str], Verdict | None]]:
    """Return every set there ever was, and how the tubes stand today, by serial and lot.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    """
    with open_lot(path, write=False) as opened:
        held = sets.list_sets(opened)
        tubes = list_tubes(opened) if held else ()
        return held, {(tube.identity.serial, tube.identity.lot): tube.verdict for tube in tubes}


def lock_set(path: Path, tube_set: TubeSet) -> None:
    """Keep some tubes together under a name.

    Raises
    ------
    CatalogError
        If the name is taken, a tube is missing or in another set, or the file cannot be
        changed.
    """
    with open_lot(path, write=True) as opened:
        sets.lock_sets(opened, (tube_set,))


def change_set(path: Path, name: str, state: SetState) -> None:
    """Mark a set as sold, or dissolve it.

    Raises
    ------
    CatalogError
        If there is no such set, it cannot become that, or the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        sets.change_set(opened, name, state)


def keep_record(path: Path, kind: str, name: str, payload: str) -> KeptRecord:
    """Keep the next version of another room's record, such as a bench check, and return it.

    Parameters
    ----------
    payload : str
        JSON, in the shape of the room that owns it.

    Raises
    ------
    ValueError
        If the payload is not JSON.
    CatalogError
        If the file cannot be changed.
    """
    with open_lot(path, write=True) as opened:
        return kept.keep(opened, kind, name, payload, datetime.now(UTC))


def kept_records(path: Path, kind: str, name: str | None = None) -> tuple[KeptRecord, ...]:
    """Return every version of the records of a kind, oldest first.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    """
    with open_lot(path, write=False) as opened:
        return kept.kept_versions(opened, kind, name)


def list_claims(path: Path, today: date, supplier: str | None = None) -> tuple[Claim, ...]:
    """Return the rejects, those whose time to return runs out first before the others.

    Parameters
    ----------
    supplier : str, optional
        Whose tubes; all of them by default.

    Raises
    ------
    CatalogError
        If the file cannot be read.
    """
    with open_lot(path, write=False) as opened:
        rejects = [
            tube
            for tube in list_tubes(opened)
            if tube.verdict is Verdict.REJECT and supplier in (None, tube.identity.supplier)
        ]
        texts = documents(opened, [result.key for tube in rejects for result in tube.results])
    claims = [_claim(tube, texts, today) for tube in rejects]
    return tuple(sorted(claims, key=lambda claim: (claim.days_left is None, claim.days_left or 0)))


def _claim(tube: StoredTube, kept_texts: dict[int, str], today: date) -> Claim:
    texts = [
        *(kept_texts[result.key] for result in tube.results),
        *(test.document for test in tube.hand_tests),
    ]
    reasons = [
        finding.evidence
        for text in texts
        for finding in findings_of_document(text)
        if finding.severity is Severity.REJECT
    ]
    if tube.overrule is not None:
        reasons.insert(0, f"{tube.overrule.reason} ({tube.overrule.person})")
    return_by = tube.identity.return_by
    return Claim(
        tube=tube.identity,
        reasons=tuple(dict.fromkeys(reasons)),
        cost=tube.identity.cost,
        days_left=None if return_by is None else (return_by - today).days,
    )
