"""Read a table that goes into the records by itself: to rows, or to every finding."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.works_folder.grids import grid_of
from kilnpack.works_folder.rows import read_table

if TYPE_CHECKING:
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
