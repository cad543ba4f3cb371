"""What the library knows of a type. SI units; every figure with its source and status."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from curvelab.sweep.records import FloatArray

__all__ = [
    "Comparison",
    "CutoffPoint",
    "Figure",
    "HandbookPoint",
    "Heater",
    "Operation",
    "PentodePoint",
    "PrintedLimit",
    "PublishedCurves",
    "Rating",
    "Status",
    "TubeType",
    "Words",
]

# A supply rating bounds the plate too: the plate never stands above its supply.
_TRIODE_CONNECTED = "triode-connected"
_BOUNDED_BY = {"plate_voltage": "plate_supply_voltage"}


class Status(StrEnum):
    """How well a published value is known."""

    VERIFIED = "verified"
    FROM_MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class Figure:
    """One published number with the title it stands in.

    ``source`` is the title (with page, sheet or date), already resolved for printing.
    """

    value: float
    source: str
    status: Status

    @property
    def verified(self) -> bool:
        """Whether the number was read on the published page itself."""
        return self.status is Status.VERIFIED


@dataclass(frozen=True, slots=True)
class Words:
    """A published statement that is no number: a basing code, what a pin carries."""

    text: str
    source: str
    status: Status


@dataclass(frozen=True, slots=True)
class HandbookPoint:
    """A characteristic point at electrode voltages, supply and cathode bias converted.

    Attributes
    ----------
    plate_voltage, grid_voltage : float
        Electrode volts [V].
    plate_current, transconductance, plate_resistance, amplification_factor : Figure or None
        [A], [S], [ohm], [1]; None where the handbook prints none.
    bogey : bool
        The point a tube of this type is compared at.
    converted : str or None
        How the electrode volts were computed, where the sheet prints a supply or a
        cathode resistor instead.
    source, status : str, Status
        Of the volts: ``from memory`` if any of the figures they rest on is.
    unit : int or None
        Which unit of a tube with dissimilar units, counted from 1.
    """

    plate_voltage: float
    grid_voltage: float
    plate_current: Figure | None
    transconductance: Figure | None
    plate_resistance: Figure | None
    amplification_factor: Figure | None
    bogey: bool
    source: str
    status: Status
    converted: str | None = None
    unit: int | None = None


@dataclass(frozen=True, slots=True)
class PentodePoint:
    """A characteristic point with the screen at a voltage of its own.

    Attributes
    ----------
    plate_voltage, screen_voltage, grid_voltage : float
        Electrode volts [V].
    plate_current, screen_current, transconductance, plate_resistance : Figure or None
        [A], [A], [S], [ohm]; None where the handbook prints none.
    screen_amplification_factor : Figure or None
        Of the control grid against the screen; it is not gm rp.
    bogey : bool
        The point a pentode-connected tube of this type is compared at.
    converted, source, status
        As of `HandbookPoint`.
    """

    plate_voltage: float
    screen_voltage: float
    grid_voltage: float
    plate_current: Figure | None
    screen_current: Figure | None
    transconductance: Figure | None
    plate_resistance: Figure | None
    screen_amplification_factor: Figure | None
    bogey: bool
    source: str
    status: Status
    converted: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class PublishedCurves:
    """Readings of published average curves.

    Attributes
    ----------
    screen_voltage : float or None
        [V]; None for a triode, or a pentode connected as one.
    plate_voltage, grid_voltage, plate_current : ndarray, shape (n,)
        [V], [V], [A]; the plate current of a triode-connected pentode includes the screen's.
    accuracy : str
        How closely the curves could be read, in words.
    screen_current : ndarray or None, shape (n,)
        [A], where it was read off as well; NaN where it was not.
    """

    screen_voltage: float | None
    plate_voltage: FloatArray
    grid_voltage: FloatArray
    plate_current: FloatArray
    source: str
    status: Status
    accuracy: str
    screen_current: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class CutoffPoint:
    """Grid voltage at which the plate current has fallen to a small stated value."""

    plate_voltage: float
    grid_voltage: float
    plate_current: Figure


@dataclass(frozen=True, slots=True)
class Rating:
    """One set of maximum ratings under one named rating system.

    ``limits`` maps plain names to figures in SI: ``plate_voltage``,
    ``plate_dissipation``, ``cathode_current``, ``plate_current``,
    ``grid_circuit_resistance_fixed_bias``, ``grid_circuit_resistance_cathode_bias``,
    ``heater_cathode_voltage_positive`` (heater above cathode) and so on; the keys of
    ``curvelab.reference.fields`` name them all. ``service`` is the class of service the
    set was printed for, None where the sheet names none.
    """

    system: str
    limits: Mapping[str, Figure]
    note: str | None = None
    service: str | None = None

    @property
    def guards_class_a(self) -> bool:
        """Whether the set holds for a triode in class A."""
        return self.service is None or self.service.startswith("class A")


@dataclass(frozen=True, slots=True)
class PrintedLimit:
    """An acceptance or end-of-life limit that a sheet prints.

    ``quantity`` is one of ``plate_current``, ``transconductance``,
    ``amplification_factor``, ``heater_current``, ``reverse_grid_current``,
    ``section_balance`` (a fraction), ``grid_voltage`` (for the plate current that
    ``condition`` states). ``stage`` is ``new`` or ``end of life``. ``plate_voltage`` and
    ``grid_voltage`` are the electrode volts [V] of the condition; None where it fixes a
    circuit or a current instead, in which the electrode volts follow the tube. The circuit is a
    plate supply and a grid supply [V] over a resistor in the cathode [ohm].
    ``screen_voltage`` [V] is stated where the tube is pentode-connected. A type's limits
    stand in order of precedence: the original sheet before one of a later make.
    """

    quantity: str
    stage: str
    low: float | None
    high: float | None
    source: str
    status: Status
    condition: str
    plate_voltage: float | None = None
    grid_voltage: float | None = None
    supply_voltage: float | None = None
    grid_supply_voltage: float | None = None
    cathode_resistance: float | None = None
    screen_voltage: float | None = None


@dataclass(frozen=True, slots=True)
class Heater:
    """One arrangement of the heater or filament."""

    voltage: Figure
    current: Figure
    arrangement: str


@dataclass(frozen=True, slots=True)
class Operation:
    """A row of a sheet's table of operation, by plain names in SI.

    ``service`` is the class printed (``A1``) or ``resistance-coupled``.
    """

    service: str
    figures: Mapping[str, Figure]


@dataclass(frozen=True, slots=True, eq=False)
class TubeType:
    """A type of the library.

    Attributes
    ----------
    filament_shift : Figure or None
        Volts by which a sheet says grid volts for an AC filament (mid-point return)
        exceed those for a DC filament (negative end); None where no sheet prints it.
    amplification_factor : Figure or None
        Where a sheet prints it for the type as a whole, apart from its points.
    pins : mapping of str to Words
        What each pin carries, by its number; ``cap`` is a cap on top.
    capacitances : mapping of str to tuple of Figure
        [F]; two figures are those of unit 1 and unit 2.
    points : tuple of HandbookPoint
        Of a pentode or beam tetrode: those of its triode connection.
    pentode_points : tuple of PentodePoint
        With the screen at a voltage of its own.
    """

    name: str
    aliases: tuple[str, ...]
    kind: str
    cathode: str
    base: str | None
    points: tuple[HandbookPoint, ...]
    cutoffs: tuple[CutoffPoint, ...]
    ratings: tuple[Rating, ...]
    printed_limits: tuple[PrintedLimit, ...]
    heaters: tuple[Heater, ...]
    notes: tuple[str, ...]
    near: tuple[str, ...]
    filament_shift: Figure | None = None
    amplification_factor: Figure | None = None
    basing_code: Words | None = None
    pins: Mapping[str, Words] = field(default_factory=dict)
    capacitances: Mapping[str, tuple[Figure, ...]] = field(default_factory=dict)
    operations: tuple[Operation, ...] = ()
    pentode_points: tuple[PentodePoint, ...] = ()
    curves: tuple[PublishedCurves, ...] = ()

    @property
    def bogey(self) -> HandbookPoint | None:
        """The point tubes of this type are compared at."""
        return next((point for point in self.points if point.bogey), None)

    @property
    def pentode_bogey(self) -> PentodePoint | None:
        """The point such tubes are compared at with the screen at a voltage of its own."""
        return next((point for point in self.pentode_points if point.bogey), None)

    @property
    def has_screen(self) -> bool:
        """Whether it is a pentode or tetrode, so that its ``points`` are triode-connected."""
        return "pentode" in self.kind or "tetrode" in self.kind

    @property
    def triode_curves(self) -> PublishedCurves | None:
        """The published curves of the tube as a triode."""
        return next((item for item in self.curves if item.screen_voltage is None), None)

    @property
    def directly_heated(self) -> bool:
        """Whether the cathode is the filament itself."""
        return self.cathode.startswith("direct")

    @property
    def has_screen_grid(self) -> bool:
        """Whether it is a pentode or tetrode, however it is connected."""
        return "pentode" in self.kind or "tetrode" in self.kind

    def as_connected(self, *, with_screen: bool) -> TubeType:
        """Return the type with the ratings that hold for a connection of its screen grid.

        A set printed for the triode connection holds for that alone, and there goes before the
        others in what it limits.
        """
        tied = [item for item in self.ratings if _TRIODE_CONNECTED in (item.service or "")]
        if not tied:
            return self
        others = tuple(item for item in self.ratings if item not in tied)
        if with_screen:
            return replace(self, ratings=others)
        names = {name for item in tied for name in item.limits}
        left = tuple(
            replace(item, limits={k: v for k, v in item.limits.items() if k not in names})
            for item in others
        )
        return replace(self, ratings=(*tied, *left))

    def rating(self, name: str) -> Figure | None:
        """Return the limit of this name that guards a triode in class A.

        Sets printed for class A, or for no service in particular, are asked; only a type
        without any such set is judged by those of other services (a modulated carrier's
        lighter rating does not judge an audio tube). Among several figures a verified one goes
        before one from memory, then the lowest: of a design-center and a design-maximum figure
        the design-center one, which leaves room for the spread of tubes and supplies and so is the
        safe side on a bench. A plate voltage that is nowhere rated is bounded by the
        rated supply voltage.
        """
        guards = [rating for rating in self.ratings if rating.guards_class_a] or self.ratings
        found = [rating.limits[name] for rating in guards if name in rating.limits]
        if not found and name in _BOUNDED_BY:
            return self.rating(_BOUNDED_BY[name])
        return min(found, key=lambda figure: (not figure.verified, figure.value), default=None)


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """A tube against a reference family.

    Attributes
    ----------
    type_name : str
        The type whose family was used.
    why : str
        ``same``, ``alias``, ``stand-in`` or ``own curves``.
    family_deviation : float or None
        RMS over the covered plane, as a fraction of the family's current.
    of_bogey : mapping of str to float
        Tube's constant divided by the family's, by constant name; missing where either
        has none.
    deviation_plate_voltage, deviation_grid_voltage, deviation : ndarray
        The relative deviation over the covered plane, for the picture.
    open_by : float
        Share of the plate current at the operating point by which the comparison is open,
        because it is not known to which end of the filament the grid volts are.
    """

    type_name: str
    why: str
    family_deviation: float | None
    of_bogey: Mapping[str, float]
    family_residual: Mapping[str, float]
    plate_voltage: FloatArray
    grid_voltage: FloatArray
    deviation: FloatArray
    open_by: float = 0.0
