"""Tables that somebody sent over the pages: told apart, bounded, and looked through before anything is read from them.

A name that was sent never becomes a path: files are kept under the names of the tables alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.errors import Finding
from kilnpack.words import listed
from kilnpack.works_folder.grids import Grid, grid_of, sheet_table
from kilnpack.works_folder.headings_backlog import HOLIDAYS, LOTS, MOULDS, ORDERS
from kilnpack.works_folder.rows import plain_heading
from kilnpack.works_folder.workbook_guard import (
    MOST_COLUMNS,
    MOST_ROWS,
    UnsafeWorkbook,
    safe_workbook,
    sheet_names,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

SENT = {sheet.name: sheet for sheet in (ORDERS, LOTS, MOULDS, HOLIDAYS)}
"""The tables that change from day to day."""
MOST_FILES = 8
MOST_FILE_BYTES = 5_000_000
MOST_NAME = 60
FORMULA = "a value; a formula is not reckoned here: paste it as a value"
NO_FORMULA = re.compile(r"[+-]?[\d.,\s]+|[-+]")
"""What may begin with a sign without being a formula: a number, and the sign alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SentFile:
    """A file as it was sent."""

    name: str
    content: bytes

    @property
    def shown(self) -> str:
        """Its name as findings say it: the last part, no longer than needed, without signs that do not print."""
        last = re.split(r"[\\/]", self.name)[-1]
        return "".join(sign for sign in last if sign.isprintable())[-MOST_NAME:] or "a file without a name"


@dataclass(frozen=True, slots=True, kw_only=True)
class SentTable:
    """A table laid down under its own name; `grid` holds its cells, `shown` where it was sent in."""

    table: str
    shown: str
    path: Path
    grid: Grid


def lay_down(files: Sequence[SentFile], folder: Path) -> tuple[tuple[SentTable, ...], tuple[Finding, ...]]:
    """Lay tables that were sent down in a folder of their own, each under the name of its table.

    Returns
    -------
    tuple
        What was laid down, and what is wrong with the files as files or with single cells as formulas.
    """
    found: dict[str, SentTable] = {}
    faults: list[Finding] = []
    if len(files) > MOST_FILES:
        faults.append(_of_file("the files", f"{len(files)} files", f"at most {MOST_FILES} at once"))
    for file in files[:MOST_FILES]:
        for item in _tables_of(file, folder):
            if isinstance(item, Finding):
                faults.append(item)
            elif item.table in found:
                wanted = f"the table {item.table} once; {found[item.table].shown} holds it too"
                faults.append(_of_file(item.shown, item.table, wanted))
            else:
                found[item.table] = item
                faults += _formula_cells(item)
    if not files:
        faults.append(_of_file("the files", "nothing", f"a file for {listed(SENT)}"))
    return tuple(found.values()), tuple(faults)


def _of_file(file: str, found: str, wanted: str) -> Finding:
    return Finding(file=file, row=None, field="", found=found, wanted=wanted)


def _tables_of(file: SentFile, folder: Path) -> Iterator[SentTable | Finding]:
    suffix = file.shown.lower().rpartition(".")[2]
    if len(file.content) > MOST_FILE_BYTES:
        yield _of_file(file.shown, f"{len(file.content) / 1e6:.1f} MB", f"at most {MOST_FILE_BYTES / 1e6:g} MB")
    elif suffix == "csv":
        yield _csv_table(file, folder)
    elif suffix == "xlsx":
        try:
            yield from _book_tables(file, folder)
        except UnsafeWorkbook as fault:
            yield _of_file(file.shown, str(fault), "a workbook of plain tables; save it anew and send it again")
    else:
        yield _of_file(file.shown, f"a file of kind {suffix[:10] or 'none'}", "a file that ends in .csv or .xlsx")


def _stem(file: SentFile) -> str:
    return sheet_table(file.shown.rpartition(".")[0])


def _csv_table(file: SentFile, folder: Path) -> SentTable | Finding:
    """Lay a CSV file down; where its name names no table, its headings do."""
    path = folder / "sent.csv"
    path.write_bytes(file.content)
    stem = _stem(file)
    grid = grid_of(path, stem)
    if isinstance(grid, Finding):
        return Finding(file=file.shown, row=None, field="", found=grid.found, wanted=grid.wanted)
    table = stem if stem in SENT else _by_headings(grid)
    if table is None:
        return _of_file(file.shown, "headings of no table", f"a file named {listed(f'{name}.csv' for name in SENT)}")
    grid = Grid(table=table, file=f"{table}.csv", rows=grid.rows)
    if (over := _over(grid)) is not None:
        return _of_file(file.shown, over, f"at most {MOST_ROWS} rows of {MOST_COLUMNS} cells")
    return SentTable(table=table, shown=file.shown, path=path.rename(folder / f"{table}.csv"), grid=grid)


def _over(grid: Grid) -> str | None:
    cells = max((len(row) for _, row in grid.rows), default=0)
    if len(grid.rows) > MOST_ROWS or cells > MOST_COLUMNS:
        return f"{len(grid.rows)} rows of up to {cells} cells"
    return None


def _by_headings(grid: Grid) -> str | None:
    """Return the table whose needed columns all stand in the first row."""
    headings = {plain_heading(cell) for cell in grid.rows[0][1]} if grid.rows else set()
    fitting = [name for name, sheet in SENT.items() if {one.heading for one in sheet.columns if one.needed} <= headings]
    return max(fitting, key=lambda name: sum(one.needed for one in SENT[name].columns), default=None)


def _book_tables(file: SentFile, folder: Path) -> Iterator[SentTable | Finding]:
    """Lay a workbook down once for every table it holds: by the names of its sheets, else by its own name."""
    safe = safe_workbook(file.content)
    names = sheet_names(safe.content)
    tables = {sheet_table(name): part for part, name in names.items() if sheet_table(name) in SENT}
    alone = _stem(file)
    if not tables and alone in SENT and names:
        tables = {alone: next(iter(names))}
    if not tables:
        yield _of_file(file.shown, f"sheets {listed(names.values())}", f"sheets named {listed(SENT)}")
    for table, part in tables.items():
        path = folder / f"{table}.xlsx"
        path.write_bytes(safe.content)
        grid = grid_of(path, table)
        shown = file.shown if len(tables) == 1 else f"{file.shown}: {names[part]}"
        if isinstance(grid, Finding):
            path.unlink()
            yield Finding(file=shown, row=None, field="", found=grid.found, wanted=grid.wanted)
            continue
        yield SentTable(table=table, shown=shown, path=path, grid=grid)
        for place, row, column in safe.formulas:
            if place == part:
                yield Finding(file=shown, row=row, field=heading_of(grid, column), found="a formula", wanted=FORMULA)


def heading_of(grid: Grid, column: int) -> str:
    """Return the heading over a column, counted from 1; the column in words where there is none."""
    cells = grid.rows[0][1] if grid.rows else ()
    return (plain_heading(cells[column - 1]) if column <= len(cells) else "") or f"column {column}"


def _formula_cells(sent: SentTable) -> Iterator[Finding]:
    """Find text that a spreadsheet would take for a formula."""
    for number, cells in sent.grid.rows[1:]:
        for column, cell in enumerate(cells, start=1):
            text = cell.strip() if isinstance(cell, str) else ""
            if text[:1] in {"=", "@", "+", "-"} and not NO_FORMULA.fullmatch(text):
                yield Finding(
                    file=sent.shown, row=number, field=heading_of(sent.grid, column), found=text[:60], wanted=FORMULA
                )
