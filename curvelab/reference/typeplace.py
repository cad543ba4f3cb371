"""Where in the text of a type file a refusal points to."""

from __future__ import annotations

import re

__all__ = ["line_of_refusal"]

_TOML_LINE = re.compile(r"\(at line (\d+)")
_NUMBERED = re.compile(r"(.+) (\d+)")


def line_of_refusal(text: str, message: str) -> int | None:
    """Return the line, counted from 1, that a refusal of the text is about.

    A refusal names table, row and key, such as ``1XA1, heater, row 1, heater_v: wanted ...``;
    one of the TOML reader names its line. None where neither leads to a line.
    """
    known = _TOML_LINE.search(message)
    if known is not None:
        return int(known.group(1))
    _, *places = message.partition(": ")[0].split(", ")
    lines = text.splitlines()
    at, found = 0, None
    for place in places:
        here = _next(lines, at, place)
        if here is None:
            break
        at, found = here, here + 1
    return found


def _next(lines: list[str], start: int, place: str) -> int | None:
    """Return the position of one step of a place, searched from ``start`` on."""
    numbered = _NUMBERED.fullmatch(place)
    if numbered is not None and numbered[1] == "row":
        return _nth(lines, start, re.compile(r"\s*(rows\s*=\s*\[\s*)?\{"), int(numbered[2]))
    name = re.escape(numbered[1] if numbered else place)
    header = _nth(
        lines, start, re.compile(rf"\s*\[\[?{name}\]\]?"), int(numbered[2]) if numbered else 1
    )
    if header is not None:
        return header
    key = re.compile(rf"(^|[\s{{,]){name}\s*=")
    for at in range(start, len(lines)):
        if at > start and lines[at].startswith("["):
            return None
        if key.search(lines[at]):
            return at
    return None


def _nth(lines: list[str], start: int, pattern: re.Pattern[str], count: int) -> int | None:
    places = [at for at in range(start, len(lines)) if pattern.match(lines[at])]
    return places[count - 1] if 0 < count <= len(places) else None
