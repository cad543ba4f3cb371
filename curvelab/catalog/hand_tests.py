"""Hand tests and overruled verdicts of a tube: history, like everything measured."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from curvelab.catalog.lot_file import LotFile
from curvelab.catalog.records import HandTest, Overrule
from curvelab.catalog.rows import hand_test_columns, insert, overrule_columns
from curvelab.errors import CatalogError

__all__ = ["add_hand_test", "overrule_verdict", "take_back_hand_test", "take_back_overrule"]


def add_hand_test(lot_file: LotFile, tube_key: int, test: HandTest) -> None:
    """Add a hand test to the history of a tube.

    Raises
    ------
    CatalogError
        If the file cannot be changed, or holds no such tube.
    """
    with lot_file.changing() as connection:
        insert(connection, "hand_test", {"tube_id": tube_key, **hand_test_columns(test)})


def overrule_verdict(lot_file: LotFile, tube_key: int, overrule: Overrule) -> None:
    """Set a verdict in place of the measured one, until the tube is tested again.

    Parameters
    ----------
    overrule : Overrule
        Its counts of evidence are taken from the file, whatever they say.

    Raises
    ------
    ValueError
        If no reason or no person is named.
    CatalogError
        If the file cannot be changed, or holds no such tube.
    """
    if not overrule.reason.strip() or not overrule.person.strip():
        raise ValueError("a verdict is overruled by a person, for a reason")
    with lot_file.changing() as connection:
        counted = connection.execute(
            "SELECT (SELECT count(*) FROM characterisation c "
            "JOIN measurement m ON m.id = c.measurement_id WHERE m.tube_id = ?) AS judged, "
            "(SELECT count(*) FROM hand_test WHERE tube_id = ?) AS by_hand",
            (tube_key, tube_key),
        ).fetchone()
        seen = replace(overrule, characterisations=counted["judged"], hand_tests=counted["by_hand"])
        insert(connection, "overrule", {"tube_id": tube_key, **overrule_columns(seen)})


def take_back_hand_test(lot_file: LotFile, tube_key: int, made_at: datetime) -> None:
    """Remove the newest hand test of a tube, where a person undoes having entered it.

    Raises
    ------
    CatalogError
        If the newest was made at another time, or the file cannot be changed.
    """
    _take_back(lot_file, "hand_test", tube_key, made_at)


def take_back_overrule(lot_file: LotFile, tube_key: int, made_at: datetime) -> None:
    """Remove the newest overruling of a tube, where a person undoes it; the one before holds.

    Raises
    ------
    CatalogError
        If the newest was made at another time, or the file cannot be changed.
    """
    _take_back(lot_file, "overrule", tube_key, made_at)


def _take_back(lot_file: LotFile, table: str, tube_key: int, made_at: datetime) -> None:
    assert table in {"hand_test", "overrule"}
    with lot_file.changing() as connection:
        row = connection.execute(
            f"SELECT max(id) AS id, made_at FROM {table} WHERE tube_id = ?", (tube_key,)
        ).fetchone()
        if row["made_at"] != made_at.isoformat():
            raise CatalogError(
                str(lot_file.path),
                "it cannot be taken back: another one has been entered for this tube since",
            )
        connection.execute(f"DELETE FROM {table} WHERE id = ?", (row["id"],))
