"""Tables of a works folder replaced while others may read it: all of them, or none."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from kilnpack.errors import Finding, InputFaulty, SheetNotWritten
from kilnpack.whole_files import put_whole, reason_of
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


def older_kept(folder: Path, texts: dict[str, str], aside: str) -> tuple[str, ...]:
    """Keep a copy of the tables of a works folder that say other than these texts.

    Parameters
    ----------
    texts
        By table: what is known of it already.
    aside
        Name of a folder inside the works folder that takes the copies.

    Returns
    -------
    tuple[str, ...]
        Where the copies stand, inside the works folder.

    Raises
    ------
    SheetNotWritten
        They cannot be written.
    """
    grids, _ = find_grids(folder, tuple(texts))
    found = []
    for name, text in texts.items():
        path = folder / grids[name].file if name in grids else None
        if path is None or not path.is_file() or path.read_bytes() == text.encode():
            continue
        try:
            (folder / aside).mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            raise SheetNotWritten(folder / aside, reason_of(fault)) from fault
        found.append(put_whole(folder / aside / path.name, path.read_bytes()).relative_to(folder).as_posix())
    return tuple(found)


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
