"""Which family a tube was compared with, and why that one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from curvelab.assessment.records import Assessment

__all__ = ["ReferenceUsed", "judged_type", "reference_used"]


@dataclass(frozen=True, slots=True)
class ReferenceUsed:
    """The family compared with; ``why`` is ``same``, ``alias``, ``stand-in`` or ``own curves``.

    ``residual`` holds the family's figure over the published one, minus one, by point.
    """

    type_name: str
    why: str
    residual: Mapping[str, float]


def judged_type(assessment: Assessment) -> str | None:
    """Return the name of the type the tube was judged as."""
    return assessment.tube_type.name if assessment.tube_type else assessment.type_name


def reference_used(assessment: Assessment) -> ReferenceUsed | None:
    """Return the family compared with, or None where there was none."""
    comparison, family = assessment.comparison, assessment.reference
    if comparison is not None:
        return ReferenceUsed(comparison.type_name, comparison.why, comparison.family_residual)
    if family is None:
        return None
    if assessment.tube_type is None or assessment.tube_type.name != family.type_name:
        why = "stand-in"
    else:
        why = "same" if assessment.sweep.type_label in (None, family.type_name) else "alias"
    return ReferenceUsed(family.type_name, why, family.residual)
