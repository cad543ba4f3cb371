"""Hand tests: what a person measured beside the sweep, judged by the same limits."""

from __future__ import annotations

from collections.abc import Iterator

from curvelab.health import heater_cathode, short, warm_up
from curvelab.health.evidence import volts, worded
from curvelab.health.limits import HouseLimits
from curvelab.health.records import Finding, FindingCode, Severity
from curvelab.reference.records import Heater, TubeType
from curvelab.sweep.records import Conditions

__all__ = ["judge_hand_test"]

_WHO = "The hand test"
_PERCENT = 0.01
# What a person writes for a tube that keeps quiet when tapped.
_QUIET = frozenset(
    {
        "",
        "-",
        "0",
        "clean",
        "good",
        "nil",
        "no",
        "no noise",
        "none",
        "ok",
        "pass",
        "quiet",
        "silent",
    }
)
_SAME_VOLTAGE = 0.05  # share within which two heater voltages are one


def judge_hand_test(
    conditions: Conditions, limits: HouseLimits, tube_type: TubeType | None
) -> tuple[Finding, ...]:
    """Return what a hand test says against a tube.

    Parameters
    ----------
    conditions : Conditions
        What was measured; what was not is None and says nothing.
    tube_type : TubeType or None
        Its printed heater figures and limits; without it the heater is not judged.
    """
    return (
        *short.find_stated(conditions, _WHO),
        *heater_cathode.find_stated(conditions, limits, _WHO),
        *_tapped(conditions),
        *_heater(conditions, limits, tube_type),
        *warm_up.find_stated(conditions, limits, _WHO),
    )


def _tapped(conditions: Conditions) -> Iterator[Finding]:
    stated = (conditions.tap_test or "").strip()
    if stated.lower().rstrip(".") in _QUIET:
        return
    yield Finding(
        code=FindingCode.NOISY,
        severity=Severity.CAUTION,
        evidence=f'{_WHO} states of tapping the tube: "{stated}".',
    )


def _heater(
    conditions: Conditions, limits: HouseLimits, tube_type: TubeType | None
) -> Iterator[Finding]:
    """Compare the heater current with the sheet's; far below it the heater is open."""
    measured = conditions.heater_current
    heater = _arrangement(conditions.heater_voltage, tube_type)
    if measured is None or heater is None or tube_type is None:
        return
    nominal = heater.current
    at = f"{worded(nominal.value, 'A')} at {volts(heater.voltage.value)}"
    if measured < limits.heater_open.value * nominal.value:
        yield Finding(
            code=FindingCode.NO_EMISSION,
            severity=Severity.REJECT,
            evidence=f"{_WHO} states {worded(measured, 'A')} of heater current where the sheet "
            f"has {at}: the heater is open.",
            value=measured,
            unit="A",
            limit=limits.heater_open.value * nominal.value,
            limit_source=limits.heater_open.source,
        )
        return
    low, high, source = _bounds(tube_type, heater, limits)
    if low <= measured <= high:
        return
    share = (measured / nominal.value - 1.0) / _PERCENT
    yield Finding(
        code=FindingCode.FAR_FROM_BOGEY,
        severity=Severity.NOTE,
        evidence=f"{_WHO} states {worded(measured, 'A')} of heater current, {share:+.0f} % from "
        f"the sheet's {at}.",
        value=measured,
        unit="A",
        limit=low if measured < low else high,
        limit_source=source,
    )


def _arrangement(voltage: float | None, tube_type: TubeType | None) -> Heater | None:
    """Return the heater connection measured: the one of this voltage, or the only one."""
    heaters = tube_type.heaters if tube_type is not None else ()
    if voltage is None:
        return heaters[0] if len(heaters) == 1 else None
    near = [
        heater for heater in heaters if abs(voltage / heater.voltage.value - 1.0) <= _SAME_VOLTAGE
    ]
    return near[0] if near else None


def _bounds(tube_type: TubeType, heater: Heater, limits: HouseLimits) -> tuple[float, float, str]:
    """Return the printed limits of the heater current, else the house's around the sheet's."""
    for printed in tube_type.printed_limits:
        if (
            printed.quantity == "heater_current"
            and printed.low is not None
            and printed.high is not None
            and printed.low <= heater.current.value <= printed.high
        ):
            return printed.low, printed.high, printed.source
    nominal, share = heater.current.value, limits.heater_current.value
    return nominal * (1 - share), nominal * (1 + share), limits.heater_current.source
