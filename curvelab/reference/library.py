"""The types by name: a type's own name before any alias, and never one variant for another."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from curvelab.errors import ReferenceDataError, UnknownTypeError
from curvelab.reference.records import TubeType

__all__ = ["TypeLibrary", "library_of"]

_SEPARATOR = re.compile(r"[\s\-._]+")
_BETWEEN_NAMES = re.compile(r"[/,;()]+")
_NEAR_SHOWN = 5
_SHORTEST_STEM = 3
# How a file may write the section of a dual tube.
_UNITS = {
    **dict.fromkeys(("1", "a", "i", "one", "first"), 1),
    **dict.fromkeys(("2", "b", "ii", "two", "second"), 2),
}


@dataclass(frozen=True, slots=True)
class _Name:
    """A name as it is spelled, the type it means, and whether it is ``same`` or ``alias``."""

    spelled: str
    type_name: str
    how: str


@dataclass(frozen=True, slots=True, eq=False)
class TypeLibrary:
    """The types of the library; made by :func:`library_of`.

    Attributes
    ----------
    types : mapping of str to TubeType
        By the type's own name, sorted.
    """

    types: Mapping[str, TubeType]
    _names: Mapping[str, _Name]
    _relatives: Mapping[str, tuple[str, ...]]

    @property
    def names(self) -> tuple[str, ...]:
        """The types' own names, sorted."""
        return tuple(self.types)

    def find(self, name: str) -> tuple[TubeType, str]:
        """Return the type of this name, and ``same`` or ``alias``.

        Case, spaces, hyphens and dots do not count. Several names on one label
        (``12AX7/ECC83``) are understood where all mean the same type. Suffixes do count:
        they tell variants with other ratings apart.

        Raises
        ------
        UnknownTypeError
            With names that look like it, or of which it is a relative.
        """
        parts = [key for part in _BETWEEN_NAMES.split(name) if (key := _key(part))]
        if (whole := _key(name)) in self._names:  # a name may hold a stroke: 6V6GT/G
            parts = [whole]
        found = [self._names[key] for key in parts if key in self._names]
        if not found or len(found) < len(parts) or len({one.type_name for one in found}) > 1:
            raise UnknownTypeError(name, self._near(parts))
        how = "same" if any(one.how == "same" for one in found) else "alias"
        return self.types[found[0].type_name], how

    def find_section(self, name: str, section: str | None) -> tuple[TubeType, str]:
        """Return the type of a name, or of one section of a tube whose sections differ.

        The sections of a dissimilar dual triode are types of their own, ``NAME unit 1`` and
        ``NAME unit 2``; a label names the tube.

        Raises
        ------
        UnknownTypeError
        """
        try:
            return self.find(name)
        except UnknownTypeError:
            unit = _UNITS.get((section or "").strip().casefold())
            own = f"{name} unit {unit}"
            if unit is None or _key(own) not in self._names:
                raise
            return self.find(own)

    def _near(self, parts: Iterable[str]) -> tuple[str, ...]:
        """Return types that state it as a relative, then names of its stem, then similar ones."""
        near: dict[str, None] = {}
        for part in parts:
            stems = [key for key in self._names if _share_stem(key, part)]
            stems.sort(key=lambda key: (abs(len(key) - len(part)), key))
            similar = get_close_matches(part, self._names, n=_NEAR_SHOWN, cutoff=0.7)
            near |= dict.fromkeys(self._relatives.get(part, ()))
            near |= dict.fromkeys(self._names[key].spelled for key in stems + similar)
        return tuple(near)[:_NEAR_SHOWN]


def library_of(types: Iterable[TubeType]) -> TypeLibrary:
    """Return the library that these types make.

    Raises
    ------
    ReferenceDataError
        If two types have one name, or one alias.
    """
    by_name = dict(sorted((found.name, found) for found in types))
    own: dict[str, _Name] = {}
    aliases: dict[str, _Name] = {}
    relatives: dict[str, tuple[str, ...]] = {}
    for name, found in by_name.items():
        _add(own, _Name(name, name, "same"))
        for alias in found.aliases:
            _add(aliases, _Name(alias, name, "alias"))
        for relative in found.near:
            relatives[_key(relative)] = (*relatives.get(_key(relative), ()), name)
    return TypeLibrary(by_name, aliases | own, relatives)


def _add(names: dict[str, _Name], name: _Name) -> None:
    other = names.setdefault(_key(name.spelled), name)
    if other.type_name != name.type_name:
        raise ReferenceDataError(
            f"the name {name.spelled!r} is claimed by {other.type_name!r} and {name.type_name!r}"
        )


def _share_stem(one: str, other: str) -> bool:
    shorter, longer = sorted((one, other), key=len)
    return len(shorter) >= _SHORTEST_STEM and longer.startswith(shorter)


def _key(name: str) -> str:
    return _SEPARATOR.sub("", name).upper()
