"""From what a sheet prints of a point to the volts at the electrodes, and to a triode's point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from curvelab.errors import ReferenceDataError
from curvelab.reference.records import Figure, HandbookPoint, PentodePoint, Status, TubeType

__all__ = [
    "ElectrodeVolts",
    "PrintedBias",
    "electrode_volts",
    "printed_at",
    "printed_with_screen",
    "triode_connected",
]

_SAME_VOLTAGE = 0.5  # [V]: closer points of one tube are one
_SAME_PLATE, _SAME_GRID = 0.05, 0.005  # [V]: rounding of the same numbers


@dataclass(frozen=True, slots=True)
class PrintedBias:
    """The bias of a point as a sheet prints it.

    Attributes
    ----------
    plate_voltage : float or None
        Plate to cathode [V]; None where the sheet prints the supply instead.
    supply_voltage : float or None
        Plate supply [V]: the drop in the cathode resistor and in the plate circuit is
        still inside.
    grid_voltage : float or None
        Grid to cathode [V]; None where a cathode resistor makes the bias.
    grid_supply_voltage : float
        Grid supply to the lower end of the cathode resistor [V].
    cathode_resistance, plate_circuit_resistance : float
        Direct-current resistances [ohm].
    """

    plate_voltage: float | None = None
    supply_voltage: float | None = None
    grid_voltage: float | None = None
    grid_supply_voltage: float = 0.0
    cathode_resistance: float = 0.0
    plate_circuit_resistance: float = 0.0


@dataclass(frozen=True, slots=True)
class ElectrodeVolts:
    """Volts to the cathode; ``converted`` says how they were computed, None if printed."""

    plate_voltage: float
    grid_voltage: float
    converted: str | None


def electrode_volts(bias: PrintedBias, plate_current: float | None) -> ElectrodeVolts:
    """Return plate and grid volts to the cathode (Ohm's law; the grid draws no current).

    Vg = Vgg - Ip Rk and Vp = Vbb - Ip (Rk + Rp), each only where the sheet does not print
    the electrode volts themselves.

    Parameters
    ----------
    plate_current : float or None
        Plate current of the point [A].

    Raises
    ------
    ReferenceDataError
        If the printed figures do not make a point, or make two.
    """
    plate, plate_step = _plate(bias, plate_current)
    grid, grid_step = _grid(bias, plate_current)
    steps = [step for step in (grid_step, plate_step) if step]
    return ElectrodeVolts(plate, grid, "; ".join(steps) or None)


def triode_connected(
    pentode_points: Sequence[PentodePoint], printed: Sequence[HandbookPoint]
) -> tuple[HandbookPoint, ...]:
    """Return the points of the triode connection that pentode points hold, unless printed.

    A pentode whose plate and screen stand at one voltage has the electrode volts of its triode
    connection, in which the plate current is that of both (an identity, no approximation).
    Nothing of the kind holds for gm and rp, which are the plate's alone.
    """
    found: list[HandbookPoint] = []
    bogey = 0
    for point in pentode_points:
        plate, screen = point.plate_current, point.screen_current
        if plate is None or screen is None or point.plate_voltage != point.screen_voltage:
            continue
        if any(_same_volts(point, other) for other in (*printed, *found)):
            continue
        known = (plate.status, screen.status, point.status)
        seen = all(status is Status.VERIFIED for status in known)
        status = Status.VERIFIED if seen else Status.FROM_MEMORY
        words = f"{plate.value * 1e3:g} mA + {screen.value * 1e3:g} mA of the screen"
        bogey = len(found) if point.bogey else bogey
        found.append(
            HandbookPoint(
                plate_voltage=point.plate_voltage,
                grid_voltage=point.grid_voltage,
                plate_current=Figure(plate.value + screen.value, plate.source, status),
                transconductance=None,
                plate_resistance=None,
                amplification_factor=None,
                bogey=False,
                source=point.source,
                status=status,
                converted=f"plate and screen at one voltage: Ip = {words}",
            )
        )
    if found and not printed:
        found[bogey] = replace(found[bogey], bogey=True)
    return tuple(found)


def printed_at(
    tube_type: TubeType, plate_voltage: float, grid_voltage: float, screen_voltage: float | None
) -> HandbookPoint | None:
    """Return the point that a type prints at these volts, if it does.

    With a screen voltage it is one of its pentode points; the amplification factor is then that
    of the control grid against the screen.
    """
    if screen_voltage is None:
        near = (p for p in tube_type.points if _meant(p, plate_voltage, grid_voltage))
        return next(near, None)
    point = printed_with_screen(tube_type, plate_voltage, grid_voltage, screen_voltage)
    if point is None:
        return None
    return HandbookPoint(
        plate_voltage=point.plate_voltage,
        grid_voltage=point.grid_voltage,
        plate_current=point.plate_current,
        transconductance=point.transconductance,
        plate_resistance=point.plate_resistance,
        amplification_factor=point.screen_amplification_factor,
        bogey=point.bogey,
        source=point.source,
        status=point.status,
        converted=point.converted,
    )


def printed_with_screen(
    tube_type: TubeType, plate_voltage: float, grid_voltage: float, screen_voltage: float
) -> PentodePoint | None:
    """Return the point that a type prints at these volts, with its screen at its own."""
    near = (
        point
        for point in tube_type.pentode_points
        if abs(point.screen_voltage - screen_voltage) < _SAME_VOLTAGE
        and _meant(point, plate_voltage, grid_voltage)
    )
    return next(near, None)


def _meant(point: HandbookPoint | PentodePoint, plate_voltage: float, grid_voltage: float) -> bool:
    return (
        abs(point.plate_voltage - plate_voltage) < _SAME_PLATE
        and abs(point.grid_voltage - grid_voltage) < _SAME_GRID
    )


def _same_volts(one: PentodePoint, other: HandbookPoint) -> bool:
    return (
        abs(one.plate_voltage - other.plate_voltage) < _SAME_VOLTAGE
        and abs(one.grid_voltage - other.grid_voltage) < _SAME_VOLTAGE
    )


def _plate(bias: PrintedBias, plate_current: float | None) -> tuple[float, str | None]:
    if bias.plate_voltage is not None and bias.supply_voltage is None:
        return bias.plate_voltage, None
    if bias.supply_voltage is None or bias.plate_voltage is not None:
        raise ReferenceDataError("wanted either the plate voltage or the supply voltage")
    resistance = bias.cathode_resistance + bias.plate_circuit_resistance
    drop, words = _drop(plate_current, resistance)
    plate = bias.supply_voltage - drop
    return plate, f"Vp = {bias.supply_voltage:g} V - {words} = {plate:.5g} V"


def _grid(bias: PrintedBias, plate_current: float | None) -> tuple[float, str | None]:
    if bias.grid_voltage is not None:
        if bias.grid_supply_voltage or (bias.cathode_resistance and bias.supply_voltage is None):
            raise ReferenceDataError("wanted the grid voltage or what makes it, got both")
        return bias.grid_voltage, None
    if not bias.cathode_resistance:
        raise ReferenceDataError("wanted either the grid voltage or a cathode resistor")
    drop, words = _drop(plate_current, bias.cathode_resistance)
    grid = bias.grid_supply_voltage - drop
    supply = f"{bias.grid_supply_voltage:g} V - " if bias.grid_supply_voltage else "-"
    return grid, f"Vg = {supply}{words} = {grid:.4g} V"


def _drop(plate_current: float | None, resistance: float) -> tuple[float, str]:
    if plate_current is None:
        raise ReferenceDataError("wanted the plate current, on which the drop rests")
    return plate_current * resistance, f"{plate_current * 1e3:g} mA x {resistance:g} ohm"
