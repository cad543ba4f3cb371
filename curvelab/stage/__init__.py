"""One tube as a class A stage: load line, power and distortion, ratings. Pure numpy."""

from curvelab.stage.harmonics import Harmonics, five_point
from curvelab.stage.load_line import along_load_line, cathode_bias_point, fixed_bias_point
from curvelab.stage.records import QuiescentPoint, RatingCheck, Stage
from curvelab.stage.single_ended import single_ended

__all__ = [
    "Harmonics",
    "QuiescentPoint",
    "RatingCheck",
    "Stage",
    "along_load_line",
    "cathode_bias_point",
    "five_point",
    "fixed_bias_point",
    "single_ended",
]
