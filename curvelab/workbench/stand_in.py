"""May one type stand in for another? The answer with its table and both families overlaid."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass

from curvelab.errors import ReferenceDataError
from curvelab.reference.families import FamilyLibrary
from curvelab.reference.family import ReferenceFamily
from curvelab.reference.stand_in_limits import StandInLimits
from curvelab.reference.substitution import Substitution, may_stand_in
from curvelab.sheets.plot_records import CurvePicture
from curvelab.sheets.stand_in import StandInRow, stand_in_rows, wiring_words
from curvelab.sheets.stand_in_picture import stand_in_picture
from curvelab.workbench.type_library import current_families, current_types
from curvelab.workbench.user_files import own_or_shipped

__all__ = ["StandInAnswer", "StandInQuestion", "ask_stand_in", "stand_in_limits"]

_LIMITS_FILE = "stand_in.toml"


@dataclass(frozen=True, slots=True)
class StandInQuestion:
    """Which type is to go in where, and what is known of the place.

    Attributes
    ----------
    at : tuple of float or None
        (Vp, Vg) of the old type there [V], or (Vp, Vg, Vs); None for the handbook's own point.
    plate_circuit_resistance : float
        Direct-current resistance of the plate circuit [ohm].
    """

    old: str
    new: str
    at: tuple[float, ...] | None = None
    plate_circuit_resistance: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class StandInAnswer:
    """What is to be shown of it.

    Attributes
    ----------
    wiring : str or None
        How an adapter is wired.
    picture : CurvePicture or None
        None where one of them has no family, or there is no point to compare at.
    problems : tuple of str
        Files of one's own types that were not taken.
    """

    found: Substitution
    rows: tuple[StandInRow, ...]
    wiring: str | None
    picture: CurvePicture | None
    problems: tuple[str, ...]


def ask_stand_in(
    question: StandInQuestion,
    progress: Callable[[int, int, str], None] = lambda *_: None,
    should_stop: Callable[[], bool] = lambda: False,
) -> StandInAnswer | None:
    """Return the answer; None if it was stopped.

    Raises
    ------
    UnknownTypeError
        If the library does not hold one of the types.
    ReferenceDataError
        If both names mean one type, or the house rules cannot be read.
    """
    progress(0, 1, f"{question.new} in place of {question.old}")
    library = current_families()
    if should_stop():
        return None
    found = may_stand_in(
        library,
        question.old,
        question.new,
        question.at,
        question.plate_circuit_resistance,
        stand_in_limits(),
    )
    answer = StandInAnswer(
        found=found,
        rows=stand_in_rows(found),
        wiring=wiring_words(found.socket),
        picture=_picture(library, found),
        problems=current_types().problems,
    )
    progress(1, 1, "")
    return answer


def stand_in_limits() -> StandInLimits:
    """Return the house rules of a substitution: the user's own, else the shipped ones.

    Raises
    ------
    ReferenceDataError
        If the file cannot be read as such.
    """
    path = own_or_shipped(_LIMITS_FILE)
    try:
        values = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ReferenceDataError(f"{path}: cannot be read as house rules: {error}") from error
    return StandInLimits.from_mapping(values)


def _picture(library: FamilyLibrary, found: Substitution) -> CurvePicture | None:
    both = found.in_circuit
    if both is None:
        return None
    screen = both.old.screen_voltage
    old, new = (
        (
            library.types.types[n].as_connected(with_screen=screen is not None),
            _family(library, n, screen),
        )
        for n in (found.old, found.new)
    )
    return stand_in_picture(old, new, both)


def _family(library: FamilyLibrary, name: str, screen: float | None) -> ReferenceFamily:
    if screen is None:
        return library.families[name]
    return library.pentodes[name].at_screen(screen)
