"""curvelab: from the CSV sweeps of a home-built tube bench to verdicts and sheets."""

__version__ = "0.1.0"

__all__ = ["__version__"]
