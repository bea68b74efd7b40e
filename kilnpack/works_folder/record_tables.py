"""Read a table that goes into the records by itself, from a file or as typed: to rows, or to every finding."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.works_folder.grids import Grid, grid_of
from kilnpack.works_folder.rows import read_table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from kilnpack.works_folder.columns import Sheet
    from kilnpack.works_folder.rows import Row


def read_record_table(path: Path, sheet: Sheet) -> tuple[Row, ...]:
    """Return the rows of a CSV or XLSX file, read by the columns of a sheet.

    Raises
    ------
    InputFaulty
        With every finding: the file, its headings, its cells.
    """
    grid = grid_of(path, sheet.name)
    if isinstance(grid, Finding):
        raise InputFaulty([grid])
    table = read_table(grid, sheet)
    if not table.findings and not table.rows:
        wanted = f"a row at least; {sheet.says}"
        raise InputFaulty([Finding(file=path.name, row=None, field="", found="no row", wanted=wanted)])
    if table.findings:
        raise InputFaulty(dict.fromkeys(table.findings))
    return tuple(table.rows)


def read_typed(sheet: Sheet, typed: Sequence[Mapping[str, str]], file: str) -> tuple[Row, ...]:
    """Return rows that were typed into a form, by the columns of a sheet; a row without a word is passed over.

    Parameters
    ----------
    typed
        By heading; headings that the sheet does not have are passed over.
    file
        Stands in the findings.

    Raises
    ------
    InputFaulty
        With the finding of every cell; rows are counted from 1.
    """
    headings = tuple(column.heading for column in sheet.columns)
    cells = [(number, tuple(row.get(name, "").strip() for name in headings)) for number, row in enumerate(typed, 1)]
    filled = tuple((number, row) for number, row in cells if any(row))
    table = read_table(Grid(table=sheet.name, file=file, rows=((0, headings), *filled)), sheet)
    if table.findings:
        raise InputFaulty(dict.fromkeys(table.findings))
    return tuple(table.rows)
