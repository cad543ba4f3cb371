"""The scorecard as text."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from curvelab.assessment.records import Assessment

from .boxes import Boxed
from .measures import Scored, codes_found, share_found

__all__ = ["alarm_lines", "confusion_lines", "constant_lines", "coverage_lines", "log_lines"]

_TARGETS = {"Ip": (1.0, 2.0), "gm": (2.0, 5.0), "rp": (3.0, 7.0), "mu": (2.0, 5.0)}
# Found by a note already: the rules ask for no more.
_NOTE_IS_ENOUGH = {"not-covered", "noisy", "over-rating"}


def constant_lines(scores: Mapping[str, Scored], *, targets: bool = True) -> Iterable[str]:
    """Yield median and 95th percentile of the errors, and the width of the uncertainty."""
    yield "constant   median %   95th %   goal        median u95 %   without a value"
    for name, scored in scores.items():
        if not scored.error.size:
            yield f"{name:<10} no values, {scored.missing} without"
            continue
        middle, high = np.quantile(np.abs(scored.error), (0.5, 0.95)) * 100
        goal = "-"
        if targets:
            wanted = _TARGETS[name]
            met = middle <= wanted[0] and high <= wanted[1]
            goal = f"{wanted[0]:g}/{wanted[1]:g} {'met' if met else 'MISSED'}"
        width = np.median(scored.width) * 100
        line = f"{name:<8} {middle:>10.2f} {high:>8.2f}   {goal:<11}"
        yield f"{line} {width:>12.2f} {scored.missing:>12}"


def coverage_lines(scores: Mapping[str, Scored]) -> Iterable[str]:
    """Yield how often the 95 % uncertainty holds the truth, by type (goal: 90 to 99 %)."""
    yield f"{'type':<10}" + "".join(f"{name:>8}" for name in scores)
    types = list(dict.fromkeys(scores["Ip"].type_name.tolist()))
    for group in ["all", *types]:
        cells = []
        for scored in scores.values():
            pick = np.ones(scored.error.size, bool) if group == "all" else scored.type_name == group
            if not pick.any():
                cells.append(f"{'-':>8}")
                continue
            share = 100 * scored.covered[pick].mean()
            cells.append(f"{share:>6.1f}{' ' if 90 <= share <= 99 else '!':<2}")
        yield f"{group:<10}" + "".join(cells)


def confusion_lines(
    boxes: Mapping[str, tuple[Sequence[Boxed], Sequence[Assessment]]],
) -> Iterable[str]:
    """Yield, for each fault: found, found alone, and what else stood at caution or worse.

    Good tubes, under the empty name, have their false alarms under found.
    """
    heads = f"{'fault':<25} {'tubes':>5} {'found %':>8} {'alone %':>8}"
    yield f"{heads}   beside it, at caution or worse (%)"
    for fault, (box, assessments) in boxes.items():
        size = len(box)
        code = fault.partition(",")[0]  # what follows the comma is the kind of the fault
        notes = code in _NOTE_IS_ENOUGH
        hits = [code in codes_found(item, notes=notes) for item in assessments]
        alone = [
            codes_found(item) <= {code} and hit for item, hit in zip(assessments, hits, strict=True)
        ]
        others = share_found(assessments)
        if not code:  # good tubes: found is what should not have been
            hits = [bool(codes_found(item)) for item in assessments]
            alone = [not hit for hit in hits]
        others.pop(code, None)
        beside = ", ".join(
            f"{code} {100 * count / size:.0f}" for code, count in others.most_common()
        )
        found = f"{100 * np.mean(hits):>8.1f} {100 * np.mean(alone):>8.1f}"
        line = f"{fault or 'none':<25} {size:>5} {found}"
        yield f"{line}   {beside or '-'}"


def alarm_lines(assessments: Sequence[Assessment]) -> Iterable[str]:
    """Yield the false alarms on good tubes (goal: at most 5 % at caution or worse)."""
    size = len(assessments)
    alarmed = np.mean([bool(codes_found(item)) for item in assessments])
    yield f"good tubes with a finding at caution or worse: {100 * alarmed:.1f} % of {size}"
    for title, notes in (("caution or worse", False), ("any severity", True)):
        found = share_found(assessments, notes=notes)
        listed = ", ".join(f"{code} {100 * n / size:.1f}" for code, n in found.most_common())
        yield f"  {title}: {listed or 'none'}"


def log_lines(box: Sequence[Boxed], assessments: Sequence[Assessment]) -> Iterable[str]:
    """Yield the behaviours found (columns) of each true one (rows); goal: 95 % right."""
    kinds = ["steady", "settles", "drifts", "runs away"]
    pairs: Counter[tuple[str, str]] = Counter()
    for item, assessment in zip(box, assessments, strict=True):
        drift = assessment.drift
        pairs[item.fault, "none" if drift is None else drift.behaviour.value] += 1
    yield f"{'truth':<12}" + "".join(f"{kind:>11}" for kind in [*kinds, "none"])
    for kind in kinds:
        yield f"{kind:<12}" + "".join(f"{pairs[kind, found]:>11}" for found in [*kinds, "none"])
    right = sum(pairs[kind, kind] for kind in kinds)
    yield f"right: {100 * right / max(len(box), 1):.1f} %"
