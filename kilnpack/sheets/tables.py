"""The plan as tables: CSV and a workbook. Text from a works folder never becomes a formula."""

from __future__ import annotations

import csv
import io
from datetime import date, datetime
from typing import TYPE_CHECKING, TypeAlias

from kilnpack.words import guarded

if TYPE_CHECKING:
    from collections.abc import Sequence

    import xlsxwriter
    from xlsxwriter.worksheet import Worksheet

    from kilnpack.sheets.plan_rows import PlanRows

Cell: TypeAlias = str | int | float | datetime | date | None

FIRING_HEADINGS = (
    "firing", "kiln", "car", "programme", "stage", "load_start", "load_end", "fire_start", "fire_end", "cool_end",
    "unload_start", "unload_end", "pieces", "ware_kg", "ware", "energy_kwh", "sheet",
)  # fmt: skip
LINE_HEADINGS = (
    "line", "order", "customer", "item", "quantity_pieces", "due", "finish", "late_days", "firings", "reason",
    "soonest", "remedy",
)  # fmt: skip


def firing_table(rows: PlanRows) -> list[list[Cell]]:
    """Return the firings under `FIRING_HEADINGS`, in order of their fire."""
    ordered = sorted(rows.firings, key=lambda row: (row.fire_start, row.firing))
    return [[getattr(row, heading) for heading in FIRING_HEADINGS] for row in ordered]


def line_table(rows: PlanRows) -> list[list[Cell]]:
    """Return the order lines under `LINE_HEADINGS`, the latest first."""
    ordered = sorted(rows.lines, key=lambda row: (-row.late_days, row.due, row.line))
    return [
        [", ".join(row.firings) if heading == "firings" else getattr(row, heading) for heading in LINE_HEADINGS]
        for row in ordered
    ]


def csv_bytes(headings: Sequence[str], table: Sequence[Sequence[Cell]]) -> bytes:
    """Return a table as CSV, UTF-8, with moments in ISO form and text that no spreadsheet takes for a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(headings)
    writer.writerows([[_text(cell) for cell in row] for row in table])
    return out.getvalue().encode()


def _text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return guarded(cell)
    if isinstance(cell, datetime):
        return cell.isoformat(timespec="minutes")
    if isinstance(cell, date):
        return cell.isoformat()
    return f"{cell:.10g}"


def workbook_bytes(rows: PlanRows) -> bytes:
    """Return firings, order lines and late lines as a workbook."""
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    )
    book.set_properties({"title": rows.title, "company": rows.works, "created": rows.made.replace(tzinfo=None)})
    lines = line_table(rows)
    late = [row for row in lines if row[LINE_HEADINGS.index("late_days")] not in {None, 0} and _is_late(row)]
    _sheet(book, "firings", FIRING_HEADINGS, firing_table(rows))
    _sheet(book, "order lines", LINE_HEADINGS, lines)
    _sheet(book, "late", LINE_HEADINGS, late)
    book.close()
    return out.getvalue()


def _is_late(row: Sequence[Cell]) -> bool:
    days = row[LINE_HEADINGS.index("late_days")]
    return isinstance(days, int | float) and days > 0


def _sheet(book: xlsxwriter.Workbook, name: str, headings: Sequence[str], table: Sequence[Sequence[Cell]]) -> None:
    sheet = book.add_worksheet(name)
    bold = book.add_format({"bold": True, "bottom": 1})
    moment, day = book.add_format({"num_format": "yyyy-mm-dd hh:mm"}), book.add_format({"num_format": "yyyy-mm-dd"})
    for column, heading in enumerate(headings):
        sheet.write_string(0, column, heading, bold)
        sheet.set_column(column, column, max(10, min(40, 2 + _widest(column, heading, table))))
    for k, row in enumerate(table, start=1):
        for column, cell in enumerate(row):
            _write(sheet, k, column, cell, (moment, day))
    sheet.freeze_panes(1, 1)
    sheet.autofilter(0, 0, max(len(table), 1), len(headings) - 1)


def _widest(column: int, heading: str, table: Sequence[Sequence[Cell]]) -> int:
    return max([len(heading)] + [len(_text(row[column])) for row in table])


def _write(sheet: Worksheet, row: int, column: int, cell: Cell, formats: tuple[object, object]) -> None:
    """Write a cell as what it is; text is always text."""
    moment, day = formats
    if cell is None:
        return
    if isinstance(cell, str):
        sheet.write_string(row, column, cell)
    elif isinstance(cell, datetime):
        sheet.write_datetime(row, column, cell.replace(tzinfo=None), moment)
    elif isinstance(cell, date):
        sheet.write_datetime(row, column, cell, day)
    else:
        sheet.write_number(row, column, cell)
