"""The text of a type file made fit for another type, or fit to travel alone."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping

from curvelab.errors import ReferenceDataError
from curvelab.reference.table import Source

__all__ = ["near_copy", "self_contained"]

_CITED = re.compile(r'\bsource\s*=\s*"([^"\n]+)"')
_IN_NOTES = re.compile(r"\[([A-Z]+\d+(?:, [A-Z]+\d+)*)\]")
_LIST = r"\s*=\s*\[[^\]]*\]"


def self_contained(text: str, sources: Mapping[str, Source], own: Mapping[str, object]) -> str:
    """Return the text of a type file with the sources it cites in it.

    Parameters
    ----------
    own : mapping
        The sources the file brings already, by short name.
    """
    named = set(_CITED.findall(text))
    for group in _IN_NOTES.findall(text):
        named |= set(group.split(", "))
    wanted = sorted(name for name in named if name in sources and name not in own)
    blocks = (
        f"\n[sources.{name}]\ntitle = {_quoted(sources[name].title)}\n"
        f"kind = {_quoted(sources[name].kind)}\n"
        for name in wanted
    )
    return text.rstrip("\n") + "\n" + "".join(blocks)


def near_copy(text: str, near: str, name: str) -> str:
    """Return the text of a near type's file under another name.

    No sheet of the new type was seen, so every figure becomes one from memory, with the near
    type's source, until somebody finds it printed for the new type.

    Raises
    ------
    ReferenceDataError
        If the text does not name its type before its first table.
    """
    start = re.search(r"^\[", text, re.MULTILINE)
    end = len(text) if start is None else start.start()
    head, rest = text[:end], text[end:]
    head, named = _with_line(head, r"^name\s*=.*$", f"name = {_quoted(name)}")
    if not named:
        raise ReferenceDataError(f"the file of {near} does not name its type in its first lines")
    for key, value in (("aliases", "[]"), ("near", f"[{_quoted(near)}]")):
        line = f"{key} = {value}"
        head, found = _with_line(head, rf"^{key}{_LIST}", line)
        if not found:
            head = head.rstrip("\n") + f"\n{line}\n\n"
    whole = (head + rest).replace('"verified"', '"from memory"')
    return (
        f"# Copied from {near}: every figure is that type's until you find it printed for this "
        f'one;\n# then give your source and the status "verified".\n{whole}'
    )


def _with_line(text: str, pattern: str, line: str) -> tuple[str, bool]:
    """Return ``text`` with ``line`` in the place of the first match, and whether there was one."""
    found = re.search(pattern, text, re.MULTILINE)
    if found is None:
        return text, False
    return text[: found.start()] + line + text[found.end() :], True


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
