"""Identity: the sets found are the best there are, by trying all and by a reference library."""

from __future__ import annotations

from itertools import combinations

import networkx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curvelab.matching import MatchRequest, match_tubes
from curvelab.matching.differences import differences
from curvelab.matching.line import pack_line
from curvelab.matching.lot import Lot
from curvelab.matching.packing import pack
from curvelab.matching.patience import Patience
from curvelab.matching.records import BY_BOTH, BY_CURVE, Measure
from helpers.tubes_to_match import best_by_trying, lot


def total(result) -> float:
    return sum(one.spread.of_tolerance for one in result.sets)


def check(tubes, request) -> None:
    """Compare a matching with the best of all choices."""
    known = differences(tubes, tubes, request)
    count, spread = best_by_trying(known.of_tolerance, known.within, request.size + request.spare)
    result = match_tubes(tubes, request)
    assert result.proven
    assert result.gap == 0.0
    assert len(result.sets) == result.most_sets == count
    assert total(result) == pytest.approx(spread, abs=1e-6)
    members = [key for one in result.sets for key in (*one.tubes, *one.spare)]
    assert len(set(members)) == len(members) == count * (request.size + request.spare)
    assert {*members, *(item.key for item in result.left_over)} == {tube.key for tube in tubes}
    place = {tube.key: number for number, tube in enumerate(tubes)}
    for one in result.sets:
        for a, b in combinations((*one.tubes, *one.spare), 2):
            assert known.within[place[a], place[b]]


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize(
    ("count", "size", "spare"), [(11, 2, 0), (11, 3, 0), (12, 4, 0), (13, 6, 0), (11, 2, 1)]
)
def test_small_lots_by_trying_all(count, size, spare, seed):
    tolerance = (0.05, 0.10, 0.25)[seed % 3]
    check(lot(count, seed), MatchRequest(size=size, spare=spare, tolerance=tolerance))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("measures", [BY_CURVE, BY_BOTH, (Measure.PLATE_CURRENT,)])
def test_small_lots_by_other_measures(measures, seed):
    check(lot(11, seed), MatchRequest(tolerance=0.06, measures=measures))
    check(lot(11, seed), MatchRequest(size=3, tolerance=0.12, measures=measures))


@st.composite
def graphs(draw):
    """Draw distances without any geometry: the worst that can be asked."""
    size = draw(st.integers(2, 4))
    count = draw(st.integers(size, 9))
    steps = st.integers(0, 8)
    values = draw(st.lists(steps, min_size=count * count, max_size=count * count))
    distance = np.array(values, dtype=float).reshape(count, count) / 6.0
    return size, np.maximum(distance, distance.T)


@settings(max_examples=150, deadline=None)
@given(graphs())
def test_any_distances_by_trying_all(drawn):
    size, distance = drawn
    within = distance <= 1.0
    np.fill_diagonal(within, False)
    found = pack(Lot(np.where(within, distance, np.inf), size), Patience(lambda: False, 20.0))
    count, spread = best_by_trying(distance, within, size)
    assert (len(found.sets), found.most_sets) == (count, count)
    assert found.spread == pytest.approx(spread, abs=1e-6)
    assert found.least_spread == pytest.approx(spread, abs=1e-5)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.integers(0, 40), min_size=2, max_size=10),
    st.integers(2, 4),
)
def test_tubes_on_a_line_by_trying_all(places, size):
    position = np.array(places) / 10.0
    distance = np.abs(position[:, None] - position)
    runs = pack_line(position, size, 1.0)
    count, spread = best_by_trying(distance, distance <= 1.0, size)
    widths = np.ptp(position[runs], axis=1) if len(runs) else np.zeros(0)
    assert len(runs) == count
    assert len(np.unique(runs)) == runs.size
    assert widths.sum() == pytest.approx(spread)
    assert (widths <= 1.0).all()


@pytest.mark.parametrize(
    ("count", "tolerance", "measures"),
    [(60, 0.03, BY_BOTH), (80, 0.05, BY_CURVE), (101, 0.10, BY_BOTH), (90, 0.02, (Measure.CURVE,))],
)
def test_middle_lots_against_networkx(count, tolerance, measures):
    # networkx.max_weight_matching: Galil's blossom algorithm, an independent implementation.
    tubes = lot(count, seed=count)
    request = MatchRequest(tolerance=tolerance, measures=measures)
    known = differences(tubes, tubes, request)
    graph = networkx.Graph()
    for a, b in combinations(range(count), 2):
        if known.within[a, b]:
            graph.add_edge(a, b, weight=-known.of_tolerance[a, b])
    pairs = networkx.max_weight_matching(graph, maxcardinality=True)
    result = match_tubes(tubes, request)
    assert result.proven
    assert len(result.sets) == len(pairs)
    assert total(result) == pytest.approx(sum(known.of_tolerance[pair] for pair in pairs), abs=1e-6)


