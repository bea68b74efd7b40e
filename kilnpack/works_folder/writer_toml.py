"""From a works to the texts of its TOML files."""

from __future__ import annotations

import dataclasses
from enum import StrEnum
from itertools import groupby
from typing import TYPE_CHECKING, Any

from kilnpack.codec import tag_of
from kilnpack.works_folder.describe import MONEY_KEYS
from kilnpack.works_folder.toml_files import TAG, Weekday
from kilnpack.works_folder.toml_text import toml_text

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.orders import Shift
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works

_TAGGED = ("chamber", "outline")
"""Keys whose value may have one of several outlines."""


def toml_texts(works: Works) -> dict[str, str]:
    """Return the texts of the three TOML files by name."""
    return {
        "works.toml": toml_text(_works(works)),
        "kilns.toml": toml_text({"kilns": [_kiln(kiln) for kiln in works.kilns]}),
        "programmes.toml": toml_text({"programmes": [_programme(programme) for programme in works.programmes]}),
    }


def _works(works: Works) -> dict[str, Any]:
    settings = lean(works.settings)
    money = {key: settings.pop(key) for key in MONEY_KEYS if key in settings}
    supply = {key: value for key, value in lean(works.supply).items() if key != "moulds"}
    calendar: dict[str, Any] = {
        "time_zone": works.calendar.time_zone,
        "unattended_firing": works.calendar.unattended_firing,
        "shifts": _shifts(works.calendar.shifts),
    }
    tables = {"money": money, "settings": settings, "calendar": calendar, "supply": supply}
    return {"name": works.name, "now": works.now, **{key: table for key, table in tables.items() if table}}


def _shifts(shifts: tuple[Shift, ...]) -> list[dict[str, Any]]:
    """Return one entry for neighbouring days with the same hours and crew."""
    days = list(Weekday)
    return [
        {
            "days": [days[shift.weekday].value for shift in group],
            "start": hours[0],
            "end": hours[1],
            "crew_people": hours[2],
        }
        for hours, group in groupby(shifts, key=lambda shift: (shift.start, shift.end, shift.crew_people))
    ]


def _programme(programme: Programme) -> dict[str, Any]:
    return _without_name(lean(programme))


def _kiln(kiln: Kiln) -> dict[str, Any]:
    plain = _without_name(lean(kiln))
    plain["offsets"] = [{"stage": one.stage.value, "spread_k": one.spread_k} for one in kiln.offsets]
    return plain


def _without_name(plain: dict[str, Any]) -> dict[str, Any]:
    if plain["name"] == plain["code"]:
        del plain["name"]
    return plain


def lean(value: Any) -> dict[str, Any]:
    """Return the fields of a dataclass that differ from their default, as plain data; outlines with their tag."""
    plain: dict[str, Any] = {}
    for item in dataclasses.fields(value):
        inner = getattr(value, item.name)
        if item.default is not dataclasses.MISSING and inner == item.default:
            continue
        plain[item.name] = _plain(inner)
        if item.name in _TAGGED:
            plain[item.name] = {TAG: tag_of(type(inner)), **lean(inner)}
    return plain


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value):
        return lean(value)
    if isinstance(value, StrEnum):
        return value.value
    return [_plain(one) for one in value] if isinstance(value, tuple) else value
