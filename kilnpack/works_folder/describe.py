"""The headings of the sheets as tables for docs/formats.md, so that the page and the reader cannot part."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import TYPE_CHECKING

from kilnpack.model.settings import WorksSettings
from kilnpack.shared_tables import table
from kilnpack.works_folder.columns import Column, Kind, Sheet
from kilnpack.works_folder.headings_backlog import BACKLOG
from kilnpack.works_folder.headings_catalogue import CATALOGUE
from kilnpack.works_folder.headings_furniture import FURNITURE
from kilnpack.works_folder.headings_measured import MEASURED

if TYPE_CHECKING:
    from collections.abc import Iterable

SHEETS: tuple[Sheet, ...] = CATALOGUE + FURNITURE + BACKLOG + MEASURED
"""Every table of a works folder."""

BAR = r"\|"
"""A bar inside a cell of a Markdown table."""

MONEY_KEYS = ("currency", "labour_money_per_h", "furniture_wear_money_per_shelf")
"""Settings that stand under `[money]` in works.toml."""


def sheet_tables(sheets: Iterable[Sheet] = SHEETS) -> str:
    """Return one Markdown section for each sheet."""
    return "\n".join(_section(sheet) for sheet in sheets)


def _section(sheet: Sheet) -> str:
    rows = "\n".join(
        f"| `{column.heading}` | {cells(column).replace('|', BAR)} | {if_empty(column)} |" for column in sheet.columns
    )
    head = f"### {sheet.name}\n\n{sheet.says}\n\n| heading | what | if empty |\n|---|---|---|\n"
    return f"{head}{rows}\n"


def cells(column: Column) -> str:
    """Return in words what a column holds: kind, meaning, choices, bounds."""
    kind = "" if column.kind in (Kind.CHOICE, Kind.TEXT) else f" ({column.kind})"
    choices = ": " + ", ".join(f"`{choice}`" for choice in column.choices) if column.choices else ""
    bounds = column.bounds
    none = "; `-` for none" if column.none_mark else ""
    return f"{column.says}{kind}{choices}{', ' + bounds if bounds else ''}{none}"


def if_empty(column: Column) -> str:
    """Return what an empty cell of a column means."""
    if column.needed:
        return "**needed**"
    if column.default is None:
        return column.else_says
    if isinstance(column.default, bool):
        return "yes" if column.default else "no"
    return f"{column.default:g}" if isinstance(column.default, float | int) else str(column.default)


def settings_table() -> str:
    """Return the works settings with their defaults as a Markdown table; those of `[money]` left out."""
    rows = [
        f"| `{item.name}` | {_default_in_words(item.default)} |"
        for item in fields(WorksSettings)
        if item.name not in MONEY_KEYS
    ]
    return "\n".join(["| key | default |", "|---|---|", *rows])


def _default_in_words(value: object) -> str:
    if isinstance(value, tuple):
        return f"`{json.dumps(value)}`"
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def material_list() -> str:
    """Return the lining materials of the published table as a Markdown list."""
    names = sorted({row["material"] for row in table("lining")})
    return "\n".join(f"- `{name}`" for name in names)


def generated() -> dict[str, str]:
    """Return the parts of docs/formats.md that follow from the code, by the name of their marker."""
    return {"settings": settings_table(), "materials": material_list(), "tables": sheet_tables()}


def renewed(page: str) -> str:
    """Return the text of docs/formats.md with the parts that follow from the code written anew."""
    for name, part in generated().items():
        head, start, rest = page.partition(f"<!-- {name}: generated -->\n")
        _, end, tail = rest.partition("<!-- end -->")
        page = f"{head}{start}{part}\n{end}{tail}"
    return page
