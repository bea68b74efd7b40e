"""Tables of a works folder replaced while others may read it: all of them, or none."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from kilnpack.errors import Finding, InputFaulty
from kilnpack.works_folder.describe import SHEETS
from kilnpack.works_folder.grids import BOOK, find_grids
from kilnpack.works_folder.replacing import replaced_together
from kilnpack.works_folder.writer import csv_text
from kilnpack.works_folder.writer_rows import table_rows

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator
    from pathlib import Path

    from kilnpack.model.works import Works

_MARK = "\ufeff"
"""Lets spreadsheets see that a file is UTF-8."""


def table_texts(works: Works, tables: Collection[str]) -> dict[str, str]:
    """Return the text of some tables of a works as CSV files."""
    rows = table_rows(works)
    return {sheet.name: _MARK + csv_text(sheet, rows[sheet.name]) for sheet in SHEETS if sheet.name in tables}


@contextmanager
def tables_replaced(folder: Path, texts: dict[str, str], about: dict[str, Any]) -> Iterator[None]:
    """Put tables in the place of those of a works folder for as long as the block goes well; its end lets them count.

    Parameters
    ----------
    about
        What `replacing.make_whole` asks about where the process is killed before.

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
    stood = {grids[name].file for name in texts if name in grids} | {f"{name}.xlsx" for name in texts}
    new = {f"{name}.csv": text.encode() for name, text in texts.items()}
    with replaced_together(folder, new, gone=stood, about=about):
        yield
