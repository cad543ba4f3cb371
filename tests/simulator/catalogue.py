"""Published figures that the simulated types are calibrated to, with their sources."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PUBLISHED", "TypeFigures"]


@dataclass(frozen=True, slots=True)
class TypeFigures:
    """The bogey point of a type and what a bench may do to it. SI units.

    Attributes
    ----------
    plate_voltage, grid_voltage : float
        Bogey point, electrode volts [V].
    plate_current, transconductance, amplification_factor : float
        There [A], [S], [1].
    dissipation, highest_plate_voltage : float
        Class A ratings per section [W], [V].
    filament_volts : float
        Drop along a filament that is its own cathode; 0 for an indirectly heated tube.
    source : str
        Of the bogey point; ``from memory`` where no page was read.
    """

    name: str
    plate_voltage: float
    grid_voltage: float
    plate_current: float
    transconductance: float
    amplification_factor: float
    dissipation: float
    highest_plate_voltage: float
    filament_volts: float
    source: str

    @property
    def plate_resistance(self) -> float:
        """Plate resistance at the bogey point, from the closure mu = gm rp [ohm]."""
        return self.amplification_factor / self.transconductance


_TYPES = (
    TypeFigures(
        "12AX7", 250, -2, 1.2e-3, 1600e-6, 100, 1.2, 330, 0,
        "RCA 12AX7-A tube handbook sheets DATA 1 / DATA 2, 10-60",
    ),
    TypeFigures(
        "12AU7", 250, -8.5, 10.5e-3, 2200e-6, 17, 2.75, 300, 0,
        "Philips ECC82 data sheets 1-4; ratings: Tung-Sol 12AU7 data sheet, plate 6593, 1962",
    ),
    TypeFigures(
        "12AT7", 250, -2, 10e-3, 5500e-6, 60, 2.5, 300, 0,
        "GE 12AT7 Description and Rating ET-T1440, 2-57 (200 ohm cathode resistor: -2 V)",
    ),
    TypeFigures(
        "6SN7GTB", 250, -8, 9e-3, 2600e-6, 20, 5.0, 450, 0,
        "Tung-Sol 6SN7GT data sheet, plates 1584-1586, July 31, 1945; GTB ratings from memory",
    ),
    TypeFigures(
        "6SL7GT", 250, -2, 2.3e-3, 1600e-6, 70, 1.0, 300, 0,
        "from memory (RCA Receiving Tube Manual RC-30)",
    ),
    TypeFigures(
        "6DJ8", 90, -1.3, 15e-3, 12250e-6, 33, 1.8, 130, 0,
        "RCA Receiving Tube Manual, Technical Data page 245 (edition not shown)",
    ),
    TypeFigures(
        "6922", 89.8, -1.2, 15e-3, 12500e-6, 33, 1.5, 220, 0,
        "Philips E88CC / 6922 special-quality tube data, December 1968",
    ),
    TypeFigures(
        "12BH7A", 250, -10.5, 11.5e-3, 3100e-6, 16.5, 3.5, 300, 0,
        "from memory (RCA Receiving Tube Manual RC-30)",
    ),
    TypeFigures(
        "6J5", 250, -8, 9e-3, 2600e-6, 20, 2.5, 300, 0,
        "Tung-Sol 6SN7GT data sheet, plates 1584-1586, July 31, 1945 (each unit as 6J5)",
    ),
    TypeFigures(
        "2A3", 250, -45, 60e-3, 5250e-6, 4.2, 15, 300, 2.5,
        "Ip, rp: page on type 2A3 (valve museum); gm from memory (RCA Receiving Tube Manual)",
    ),
    TypeFigures(
        "300B", 300, -61, 60e-3, 5500e-6, 3.85, 40, 450, 5.0,
        "WE 300B Technical Data Sheets",
    ),
    TypeFigures(
        "45", 250, -50, 34e-3, 2175e-6, 3.5, 10, 275, 2.5,
        "from memory (RCA Receiving Tube Manual RC-13 / RC-14)",
    ),
    TypeFigures(
        "801A", 500, -45, 24e-3, 1725e-6, 8, 20, 600, 7.5,
        "RCA HB-3 handbook sheets 801-A/801, DATA and DATA 2, April 15, 1940",
    ),
    TypeFigures(
        "211", 1000, -61, 53e-3, 3150e-6, 12, 75, 1250, 10,
        "from memory (RCA 211 / 845 handbook sheets)",
    ),
    TypeFigures(
        "845", 1000, -155, 65e-3, 3100e-6, 5.3, 75, 1250, 10,
        "Ip: RCA Type 845 data page; gm and mu from memory (RCA 211 / 845 handbook sheets)",
    ),
)  # fmt: skip

PUBLISHED = {figures.name: figures for figures in _TYPES}
