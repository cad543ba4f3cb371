"""Time to the best sets, in one run: ``python tests/benchmarks/matching.py [seed]``.

Prints for invented lots how long the differences and the sets take, whether the sets are proven
best, and, for pairs, the ratio to networkx's blossom algorithm on the same graph. The processor's
time stands beside the clock's, for a machine that others use too. Nothing here is a test.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import networkx
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from curvelab.matching import MatchRequest, match_tubes, what_if
from curvelab.matching.differences import differences
from curvelab.matching.records import BY_BOTH, BY_CURVE, BY_POINT, Measure
from helpers.tubes_to_match import lot

_CASES = (
    ("400 into pairs by plate current at 5 %", 400, {"measures": (Measure.PLATE_CURRENT,)}),
    ("400 into pairs by point at 2 %", 400, {"tolerance": 0.02, "measures": BY_POINT}),
    ("400 into pairs by point at 5 %", 400, {"measures": BY_POINT}),
    ("400 into pairs by point at 10 %", 400, {"tolerance": 0.10, "measures": BY_POINT}),
    ("400 into pairs by curve at 5 %", 400, {"measures": BY_CURVE}),
    ("400 into pairs by both at 5 %", 400, {"measures": BY_BOTH}),
    ("100 into quads by point at 5 %", 100, {"size": 4, "measures": BY_POINT}),
    ("100 into quads by point at 10 %", 100, {"size": 4, "tolerance": 0.10, "measures": BY_POINT}),
    ("100 into quads by curve at 5 %", 100, {"size": 4, "measures": BY_CURVE}),
    ("100 into pairs with a spare by both at 5 %", 100, {"spare": 1, "measures": BY_BOTH}),
    ("60 into sextets by point at 10 %", 60, {"size": 6, "tolerance": 0.10}),
    ("400 into pairs by point at 90 %", 400, {"tolerance": 0.90}),
    ("200 into quads by point at 5 %", 200, {"size": 4}),
    ("400 into pairs with a spare by point at 2 %", 400, {"spare": 1, "tolerance": 0.02}),
    ("100 into quads across two lots at 5 %", 100, {"size": 4, "across": ("old", "new")}),
    ("400 into pairs across two lots at 5 %", 400, {"across": ("old", "new")}),
)  # fmt: skip


def _timed(action):
    clock, processor = time.perf_counter(), time.process_time()
    result = action()
    return result, time.perf_counter() - clock, time.process_time() - processor


def _networkx_pairs(tubes, request):
    known = differences(tubes, tubes, request)
    graph = networkx.Graph()
    for a, b in combinations(range(len(tubes)), 2):
        if known.within[a, b]:
            graph.add_edge(a, b, weight=-known.of_tolerance[a, b])
    return _timed(lambda: networkx.max_weight_matching(graph, maxcardinality=True))[2]


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    for title, count, fields in _CASES:
        tubes, request = lot(count, seed), MatchRequest(**fields)
        if request.across is not None:
            tubes = [replace(one, lot=request.across[k % 2]) for k, one in enumerate(tubes)]
        compared = _timed(lambda t=tubes, r=request: differences(t, t, r))[2]
        result, clock, processor = _timed(lambda t=tubes, r=request: match_tubes(t, r))
        proof = "proven" if result.proven else f"gap {100 * result.gap:.2f} %"
        line = (
            f"{title}: {clock:.2f} s ({processor:.2f} s of processor, {compared:.2f} of it "
            f"differences), {len(result.sets)} sets, {proof}"
        )
        if title == "400 into pairs by point at 5 %":
            line += f", ratio to networkx {processor / _networkx_pairs(tubes, request):.2f}"
        _say(line)
    tubes = lot(400, seed)
    for count, size in ((400, 2), (100, 4)):
        some, asked = tubes[:count], MatchRequest(size, measures=BY_POINT)
        counts, clock, processor = _timed(lambda s=some, a=asked: what_if(s, a))
        told = ", ".join(f"{100 * one.tolerance:g} %: {one.sets}" for one in counts)
        _say(
            f"what if {count} into sets of {size}: {clock:.2f} s ({processor:.2f} s of "
            f"processor), {told}"
        )
    scatter = np.std([np.log(tube.sections[0].plate_current.value) for tube in tubes])
    _say(f"(lots scatter by {100 * scatter:.0f} % in plate current)")
