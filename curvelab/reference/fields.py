"""The keys a type file may use: what each means, its unit, and what values make sense.

The unit stands at the end of the key, as the trade prints it; everything else in the
program sees SI. Bounds catch slips (mA for A, a lost decimal point), they are not ratings.
"""

from __future__ import annotations

from dataclasses import dataclass

from curvelab.quantities import (
    MICROAMPERE,
    MICROMHO,
    MILLIAMPERE,
    OHM,
    UNITY,
    VOLT,
    WATT,
    Unit,
)

__all__ = [
    "BIAS_FIELDS",
    "CAPACITANCE_FIELDS",
    "CONSTANT_FIELDS",
    "FIGURE_FIELDS",
    "HEATER_FIELDS",
    "LIMIT_FIELDS",
    "OPERATION_FIELDS",
    "PENTODE_FIELDS",
    "RATING_FIELDS",
    "Field",
]

_AMPERE = Unit("A", 1.0)
_MEGOHM = Unit("Mohm", 1e6)
_PERCENT = Unit("%", 1e-2)
_PICOFARAD = Unit("pF", 1e-12)


@dataclass(frozen=True, slots=True)
class Field:
    """A key's meaning; ``low`` and ``high`` bound its value in the unit of the key."""

    name: str
    unit: Unit
    low: float
    high: float


def _volt(name: str, low: float = 0.0, high: float = 5000.0) -> Field:
    return Field(name, VOLT, low, high)


def _milliampere(name: str) -> Field:
    return Field(name, MILLIAMPERE, 1e-6, 5000.0)


def _watt(name: str) -> Field:
    return Field(name, WATT, 0.001, 2000.0)


def _ohm(name: str) -> Field:
    return Field(name, OHM, 1.0, 1e7)


def _megohm(name: str) -> Field:
    return Field(name, _MEGOHM, 0.001, 100.0)


BIAS_FIELDS: dict[str, Field] = {
    "plate_v": _volt("plate_voltage", 1.0),
    "supply_v": _volt("supply_voltage", 1.0),
    "grid_v": _volt("grid_voltage", -500.0, 100.0),
    "grid_supply_v": _volt("grid_supply_voltage", -500.0, 500.0),
    "cathode_ohm": _ohm("cathode_resistance"),
    "plate_circuit_ohm": _ohm("plate_circuit_resistance"),
}

CONSTANT_FIELDS: dict[str, Field] = {
    "plate_ma": _milliampere("plate_current"),
    "mu": Field("amplification_factor", UNITY, 1.0, 500.0),
    "gm_umho": Field("transconductance", MICROMHO, 10.0, 100_000.0),
    "rp_ohm": Field("plate_resistance", OHM, 50.0, 1e6),
}

PENTODE_FIELDS: dict[str, Field] = {
    "screen_v": _volt("screen_voltage", 1.0),
    "plate_ma": CONSTANT_FIELDS["plate_ma"],
    "screen_ma": _milliampere("screen_current"),
    "gm_umho": CONSTANT_FIELDS["gm_umho"],
    "rp_ohm": Field("plate_resistance", OHM, 50.0, 1e7),
    "mu_g1_g2": Field("screen_amplification_factor", UNITY, 1.0, 500.0),
}

LIMIT_FIELDS: dict[str, Field] = {
    "plate_ma": CONSTANT_FIELDS["plate_ma"],
    "mu": CONSTANT_FIELDS["mu"],
    "gm_umho": CONSTANT_FIELDS["gm_umho"],
    "grid_v": BIAS_FIELDS["grid_v"],
    "heater_a": Field("heater_current", _AMPERE, 0.01, 100.0),
    "reverse_grid_ua": Field("reverse_grid_current", MICROAMPERE, 1e-4, 1000.0),
    "section_balance_pct": Field("section_balance", _PERCENT, 0.1, 100.0),
}

HEATER_FIELDS: dict[str, Field] = {
    "heater_v": _volt("heater_voltage", 0.5, 120.0),
    "heater_a": LIMIT_FIELDS["heater_a"],
}

FIGURE_FIELDS: dict[str, Field] = {
    "mu": CONSTANT_FIELDS["mu"],
    "filament_shift_v": _volt("filament_shift", 0.1, 20.0),
}

