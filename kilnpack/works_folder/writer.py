"""Write a works as a works folder, so that reading it gives the same works."""

from __future__ import annotations

import csv
import io
import os
import shutil
from datetime import date, datetime
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from kilnpack.errors import SheetNotWritten
from kilnpack.whole_files import clear_left_overs, files_handed_over, hidden, reason_of
from kilnpack.words import guarded
from kilnpack.works_folder.cells import NONE_MARK
from kilnpack.works_folder.columns import Kind
from kilnpack.works_folder.describe import SHEETS
from kilnpack.works_folder.reader import NEEDED
from kilnpack.works_folder.writer_rows import table_rows
from kilnpack.works_folder.writer_toml import toml_texts

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from kilnpack.model.works import Works
    from kilnpack.works_folder.columns import Sheet


def write_works(works: Works, folder: Path) -> None:
    """Write a works into a folder that is new or empty: three TOML files and a CSV file for each table it needs.

    Raises
    ------
    SheetNotWritten
        The folder holds something already, or cannot be written; nothing is left half-written.
    """
    rows = table_rows(works)

    def fill(aside: Path) -> None:
        for name, text in toml_texts(works).items():
            (aside / name).write_text(text, encoding="utf-8")
        for sheet in SHEETS:
            if rows[sheet.name] or sheet.name in NEEDED:
                # The mark at the beginning lets spreadsheets see that it is UTF-8.
                (aside / f"{sheet.name}.csv").write_text(csv_text(sheet, rows[sheet.name]), encoding="utf-8-sig")

    new_folder(folder, fill)


def new_folder(folder: Path, fill: Callable[[Path], None]) -> None:
    """Make a folder whole: filled beside its place and then moved there.

    Raises
    ------
    SheetNotWritten
        There is something in the folder already, or it cannot be written.
    """
    aside: Path | None = None
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise SheetNotWritten(folder, "it is there already and not empty; nothing is overwritten")
        folder.parent.mkdir(parents=True, exist_ok=True)
        clear_left_overs(folder)
        aside = folder.parent / hidden(folder.name)
        aside.mkdir()
        fill(aside)
        files_handed_over(aside)
        if os.name == "nt" and folder.exists():
            folder.rmdir()  # it is empty; this system does not move a folder onto another
        aside.rename(folder)
    except OSError as fault:
        raise SheetNotWritten(folder, reason_of(fault)) from fault
    finally:
        if aside is not None:
            shutil.rmtree(aside, ignore_errors=True)


def csv_text(sheet: Sheet, rows: list[dict[str, Any]]) -> str:
    """Return the text of a CSV file; columns that are empty in every row are left out unless needed.

    Text that a spreadsheet would take for a formula gets a quote before it, which the reader takes off again.
    """
    free = {column.heading for column in sheet.columns if column.kind in (Kind.TEXT, Kind.CODES) and not column.refers}
    texts = [
        {heading: _safe(cell_text(value)) if heading in free else cell_text(value) for heading, value in row.items()}
        for row in rows
    ]
    headings = [
        column.heading for column in sheet.columns if column.needed or any(row.get(column.heading, "") for row in texts)
    ]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(headings)
    writer.writerows([row.get(heading, "") for heading in headings] for row in texts)
    return out.getvalue()


def _safe(text: str) -> str:
    return text if text == NONE_MARK else guarded(text)


def cell_text(value: Any) -> str:
    """Return a value as a cell that reads back as the same value."""
    for kind, text in _TEXTS.items():
        if isinstance(value, kind):
            return text(value)
    return "" if value is None else str(value)


def _number(value: float) -> str:
    return f"{value:.0f}" if value.is_integer() and abs(value) < 1e15 else repr(value)


def _moment(value: datetime) -> str:
    return value.isoformat(" ", "microseconds" if value.microsecond else "minutes" if not value.second else "seconds")


def _list(value: tuple[Any, ...]) -> str:
    """Return a list with bars; its points as x y."""
    items = (" ".join(map(cell_text, one)) if isinstance(one, tuple) else cell_text(one) for one in value)
    return " | ".join(items)


_TEXTS: dict[type, Callable[[Any], str]] = {
    bool: lambda value: "yes" if value else "no",
    float: _number,
    datetime: _moment,
    date: date.isoformat,
    StrEnum: lambda value: value.value,
    tuple: _list,
}
"""The first kind that a value is of; a bool is a number and a datetime a date, so they stand before them."""
