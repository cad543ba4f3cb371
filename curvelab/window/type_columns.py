"""The columns of a type's form, part by part."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QCoreApplication

from curvelab.reference.fields import RATING_FIELDS, Field
from curvelab.reference.records import Status
from curvelab.window.edit_table import SOURCE, STATUS, EditColumn

__all__ = ["FROM_MEMORY", "limit_words", "origin_columns", "part_columns"]

FROM_MEMORY = Status.FROM_MEMORY.value
_ARRANGED = {name: name for name in ("single", "series", "parallel", "filament", "common")}


def limit_words(field: Field) -> str:
    """Return the name of a limit with its unit."""
    return f"{field.name.replace('_', ' ')} ({field.unit.symbol})"


def origin_columns(titles: Mapping[str, str]) -> tuple[EditColumn, EditColumn]:
    """Return the columns of status and source; ``titles`` by the sources' short names."""
    choices = {name: f"{name}: {title}" for name, title in titles.items()}
    return (
        EditColumn(_tr("status"), STATUS, choices=_kinds()),
        EditColumn(_tr("source"), SOURCE, choices=choices, words=choices),
    )


def _kinds() -> dict[str, str]:
    """Return how well a figure may be known, in the file's words and in those shown."""
    return {
        FROM_MEMORY: _tr("from memory"),
        Status.VERIFIED.value: _tr("verified (seen printed)"),
    }


def part_columns() -> dict[str, tuple[EditColumn, ...]]:
    """Return the columns of each part, without those of its origin."""
    limits = {key: limit_words(field) for key, field in RATING_FIELDS.items()}
    volts = {"plate_v": _tr("Vp (V)"), "screen_v": _tr("Vs (V)"), "grid_v": _tr("Vg (V)")}
    bias = {"cathode_ohm": _tr("Rk (ohm)"), "supply_v": _tr("supply (V)")}
    drawn = {"plate_ma": _tr("Ip (mA)"), "screen_ma": _tr("Is (mA)")}
    slopes = {
        "mu": _tr("mu"),
        "mu_g1_g2": _tr("mu g1-g2"),
        "gm_umho": _tr("gm (µmho)"),
        "rp_ohm": _tr("rp (ohm)"),
    }
    bogey = EditColumn(_tr("bogey"), "bogey", ticked=True)

    def of(*keys: str) -> tuple[EditColumn, ...]:
        titles = volts | bias | drawn | slopes
        return (*(EditColumn(titles[key], key) for key in keys), bogey)

    return {
        "heater": (
            EditColumn(_tr("volts"), "heater_v"),
            EditColumn(_tr("amperes"), "heater_a"),
            EditColumn(_tr("arrangement"), "arrangement", choices=_ARRANGED),
        ),
        "ratings": (
            EditColumn(_tr("limit"), "limit", fixed=True, words=limits),
            EditColumn(_tr("figure"), "value"),
            EditColumn(_tr("rating system"), "system"),
        ),
        "points": of(
            "plate_v",
            "grid_v",
            "cathode_ohm",
            "supply_v",
            "plate_ma",
            "mu",
            "gm_umho",
            "rp_ohm",
        ),
        "pentode_points": of(
            "plate_v",
            "screen_v",
            "grid_v",
            "cathode_ohm",
            "plate_ma",
            "screen_ma",
            "gm_umho",
            "rp_ohm",
            "mu_g1_g2",
        ),
        "curves": (
            EditColumn(_tr("readings"), "readings", fixed=True),
            EditColumn(_tr("screen (V)"), "screen", fixed=True),
            EditColumn(_tr("accuracy"), "accuracy"),
        ),
    }


def _tr(text: str) -> str:
    return QCoreApplication.translate("type columns", text)
