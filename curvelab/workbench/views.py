"""The views of a tube: which there are, and what each of them shows of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from curvelab.assessment.records import Assessment
from curvelab.sheets.constant_current_picture import constant_current_picture
from curvelab.sheets.drift_picture import drift_picture
from curvelab.sheets.grid_current_picture import grid_current_pictures
from curvelab.sheets.passes_picture import passes_pictures, why_no_passes
from curvelab.sheets.picture import curve_picture, picture_of
from curvelab.sheets.plot_records import CurvePicture
from curvelab.sheets.screen_picture import screen_picture
from curvelab.sheets.transfer_family_picture import transfer_family_picture
from curvelab.sheets.transfer_picture import is_transfer_curve
from curvelab.sweep.records import SweepKind
from curvelab.workbench.characterize import house_limits

__all__ = ["CURVE_VIEWS", "View", "ViewPicture", "view_picture"]


class View(StrEnum):
    """A way to look at a tube."""

    PLATE = "plate"
    TRANSFER = "transfer"
    CONSTANT_CURRENT = "constant current"
    CONSTANTS = "constants"
    DEVIATION = "deviation"
    GRID_CURRENT = "grid current"
    PASSES = "passes"
    LOG = "log"
    DIFFERENCE = "difference"


# Views that are plots of lines and points against one axis, or two of them.
CURVE_VIEWS = frozenset(View) - {View.CONSTANTS, View.DEVIATION, View.DIFFERENCE}
# Lines of other tubes can be taken at the same plate voltages or currents.
_LEVELLED = {
    View.TRANSFER: transfer_family_picture,
    View.CONSTANT_CURRENT: constant_current_picture,
}
_BETWEEN = "points: readings, or between two neighbouring readings of a grid step"


@dataclass(frozen=True, slots=True, eq=False)
class ViewPicture:
    """One view of one tube.

    Attributes
    ----------
    plots : tuple of CurvePicture
        From the top; two of them share their axis. Empty where there is nothing to show.
    note : str or None
        What is to be said beside the plots.
    reason : str or None
        Why there is nothing to show.
    """

    title: str
    plots: tuple[CurvePicture, ...] = ()
    note: str | None = None
    reason: str | None = None


def view_picture(view: View, assessment: Assessment, levels: tuple[float, ...] = ()) -> ViewPicture:
    """Return what a view of lines and points shows of a tube.

    Parameters
    ----------
    levels : tuple of float
        Plate voltages [V] or currents [A] of the lines of transfer and constant-current
        curves; the tube's own where empty.

    Raises
    ------
    ValueError
        If the view is none of `CURVE_VIEWS`.
    """
    if view not in CURVE_VIEWS:
        raise ValueError(f"{view} is not a view of lines and points")
    title = assessment.sweep.title
    reason = _why_nothing(view, assessment)
    if reason is not None:
        return ViewPicture(title, reason=reason)
    if view is View.GRID_CURRENT:
        found = grid_current_pictures(assessment, house_limits())
        return ViewPicture(title, found.plots, found.note, found.reason)
    if view is View.PASSES:
        return ViewPicture(title, passes_pictures(assessment, house_limits()))
    if view is View.LOG:
        return ViewPicture(title, (drift_picture(assessment),))
    if view is View.PLATE:
        return _plates(assessment)
    if is_transfer_curve(assessment.sweep.readings):
        return ViewPicture(title, (curve_picture(assessment),))
    picture = _LEVELLED[view](assessment, levels)
    if not picture.series:
        return ViewPicture(title, reason="no plate current flows anywhere in the sweep")
    return ViewPicture(title, (picture,), _BETWEEN)


def _why_nothing(view: View, assessment: Assessment) -> str | None:
    sweep = assessment.sweep
    log = sweep.kind is SweepKind.DRIFT_LOG
    if not len(sweep.readings):
        return "the file holds no usable reading of it"
    if view is View.LOG:
        return None if log else "this is a sweep of curves, not a log at fixed bias"
    if view is View.PLATE:
        return None
    if log:
        return "a drift log stays at one point, so it has no curves"
    if view is View.CONSTANT_CURRENT and is_transfer_curve(sweep.readings):
        return "the plate voltage was not swept"
    return why_no_passes(assessment) if view is View.PASSES else None


def _plates(assessment: Assessment) -> ViewPicture:
    """Return the plate curves, and under them a metered screen's."""
    plate, note = picture_of(assessment), _plate_note(assessment)
    screen = None if note else screen_picture(assessment, plate.x)
    plots = (plate,) if screen is None else (plate, screen)
    return ViewPicture(assessment.sweep.title, plots, note)


def _plate_note(assessment: Assessment) -> str | None:
    """Return what stands in the place of plate curves, where a sweep has none."""
    if assessment.sweep.kind is SweepKind.DRIFT_LOG:
        return "a log at fixed bias has no plate curves: its course in time"
    if is_transfer_curve(assessment.sweep.readings):
        return "only the grid voltage was swept: the transfer curve"
    return None
