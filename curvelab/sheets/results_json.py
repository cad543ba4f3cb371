"""The machine-readable results, schema ``curvelab.characteristics/1``."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Iterable, Mapping
from typing import Any, Protocol

from curvelab import __version__
from curvelab.assessment.records import Assessment, OperatingPoint, Prediction
from curvelab.fitting.records import Constant, Constants, FitResult
from curvelab.health.records import DriftReport, Finding
from curvelab.quantities import MILLIAMPERE, MILLIAMPERE_PER_VOLT, OHM, UNITY, Unit
from curvelab.sheets.reference_used import judged_type, reference_used
from curvelab.sheets.text import plain
from curvelab.sweep.records import Conditions, SetAside

__all__ = [
    "CONDITION_KEYS",
    "CONDITION_WORDS",
    "CONSTANT_KEYS",
    "SCHEMA",
    "FailedFile",
    "conditions_entry",
    "constants_entry",
    "finding_entry",
    "number",
    "operating_point_entry",
    "result_entry",
    "results_document",
    "results_text",
]

SCHEMA = "curvelab.characteristics/1"
CONSTANT_KEYS: tuple[tuple[str, str, Unit], ...] = (
    ("plate_ma", "plate_current", MILLIAMPERE),
    ("gm_ms", "transconductance", MILLIAMPERE_PER_VOLT),
    ("rp_ohm", "plate_resistance", OHM),
    ("mu", "amplification_factor", UNITY),
)
CONDITION_KEYS: tuple[tuple[str, str, float], ...] = (
    ("screen_v", "screen_voltage", 1.0),
    ("heater_v", "heater_voltage", 1.0),
    ("heater_a", "heater_current", 1.0),
    ("warm_up_s", "warm_up", 1.0),
    ("plate_resistor_ohm", "plate_resistor", 1.0),
    ("cathode_resistor_ohm", "cathode_resistor", 1.0),
    ("grid_resistor_ohm", "grid_resistor", 1.0),
    ("heater_cathode_leakage_ua", "heater_cathode_leakage", 1e-6),
    ("heater_cathode_v", "heater_cathode_voltage", 1.0),
)
CONDITION_WORDS = ("connection", "filament", "filament_return", "shorts", "tap_test")
_DIGITS = 10  # enough for any meter, and free of the dust of unit changes


class FailedFile(Protocol):
    """A file that could not be read at all."""

    @property
    def file(self) -> str:
        """The file as the user named it."""
        ...

    @property
    def reason(self) -> str:
        """Why, in one plain sentence."""
        ...


def results_document(
    assessments: Iterable[Assessment],
    set_aside: Iterable[SetAside],
    errors: Iterable[FailedFile],
) -> dict[str, Any]:
    """Return the results of a batch as plain values, in the units the keys name."""
    return {
        "schema": SCHEMA,
        "made_with": f"curvelab {__version__}",
        "tubes": [result_entry(assessment) for assessment in assessments],
        "set_aside": [
            {
                "file": plain(item.file),
                "line": item.line,
                "reason": plain(item.reason),
                "text": plain(item.text),
            }
            for item in set_aside
        ],
        "errors": [{"file": plain(item.file), "reason": plain(item.reason)} for item in errors],
    }


def results_text(document: Mapping[str, Any]) -> str:
    """Return a results document as strict JSON: no NaN, no infinity.

    Raises
    ------
    ValueError
        If a number is not finite, which the document never holds by itself.
    """
    text = io.StringIO()  # piece by piece: a list of all pieces of a large lot outweighs its tubes
    json.dump(document, text, allow_nan=False, ensure_ascii=False, indent=2)
    text.write("\n")
    return text.getvalue()


def result_entry(assessment: Assessment) -> dict[str, Any]:
    """Return the results of one tube or section, an element of ``tubes``."""
    sweep, comparison = assessment.sweep, assessment.comparison
    deviation = comparison.family_deviation if comparison else None
    return {
        "tube": plain(sweep.tube),
        "section": _words(sweep.section),
        "type": _words(judged_type(assessment)),
        "type_on_label": _words(sweep.type_label),
        "reference": _reference(assessment),
        "source": _source(assessment),
        "bench": {"name": plain(assessment.bench.name), "assumed": assessment.bench.assumed},
        "conditions": conditions_entry(sweep.conditions),
        "operating_point": operating_point_entry(assessment.operating_point),
        "constants": constants_entry(
            assessment.constants, comparison.of_bogey if comparison else {}
        ),
        "local": {
            key: number(getattr(assessment.local, name).value, unit.si)
            for key, name, unit in CONSTANT_KEYS[1:]
        },
        "law": _law(assessment.fit),
        "family_deviation_pct": number(deviation, 0.01),
        "predictions": [_prediction(item) for item in assessment.predictions],
        "findings": [finding_entry(item) for item in assessment.findings],
        "verdict": assessment.verdict.value,
        "drift": _drift(assessment.drift),
    }


def number(value: float | None, unit: float = 1.0) -> float | None:
    """Return ``value`` [SI] counted in ``unit``, or None where it is not a finite number.

    Ten figures are kept, so that a value read back and written again stays the same.
    """
    if value is None:
        return None
    shown = float(value) / unit
    return float(f"{shown:.{_DIGITS}g}") if math.isfinite(shown) else None


def _words(text: str | None) -> str | None:
    return None if text is None else plain(text)


def _reference(assessment: Assessment) -> dict[str, Any]:
    used = reference_used(assessment)
    if used is None:
        return {"type": None, "why": None, "family_residual_pct": {}}
    residual = {plain(label): number(value, 0.01) for label, value in used.residual.items()}
    return {"type": used.type_name, "why": used.why, "family_residual_pct": residual}


def _source(assessment: Assessment) -> dict[str, Any]:
    sweep = assessment.sweep
    return {
        "file": plain(sweep.source.name),
        "sha256": sweep.source.sha256,
        "rows_read": len(sweep.readings),
        "rows_set_aside": len(sweep.set_aside),
        "remarks": [
            *(plain(remark.text) for remark in sweep.remarks),
            *map(plain, assessment.notes),
        ],
    }


def conditions_entry(conditions: Conditions) -> dict[str, Any]:
    """Return what is known of how a tube was connected and run."""
    words = {name: _words(getattr(conditions, name)) for name in CONDITION_WORDS}
    numbers = {key: number(getattr(conditions, name), si) for key, name, si in CONDITION_KEYS}
    return {**words, **numbers}


def operating_point_entry(point: OperatingPoint | None) -> dict[str, Any]:
    """Return where the constants were taken."""
    if point is None:
        return {"plate_v": None, "grid_v": None, "screen_v": None, "origin": None}
    return {
        "plate_v": number(point.plate_voltage),
        "grid_v": number(point.grid_voltage),
        "screen_v": number(point.screen_voltage),
        "origin": point.origin,
    }


def constants_entry(constants: Constants, of_bogey: Mapping[str, float]) -> dict[str, Any]:
    """Return the constants, each with its share of the reference family's."""
    result = {}
    for key, name, unit in CONSTANT_KEYS:
        constant: Constant = getattr(constants, name)
        value = number(constant.value, unit.si)
        result[key] = {
            "value": value,
            "u95": None if value is None else number(constant.u95, unit.si),
            "of_bogey_pct": None if value is None else number(of_bogey.get(name), 0.01),
            "outcome": constant.outcome.value,
            "reason": _words(constant.reason),
        }
    return result


