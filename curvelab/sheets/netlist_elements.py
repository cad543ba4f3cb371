"""The elements of a tube's subcircuit, as ngspice documents its behavioural sources.

One current source between plate and cathode carries the law, written out in named functions, and
the factor that corrects it. Only the two coordinates of the correction are nodes of their own:
each further node is one more that a simulator stops short of (its tolerance is a thousandth),
and without those two it would work out the same sines dozens of times over. Nothing can take a
root or power of a negative number, and no slope is without bound:

- the drive voltage, never negative, carries a foot of a picovolt;
- exponentials are cut off where they have long become straight lines;
- the coordinates of the correction are held at their ends, and so is its amount.

References
----------
Ngspice User's Manual, the chapter on non-linear dependent sources (behavioural sources): their
syntax and functions (from memory; what is written here is run by the tests).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from curvelab.fitting.closed_form import HALF_WIDTH, REACH, ClosedForm, SineSeries
from curvelab.sweep.records import FloatArray

__all__ = ["current_elements", "number"]

_FOOT = 1e-12  # [V]: no current to speak of, on any tube
_STRAIGHT = 80.0  # above it ln(1 + e^z) is z to the last digit
_STEEPEST = 1e3  # [1/V]: a cut-off sharper than a millivolt is none a simulator can follow
_WIDTH = 96


def number(value: float) -> str:
    """Return a number as a netlist has it, to ten figures and without a scale letter."""
    return f"{value:.10g}"


def current_elements(form: ClosedForm) -> tuple[str, ...]:
    """Return the lines between pins P, G and K that carry the plate current.

    Raises
    ------
    KeyError
        If the law is none that a netlist has been written for.
    """
    drive, scale, exponent = _LAWS[form.law](form.parameters)
    lines = [
        "* the law: drive voltage of plate and grid volts, its power times a scale",
        ".func above(u) {max(u,0)}",
        f".func soft(z) {{ln(1+exp(min(z,{_STRAIGHT:g})))+above(z-{_STRAIGHT:g})}}",
        f".func drive(p,g) {{{drive}}}",
        f".func raised(p,g,x) {{pow(drive(p,g)+{number(_FOOT)},x)}}",
    ]
    factor = ""
    if form.series is not None:
        lines += _series(form.series, scale, exponent)
        factor = "*exp(amount(V(along),V(across)))"
    lines.append(f"Bplate P K I={number(scale)}*raised(V(P,K),V(G,K),{number(exponent)}){factor}")
    return tuple(piece for line in lines for piece in _folded(line))


def _koren(parameters: Mapping[str, float]) -> tuple[str, float, float]:
    mu, exponent, kg, kp, kvb, offset = (
        parameters[symbol] for symbol in ("mu", "x", "Kg1", "Kp", "Kvb", "Vct")
    )
    grid = f"(g{_added(offset)})/sqrt({number(kvb)}+above(p)*above(p))"
    drive = f"above(p)*{number(1.0 / kp)}*soft({number(kp)}*({number(1.0 / mu)}+{grid}))"
    return drive, 2.0 / kg, exponent


def _softplus(parameters: Mapping[str, float]) -> tuple[str, float, float]:
    steepness = min(parameters["C"], _STEEPEST)
    return _straight(parameters["mu"], 0.0, steepness), parameters["G"], parameters["gamma"]


def _three_halves(parameters: Mapping[str, float]) -> tuple[str, float, float]:
    return _straight(parameters["mu"], parameters["Vc"], _STEEPEST), parameters["G"], 1.5


def _straight(mu: float, offset: float, steepness: float) -> str:
    total = f"p*{number(1.0 / mu)}+g{_added(offset)}"
    return f"{number(1.0 / steepness)}*soft({number(steepness)}*({total}))"


_LAWS = {"koren": _koren, "softplus": _softplus, "three-halves": _three_halves}


def _added(value: float) -> str:
    return f"{'-' if value < 0 else '+'}{number(abs(value))}" if value else ""


def _series(series: SineSeries, scale: float, exponent: float) -> Iterator[str]:
    """Yield the coordinates of the correction, its rows and their sum."""
    root = 2.0 * (scale / series.largest_current) ** (1.0 / 3.0)
    rows = range(1, len(series.coefficients) + 1)
    most = number(series.largest)
    total = "+".join(f"row{row}(y)*sin({row}*x)" for row in rows)
    yield "* its correction: angles of the law's current and of the plate volts, and the sines"
    rate = number(math.pi / (2.0 * HALF_WIDTH))
    yield f".func angle(s) {{{rate}*(max(min(s,{REACH:g}),-1)+{HALF_WIDTH:g})}}"
    raised = f"{number(root)}*raised(V(P,K),V(G,K),{number(exponent / 3.0)})"
    yield f"Balong along 0 V=angle({raised}-1)"
    yield f"Bacross across 0 V=angle({number(2.0 / series.largest_plate_voltage)}*above(V(P,K))-1)"
    for row in rows:
        yield f".func row{row}(y) {{{_sines(series.coefficients[row - 1])}}}"
    yield f".func amount(x,y) {{max(min({total},{most}),-{most})}}"


def _sines(coefficients: FloatArray) -> str:
    terms = (
        f"{'-' if value < 0 else '+'}{number(abs(value))}*sin({place}*y)"
        for place, value in enumerate(coefficients.tolist(), start=1)
    )
    return "".join(terms).removeprefix("+")


def _folded(line: str) -> Iterator[str]:
    """Yield a line in pieces, the later ones marked as its continuation.

    It is broken behind a bracket or comma, never inside a number or a name.
    """
    start = ""
    while len(line) > _WIDTH:
        cut = max(line.rfind(sign, 1, _WIDTH) for sign in (")+", ")-", ",")) + 1
        if cut <= 0:
            break
        yield start + line[:cut]
        line, start = line[cut:], "+ "
    yield start + line
