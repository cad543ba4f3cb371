"""All that is known of a tube: fit, comparison, findings and verdict joined."""

from curvelab.assessment.assess import Settings, assess
from curvelab.assessment.records import Assessment, BenchUsed, OperatingPoint, Prediction

__all__ = ["Assessment", "BenchUsed", "OperatingPoint", "Prediction", "Settings", "assess"]
