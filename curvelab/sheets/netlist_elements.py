"""The elements of a tube's subcircuit, as ngspice documents its behavioural sources.

One current source between plate and cathode carries the law, written out in named functions, and
the factor that corrects it. Only the two coordinates of the correction are nodes of their own:
each further node is one more that a simulator stops short of (its tolerance is a thousandth),
and without those two it would work out the same sines dozens of times over. Nothing can take a
root or power of a negative number, and no slope is without bound:

- powers are taken through the logarithm of the drive voltage, so that a current of nothing is
  reached as far below cut-off as one likes, and never a logarithm of zero;
- exponentials are cut off where they have long become straight lines;
- the coordinates of the correction are held at their ends, and so is its amount.

References
----------
Ngspice User's Manual, the chapter on non-linear dependent sources (behavioural sources): their
syntax and functions (from memory; what is written here is run by the tests).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from curvelab.fitting.closed_form import HALF_WIDTH, REACH, ClosedForm, SineSeries
from curvelab.sweep.records import FloatArray

__all__ = [
    "CORRECTED",
    "LEAST_VOLT",
    "SOFT_STEPS",
    "added",
    "current_elements",
    "folded",
    "number",
    "series_elements",
]

_STRAIGHT = 80.0  # above it ln(1 + e^z) is z to the last digit
_FAINT = -15.0  # below it ln(1 + e^z) is e^z to the seventh digit
_STEEPEST = 1e3  # [1/V]: a cut-off sharper than a millivolt is none a simulator can follow
LEAST_VOLT = 1e-3  # [V]: from here the current runs straight to none at no plate voltage
_LINE_WIDTH = 96

CORRECTED = "*exp(amount(V(along),V(across)))"


def number(value: float) -> str:
    """Return a number as a netlist has it, to ten figures and without a scale letter."""
    return f"{value:.10g}"


def added(value: float) -> str:
    """Return a number as a term that is added; nothing for none."""
    return f"{'-' if value < 0 else '+'}{number(abs(value))}" if value else ""


SOFT_STEPS = (
    ".func above(u) {max(u,0)}",
    f".func soft(z) {{ln(1+exp(min(z,{_STRAIGHT:g})))+above(z{added(-_STRAIGHT)})}}",
    f".func lnsoft(z) {{ln(soft(max(z,{_FAINT:g})))+min(z{added(-_FAINT)},0)}}",
)


@dataclass(frozen=True, slots=True)
class _Law:
    """Ip = scale * drive^exponent * factor, the drive of plate volts p and grid volts g."""

    log_drive: str
    scale: float
    exponent: float
    factor: str = ""


def current_elements(form: ClosedForm) -> tuple[str, ...]:
    """Return the lines between pins P, G and K that carry the plate current.

    Raises
    ------
    KeyError
        If the law is none that a netlist has been written for.
    """
    law = _LAWS[form.law](form.parameters)
    lines = [
        "* the law: logarithm of the drive voltage, of plate and grid volts",
        *SOFT_STEPS,
        f".func lndrive(p,g) {{{law.log_drive}}}",
    ]
    factor = law.factor
    if form.series is not None:
        series = form.series
        root = 2.0 * (law.scale / series.largest_current) ** (1.0 / 3.0)
        lines += series_elements(
            series,
            f"{number(root)}*exp({number(law.exponent / 3.0)}*lndrive(V(P,K),V(G,K)))",
            f"{number(2.0 / series.largest_plate_voltage)}*above(V(P,K))",
        )
        factor += CORRECTED
    power = f"exp({number(law.exponent)}*lndrive(V(P,K),V(G,K)))"
    lines.append(f"Bplate P K I={number(law.scale)}*{power}{factor}")
    return folded(lines)


def _koren(parameters: Mapping[str, float]) -> _Law:
    mu, exponent, kg, kp, kvb, offset = (
        parameters[symbol] for symbol in ("mu", "x", "Kg1", "Kp", "Kvb", "Vct")
    )
    least = number(LEAST_VOLT)
    grid = f"(g{added(offset)})/sqrt({number(kvb)}+above(p)*above(p))"
    soft = f"lnsoft({number(kp)}*({number(1.0 / mu)}+{grid}))"
    return _Law(
        log_drive=f"ln(max(p,{least})){added(-math.log(kp))}+{soft}",
        scale=2.0 / kg,
        exponent=exponent,
        factor=f"*min(above(V(P,K))/{least},1)",
    )


def _softplus(parameters: Mapping[str, float]) -> _Law:
    drive = _straight(parameters["mu"], 0.0, min(parameters["C"], _STEEPEST))
    return _Law(drive, parameters["G"], parameters["gamma"])


def _three_halves(parameters: Mapping[str, float]) -> _Law:
    return _Law(_straight(parameters["mu"], parameters["Vc"], _STEEPEST), parameters["G"], 1.5)


def _straight(mu: float, offset: float, steepness: float) -> str:
    """Return ln(ln(1 + e^(C u)) / C) with u = Vp / mu + Vg + Vc."""
    total = f"p*{number(1.0 / mu)}+g{added(offset)}"
    return f"lnsoft({number(steepness)}*({total})){added(-math.log(steepness))}"


_LAWS = {"koren": _koren, "softplus": _softplus, "three-halves": _three_halves}


def series_elements(series: SineSeries, along: str, across: str) -> Iterator[str]:
    """Yield the coordinates of a correction, its rows and their sum.

    Parameters
    ----------
    along, across : str
        One more than the coordinates s and t of `curvelab.fitting.closed_form`, as expressions.
    """
    rate = number(math.pi / (2.0 * HALF_WIDTH))
    rows = range(1, len(series.coefficients) + 1)
    total = "+".join(f"row{row}(y)*sin({row}*x)" for row in rows)
    most = number(series.largest)
    yield "* its correction: angles of the law's current and of the plate volts, and the sines"
    yield f".func angle(s) {{{rate}*(max(min(s,{REACH:g}),-1)+{HALF_WIDTH:g})}}"
    yield f"Balong along 0 V=angle({along}-1)"
    yield f"Bacross across 0 V=angle({across}-1)"
    for row in rows:
        yield f".func row{row}(y) {{{_sines(series.coefficients[row - 1])}}}"
    yield f".func amount(x,y) {{max(min({total},{most}),-{most})}}"


def _sines(coefficients: FloatArray) -> str:
    terms = (
        f"{'-' if value < 0 else '+'}{number(abs(value))}*sin({place}*y)"
        for place, value in enumerate(coefficients.tolist(), start=1)
    )
    return "".join(terms).removeprefix("+")


def folded(lines: Iterable[str]) -> tuple[str, ...]:
    """Return lines, each in pieces that an old reader takes."""
    return tuple(piece for line in lines for piece in _folded(line))


def _folded(line: str) -> Iterator[str]:
    """Yield a line in pieces, the later ones marked as its continuation.

    It is broken behind a bracket or comma, never inside a number or a name.
    """
    start = ""
    while len(line) > _LINE_WIDTH:
        cut = max(line.rfind(sign, 1, _LINE_WIDTH) for sign in (")+", ")-", ",")) + 1
        if cut <= 0:
            break
        yield start + line[:cut]
        line, start = line[cut:], "+ "
    yield start + line
