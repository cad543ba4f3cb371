"""Identity and behaviour: wrapping, spreading and cutting, each against its definition."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from curvelab.drawing.clipping import inside_runs
from curvelab.drawing.labels import spread
from curvelab.drawing.wrapping import wrap

WORDS = st.lists(st.text(alphabet="abcdef", min_size=1, max_size=12), min_size=1, max_size=12)


@given(WORDS, st.integers(1, 20))
def test_no_line_is_too_wide_and_no_letter_is_lost(words, width):
    text = " ".join(words)
    lines = wrap(text, width, len)
    assert all(len(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(words)


@given(WORDS, st.integers(12, 30))
def test_words_that_fit_are_never_broken(words, width):
    lines = wrap(" ".join(words), width, len)
    assert [word for line in lines for word in line.split()] == words


def test_one_short_line_stays_as_it_is():
    assert wrap("plate current", 20, len) == ["plate current"]
    assert wrap("", 20, len) == [""]


@given(st.lists(st.floats(0, 100), min_size=1, max_size=8))
def test_labels_stand_apart_inside_in_order(wanted):
    placed = spread(sorted(wanted), 9.0, 0.0, 100.0)
    assert all(b - a >= 9.0 - 1e-9 for a, b in pairwise(placed))
    assert placed[0] >= 0.0
    assert placed[-1] <= 100.0 + 1e-9


def test_labels_with_room_stay_where_they_are():
    assert spread([10.0, 30.0, 60.0], 9.0, 0.0, 100.0) == [10.0, 30.0, 60.0]


def test_two_labels_that_touch_move_equally():
    assert spread([50.0, 52.0], 8.0, 0.0, 100.0) == [47.0, 55.0]


def test_a_line_is_cut_at_the_edge_it_crosses():
    ((x, y),) = inside_runs(np.array([0.0, 10.0]), np.array([0.0, 20.0]), (0, 10), (0, 10))
    np.testing.assert_allclose(x, [0.0, 5.0])
    np.testing.assert_allclose(y, [0.0, 10.0])


def test_a_line_that_leaves_and_returns_is_two_runs():
    x = np.linspace(0, 4, 5)
    runs = inside_runs(x, np.array([0.0, 2.0, 0.0, 2.0, 0.0]), (0, 4), (-1, 1))
    assert [(run[0][0], run[0][-1]) for run in runs] == [(0.0, 0.5), (1.5, 2.5), (3.5, 4.0)]


def test_a_line_outside_is_no_run():
    assert inside_runs(np.array([0.0, 1.0]), np.array([5.0, 6.0]), (0, 1), (0, 1)) == []


@given(st.lists(st.floats(-5, 5), min_size=2, max_size=12))
def test_runs_are_inside_and_on_the_line(values):
    x, y = np.arange(len(values), dtype=float), np.array(values)
    for run_x, run_y in inside_runs(x, y, (0.5, 8.5), (-2.0, 2.0)):
        assert run_x.min() >= 0.5 - 1e-9
        assert run_x.max() <= 8.5 + 1e-9
        assert np.abs(run_y).max() <= 2.0 + 1e-9
        np.testing.assert_allclose(run_y, np.interp(run_x, x, y), atol=1e-9)
