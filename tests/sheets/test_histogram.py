"""Closed form and identity: every share stands in its own bin, once."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from curvelab.health.records import Verdict
from curvelab.sheets.histogram import Histogram, histogram_of

SHARES = st.lists(
    st.tuples(st.none() | st.floats(0.0, 30.0), st.sampled_from(list(Verdict))),
    min_size=1,
    max_size=60,
)


def histogram(*shares: float | None, verdict: Verdict = Verdict.ACCEPT) -> Histogram:
    return histogram_of("6SN7GTB", "plate current", [(share, verdict) for share in shares])


def filled(item: Histogram) -> dict[tuple[float, float], int]:
    return {(part.low, part.high): part.total for part in item.bins if part.total}


@given(SHARES)
def test_every_share_is_counted_once_under_its_verdict(shares):
    item = histogram_of("t", "x", shares)
    known = [(100 * share, verdict) for share, verdict in shares if share is not None]
    assert item.without == len(shares) - len(known)
    for verdict in Verdict:
        counted = sum(getattr(part, verdict.value) for part in item.bins)
        assert counted == sum(each is verdict for _, each in known)
    for part in item.bins:
        slack = 1e-6 * (part.high - part.low)
        inside = sum(part.low + slack <= value < part.high - slack for value, _ in known)
        near = sum(part.low - slack <= value < part.high + slack for value, _ in known)
        assert inside <= part.total <= near


@given(SHARES)
def test_bins_are_equal_adjoining_and_not_too_many(shares):
    bins = histogram_of("t", "x", shares).bins
    assert len(bins) in (0, *range(8, 17))
    assert len({round(part.high - part.low, 9) for part in bins}) <= 1
    assert all(one.high == other.low for one, other in pairwise(bins))


def test_the_bogey_itself_stands_above_the_edge_at_a_hundred():
    assert filled(histogram(1.0, 0.99)) == {(98.0, 100.0): 1, (100.0, 102.0): 1}
    assert filled(histogram(1.1 / 1.1 - 1e-16)) == {(100.0, 102.0): 1}


def test_a_wide_lot_has_wide_bins():
    widths = {part.high - part.low for part in histogram(0.1, 1.0, 3.0).bins}
    assert widths == {20.0}


def test_without_a_figure_there_is_no_bin():
    assert histogram(None, None) == Histogram("6SN7GTB", "plate current", (), 2)
