"""The exceptions of curvelab.

::

    CurvelabError
    |-- SweepFileError (ValueError)        a file that cannot be read as a sweep
    |   `-- AmbiguousFileError             readable, but a person must choose a meaning
    |-- SweepShapeError (ValueError)       arrays that do not belong together
    |-- FitInputError (ValueError)         a fit asked for with senseless input
    |-- MatchingInputError (ValueError)    a matching asked for with senseless input
    |-- ReferenceDataError (ValueError)    a type file that breaks the library's rules
    |   `-- UnknownTypeError               a type name the library does not hold
    |-- BenchDescriptionError (ValueError) a bench description that cannot be read
    |-- BenchCheckError (ValueError)       a bench check or correction asked for without sense
    |-- GradeRulesError (ValueError)       grade rules that cannot be read
    |-- LabelSheetError (ValueError)       a sheet of labels that cannot be
    |-- DocumentError (ValueError)         a JSON document that is not what it says
    |-- CatalogError (RuntimeError)        a lot file that cannot be opened, read or changed
    |   |-- UnknownTubeError               a tube it does not hold, or holds more than once
    |   |-- CatalogVersionError            made by another version of the program
    |   `-- CatalogDamagedError            its content is broken, or it is no lot file
    |-- OutputError (OSError)              a result that cannot be written
    `-- DrawingUnavailableError (RuntimeError)  Qt or its system libraries are missing

Poor data is never an exception: it is a finding, or a null with its reason.
"""

from __future__ import annotations

__all__ = [
    "AmbiguousFileError",
    "BenchCheckError",
    "BenchDescriptionError",
    "CatalogDamagedError",
    "CatalogError",
    "CatalogVersionError",
    "CurvelabError",
    "DocumentError",
    "DrawingUnavailableError",
    "FitInputError",
    "GradeRulesError",
    "LabelSheetError",
    "MatchingInputError",
    "OutputError",
    "ReferenceDataError",
    "SweepFileError",
    "SweepShapeError",
    "UnknownTubeError",
    "UnknownTypeError",
]


class CurvelabError(Exception):
    """Base of everything curvelab raises on purpose."""


class SweepFileError(CurvelabError, ValueError):
    """A file that cannot be read as a sweep or drift log.

    Parameters
    ----------
    path : str
        The file as the user named it.
    reason : str
        What is wrong, in one plain sentence without the file's name.
    line : int, optional
        Line number, counted from 1.
    """

    def __init__(self, path: str, reason: str, line: int | None = None) -> None:
        self.path = path
        self.reason = reason
        self.line = line
        where = path if line is None else f"{path}, line {line}"
        super().__init__(f"{where}: {reason}")


class AmbiguousFileError(SweepFileError):
    """A file whose columns or units can be read in more than one way.

    Parameters
    ----------
    choices : tuple of str
        The readings that are possible, in words a user can pick from.
    """

    def __init__(
        self, path: str, reason: str, choices: tuple[str, ...], line: int | None = None
    ) -> None:
        self.choices = choices
        super().__init__(path, f"{reason} (choose: {'; '.join(choices)})", line)


class SweepShapeError(CurvelabError, ValueError):
    """Arrays that do not belong together."""


class FitInputError(CurvelabError, ValueError):
    """A fit asked for with senseless input."""


class MatchingInputError(CurvelabError, ValueError):
    """A matching asked for with senseless input."""


class ReferenceDataError(CurvelabError, ValueError):
    """A type file that breaks the library's rules."""


class UnknownTypeError(ReferenceDataError):
    """A type name the library does not hold.

    Parameters
    ----------
    name : str
        The name that was asked for.
    near : tuple of str
        Names of the library that look like it.
    """

    def __init__(self, name: str, near: tuple[str, ...] = ()) -> None:
        self.name = name
        self.near = near
        hint = f"; did you mean {', '.join(near)}?" if near else ""
        super().__init__(f"no type named {name!r} in the library{hint}")


class BenchDescriptionError(CurvelabError, ValueError):
    """A bench description that cannot be read."""


class BenchCheckError(CurvelabError, ValueError):
    """A bench check or a correction asked for without sense."""


class GradeRulesError(CurvelabError, ValueError):
    """Grade rules that cannot be read."""


class LabelSheetError(CurvelabError, ValueError):
    """A sheet of labels that is not described, or not as one can be."""


class DocumentError(CurvelabError, ValueError):
    """A JSON document that is not what its schema says."""


class CatalogError(CurvelabError, RuntimeError):
    """A lot file that cannot be opened, read or changed.

    Parameters
    ----------
    path : str
        The lot file as the user named it.
    reason : str
        What is wrong and what to do, without the file's name.
    """

    def __init__(self, path: str, reason: str) -> None:
        self.path = path
        self.reason = reason
        super().__init__(f"{path}: {reason}")


class UnknownTubeError(CatalogError):
    """A tube that a lot file does not hold, or holds in several lots."""


class CatalogVersionError(CatalogError):
    """A lot file made by another version of the program."""


class CatalogDamagedError(CatalogError):
    """A lot file whose content is broken, or a file that is none."""


class OutputError(CurvelabError, OSError):
    """A result that cannot be written."""


class DrawingUnavailableError(CurvelabError, RuntimeError):
    """Qt or one of its system libraries is missing, so nothing can be drawn."""
