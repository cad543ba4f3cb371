"""The rules of the grades, as a file states them."""

from __future__ import annotations

import hashlib
import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from curvelab.errors import GradeRulesError
from curvelab.health.limits import COMMON_PRACTICE, HOUSE_RULE

__all__ = ["GRADED", "Band", "GradeRule", "GradeRules", "Words", "read_grade_rules"]

GRADED = {"plate_current": "plate current", "transconductance": "transconductance"}
"""The quantities a grade is made of, with their names in words."""

_FORMAT = 1
_STAGES = ("new", "end of life")
_BASES = {"house rule": HOUSE_RULE, "common practice": COMMON_PRACTICE}
_TOP_KEYS = ("format", "name", "edition", "hold_at_best", "words", "grades", "types")
_BAND_KEYS = {f"{quantity}_pct": quantity for quantity in GRADED}


@dataclass(frozen=True, slots=True)
class Band:
    """From ``low`` to ``high`` as fractions of the bogey figure."""

    low: float
    high: float
    source: str


@dataclass(frozen=True, slots=True)
class GradeRule:
    """One grade.

    Attributes
    ----------
    printed : str or None
        Stage of the printed limits that go before the bands, ``new`` or ``end of life``.
    bands : mapping of str to Band
        By quantity; every one of ``GRADED`` has one.
    """

    word: str
    meaning: str
    printed: str | None
    bands: Mapping[str, Band]


@dataclass(frozen=True, slots=True)
class Words:
    """What a tube is called that has none of the grades."""

    below: str
    above: str
    barred: str
    undecided: str
    none: str


@dataclass(frozen=True, slots=True)
class GradeRules:
    """All rules.

    Attributes
    ----------
    grades : tuple of GradeRule
        Best first.
    mark : str
        Eight characters that change with any change of the file.
    types : mapping of (str, str) to mapping of str to Band
        Other bands, by type and word.
    """

    name: str
    edition: str
    mark: str
    grades: tuple[GradeRule, ...]
    words: Words
    hold_at_best: str
    types: Mapping[tuple[str, str], Mapping[str, Band]]

    @property
    def title(self) -> str:
        """Name, edition and mark, to be printed with every grade."""
        return f"{self.name}, edition {self.edition} ({self.mark})"

    @property
    def order(self) -> tuple[str, ...]:
        """Every word, from the best grade to a tube that is barred."""
        words = self.words
        own = tuple(grade.word for grade in self.grades)
        return (*own, words.undecided, words.none, words.above, words.below, words.barred)

    def bands(self, type_name: str | None, rule: GradeRule) -> Mapping[str, Band]:
        """Return the bands of a grade for a type."""
        return self.types.get((type_name or "", rule.word), rule.bands)


