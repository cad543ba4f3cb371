"""A bench check as plain values for JSON, schema ``curvelab.bench-check/1``."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from curvelab import __version__
from curvelab.bench_check.agreement import Agreement
from curvelab.bench_check.chart import ControlChart
from curvelab.bench_check.empty_socket import EmptySocketCheck
from curvelab.bench_check.golden import GoldenCheck, QuantityCheck, TubeChart
from curvelab.bench_check.records import Estimate
from curvelab.bench_check.resistor import ResistorCheck
from curvelab.bench_check.verdict import BenchCheck
from curvelab.quantities import MICROAMPERE, MILLIAMPERE, MILLIAMPERE_PER_VOLT, Unit
from curvelab.sheets.bench_records import correction_record, reading_record
from curvelab.sheets.text import finite, plain

__all__ = ["agreement_records", "bench_check_document"]

_UNITS = {"plate_current": MILLIAMPERE, "transconductance": MILLIAMPERE_PER_VOLT}
_KEYS = {"plate_current": "plate_ma", "transconductance": "gm_ms"}
_UNITY = Unit("", 1.0)
_PERCENT = Unit("%", 0.01)


def bench_check_document(check: BenchCheck) -> dict[str, Any]:
    """Return a bench check as plain values."""
    return {
        "schema": "curvelab.bench-check/1",
        "made_with": f"curvelab {__version__}",
        "bench": plain(check.bench),
        "date": check.date,
        "standing": check.standing.value,
        "trusted": check.trusted,
        "sentences": [plain(sentence) for sentence in check.sentences],
        "golden": None if check.golden is None else _golden(check.golden),
        "resistor": None if check.resistor is None else _resistor(check.resistor),
        "empty_socket": None if check.empty_socket is None else _empty(check.empty_socket),
        "suggestions": [correction_record(item) for item in check.suggestions],
    }


def agreement_records(agreements: Sequence[Agreement]) -> list[dict[str, Any]]:
    """Return comparisons of two benches or dates as plain values."""
    return [
        {
            "tube": plain(item.tube),
            "quantity": _KEYS[item.quantity],
            "first": _pair(item.first, item.first_u95, _UNITS[item.quantity]),
            "second": _pair(item.second, item.second_u95, _UNITS[item.quantity]),
            "en": finite(item.en),
            "agree": item.agree,
            "remark": item.remark,
        }
        for item in agreements
    ]


def _golden(golden: GoldenCheck) -> dict[str, Any]:
    return {
        "cause": None if golden.cause is None else golden.cause.value,
        "moved_tubes": [plain(tube) for tube in golden.tubes],
        "readings": [reading_record(reading) for reading in golden.readings],
        "quantities": [_quantity(item) for item in golden.quantities],
    }


def _quantity(item: QuantityCheck) -> dict[str, Any]:
    moved = item.moved
    return {
        "quantity": _KEYS[item.quantity],
        "scatter_pct": finite(_PERCENT.from_si(item.sigma)),
        "scatter_firm": item.firm,
        "cause": None if moved is None else moved.cause.value,
        "possible": [] if moved is None else [plain(words) for words in moved.possible],
        "bench_shift_pct": None if moved is None else 100 * math.expm1(moved.bench_amount),
        "bench_shift_u95_pct": None if moved is None else 200 * moved.bench_sigma,
        "tubes": [_tube(chart) for chart in item.charts],
    }


def _tube(item: TubeChart) -> dict[str, Any]:
    return {
        "tube": plain(item.tube),
        "sessions": item.sessions,
        "shift_pct": None if item.shift is None else 100 * item.shift,
        "chart": None if item.chart is None else _chart(item.chart, _UNITS[item.quantity]),
    }


def _chart(chart: ControlChart, unit: Unit) -> dict[str, Any]:
    return {
        "unit": unit.symbol,
        "values": [unit.from_si(value) for value in chart.values],
        "baseline": chart.baseline,
        "centre": unit.from_si(chart.centre),
        "lower": unit.from_si(chart.lower),
        "upper": unit.from_si(chart.upper),
        "mean_range": unit.from_si(chart.mean_range),
        "range_upper": unit.from_si(chart.range_upper),
        "signals": [{"position": signal.position, "rule": signal.rule} for signal in chart.signals],
    }


def _resistor(check: ResistorCheck) -> dict[str, Any]:
    return {
        "resistance_ohm": check.standard.resistance,
        "tolerance_pct": _PERCENT.from_si(check.standard.tolerance),
        "rated_w": check.standard.rated_power,
        "outcome": check.outcome.value,
        "gain": _estimate(check.gain, _UNITY),
        "offset_ua": _estimate(check.offset, MICROAMPERE),
        "bend_pct": _estimate(check.bend, _PERCENT),
        "scatter_ua": None if check.scatter is None else MICROAMPERE.from_si(check.scatter),
        "readings_used": check.used,
        "readings_left_out": check.left_out,
        "highest_w": finite(check.highest_power),
    }


def _empty(check: EmptySocketCheck) -> dict[str, Any]:
    return {
        "clean": check.clean,
        "highest_plate_v": finite(check.highest_voltage),
        "plate_zero_ua": _estimate(check.plate_zero, MICROAMPERE),
        "plate_leads_ua_per_v": _estimate(check.plate_leads, MICROAMPERE),
        "grid_zero_ua": _estimate(check.grid_zero, MICROAMPERE),
        "grid_leads_ua_per_v": _estimate(check.grid_leads, MICROAMPERE),
    }


def _estimate(item: Estimate | None, unit: Unit) -> dict[str, float | None] | None:
    return None if item is None else _pair(item.value, item.u95, unit)


def _pair(value: float, u95: float, unit: Unit) -> dict[str, float | None]:
    return {"value": finite(unit.from_si(value)), "u95": finite(unit.from_si(u95))}
