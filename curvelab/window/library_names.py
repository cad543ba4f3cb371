"""The names of the types there are, for a person to choose from."""

from __future__ import annotations

from curvelab.errors import CurvelabError

__all__ = ["library_names", "nearest_type"]


def library_names() -> tuple[str, ...]:
    """Return the types of the library, or none where it cannot be read."""
    # Imported here: the library is read only once there is something to compare.
    from curvelab.workbench.type_library import current_types  # noqa: PLC0415

    try:
        return current_types().types.names
    except CurvelabError:
        return ()


def nearest_type(name: str) -> str | None:
    """Return the type that the library calls the nearest to one, if it calls any so."""
    # Imported here, as above.
    from curvelab.workbench.type_library import current_types  # noqa: PLC0415

    try:
        tube_type, _ = current_types().types.find(name)
    except CurvelabError:
        return None
    return next(iter(tube_type.near), None)
