"""What is said for and against a substitution, and how figures are worded in it."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Notes", "current_shown", "limit_words", "shown", "signed_share"]

_NEXT_TO_NONE = 1e-3  # a family solved from a few points says nothing of so little


@dataclass(slots=True)
class Notes:
    """Sentences gathered on the way to a verdict.

    Attributes
    ----------
    against : list of str
        Why the type is no replacement.
    conditions : list of str
        What must hold, or be looked up, before it goes in.
    unknown : list of str
        What the library does not hold.
    """

    against: list[str] = field(default_factory=list)
    conditions: list[str] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)

    def doubt(self, text: str) -> None:
        """Note something unknown that must be known before the tube goes in."""
        self.unknown.append(text)
        self.conditions.append(f"find out {text}")


def limit_words(name: str, service: str | None = None) -> str:
    """Return the name of a limit in words, with the service it is printed for."""
    return name.replace("_", " ") + (f" in {service}" if service else "")


def shown(name: str, value: float) -> str:
    """Return a limit [SI] in the trade's unit."""
    if "voltage" in name:  # first: a plate voltage is printed for no current, too
        return f"{value:.4g} V"
    if "resistance" in name:
        return f"{value * 1e-6:.4g} Mohm"
    if "current" in name:
        return f"{value * 1e3:.4g} mA"
    return f"{value:.4g} W"


def current_shown(current: float, beside: float) -> str:
    """Return a current [A] beside another one, without a figure where it is next to none."""
    if current < _NEXT_TO_NONE * beside:
        return "next to no current"
    return f"{current * 1e3:.3g} mA"


def signed_share(share: float) -> str:
    """Return a difference as ``12 % higher``."""
    return f"{abs(share) * 100:.0f} % {'higher' if share > 0 else 'lower'}"
