"""Closed form and published: another tube at rest in the same circuit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from curvelab.reference.families import family_library
from curvelab.reference.loader import load_library
from curvelab.reference.same_circuit import Circuit, bias_for_current, settle, stage_around

FAMILIES = family_library(load_library())


@dataclass(frozen=True)
class Linear:
    """Ip = (Vg + Vp / mu) gm: a tube whose resting point is a fraction."""

    mu: float = 20.0
    gm: float = 2.5e-3

    def current(self, plate, grid):
        return np.maximum((grid + plate / self.mu) * self.gm, 0.0)

    def slopes(self, plate, grid):
        return np.full_like(plate, self.gm / self.mu), np.full_like(plate, self.gm)

    def covers(self, plate, grid):
        return np.asarray(plate < 300)


def test_a_linear_tube_settles_where_ohms_law_says():
    # Ip = gm (Vbb / mu - Ip Rk - Ip (Rk + Rp) / mu), solved for Ip.
    circuit = Circuit(400.0, 0.0, 1000.0, 10_000.0)
    found = settle(Linear(), circuit)
    current = 2.5e-3 * 20.0 / (1 + 2.5e-3 * (1000 + 11_000 / 20))
    assert found.plate_current == pytest.approx(current, rel=1e-9)
    assert found.grid_voltage == pytest.approx(-1000 * current)
    assert found.plate_voltage == pytest.approx(400 - 11_000 * current)
    assert found.amplification_factor == pytest.approx(20)
    assert found.plate_dissipation == pytest.approx(found.plate_voltage * current)


@pytest.mark.parametrize("fixed", [False, True])
@pytest.mark.parametrize("resistance", [0.0, 22_000.0])
def test_the_tube_itself_settles_where_the_stage_was_built(fixed, resistance):
    family = FAMILIES.families["6SN7GTB"]
    circuit = stage_around(family, (250.0, -8.0), fixed_bias=fixed, plate_resistance=resistance)
    found = settle(family, circuit)
    assert (found.plate_voltage, found.grid_voltage) == pytest.approx((250.0, -8.0), rel=1e-6)
    assert not found.extrapolated


def test_the_cathode_resistor_is_the_printed_one():
    # Valve museum page 2A3: 250 V, -45 V, 60 mA, 750 ohm in the cathode.
    circuit = stage_around(FAMILIES.families["2A3"], (250.0, -45.0))
    assert circuit.cathode_resistance == pytest.approx(750, rel=0.01)


def test_beyond_the_published_figures_it_says_so():
    assert settle(Linear(), Circuit(900.0, -30.0, 0.0, 0.0)).extrapolated


def test_the_bias_for_a_current():
    # Ip = gm (Vg + Vp / mu): 10 mA at 200 V take Vg = 10 / 2.5 - 200 / 20 = -6 V.
    assert bias_for_current(Linear(), 200.0, 10e-3) == pytest.approx(-6.0)
    assert bias_for_current(Linear(), 200.0, 26e-3) is None


@pytest.mark.parametrize(
    ("plate", "grid", "resistor"), [(250, -23.5, 2350), (350, -32, 2000), (425, -40, 2220)]
)
def test_a_tube_settles_at_the_printed_bias_in_its_printed_resistor(plate, grid, resistor):
    """Published: RCA tube manual page 97, type 10, class A: bias and its cathode resistor."""
    drop = -grid
    circuit = Circuit(plate + drop, 0.0, float(resistor), 0.0)
    found = settle(FAMILIES.families["10"], circuit)
    assert found.grid_voltage == pytest.approx(grid, rel=0.01)
    assert found.plate_voltage == pytest.approx(plate, rel=0.01)


def test_the_printed_triode_connection_of_a_pentode():
    """Published: Philips EL84 data sheets, class A as a triode: 250 V, 270 ohm, 34 mA.

    The family follows the drawing of the same sheets, which stands 2 to 4 % off its table.
    """
    circuit = Circuit(250 + 270 * 34e-3, 0.0, 270.0, 0.0)
    assert settle(FAMILIES.families["EL84"], circuit).plate_current == pytest.approx(
        34e-3, rel=0.05
    )


def test_an_operation_that_no_point_of_the_family_knows():
    """Published: Philips E88CC data, December 1968, class A: 220 V, -6.5 V, 6.5 mA.

    The family was solved from points at 90 to 100 V and a cut-off; it extrapolates to 5.6 mA.
    """
    found = settle(FAMILIES.families["6922"], Circuit(220.0, -6.5, 0.0, 0.0))
    assert found.extrapolated
    assert found.plate_current == pytest.approx(6.5e-3, rel=0.2)


@pytest.mark.parametrize("place", [0, 1, 2])
def test_the_printed_resistance_coupled_stage(place):
    """Published: Tung-Sol 6SN7GT data sheet, July 31, 1945, resistance-coupled operation.

    The gain of a stage is mu R / (rp + R) with R the load beside the next grid's resistor. The
    sheet prints 13 to 14 at full output, where its own mu of 20 and rp of 7.7 kohm (at 9 mA)
    would give 18; at the low current of the stage rp is higher, so the truth lies between.
    """
    found_type = load_library().types["6SN7GT"]
    row = found_type.operations[place].figures
    load, following = row["load_resistance"].value, row["next_grid_resistance"].value
    circuit = Circuit(row["supply_voltage"].value, 0.0, row["cathode_resistance"].value, load)
    found = settle(FAMILIES.families["6SN7GT"], circuit)
    across = load * following / (load + following)
    gain = found.amplification_factor * across / (found.plate_resistance + across)
    bogey = found_type.bogey
    most = bogey.amplification_factor.value * across / (bogey.plate_resistance.value + across)
    assert row["voltage_gain"].value < gain < most
    # The output that the sheet allows fits between the plate's rest and the supply.
    assert row["output_voltage_peak"].value < circuit.supply_voltage - found.plate_voltage
