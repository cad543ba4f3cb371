"""The figures of a tube as compact text, for a QR code on its label; and read back.

Semicolons part the fields, each a key and a value: ``cl1;s=A17;t=6SN7GTB;p=250,-8;...``.
``cl1`` is the form. A value of numbers is ``value/uncertainty``, in the units of the trade.
Whatever else stands in a name is written as percent signs and hexadecimal digits, as in the
address of a web page (RFC 3986), so that the text is plain ASCII.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date as Date  # noqa: N812 - ``date`` is the record's own word
from types import MappingProxyType
from urllib.parse import quote, unquote

from curvelab.errors import DocumentError
from curvelab.fitting.records import Constant
from curvelab.sheets.tables import CONSTANT_QUANTITIES
from curvelab.sheets.text import decimals_of, volts

__all__ = ["CodedSection", "CodedTube", "label_code", "read_label_code"]

_FORM = "cl1"
_KEYS = MappingProxyType(
    {
        "plate_current": "i",
        "transconductance": "g",
        "plate_resistance": "r",
        "amplification_factor": "m",
    }
)
_BESIDES = ("plate_resistance", "amplification_factor")  # left out where room is short
_SAFE = " .,()+*/:_-"


@dataclass(frozen=True, slots=True)
class CodedSection:
    """One section: where it was measured [V], and those constants that have a value [SI]."""

    section: str | None
    point: tuple[float, ...]
    figures: Mapping[str, Constant]

    def __post_init__(self) -> None:
        object.__setattr__(self, "figures", MappingProxyType(dict(self.figures)))


@dataclass(frozen=True, slots=True)
class CodedTube:
    """What a label's code says."""

    serial: str
    lot: str
    type_name: str
    sections: tuple[CodedSection, ...]
    verdict: str | None = None
    grade: str | None = None
    set_name: str | None = None
    date: Date | None = None


def label_code(tube: CodedTube, *, besides: bool = True, figures: bool = True) -> str:
    """Return a tube's code.

    Parameters
    ----------
    besides : bool
        Whether plate resistance and amplification factor are in it.
    figures : bool
        Whether any figure is.
    """
    parts = [_FORM, f"s={_escaped(tube.serial)}"]
    parts += [
        f"{key}={_escaped(value)}"
        for key, value in (("l", tube.lot), ("t", tube.type_name))
        if value
    ]
    for section in tube.sections if figures else ():
        parts += _section(section, besides)
    parts += [
        f"{key}={_escaped(value)}"
        for key, value in (("v", tube.verdict), ("q", tube.grade), ("n", tube.set_name))
        if value
    ]
    if tube.date is not None:
        parts.append(f"d={tube.date.isoformat()}")
    return ";".join(parts)


def _section(section: CodedSection, besides: bool) -> Iterator[str]:
    if section.section is not None:
        yield f"x={_escaped(section.section)}"
    yield "p=" + ",".join(volts(value) for value in section.point)
    for name, quantity in CONSTANT_QUANTITIES:
        constant = section.figures.get(name)
        if constant is None or constant.value is None or (name in _BESIDES and not besides):
            continue
        shown = quantity.unit.from_si(constant.value)
        if constant.u95 is None or constant.u95 <= 0:
            yield f"{_KEYS[name]}={shown:.5g}"
        else:
            spread = quantity.unit.from_si(constant.u95)
            decimals = decimals_of(spread)
            yield f"{_KEYS[name]}={shown:.{decimals}f}/{spread:.{decimals}f}"


def _escaped(text: str) -> str:
    found = quote(text, safe=_SAFE)
    if text == text.strip():
        return found
    return found.replace(" ", "%20")  # a reader may trim what stands at the ends


def read_label_code(text: str) -> CodedTube:
    """Return what a label's code says.

    Raises
    ------
    DocumentError
        If the text is no such code.
    """
    form, *parts = text.strip().split(";")
    if form != _FORM:
        raise DocumentError("this is no label code of curvelab")
    words: dict[str, str] = {}
    sections: list[tuple[str | None, tuple[float, ...], dict[str, Constant]]] = []
    name: str | None = None
    try:
        for part in parts:
            key, _, value = part.partition("=")
            if key == "x":
                name = unquote(value)
            elif key == "p":
                sections.append((name, tuple(map(float, filter(None, value.split(",")))), {}))
                name = None
            elif key in _KEYS.values():
                constant, figure = _read_figure(key, value)
                sections[-1][2][constant] = figure
            else:
                words[key] = unquote(value)
        return CodedTube(
            serial=words["s"],
            lot=words.get("l", ""),
            type_name=words.get("t", ""),
            sections=tuple(CodedSection(*each) for each in sections),
            verdict=words.get("v"),
            grade=words.get("q"),
            set_name=words.get("n"),
            date=Date.fromisoformat(words["d"]) if "d" in words else None,
        )
    except (ValueError, KeyError, IndexError) as error:
        raise DocumentError(f"the label code is broken ({error})") from error


def _read_figure(key: str, value: str) -> tuple[str, Constant]:
    name = next(name for name, code in _KEYS.items() if code == key)
    unit = next(quantity.unit for each, quantity in CONSTANT_QUANTITIES if each == name)
    shown, _, spread = value.partition("/")
    return name, Constant(unit.to_si(float(shown)), unit.to_si(float(spread)) if spread else None)
