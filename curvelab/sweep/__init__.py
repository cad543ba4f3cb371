"""What a bench measured: frozen records with read-only arrays, in SI units."""

from curvelab.sweep.curves import Curves, split_curves
from curvelab.sweep.records import (
    Conditions,
    Readings,
    Remark,
    RemarkCode,
    SetAside,
    SourceFile,
    Sweep,
    SweepKind,
)

__all__ = [
    "Conditions",
    "Curves",
    "Readings",
    "Remark",
    "RemarkCode",
    "SetAside",
    "SourceFile",
    "Sweep",
    "SweepKind",
    "split_curves",
]
