"""Rejects to claim for, and tubes that came back, as plain values for JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from curvelab import __version__
from curvelab.catalog.records import Claim, FindingMark, TubeIdentity
from curvelab.catalog.retest import Change, Retest
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import finite, plain

__all__ = ["claims_document", "returned_document"]


def claims_document(claims: Sequence[Claim]) -> dict[str, Any]:
    """Return rejects with what is to be said to their suppliers, ``curvelab.claims/1``."""
    return {
        "schema": "curvelab.claims/1",
        "made_with": f"curvelab {__version__}",
        "claims": [_claim(item) for item in claims],
    }


def _claim(item: Claim) -> dict[str, Any]:
    tube = item.tube
    return {
        "serial": plain(tube.serial),
        "lot": plain(tube.lot),
        "type_on_label": _words(tube.type_label),
        "supplier": _words(tube.supplier),
        "cost": None if item.cost is None else str(item.cost),
        "return_by": None if tube.return_by is None else tube.return_by.isoformat(),
        "days_left": item.days_left,
        "reasons": [plain(reason) for reason in item.reasons],
    }


def returned_document(identity: TubeIdentity, retests: Sequence[Retest]) -> dict[str, Any]:
    """Return a tube now against what it was before, ``curvelab.returned/1``."""
    return {
        "schema": "curvelab.returned/1",
        "made_with": f"curvelab {__version__}",
        "tube": plain(identity.serial),
        "lot": plain(identity.lot),
        "sections": [_retest(item) for item in retests],
    }


def _retest(item: Retest) -> dict[str, Any]:
    distance = item.curve_distance
    return {
        "section": _words(item.section),
        "earlier_at": item.earlier_at.isoformat(),
        "later_at": item.later_at.isoformat(),
        "same_point": item.same_point,
        "same_bench": item.same_bench,
        "another_tube": item.another_tube,
        "curve_distance_pct": None if distance is None else finite(100 * distance),
        "changes": [_change(change) for change in item.changes],
        "new_findings": _marks(item.new_findings),
        "gone_findings": _marks(item.gone_findings),
    }


def _change(change: Change) -> dict[str, Any]:
    unit = dict(CONSTANT_QUANTITIES)[change.name].unit
    return {
        "constant": change.name.replace("_", " "),
        "earlier": finite(unit.from_si(change.earlier)),
        "later": finite(unit.from_si(change.later)),
        "unit": unit.symbol or "1",
        "change_pct": finite(100 * change.share),
        "normalised": None if change.normalised is None else finite(change.normalised),
    }


def _marks(marks: Iterable[FindingMark]) -> list[dict[str, str]]:
    return [{"code": mark.code, "severity": mark.severity} for mark in marks]


def _words(text: str | None) -> str | None:
    return None if text is None else plain(text)