def read_grade_rules(content: bytes, where: str) -> GradeRules:
    """Return the rules that a TOML file states.

    Parameters
    ----------
    where : str
        What the file is called in a message.

    Raises
    ------
    GradeRulesError
        If it is no TOML, lacks something, or contradicts itself.
    """
    try:
        found = tomllib.loads(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise GradeRulesError(f"{where}: not a TOML file ({error})") from error
    reader = _Reader(where)
    reader.allow("", found, _TOP_KEYS)
    if found.get("format") != _FORMAT:
        raise GradeRulesError(
            f"{where}: format is {found.get('format')!r}, this program reads format {_FORMAT}"
        )
    grades = reader.grades(found.get("grades"))
    words = reader.words(found.get("words"))
    rules = GradeRules(
        name=reader.text(found, "name", ""),
        edition=reader.text(found, "edition", ""),
        mark=hashlib.sha256(content).hexdigest()[:8],
        grades=grades,
        words=words,
        hold_at_best=reader.text(found, "hold_at_best", ""),
        types=MappingProxyType(reader.types(found.get("types", {}), grades)),
    )
    reader.check(rules)
    return rules


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads one file; ``where`` begins every message."""

    where: str

    def refuse(self, place: str, problem: str) -> GradeRulesError:
        return GradeRulesError(f"{self.where}{', ' if place else ''}{place}: {problem}")

    def allow(self, place: str, table: Mapping[str, object], keys: Iterable[str]) -> None:
        keys = tuple(keys)
        for key in table:
            if key not in keys:
                raise self.refuse(place, f"no key is named {key!r} (there are {', '.join(keys)})")

    def text(self, table: Mapping[str, object], key: str, place: str) -> str:
        value = table.get(key)
        if not isinstance(value, str) or not value.strip():
            raise self.refuse(place, f"{key} must be a text, not {value!r}")
        return value.strip()

    def table(self, value: object, place: str) -> dict[str, Any]:
        if not isinstance(value, dict):
            raise self.refuse(place, f"must be a table, not {value!r}")
        return value

    def words(self, value: object) -> Words:
        table = self.table(value, "words")
        names = ("below", "above", "barred", "undecided", "none")
        self.allow("words", table, names)
        return Words(**{name: self.text(table, name, "words") for name in names})

    def grades(self, value: object) -> tuple[GradeRule, ...]:
        if not isinstance(value, list) or not value:
            raise self.refuse("grades", "there must be at least one [[grades]] table")
        return tuple(
            self.grade(self.table(item, f"grades {number}"), f"grades {number}")
            for number, item in enumerate(value, 1)
        )

    def grade(self, table: Mapping[str, object], place: str) -> GradeRule:
        self.allow(place, table, ("word", "meaning", "printed", "basis", *_BAND_KEYS))
        printed = table.get("printed")
        if printed is not None and printed not in _STAGES:
            raise self.refuse(place, f"printed must be {' or '.join(_STAGES)}, not {printed!r}")
        return GradeRule(
            word=self.text(table, "word", place),
            meaning=self.text(table, "meaning", place),
            printed=None if printed is None else str(printed),
            bands=self.bands(table, place),
        )

    def bands(self, table: Mapping[str, object], place: str) -> Mapping[str, Band]:
        basis = table.get("basis", "house rule")
        source = _BASES.get(basis) if isinstance(basis, str) else None
        if source is None:
            raise self.refuse(place, f"basis must be {' or '.join(_BASES)}, not {basis!r}")
        bands = {}
        for key, quantity in _BAND_KEYS.items():
            value = table.get(key)
            if not isinstance(value, list) or len(value) != 2 or not all(map(_is_share, value)):
                raise self.refuse(place, f"{key} must be [low, high] in percent, not {value!r}")
            if value[0] >= value[1]:
                raise self.refuse(place, f"{key} must have its low below its high, not {value!r}")
            bands[quantity] = Band(value[0] / 100, value[1] / 100, source)
        return MappingProxyType(bands)

    def types(
        self, value: object, grades: tuple[GradeRule, ...]
    ) -> dict[tuple[str, str], Mapping[str, Band]]:
        found = {}
        for name, own in self.table(value, "types").items():
            place = f"types {name!r}"
            table = self.table(own, place)
            self.allow(place, table, (rule.word for rule in grades))
            for word, bands in table.items():
                inside = self.table(bands, f"{place}, {word}")
                self.allow(f"{place}, {word}", inside, ("basis", *_BAND_KEYS))
                found[name, word] = self.bands(inside, f"{place}, {word}")
        return found

    def check(self, rules: GradeRules) -> None:
        """Refuse rules that contradict themselves."""
        order = rules.order
        twice = {word for word in order if order.count(word) > 1}
        if twice:
            raise self.refuse("", f"the word {min(twice)!r} is used twice")
        if rules.hold_at_best not in {rule.word for rule in rules.grades}:
            raise self.refuse("", f"hold_at_best names no grade: {rules.hold_at_best!r}")
        for type_name in ("", *dict.fromkeys(name for name, _ in rules.types)):
            for better, worse in zip(rules.grades, rules.grades[1:], strict=False):
                inner, outer = rules.bands(type_name, better), rules.bands(type_name, worse)
                for quantity in GRADED:
                    one, other = inner[quantity], outer[quantity]
                    if one.low < other.low or one.high > other.high:
                        raise self.refuse(
                            f"types {type_name!r}" if type_name else "",
                            f"the {GRADED[quantity]} of {better.word!r} reaches beyond that of "
                            f"{worse.word!r}, which is the lower grade",
                        )


def _is_share(value: object) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and math.isfinite(float(value)) and 0 < float(value) < 1000  # type: ignore[arg-type]
