"""Behaviour: what a batch says on a terminal."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curvelab.cli.lot_text import lot_text
from curvelab.workbench.characterize import Batch
from helpers.assessments import drifting, gassy, healthy, without_constants


def text_of(*assessments, width: int = 160) -> str:
    return lot_text(Batch(assessments, (), ()), width)


def one_line(text: str) -> str:
    return " ".join(text.split())


def row_of(text: str, name: str) -> str:
    return next(line for line in text.splitlines() if line.startswith(name))


def test_a_row_has_tube_type_point_constants_and_verdict():
    row = row_of(text_of(healthy()), "A17")
    for shown in ("A17 section 1", "12AX7", "250, -2", "1.240 ± 0.012 103 %", "accept"):
        assert shown in row


def test_findings_come_worst_first_with_value_limit_and_source():
    text = one_line(text_of(gassy()))
    assert text.index("reject, gas:") < text.index("caution, weak-emission:")
    assert text.index("caution, contact:") < text.index("note, short-warm-up:")
    assert "[6.20 ± 0.40 µA, limit 1 µA (Invented sheet, first edition)]" in text


def test_a_missing_constant_is_never_a_number_and_has_its_reason():
    text = text_of(without_constants())
    assert "-  " in row_of(text, "C3")
    assert "no Ip, gm: not covered by the sweep: One grid curve gives no transconductance." in text
    assert "no mu: ill-conditioned: The grid voltage never changed." in text


def test_a_reason_that_a_finding_gives_is_not_given_twice():
    tube = without_constants()
    reason = tube.constants.plate_current.reason
    (finding,) = tube.findings
    tube = replace(tube, findings=(replace(finding, evidence=f"No Ip can be given: {reason}"),))
    assert one_line(text_of(tube)).count(reason) == 1


def test_a_drift_log_says_what_it_does_and_the_time_left():
    text = one_line(text_of(drifting()))
    assert "behaviour runs away" in text
    assert "140 s" in text
    assert "no Ip" not in text


def test_predictions_have_a_table_of_their_own():
    assert "300     -3      0.6100" in text_of(healthy())


def test_cautions_close_the_text_whatever_the_tubes():
    assert "Lethal voltage" in text_of(healthy())


def test_without_a_tube_the_text_says_so():
    assert lot_text(Batch((), (), ()), 80) == "No tube could be read.\n"


@pytest.mark.parametrize("width", [80, 100, 120, 200])
def test_lines_keep_the_width(width):
    text = text_of(healthy(), gassy(), without_constants(), drifting(), width=width)
    assert max(map(len, text.splitlines())) <= width
