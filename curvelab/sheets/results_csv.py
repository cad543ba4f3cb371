"""The lot as a table: one row a tube, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from itertools import repeat
from typing import Any

from curvelab.assessment.records import Assessment
from curvelab.catalog.records import Overrule
from curvelab.sheets.results_json import result_entry
from curvelab.sheets.text import plain

__all__ = ["results_csv", "safe_cell"]

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")

Path = tuple[str, ...]
# Heading, and where the cell stands in a tube of the results document.
_COLUMNS: tuple[tuple[str, Path], ...] = (
    ("tube", ("tube",)),
    ("section", ("section",)),
    ("verdict", ("verdict",)),
    ("type", ("type",)),
    ("type on label", ("type_on_label",)),
    ("compared with", ("reference", "type")),
    ("why", ("reference", "why")),
    ("Vp (V)", ("operating_point", "plate_v")),
    ("Vg (V)", ("operating_point", "grid_v")),
    ("Vs (V)", ("operating_point", "screen_v")),
    ("point from", ("operating_point", "origin")),
    *(
        (f"{symbol} {heading}".strip(), ("constants", key, part))
        for symbol, unit, key in (
            ("Ip", "(mA)", "plate_ma"),
            ("gm", "(mA/V)", "gm_ms"),
            ("rp", "(ohm)", "rp_ohm"),
            ("mu", "", "mu"),
        )
        for heading, part in (
            (unit, "value"),
            (f"u95 {unit}".strip(), "u95"),
            ("of bogey (%)", "of_bogey_pct"),
            ("outcome", "outcome"),
        )
    ),
    ("RMS from family (%)", ("family_deviation_pct",)),
    ("law", ("law", "name")),
    ("RMS residual (mA)", ("law", "rms_residual_ma")),
    ("readings used", ("law", "points_used")),
    ("readings", ("law", "points_total")),
    ("rows set aside", ("source", "rows_set_aside")),
    ("drift", ("drift", "behaviour")),
    ("slope (%/min)", ("drift", "slope_pct_per_min")),
    ("projection (%)", ("drift", "final_pct")),
    ("time to limit (s)", ("drift", "seconds_to_limit")),
    ("findings", ("findings",)),
    ("bench", ("bench", "name")),
    ("bench assumed", ("bench", "assumed")),
    ("file", ("source", "file")),
    ("SHA-256", ("source", "sha256")),
)


_OVERRULED = ("verdict set by a person", "set by", "reason", "set on")


def results_csv(
    assessments: Iterable[Assessment], overrules: Sequence[Overrule | None] | None = None
) -> str:
    """Return the results of a batch as CSV text with a heading row.

    A text cell that a spreadsheet could take for a formula begins with an apostrophe;
    numbers stay numbers, and what cannot be had is an empty cell beside its outcome. With
    ``overrules``, one for each assessment, what persons set follows in columns at the end;
    the column of the verdict stays the measured one.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    more = () if overrules is None else _OVERRULED
    writer.writerow([*(heading for heading, _ in _COLUMNS), *more])
    for assessment, set_by in zip(assessments, overrules or repeat(None), strict=bool(overrules)):
        tube = result_entry(assessment)
        cells = [_cell(tube, path) for _, path in _COLUMNS]
        writer.writerow([*cells, *(_overruled(set_by) if more else ())])
    return stream.getvalue()


def _overruled(overrule: Overrule | None) -> tuple[str, ...]:
    if overrule is None:
        return ("",) * len(_OVERRULED)
    words = (overrule.verdict.value, overrule.person, overrule.reason)
    return (*(safe_cell(plain(text)) for text in words), overrule.made_at.date().isoformat())


def _cell(tube: Mapping[str, Any], path: Path) -> str | float:
    value: Any = tube
    for key in path:
        value = None if value is None else value[key]
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        told = (f"{item['severity']} {item['code']}: {item['evidence']}" for item in value)
        value = "; ".join(told)
    return safe_cell(value) if isinstance(value, str) else value


def safe_cell(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text
