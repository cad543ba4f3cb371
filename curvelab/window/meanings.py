"""What the findings mean, in a sentence each, for the help page."""

from __future__ import annotations

from types import MappingProxyType

from curvelab.health.records import FindingCode

__all__ = ["MEANINGS"]

MEANINGS = MappingProxyType(
    {
        FindingCode.GAS: "Grid current that flows backwards and follows the plate current: ions.",
        FindingCode.GRID_LEAKAGE: "Grid current that follows the voltage alone: a dirty base or "
        "bridged mica.",
        FindingCode.GRID_EMISSION: "A hot grid gives off electrons of its own; it grows with heat.",
        FindingCode.RUNAWAY: "Plate current that keeps rising at a fixed bias, ever faster.",
        FindingCode.BIAS_DRIFT: "Plate current that has not come to rest at a fixed bias.",
        FindingCode.WEAK_EMISSION: "The top of the curves sags: the cathode no longer gives what "
        "the law asks.",
        FindingCode.CONTACT: "Single readings that fell away: a pin, clip or socket, not the tube.",
        FindingCode.CLIPPED: "Readings that stop at one level: the supply or the meter's range.",
        FindingCode.GRID_STEP: "Two grid steps with the same curve: a step did not change.",
        FindingCode.OFF_TYPE: "The curves look like another type than the label says.",
        FindingCode.SECTION_IMBALANCE: "The two sections of one tube differ too much.",
        FindingCode.OVER_RATING: "Readings beyond a published maximum; they are kept.",
        FindingCode.FAR_FROM_BOGEY: "Constants far from the reference family's.",
        FindingCode.HEATER_CATHODE: "Leakage between heater and cathode.",
        FindingCode.SHORT: "The bench reported electrodes that touch.",
        FindingCode.NO_EMISSION: "No plate current where there must be some.",
        FindingCode.SHORT_WARM_UP: "Read before the cathode could settle.",
        FindingCode.NOISY: "The readings scatter more than the bench explains.",
        FindingCode.DISAGREEMENT: "The fitted law and the local fit do not agree.",
        FindingCode.NOT_COVERED: "The sweep does not reach the operating point.",
        FindingCode.OFF_SIGN: "A column whose sign was turned round to make sense.",
        FindingCode.SWAPPED: "Two columns that seem to bear each other's headings.",
    }
)
