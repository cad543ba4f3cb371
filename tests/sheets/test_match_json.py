"""Behaviour: matched sets and mates as machines read them."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from curvelab.matching import MatchRequest, match_tubes, rank_mates, what_if
from curvelab.matching.records import Measure
from curvelab.sheets.match_json import match_document, mate_document, what_if_document
from curvelab.sheets.results_json import results_text
from helpers.tubes_to_match import section, tube

REQUEST = MatchRequest(measures=(Measure.PLATE_CURRENT,))
LOT = [
    tube("A1", 9.0e-3), tube("A2", 9.09e-3), tube("B1", 11e-3), tube("B2", 12e-3),
    tube("C", excluded=("reject, gas: too much",)),
]  # fmt: skip


def test_a_result_is_what_the_keys_promise():
    document = json.loads(results_text(match_document(match_tubes(LOT, REQUEST))))
    (found,) = document["sets"]
    assert found["tubes"] == ["A1", "A2"]
    assert found["spare"] == []
    assert found["spread_pct"] == pytest.approx(100 * 0.09 / 9.045, rel=1e-5)
    assert found["of_tolerance"] == pytest.approx(0.199, abs=0.001)
    assert found["u95_pct"] == pytest.approx(0.707, abs=0.001)
    assert found["distinguishable"] is True
    assert found["locked"] is False
    assert document["left_over"] == ["B1", "B2"]
    assert [item["partner"]["tube"] for item in document["nearest"]] == ["B2", "B1"]
    assert document["nearest"][0]["free_partner"]["spread_pct"] == pytest.approx(100 / 11.5)
    assert document["excluded"] == [{"tube": "C", "reasons": ["reject, gas: too much"]}]
    assert (document["proven"], document["gap_pct"], document["most_sets"]) == (True, 0.0, 1)


def test_what_is_not_known_is_null():
    odd = tube("X", type_class="2A3")
    unknown = tube("U", sections=(section(9.0e-3, u95=None),))
    request = replace(REQUEST, locked=(("A1", "X"),))
    document = match_document(match_tubes([LOT[0], LOT[1], odd, unknown], request))
    locked, found = document["sets"]
    assert locked["locked"] is True
    assert locked["spread_pct"] is locked["distinguishable"] is None
    assert found["u95_pct"] is found["distinguishable"] is None
    assert found["spread_pct"] is not None
    results_text(document)


def test_a_gap_is_in_percent():
    result = replace(match_tubes(LOT, REQUEST), proven=False, gap=0.0123)
    document = match_document(result)
    assert (document["proven"], document["gap_pct"]) == (False, 1.23)


def test_a_ranking_has_the_nearest_first():
    document = mate_document(rank_mates(LOT[0], LOT, REQUEST))
    assert (document["tube"], document["by"]) == ("A1", ["plate current"])
    assert [mate["tube"] for mate in document["mates"]] == ["A2", "B1", "B2"]
    assert [mate["within_tolerance"] for mate in document["mates"]] == [True, False, False]
    assert document["excluded"] == [{"tube": "C", "reasons": ["reject, gas: too much"]}]


def test_what_if_counts_in_percent():
    assert what_if_document(what_if(LOT, REQUEST, (0.005, 0.09))) == [
        {"tolerance_pct": 0.5, "sets": 0, "proven": True},
        {"tolerance_pct": 9.0, "sets": 2, "proven": True},
    ]
