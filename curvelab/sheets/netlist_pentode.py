"""The elements of the subcircuit of a tube with a screen grid: see `netlist_elements`.

Two current sources, from plate and from screen to cathode, share what the cathode emits. As
there, powers are taken through logarithms, and only the coordinates of the correction are nodes.
"""

from __future__ import annotations

import math

from curvelab.fitting.closed_form import LEAST_PLATE_SHARE, SineSeries
from curvelab.fitting.conversion import DEGREE
from curvelab.fitting.pentode_closed_form import PentodeForm
from curvelab.sheets.netlist_elements import (
    CORRECTED,
    LEAST_VOLT,
    SOFT_STEPS,
    added,
    folded,
    number,
    series_elements,
)

__all__ = ["pentode_elements"]

_DECIDED = 80.0  # a division of e^80 to 1 is none
_SOFT = "lnh(V(P,K),V(G,K),V(S,K))"


def pentode_elements(form: PentodeForm) -> tuple[str, ...]:
    """Return the lines between pins P, S, G and K that carry plate and screen current."""
    p, least = form.parameters, number(LEAST_VOLT)
    ratio = f"(max(p,{least})/max(s,{least}))"
    drive = f"1+{number(p['D'])}*{ratio}+{number(p['mu'])}*(g{added(p['Vc'])})/max(s,{least})"
    kept = number(1.0 / (1.0 + p["r"]))
    divided = f"{kept}*part(lnq(V(P,K),V(S,K),{_SOFT}))*some(V(P,K))"
    lines = [
        "* the law: logarithm of the drive, of plate, grid and screen volts; the current of the",
        "* cathode; how plate and screen share it",
        *SOFT_STEPS,
        f".func some(v) {{min(above(v)/{least},1)}}",
        f".func lnh(p,g,s) {{lnsoft({number(p['K'])}*({drive})){added(-math.log(p['K']))}}}",
        f".func cathode(s,h) {{some(s)*{number(p['G'])}"
        f"*exp({number(DEGREE)}*ln(max(s,{least}))+{number(p['x'])}*h)}}",
        f".func lnq(p,s,h) {{{number(p['n'])}*(ln{ratio}{added(-math.log(p['y0']))})"
        f"{added(p['m'])}*h}}",
        f".func part(z) {{1/(1+exp(-max(min(z,{_DECIDED:g}),-{_DECIDED:g})))}}",
    ]
    if form.series is not None:
        lines += series_elements(form.series, *_coordinates(form, form.series))
    factor = "" if form.series is None else CORRECTED
    lines += [
        f"Bplate P K I=cathode(V(S,K),{_SOFT})*{divided}{factor}",
        f"Bscreen S K I=cathode(V(S,K),{_SOFT})*(1-{divided})",
    ]
    return folded(lines)


def _coordinates(form: PentodeForm, series: SineSeries) -> tuple[str, str]:
    """Return twice the roots of current and plate volts as at the reference screen voltage."""
    screen, least = number(form.reference_screen), number(LEAST_VOLT)
    root = 2.0 * (form.parameters["G"] / series.largest_current) ** (1.0 / 3.0)
    root *= form.reference_screen ** (DEGREE / 3.0)
    along = f"{number(root)}*exp({number(form.parameters['x'] / 3.0)}*{_SOFT})"
    share = f"V(P,K)*{screen}/(max(V(S,K),{least})*{number(series.largest_plate_voltage)})"
    power = number(series.plate_power)
    return along, f"2*exp({power}*ln(max({share},{number(LEAST_PLATE_SHARE)})))"
