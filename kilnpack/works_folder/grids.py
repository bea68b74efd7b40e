"""From files to grids of cells: CSV and XLSX with the mess that spreadsheets leave.

A grid keeps the row numbers that a spreadsheet shows. What cells mean is read elsewhere.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.errors import Finding
from kilnpack.words import listed, nearest

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

Numbered = tuple[int, tuple[object, ...]]
"""A row as the spreadsheet numbers it, with its cells."""

BOOK = "works.xlsx"
TOML_FILES = ("works.toml", "kilns.toml", "programmes.toml")
PASSED_OVER = (".md", ".json", ".pdf", ".html", ".ics", ".png")
"""Endings of what people and this program itself put beside the tables."""
DRAWINGS = (".svg", ".dxf")
DELIMITERS = (";", "\t", ",")


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The cells of one table. `file` is its place as the owner knows it, such as ``works.xlsx: orders``."""

    table: str
    file: str
    rows: tuple[Numbered, ...]


TABLE_ENDINGS = (".csv", ".xlsx")


def find_grids(folder: Path, tables: tuple[str, ...]) -> tuple[dict[str, Grid], list[Finding]]:
    """Return the grids of a works folder by table, and what is wrong with its files as files."""
    grids: dict[str, Grid] = {}
    findings: list[Finding] = []
    for path in sorted(folder.iterdir()):
        if is_left_over(path.name):
            continue
        if not path.is_file():
            if path.suffix.lower() in TABLE_ENDINGS and path.stem in (*tables, "works"):
                wanted = "a table: a file that can be read"
                findings.append(Finding(file=path.name, row=None, field="", found="no file", wanted=wanted))
            continue
        for item in _grids_of(path, tables):
            if isinstance(item, Finding):
                findings.append(item)
            elif item.table in grids:
                wanted = f"the table {item.table} in one place only; it is also in {grids[item.table].file}"
                findings.append(Finding(file=item.file, row=None, field="", found=item.table, wanted=wanted))
            else:
                grids[item.table] = item
    return grids, findings


def is_left_over(name: str) -> bool:
    """Tell whether a file is no part of the works: locks of open spreadsheets, notes, results."""
    plain = name.lower()
    return plain.startswith(("~$", ".", "readme")) or plain.endswith(PASSED_OVER)


def grid_of(path: Path, table: str) -> Grid | Finding:
    """Return the one table of a file by itself, a CSV file or the first sheet of a workbook."""
    return _first_sheet(path, table) if path.suffix.lower() == ".xlsx" else _csv_grid(path, table)


def _grids_of(path: Path, tables: tuple[str, ...]) -> Iterator[Grid | Finding]:
    stem, suffix = path.stem.lower(), path.suffix.lower()
    if path.name.lower() in TOML_FILES or suffix in DRAWINGS:
        return
    if path.name.lower() == BOOK:
        yield from _book_grids(path, tables)
    elif suffix in (".csv", ".xlsx") and stem in tables:
        yield grid_of(path, stem)
    else:
        known = [f"{table}.csv" for table in tables] + [f"{table}.xlsx" for table in tables] + [*TOML_FILES, BOOK]
        wanted = f"a file named in docs/formats.md{nearest(path.name, known)}"
        yield Finding(file=path.name, row=None, field="", found="a file of an unknown name", wanted=wanted)


def _csv_grid(path: Path, table: str) -> Grid | Finding:
    """Read a CSV file; a fault of the file as a whole is a finding."""
    try:
        text = decoded(path.read_bytes())
    except UnicodeDecodeError:
        wanted = "text in UTF-8 or Windows-1252; save it as CSV UTF-8"
        return Finding(file=path.name, row=None, field="", found="bytes that are no text", wanted=wanted)
    except OSError as fault:
        return _unreadable(path.name, fault)
    try:
        return Grid(table=table, file=path.name, rows=tuple(_csv_rows(text)))
    except csv.Error as fault:
        wanted = 'cells in which every " is closed and doubled inside'
        return Finding(file=path.name, row=None, field="", found=str(fault), wanted=wanted)


def decoded(raw: bytes) -> str:
    """Return the text of a file: by its byte order mark, else UTF-8, else Windows-1252.

    Raises
    ------
    UnicodeDecodeError
        The bytes are none of these.
    """
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252")


def _csv_rows(text: str) -> Iterator[Numbered]:
    first, _, rest = text.partition("\n")
    if first.lower().startswith("sep=") and len(first.strip()) == 5:
        delimiter, text = first.strip()[4], rest  # a spreadsheet does not count this line
    else:
        delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    for number, cells in enumerate(reader, start=1):
        if any(cell.strip() for cell in cells):
            yield number, tuple(cells)


def _delimiter(text: str) -> str:
    """Return the delimiter found most often in the first line that is not empty, outside quotes."""
    line = next((line for line in text.splitlines() if line.strip()), "")
    bare = "".join(line.split('"')[::2])
    return max(DELIMITERS, key=bare.count)


def _first_sheet(path: Path, table: str) -> Grid | Finding:
    sheets = _sheets(path)
    if isinstance(sheets, Finding):
        return sheets
    named = {sheet_table(name): rows for name, rows in sheets.items()}
    cells = named.get(table) or next(iter(sheets.values()), ())
    return Grid(table=table, file=path.name, rows=cells)


def sheet_table(name: str) -> str:
    """Return the table that a sheet or a file is named for, whatever its capitals and blanks."""
    return name.strip().lower().replace(" ", "_")


def _book_grids(path: Path, tables: tuple[str, ...]) -> Iterator[Grid | Finding]:
    sheets = _sheets(path)
    if isinstance(sheets, Finding):
        yield sheets
        return
    for name, rows in sheets.items():
        table = sheet_table(name)
        if table.startswith("note"):
            continue
        if table in tables:
            yield Grid(table=table, file=f"{path.name}: {name}", rows=rows)
        else:
            wanted = f"a sheet named in docs/formats.md, or one that begins with note{nearest(table, tables)}"
            yield Finding(file=path.name, row=None, field="", found=f"a sheet {name}", wanted=wanted)


def _sheets(path: Path) -> dict[str, tuple[Numbered, ...]] | Finding:
    """Return the sheets of a workbook as rows that are not empty."""
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        book = CalamineWorkbook.from_path(path)
        return {
            name: tuple(
                (number, tuple(cells))
                for number, cells in enumerate(book.get_sheet_by_name(name).to_python(skip_empty_area=False), start=1)
                if any(str(cell).strip() for cell in cells)
            )
            for name in book.sheet_names
        }
    except (CalamineError, OSError) as fault:
        return _unreadable(path.name, fault)


def _unreadable(name: str, fault: Exception) -> Finding:
    wanted = "a file that can be read; open it, save it anew and try again"
    found = getattr(fault, "strerror", None) or str(fault)
    return Finding(file=name, row=None, field="", found=found, wanted=wanted)


def missing_tables(grids: dict[str, Grid], needed: tuple[str, ...]) -> Iterator[Finding]:
    """Yield a finding for every table that a works cannot do without."""
    for table in needed:
        if table not in grids:
            wanted = f"{table}.csv, {table}.xlsx or a sheet {table} in {BOOK}; there are {listed(grids)}"
            yield Finding(file=f"{table}.csv", row=None, field="", found="no such table", wanted=wanted)
