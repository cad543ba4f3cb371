"""To which point of a filament a sheet's grid volts refer, and to which a file's.

Grid volts of a directly heated tube are to the filament's mid-point on AC and, as a rule, to its
negative end on DC. The difference is a figure that a sheet prints, not half the filament's
volts; where none is printed nothing is shifted, and the comparison is open by as much as the
filament could make it.
"""

from __future__ import annotations

from dataclasses import dataclass

from curvelab.reference.records import TubeType
from curvelab.sweep.records import Conditions

__all__ = ["FilamentReference", "filament_reference"]

_HALF = 0.5  # of the filament's volts lie between its end and its mid-point


@dataclass(frozen=True, slots=True)
class FilamentReference:
    """How a file's grid volts relate to those of a type's sheet.

    Attributes
    ----------
    shift : float
        To be added to the file's grid volts to have the sheet's [V].
    open_by : float
        How far either way the two may still differ [V].
    words : str or None
        What a reader should know of it.
    """

    shift: float = 0.0
    open_by: float = 0.0
    words: str | None = None


def filament_reference(tube_type: TubeType, conditions: Conditions) -> FilamentReference:
    """Return the shift that a type's sheet prints for a file's filament, if any applies."""
    if not tube_type.directly_heated:
        return FilamentReference()
    to_middle = conditions.filament_return in ("midpoint", "centre tap")
    to_end = conditions.filament_return == "negative end"
    on_dc = to_end or (conditions.filament == "DC" and not to_middle)
    printed = tube_type.filament_shift
    if printed is not None and on_dc:
        return FilamentReference(
            shift=-printed.value,
            words=(
                f"grid volts are to the negative end of a DC filament; those of the "
                f"{tube_type.name} sheet are to the mid-point of an AC one, "
                f"{printed.value:g} V more by the sheet ({printed.source}), and its "
                "family is moved by that"
            ),
        )
    if on_dc:
        return _unprinted(tube_type)
    if conditions.filament is None and conditions.filament_return is None:
        unknown = "filament supply and return are not stated; they are taken as the sheet's"
        return FilamentReference(words=unknown)
    return FilamentReference()


def _unprinted(tube_type: TubeType) -> FilamentReference:
    volts = max((item.voltage.value for item in tube_type.heaters), default=0.0)
    return FilamentReference(
        open_by=_HALF * volts,
        words=(
            "grid volts are to the negative end of a DC filament; no sheet on record prints how "
            f"far those of {tube_type.name} on AC differ, so nothing is shifted, and the "
            f"comparison is open by up to {_HALF * volts:g} V of grid voltage"
        ),
    )