def _law(fit: FitResult) -> dict[str, Any]:
    law = fit.law
    return {
        "name": None if law is None else law.name,
        "parameters": {} if law is None else {k: number(v) for k, v in law.parameters.items()},
        "corrected": fit.corrected,
        "rms_residual_ma": number(fit.rms, MILLIAMPERE.si),
        "points_used": int(fit.used.sum()),
        "points_total": int(fit.used.size),
    }


def _prediction(item: Prediction) -> dict[str, Any]:
    return {
        "plate_v": number(item.plate_voltage),
        "grid_v": number(item.grid_voltage),
        "screen_v": number(item.screen_voltage),
        "plate_ma": number(item.plate_current, MILLIAMPERE.si),
        "extrapolated": bool(item.extrapolated),
    }


def finding_entry(finding: Finding) -> dict[str, Any]:
    """Return one finding, an element of ``findings``."""
    return {
        "code": finding.code.value,
        "severity": finding.severity.value,
        "value": number(finding.value),
        "u95": number(finding.u95),
        "unit": finding.unit,
        "limit": number(finding.limit),
        "limit_source": _words(finding.limit_source),
        "rows": [int(position) for position in finding.readings],
        "evidence": plain(finding.evidence),
    }


def _drift(report: DriftReport | None) -> dict[str, Any] | None:
    if report is None:
        return None
    return {
        "behaviour": report.behaviour.value,
        "slope_pct_per_min": number(report.slope_per_minute, 0.01),
        "final_pct": number(report.final, 0.01),
        "seconds_to_limit": number(report.seconds_to_limit),
    }
