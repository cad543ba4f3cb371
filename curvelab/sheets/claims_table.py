"""The rejects of a lot as a table, for their suppliers."""

from __future__ import annotations

from collections.abc import Sequence

from curvelab.catalog.records import Claim
from curvelab.sheets.lot_tables import LotTable
from curvelab.sheets.text import plain

__all__ = ["claims_table"]

_HEADINGS = (
    "tube", "lot", "type", "supplier", "cost", "return by", "days left", "because",
)  # fmt: skip


def claims_table(claims: Sequence[Claim]) -> LotTable:
    """Return a row a reject, with what is to be said to its supplier."""
    return LotTable(
        "claims",
        _HEADINGS,
        tuple(
            (
                plain(claim.tube.serial),
                plain(claim.tube.lot),
                plain(claim.tube.type_label or ""),
                plain(claim.tube.supplier or ""),
                claim.cost,
                claim.tube.return_by,
                claim.days_left,
                plain(" ".join(claim.reasons)),
            )
            for claim in claims
        ),
    )