RATING_FIELDS: dict[str, Field] = {
    "plate_v": _volt("plate_voltage", 1.0),
    "plate_supply_v": _volt("plate_supply_voltage", 1.0),
    "plate_cold_v": _volt("plate_voltage_cold", 1.0),
    "plate_no_current_v": _volt("plate_voltage_no_current", 1.0),
    "plate_low_dissipation_v": _volt("plate_voltage_low_dissipation", 1.0),
    "plate_w": _watt("plate_dissipation"),
    "plate_one_unit_w": _watt("plate_dissipation_one_unit"),
    "plate_both_units_w": _watt("plate_dissipation_both_units"),
    "plate_input_w": _watt("plate_input"),
    "plate_ma": _milliampere("plate_current"),
    "plate_fixed_bias_ma": _milliampere("plate_current_fixed_bias"),
    "plate_cathode_bias_ma": _milliampere("plate_current_cathode_bias"),
    "plate_full_signal_ma": _milliampere("plate_current_full_signal"),
    "plate_and_screen_w": _watt("plate_and_screen_dissipation"),
    "screen_v": _volt("screen_voltage", 1.0),
    "screen_cold_v": _volt("screen_voltage_cold", 1.0),
    "screen_w": _watt("screen_dissipation"),
    "screen_full_signal_w": _watt("screen_dissipation_full_signal"),
    "cathode_ma": _milliampere("cathode_current"),
    "cathode_peak_ma": _milliampere("cathode_current_peak"),
    "grid_w": _watt("grid_dissipation"),
    "grid_ma": _milliampere("grid_current"),
    "grid_negative_v": _volt("grid_voltage_negative"),
    "grid_positive_v": _volt("grid_voltage_positive"),
    "grid_circuit_megohm": _megohm("grid_circuit_resistance"),
    "grid_circuit_fixed_bias_megohm": _megohm("grid_circuit_resistance_fixed_bias"),
    "grid_circuit_cathode_bias_megohm": _megohm("grid_circuit_resistance_cathode_bias"),
    "heater_cathode_v": _volt("heater_cathode_voltage"),
    "heater_positive_v": _volt("heater_cathode_voltage_positive"),
    "heater_negative_v": _volt("heater_cathode_voltage_negative"),
    "heater_cathode_unit_1_average_v": _volt("heater_cathode_voltage_unit_1_average", -1000.0),
    "heater_cathode_unit_2_average_v": _volt("heater_cathode_voltage_unit_2_average", -1000.0),
    "heater_cathode_unit_2_peak_v": _volt("heater_cathode_voltage_unit_2_peak", -1000.0),
    "heater_cathode_circuit_megohm": _megohm("heater_cathode_circuit_resistance"),
}

OPERATION_FIELDS: dict[str, Field] = {
    "plate_v": BIAS_FIELDS["plate_v"],
    "supply_v": BIAS_FIELDS["supply_v"],
    "grid_v": BIAS_FIELDS["grid_v"],
    "screen_v": PENTODE_FIELDS["screen_v"],
    "cathode_ohm": BIAS_FIELDS["cathode_ohm"],
    "plate_ma": CONSTANT_FIELDS["plate_ma"],
    "plate_full_signal_ma": _milliampere("plate_current_full_signal"),
    "plate_two_tubes_ma": _milliampere("plate_current_two_tubes"),
    "plate_two_tubes_full_signal_ma": _milliampere("plate_current_two_tubes_full_signal"),
    "screen_ma": PENTODE_FIELDS["screen_ma"],
    "screen_full_signal_ma": _milliampere("screen_current_full_signal"),
    "screen_two_tubes_ma": _milliampere("screen_current_two_tubes"),
    "screen_two_tubes_full_signal_ma": _milliampere("screen_current_two_tubes_full_signal"),
    "load_ohm": _ohm("load_resistance"),
    "load_plate_to_plate_ohm": _ohm("load_resistance_plate_to_plate"),
    "next_grid_ohm": _ohm("next_grid_resistance"),
    "signal_peak_v": _volt("signal_voltage_peak"),
    "signal_grid_to_grid_peak_v": _volt("signal_voltage_peak_grid_to_grid"),
    "output_peak_v": _volt("output_voltage_peak"),
    "output_w": _watt("output_power"),
    "distortion_pct": Field("distortion", _PERCENT, 0.0, 100.0),
    "gain": Field("voltage_gain", UNITY, 0.1, 1000.0),
}

_BETWEEN = (
    "cathode_to_grid_heater_shield",
    "grid_2_plate_1",
    "grid_cathode",
    "grid_filament",
    "grid_heater",
    "grid_plate",
    "grid_to_cathode_heater_shield",
    "heater_cathode",
    "input",
    "output",
    "plate_cathode",
    "plate_filament",
    "plate_plate",
    "plate_to_cathode_heater_shield",
    "plate_to_grid_heater_shield",
)

CAPACITANCE_FIELDS: dict[str, Field] = {
    f"{unit}{name}_pf": Field(unit + name, _PICOFARAD, 1e-4, 1000.0)
    for unit in ("", "unit_1_", "unit_2_")
    for name in (*_BETWEEN, *(f"{name}_at_most" for name in _BETWEEN))
}
