"""The commands for types of one's own: copy, check, import, export, curves read off a sheet."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from curvelab.cli.console import note, show, show_bytes
from curvelab.reference.records import TubeType
from curvelab.sheets.output import write_output
from curvelab.workbench.own_types import (
    add_curves,
    check_type_file,
    copy_type,
    export_type,
    import_type,
)
from curvelab.workbench.type_library import current_types, own_folder

__all__ = ["run"]

_STANDARD_OUTPUT = "-"


def run(arguments: Namespace) -> int:
    """Do what was asked for with the user's own types."""
    {
        None: _list,
        "copy": _copy,
        "check": _check,
        "import": _import,
        "export": _export,
        "curves": _curves,
    }[arguments.action](arguments)
    return 0


def _list(_: Namespace) -> None:
    joined = current_types()
    for problem in joined.problems:
        note(problem)
    show(f"your own types are in {own_folder() / 'types'}\n")
    for name, file in sorted(joined.own.items()):
        show(f"{name}  {file.name}\n")


def _copy(arguments: Namespace) -> None:
    target = copy_type(arguments.near, arguments.name)
    show(f"{target}\n")
    note("every figure in it is from memory until you find it printed for the new type")


def _check(arguments: Namespace) -> None:
    for path in arguments.files:
        show(f"{path}: {_summary(check_type_file(path))}\n")


def _import(arguments: Namespace) -> None:
    for path in arguments.files:
        found, target = import_type(path, replace=arguments.replace)
        show(f"{found.name}: {target}\n")


def _export(arguments: Namespace) -> None:
    content = export_type(arguments.name).encode("utf-8")
    if arguments.file == _STANDARD_OUTPUT:
        show_bytes(content)
    else:
        write_output(Path(arguments.file), content)


def _curves(arguments: Namespace) -> None:
    found = add_curves(arguments.name, arguments.file, arguments.source, arguments.accuracy)
    show(f"{_summary(found)}\n")


def _summary(found: TubeType) -> str:
    points = len(found.points) + len(found.pentode_points)
    counted = [
        f"{number} {what}{'' if number == 1 else 's'}"
        for number, what in (
            (points, "point"),
            (len(found.ratings), "rating set"),
            (len(found.curves), "curve set"),
        )
        if number
    ]
    return f"type {found.name}, {', '.join(counted) or 'no figures'}: keeps the rules"
