"""Tables of a works folder replaced while others may read it: each file written beside its place, then moved there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty, SheetNotWritten
from kilnpack.whole_files import put_whole, reason_of
from kilnpack.works_folder.describe import SHEETS
from kilnpack.works_folder.grids import BOOK, find_grids
from kilnpack.works_folder.writer import csv_text
from kilnpack.works_folder.writer_rows import table_rows

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from pathlib import Path

    from kilnpack.model.works import Works

_MARK = "\ufeff"
"""Lets spreadsheets see that a file is UTF-8."""


def table_texts(works: Works, tables: Collection[str]) -> dict[str, str]:
    """Return the text of some tables of a works as CSV files."""
    rows = table_rows(works)
    return {sheet.name: _MARK + csv_text(sheet, rows[sheet.name]) for sheet in SHEETS if sheet.name in tables}


def replace_tables(folder: Path, texts: dict[str, str]) -> Callable[[], None]:
    """Put tables in the place of those of a works folder; returns what puts back what stood there.

    Raises
    ------
    InputFaulty
        The folder keeps one of them inside its workbook.
    SheetNotWritten
        The folder cannot be written; what stood there stands there again.
    """
    grids, _ = find_grids(folder, tuple(sheet.name for sheet in SHEETS))
    wanted = "a file of its own in the works folder: a workbook of many tables is not written by these pages"
    inside = [name for name in texts if name in grids and grids[name].file.startswith(f"{BOOK}:")]
    if inside:
        raise InputFaulty([Finding(file=BOOK, row=None, field=name, found="a sheet", wanted=wanted) for name in inside])
    places = {name: (folder / f"{name}.csv", folder / f"{name}.xlsx") for name in texts}
    stood = {path: path.read_bytes() for pair in places.values() for path in pair if path.is_file()}

    def put_back() -> None:
        for pair in places.values():
            for path in pair:
                if path in stood:
                    put_whole(path, stood[path])
                else:
                    path.unlink(missing_ok=True)

    try:
        for name, text in texts.items():
            table, other = places[name]
            put_whole(table, text.encode())
            other.unlink(missing_ok=True)
    except (OSError, SheetNotWritten) as fault:
        put_back()
        reason = fault.reason if isinstance(fault, SheetNotWritten) else reason_of(fault)
        raise SheetNotWritten(folder, reason) from fault
    return put_back
