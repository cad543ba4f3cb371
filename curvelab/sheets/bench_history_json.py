"""How a bench repeats itself and agrees, as plain values, schema ``curvelab.bench-history/1``."""

from __future__ import annotations

from typing import Any

from curvelab import __version__
from curvelab.bench_check.agreement import Agreement
from curvelab.bench_check.history import BenchHistory
from curvelab.bench_check.records import CHECKED
from curvelab.bench_check.repeatability import Repeatability
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import finite, plain

__all__ = ["bench_history_document"]

_NOTHING = dict.fromkeys(
    ("within_pct", "within_freedom", "between_pct", "between_freedom", "total_pct")
)


def bench_history_document(history: BenchHistory) -> dict[str, Any]:
    """Return what a history says of a bench."""
    return {
        "schema": "curvelab.bench-history/1",
        "made_with": f"curvelab {__version__}",
        "bench": plain(history.bench),
        "against": None if history.against is None else plain(history.against),
        "repeats": [
            {
                "tube": plain(row.tube),
                "quantity": CHECKED[row.quantity],
                "days": row.days,
                "readings": row.readings,
                **_repeats_entry(row.found),
                "why_not": row.why_not or None,
            }
            for row in history.repeats
        ],
        "scatter": [
            {
                "quantity": CHECKED[row.quantity],
                "sigma_pct": finite(100 * row.sigma),
                "firm": row.firm,
            }
            for row in history.scatter
        ],
        "agreements": [_agreement_entry(item) for item in history.agreements],
    }


def _repeats_entry(found: Repeatability | None) -> dict[str, Any]:
    """Return how well a tube repeats itself; every key is null where that is not known."""
    if found is None:
        return dict(_NOTHING)
    return {
        "within_pct": finite(100 * found.within),
        "within_freedom": found.within_freedom,
        "between_pct": finite(100 * found.between),
        "between_freedom": found.between_freedom,
        "total_pct": finite(100 * found.total),
    }


def _agreement_entry(item: Agreement) -> dict[str, Any]:
    """Return two readings of a golden tube in the units of the trade, with their E_n."""
    unit = dict(CONSTANT_QUANTITIES)[item.quantity].unit
    return {
        "tube": plain(item.tube),
        "quantity": CHECKED[item.quantity],
        "unit": unit.symbol,
        "newest": finite(unit.from_si(item.first)),
        "newest_u95": finite(unit.from_si(item.first_u95)),
        "other": finite(unit.from_si(item.second)),
        "other_u95": finite(unit.from_si(item.second_u95)),
        "en": finite(item.en),
        "agree": item.agree,
        "remark": item.remark,
    }
