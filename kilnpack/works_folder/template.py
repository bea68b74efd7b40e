"""A new works folder: a workbook with headings, notes and drop-downs, and the three TOML files."""

from __future__ import annotations

import io
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from kilnpack.works_folder.columns import Kind
from kilnpack.works_folder.describe import SHEETS, cells, if_empty
from kilnpack.works_folder.example import EMPTY_TEXTS, TOML_TEXTS, example_rows
from kilnpack.works_folder.grids import BOOK
from kilnpack.works_folder.writer import new_folder

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.works_folder.columns import Column

ROWS = 5000
"""Rows that the drop-downs and formats reach down to."""

_FORMATS = {
    Kind.CODE: {"num_format": "@"},
    Kind.CODES: {"num_format": "@"},
    Kind.POINTS: {"num_format": "@"},
    Kind.DATE: {"num_format": "yyyy-mm-dd"},
    Kind.MOMENT: {"num_format": "yyyy-mm-dd hh:mm"},
}
"""Codes are kept as text, so that the spreadsheet makes neither numbers nor dates of them."""


def new_works(folder: Path, *, example: bool) -> None:
    """Write a works folder to start from, which reads without a finding.

    Parameters
    ----------
    folder
        A folder that is new or empty.
    example
        Whether example rows are filled in, or headings only.

    Raises
    ------
    SheetNotWritten
        The folder holds something already, or cannot be written.
    """

    def fill(aside: Path) -> None:
        for name, text in (TOML_TEXTS if example else EMPTY_TEXTS).items():
            (aside / name).write_text(text, encoding="utf-8")
        (aside / BOOK).write_bytes(_book_bytes(example=example))

    new_folder(folder, fill)


def _book_bytes(*, example: bool) -> bytes:
    from xlsxwriter import Workbook

    out = io.BytesIO()
    book = Workbook(out, {"in_memory": True})
    formats = {kind: book.add_format(_FORMATS.get(kind, {})) for kind in Kind}
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
    needed = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 5})
    for sheet in SHEETS:
        page = book.add_worksheet(sheet.name)
        page.freeze_panes(1, 1)
        for place, column in enumerate(sheet.columns):
            page.set_column(place, place, max(12, len(column.heading) + 2), formats[column.kind])
            page.write_string(0, place, column.heading, needed if column.needed else head)
            page.write_comment(0, place, _note(column), {"x_scale": 2})
            rule = _validation(column)
            if rule:
                page.data_validation(1, place, ROWS, place, rule)
        for number, row in enumerate(example_rows(sheet.name) if example else (), start=1):
            for place, column in enumerate(sheet.columns):
                _write_cell(page, number, place, row.get(column.heading), column, formats[column.kind])
    book.close()
    return out.getvalue()


def _note(column: Column) -> str:
    return f"{cells(column)}. If empty: {if_empty(column).replace('*', '')}."


def _write_cell(page: Any, row: int, place: int, value: str | float | None, column: Column, style: Any) -> None:
    if value is None:
        return
    if column.kind in (Kind.DATE, Kind.MOMENT):
        page.write_datetime(row, place, datetime.fromisoformat(str(value)), style)
    elif isinstance(value, float):
        page.write_number(row, place, value, style)
    else:
        page.write_string(row, place, value, style)


def _validation(column: Column) -> dict[str, Any] | None:
    """Return the drop-down or check of a column's cells, None where any text will do."""
    if column.none_mark:
        return None
    if column.kind in (Kind.YES_NO, Kind.CHOICE):
        return {"validate": "list", "source": list(column.choices or ("yes", "no"))}
    if column.kind is Kind.CODE and column.refers in _KEYS:
        return {"validate": "list", "source": f"={column.refers}!$A$2:$A${ROWS}", "error_type": "warning"}
    if column.kind is Kind.DATE:
        return {"validate": "date", "criteria": ">=", "value": date(1990, 1, 1)}
    if column.kind in (Kind.NUMBER, Kind.SHARE, Kind.WHOLE):
        return _number_rule(column)
    return None


_KEYS = {sheet.name for sheet in SHEETS if sheet.columns[0].kind is Kind.CODE and sheet.key == "code"} | {"routes"}
"""Sheets whose first column holds the codes that other sheets name."""


def _number_rule(column: Column) -> dict[str, Any]:
    kind = "integer" if column.kind is Kind.WHOLE else "decimal"
    low = column.above if column.above is not None else column.least
    strict = column.above is not None
    if low is not None and column.most is not None:
        return {"validate": kind, "criteria": "between", "minimum": low, "maximum": column.most}
    if low is None:
        low, strict = -1e9, False
    return {"validate": kind, "criteria": ">" if strict else ">=", "value": low}
