"""Certified and refusal: straight lines with their standard uncertainties.

Certified: NIST StRD, linear least squares regression, data set Norris (calibration of ozone
monitors; 36 readings). The data are from memory, and give the certified figures to twelve
digits, which a slip in any of them would spoil.
"""

from __future__ import annotations

import numpy as np
import pytest

from curvelab.bench_check.linear import fit_linear

NORRIS = np.array(
    """
    0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3
    449.1 448.6 778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0
    448.9 447.5 10.8 11.6 557.7 556.0 228.3 228.1 998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3
    0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0 10.2 11.1 117.6 118.3
    228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5
    """.split(),
    dtype=float,
).reshape(-1, 2)


def test_the_certified_line():
    values, volts = NORRIS.T
    fit = fit_linear((np.ones_like(volts), volts), values)
    assert fit.freedom == 34
    assert fit.coefficients == pytest.approx((-0.262323073774029, 1.00211681802045), rel=1e-12)
    assert fit.standard == pytest.approx((0.232818234301152, 0.429796848199937e-03), rel=1e-11)
    assert fit.residual == pytest.approx(0.884796396144373, rel=1e-12)


def test_a_resolution_bounds_the_scatter_from_below():
    volts = np.arange(10.0)
    fit = fit_linear((np.ones_like(volts), volts), 2 * volts, resolution=0.12)
    assert fit.residual == pytest.approx(0.12 / 12**0.5)


@pytest.mark.parametrize(
    "columns",
    [
        (np.ones(2), np.arange(2.0)),  # no freedom
        (np.ones(5), np.full(5, 3.0)),  # one column twice
        (np.ones(5), np.zeros(5)),
    ],
)
def test_what_does_not_determine_a_line_gives_none(columns):
    assert fit_linear(columns, np.arange(float(columns[0].size))) is None
