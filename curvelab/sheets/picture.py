"""What a plot of one tube shows, ready for any painter: the plot that suits its sweep."""

from __future__ import annotations

from curvelab.assessment.records import Assessment
from curvelab.sheets.drift_picture import drift_picture
from curvelab.sheets.plate_picture import plate_picture
from curvelab.sheets.plot_records import CurvePicture
from curvelab.sheets.transfer_picture import is_transfer_curve, transfer_picture
from curvelab.sweep.records import SweepKind

__all__ = ["curve_picture", "drift_picture", "picture_of"]


def picture_of(assessment: Assessment) -> CurvePicture:
    """Return the curves of a sweep, or the course of a log in time."""
    if assessment.sweep.kind is SweepKind.DRIFT_LOG:
        return drift_picture(assessment)
    return curve_picture(assessment)


def curve_picture(assessment: Assessment) -> CurvePicture:
    """Return plate curves, or a transfer curve where only the grid voltage was swept."""
    if is_transfer_curve(assessment.sweep.readings):
        return transfer_picture(assessment)
    return plate_picture(assessment)
