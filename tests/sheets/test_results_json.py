"""Behaviour: the results document keeps its contract, key by key and type by type."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

import numpy as np
import pytest

from curvelab import __version__
from curvelab.assessment.records import Prediction
from curvelab.fitting.records import Constant, Constants, Outcome
from curvelab.health.records import DriftBehaviour, DriftReport
from curvelab.sheets.results_json import results_document, results_text
from curvelab.sweep.records import Conditions, SetAside
from helpers.assessments import (
    SIX_FINDINGS,
    drifting,
    gassy,
    healthy,
    make_sweep,
    without_constants,
)


@dataclass(frozen=True)
class Failed:
    file: str
    reason: str


def strict(text: str):
    """Read JSON as a strict reader does: NaN and Infinity are errors."""

    def refuse(name: str):
        raise AssertionError(f"{name} is not JSON")

    return json.loads(text, parse_constant=refuse)


@pytest.fixture
def document():
    lot = [healthy(), gassy(), without_constants(), drifting()]
    aside = [SetAside("B02.csv", 17, "oops,,", "a cell is not a number")]
    return strict(results_text(results_document(lot, aside, [Failed("x.csv", "is empty")])))


NUMBER = (int, float)
TUBE = {
    "tube": str,
    "section": (str, None),
    "type": (str, None),
    "type_on_label": (str, None),
    "reference": dict,
    "source": dict,
    "bench": dict,
    "conditions": dict,
    "operating_point": dict,
    "constants": dict,
    "local": dict,
    "law": dict,
    "family_deviation_pct": (NUMBER, None),
    "predictions": list,
    "findings": list,
    "verdict": str,
    "drift": (dict, None),
}
PARTS = {
    "reference": {"type": (str, None), "why": (str, None), "family_residual_pct": dict},
    "source": {
        "file": str,
        "sha256": str,
        "rows_read": int,
        "rows_set_aside": int,
        "remarks": list,
    },
    "bench": {"name": str, "assumed": bool},
    "operating_point": {
        "plate_v": (NUMBER, None),
        "grid_v": (NUMBER, None),
        "screen_v": (NUMBER, None),
        "origin": (str, None),
    },
    "local": {"gm_ms": (NUMBER, None), "rp_ohm": (NUMBER, None), "mu": (NUMBER, None)},
    "law": {
        "name": (str, None),
        "parameters": dict,
        "corrected": bool,
        "rms_residual_ma": (NUMBER, None),
        "points_used": int,
        "points_total": int,
    },
}
CONSTANT = {
    "value": (NUMBER, None),
    "u95": (NUMBER, None),
    "of_bogey_pct": (NUMBER, None),
    "outcome": str,
    "reason": (str, None),
}
PREDICTION = {
    "plate_v": NUMBER,
    "grid_v": NUMBER,
    "screen_v": (NUMBER, None),
    "plate_ma": (NUMBER, None),
    "extrapolated": bool,
}
FINDING = {
    "code": str,
    "severity": str,
    "value": (NUMBER, None),
    "u95": (NUMBER, None),
    "unit": (str, None),
    "limit": (NUMBER, None),
    "limit_source": (str, None),
    "rows": list,
    "evidence": str,
}
DRIFT = {
    "behaviour": str,
    "slope_pct_per_min": NUMBER,
    "final_pct": NUMBER,
    "seconds_to_limit": (NUMBER, None),
}


def check(shape: dict, value: dict) -> None:
    assert list(value) == list(shape)
    for key, kind in shape.items():
        kinds = kind if isinstance(kind, tuple) else (kind,)
        flat = [k for item in kinds for k in (item if isinstance(item, tuple) else (item,))]
        if value[key] is None:
            assert None in flat, f"{key} may not be null"
        else:
            assert isinstance(value[key], tuple(k for k in flat if k)), key
            assert bool in flat or not isinstance(value[key], bool), key


def test_every_key_and_type_of_the_contract(document):
    assert list(document) == ["schema", "made_with", "tubes", "set_aside", "errors"]
    assert document["schema"] == "curvelab.characteristics/1"
    assert document["made_with"] == f"curvelab {__version__}"
    for tube in document["tubes"]:
        check(TUBE, tube)
        for key, shape in PARTS.items():
            check(shape, tube[key])
        assert list(tube["constants"]) == ["plate_ma", "gm_ms", "rp_ohm", "mu"]
        for constant in tube["constants"].values():
            check(CONSTANT, constant)
        for prediction in tube["predictions"]:
            check(PREDICTION, prediction)
        for finding in tube["findings"]:
            check(FINDING, finding)
        if tube["drift"] is not None:
            check(DRIFT, tube["drift"])


def test_units_are_those_the_keys_name(document):
    tube = document["tubes"][0]
    values = {key: item["value"] for key, item in tube["constants"].items()}
    assert values == {"plate_ma": 1.24, "gm_ms": 1.63, "rp_ohm": 61200.0, "mu": 99.8}
    assert tube["constants"]["plate_ma"]["u95"] == 0.012
    assert tube["constants"]["plate_ma"]["of_bogey_pct"] == 103.3
    assert tube["family_deviation_pct"] == 4.2
    assert tube["reference"] == {
        "type": "12AX7",
        "why": "alias",
        "family_residual_pct": {"250 V, -2 V: gm": 3.4, "250 V, -2 V: Ip": -0.4},
    }
    assert tube["law"]["rms_residual_ma"] == 0.004
    assert tube["predictions"][0]["plate_ma"] == 0.61
    assert tube["conditions"]["warm_up_s"] == 600.0


def test_a_missing_constant_is_an_object_with_outcome_and_reason(document):
    missing = document["tubes"][2]["constants"]["mu"]
    assert missing == {
        "value": None,
        "u95": None,
        "of_bogey_pct": None,
        "outcome": "ill-conditioned",
        "reason": "The grid voltage never changed.",
    }


def test_rows_are_positions_counted_from_nought(document):
    findings = document["tubes"][1]["findings"]
    assert [finding["rows"] for finding in findings] == [
        list(finding.readings) for finding in SIX_FINDINGS
    ]
    assert findings[0]["code"] == "gas"
    assert findings[0]["unit"] == "uA"


def test_counts_trace_to_the_readings(document):
    law, source = document["tubes"][1]["law"], document["tubes"][1]["source"]
    assert (law["points_used"], law["points_total"]) == (158, 160)
    assert (source["rows_read"], source["rows_set_aside"]) == (160, 1)


def test_what_was_set_aside_and_what_failed(document):
    assert document["set_aside"] == [
        {"file": "B02.csv", "line": 17, "reason": "a cell is not a number", "text": "oops,,"}
    ]
    assert document["errors"] == [{"file": "x.csv", "reason": "is empty"}]


def test_drift_of_a_log(document):
    log = document["tubes"][3]
    assert log["drift"] == {
        "behaviour": "runs away",
        "slope_pct_per_min": 6.1,
        "final_pct": 21.0,
        "seconds_to_limit": 140.0,
    }
    assert document["tubes"][0]["drift"] is None


def test_not_a_number_becomes_null_and_never_reaches_the_text():
    poor = Constants(
        Constant(float("nan"), 1.0, Outcome.UNPHYSICAL, "the fit ran off"),
        Constant(float("inf"), float("nan"), Outcome.UNPHYSICAL, "the fit ran off"),
        Constant(1e3, float("inf")),
        Constant(10.0, None),
    )
    report = DriftReport(
        DriftBehaviour.DRIFTS, float("nan"), float("-inf"), float("inf"), None, "creep"
    )
    one = healthy(
        constants=poor,
        local=poor,
        drift=report,
        predictions=(Prediction(300.0, -3.0, None, float("nan"), True),),
        findings=(replace(SIX_FINDINGS[0], value=np.nan, u95=np.inf, limit=-np.inf),),
    )
    tube = strict(results_text(results_document([one], [], [])))["tubes"][0]
    assert tube["constants"]["plate_ma"]["value"] is None
    assert tube["constants"]["gm_ms"]["u95"] is None
    assert tube["constants"]["rp_ohm"] == {
        "value": 1000.0,
        "u95": None,
        "of_bogey_pct": 97.9,
        "outcome": "good",
        "reason": None,
    }
    assert tube["predictions"][0]["plate_ma"] is None
    assert tube["findings"][0]["value"] is None
    assert tube["drift"]["seconds_to_limit"] is None


def test_text_that_no_file_can_hold_is_made_printable():
    sweep = make_sweep("A\udcff\x00B", conditions=Conditions(shorts="g-k\x07"))
    text = results_text(results_document([healthy(sweep=sweep)], [], []))
    tube = strict(text.encode("utf-8").decode("utf-8"))["tubes"][0]
    assert tube["tube"] == "A\ufffd B"
    assert tube["conditions"]["shorts"] == "g-k "


def test_a_number_that_is_not_finite_is_refused_by_the_writer():
    with pytest.raises(ValueError, match="JSON"):
        results_text({"x": float("nan")})