@st.composite
def sparse_graphs(draw):
    """Draw few distances, many of them equal: odd cycles within odd cycles."""
    count = draw(st.integers(2, 26))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    steps, share = draw(st.sampled_from((1, 3, 50))), draw(st.sampled_from((0.1, 0.25, 1.0)))
    distance = rng.integers(0, steps + 1, (count, count)) / steps
    distance[rng.random((count, count)) > share] = np.inf
    distance = np.maximum(np.triu(distance, 1), np.triu(distance, 1).T)
    np.fill_diagonal(distance, np.inf)
    return distance


@settings(max_examples=150, deadline=None)
@given(sparse_graphs())
def test_any_pairs_against_networkx(distance):
    graph = networkx.Graph()
    for a, b in np.argwhere(np.triu(np.isfinite(distance))).tolist():
        graph.add_edge(a, b, weight=-distance[a, b])
    best = networkx.max_weight_matching(graph, maxcardinality=True)
    least = sum(distance[pair] for pair in best)
    found = pack(Lot(distance, 2), Patience(lambda: False, 20.0))
    assert len(np.unique(found.sets)) == found.sets.size
    assert len(found.sets) == found.most_sets == len(best)
    assert found.spread == pytest.approx(least, abs=1e-9)
    assert found.least_spread == pytest.approx(least, abs=1e-8)


def test_pairs_stopped_early_keep_honest_bounds():
    tubes = lot(60, seed=2)
    known = differences(tubes, tubes, MatchRequest(tolerance=0.04))
    linked = Lot(np.where(known.within, known.of_tolerance, np.inf), 2)
    best = pack(linked, Patience(lambda: False, 20.0))
    for steps in range(0, 30, 3):
        stop = [*[False] * steps, True]
        found = pack(linked, Patience(iter(stop).__next__, 20.0))
        assert len(np.unique(found.sets)) == found.sets.size
        assert np.isfinite(linked.spread(found.sets)).all()
        assert len(found.sets) <= best.most_sets <= found.most_sets
        if found.most_sets == best.most_sets:
            assert found.least_spread <= best.spread + 1e-9


def test_the_line_and_the_integer_program_agree():
    tubes = lot(45, seed=3)
    request = MatchRequest(size=3, tolerance=0.04, measures=(Measure.PLATE_CURRENT,))
    known = differences(tubes, tubes, request)
    distance = np.where(known.within, known.of_tolerance, np.inf)
    np.fill_diagonal(distance, np.inf)
    by_program = pack(Lot(distance, 3), Patience(lambda: False, 20.0))
    by_line = match_tubes(tubes, request)
    assert len(by_program.sets) == len(by_line.sets)
    assert by_program.spread == pytest.approx(total(by_line), abs=1e-6)


def test_a_set_that_growing_by_the_nearest_misses_is_found():
    # Every tube's nearest neighbours lead away from the one triple there is: 0, 1, 2.
    count = 24
    distance = np.full((count, count), np.inf)
    for a, b in ((0, 1), (0, 2), (1, 2)):
        distance[a, b] = distance[b, a] = 0.9
    for tube in range(3):
        for other in range(3 + 7 * tube, 10 + 7 * tube):
            distance[tube, other] = distance[other, tube] = 0.1
    found = pack(Lot(distance, 3), Patience(lambda: False, 20.0))
    assert found.sets.tolist() == [[0, 1, 2]]
    assert (found.most_sets, found.spread) == (1, 0.9)
    distance[0, 1] = distance[1, 0] = np.inf
    none = pack(Lot(distance, 3), Patience(lambda: False, 20.0))
    assert (len(none.sets), none.most_sets) == (0, 0)


@settings(max_examples=60, deadline=None)
@given(graphs(), st.lists(st.booleans(), min_size=9, max_size=9))
def test_sets_across_two_lots_by_trying_all(drawn, sides):
    size, distance = drawn
    lots = np.array(sides[: len(distance)], dtype=int)
    within = distance <= 1.0
    if size == 2:
        within &= lots[:, None] != lots
    found = pack(Lot(np.where(within, distance, np.inf), size, lots), Patience(lambda: False, 20.0))
    count, spread = best_by_trying(distance, within, size, lots)
    assert (len(found.sets), found.most_sets) == (count, count)
    assert found.spread == pytest.approx(spread, abs=1e-6)
