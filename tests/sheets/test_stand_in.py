"""Two types side by side (behaviour): what the table says came of each row."""

from __future__ import annotations

import pytest

from curvelab.workbench.stand_in import StandInQuestion, ask_stand_in


def outcomes(old: str, new: str) -> dict[str, str]:
    answer = ask_stand_in(StandInQuestion(old, new))
    assert answer is not None
    return {row.what: row.outcome for row in answer.rows}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("6SN7GT", "6SN7GTB", "same"),
        ("12AX7", "12AU7", "same"),
        ("6SN7GT", "12AU7", "less current"),
        ("12AU7", "6SN7GT", "more current"),
        ("2A3", "300B", "other voltage"),
    ],
)
def test_heaters_are_compared_in_words(old, new, said):
    assert outcomes(old, new)["heater"] == said


def test_every_row_says_what_came_of_it():
    found = outcomes("6SN7GT", "12AU7")
    assert found["grid plate capacitance"] == "lower"
    assert all(found.values())
