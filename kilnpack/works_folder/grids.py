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
from kilnpack.works_folder.workbook_guard import Bounds, UnsafeWorkbook, safe_workbook

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
_HEAD_CHARACTERS = 100_000
"""In which the first line that is not empty is looked for."""
NO_DELIMITERS = ('"', ".", "-")
DELIMITERS = (";", "\t", ",")
MOST_ROWS = 100_000
"""Of one table; a backlog of so many lots is read in seconds."""
MOST_FILE_BYTES = 50_000_000
"""Of one file of a table, as it lies on the disk."""


FOLDER_BOUNDS = Bounds(rows=MOST_ROWS, cells=10_000_000, unpacked_bytes=100_000_000)
"""Of a workbook in a works folder; those that are sent over the pages have narrower ones."""
WORKBOOK = "a workbook of plain tables; open it, save it anew and try again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The cells of one table. `file` is its place as the owner knows it, such as ``works.xlsx: orders``."""

    table: str
    file: str
    rows: tuple[Numbered, ...]


class TooLarge(Exception):
    """A file that is not read for its size; the words say how large it is."""

    def __init__(self, size_bytes: int, most_bytes: int) -> None:
        self.wanted = f"a file of at most {most_bytes / 1e6:g} MB"
        super().__init__(f"{size_bytes / 1e6:.1f} MB")


class _NoCsv(Exception):
    """A row of a CSV file that cannot be read: its number, found, wanted."""

    def __init__(self, row: int, found: str, wanted: str) -> None:
        self.row, self.found, self.wanted = row, found, wanted
        super().__init__(found)


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
        text = decoded(bytes_of(path, MOST_FILE_BYTES))
    except TooLarge as fault:
        return Finding(file=path.name, row=None, field="", found=str(fault), wanted=fault.wanted)
    except UnicodeDecodeError:
        wanted = "text in UTF-8 or Windows-1252; save it as CSV UTF-8"
        return Finding(file=path.name, row=None, field="", found="bytes that are no text", wanted=wanted)
    except OSError as fault:
        return _unreadable(path.name, fault)
    try:
        return Grid(table=table, file=path.name, rows=tuple(_csv_rows(text)))
    except _NoCsv as fault:
        return Finding(file=path.name, row=fault.row, field="", found=fault.found, wanted=fault.wanted)


def bytes_of(path: Path, most_bytes: int) -> bytes:
    """Return the bytes of a file.

    Raises
    ------
    TooLarge
        There are more than allowed; it was not read.
    """
    size_bytes = path.stat().st_size
    if size_bytes > most_bytes:
        raise TooLarge(size_bytes, most_bytes)
    return path.read_bytes()


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
    if first.lower().startswith("sep=") and len(first.strip()) == 5 and first.strip()[4] not in NO_DELIMITERS:
        delimiter, text = first.strip()[4], rest  # a spreadsheet does not count this line
    else:
        delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    number = filled = 0
    try:
        for number, cells in enumerate(reader, start=1):
            if any(cell.strip() for cell in cells):
                filled += 1
                if filled > MOST_ROWS + 1:  # the first holds the headings
                    raise _NoCsv(number, f"more than {MOST_ROWS} rows", f"at most {MOST_ROWS} rows in a table")
                yield number, tuple(cells)
    except csv.Error as fault:
        raise _NoCsv(number + 1, *_csv_words(str(fault))) from fault


def _csv_words(said: str) -> tuple[str, str]:
    """Return what was found and what is wanted, for what the library says of a row."""
    if "field larger" in said:
        return "a cell too long to be one", f"cells of at most {csv.field_size_limit()} characters"
    if "unexpected end" in said:
        return 'a cell that begins with " and never ends', 'cells in which every " is closed and doubled inside'
    if "new-line" in said:
        return "a line end of another kind inside a cell", "one kind of line end in the whole file"
    return 'a " inside a cell', 'cells in which every " is closed and doubled inside'


def _delimiter(text: str) -> str:
    """Return the delimiter found most often in the first line that is not empty, outside quotes."""
    line = next((line for line in text[:_HEAD_CHARACTERS].splitlines() if line.strip()), "")
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
    """Return the sheets of a workbook as rows that are not empty; unpacked within bounds before it is opened."""
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        safe = safe_workbook(bytes_of(path, MOST_FILE_BYTES), FOLDER_BOUNDS)
        book = CalamineWorkbook.from_filelike(io.BytesIO(safe.content))
        return {
            name: tuple(
                (number, tuple(cells))
                for number, cells in enumerate(book.get_sheet_by_name(name).to_python(skip_empty_area=False), start=1)
                if any(str(cell).strip() for cell in cells)
            )
            for name in book.sheet_names
        }
    except TooLarge as fault:
        return Finding(file=path.name, row=None, field="", found=str(fault), wanted=fault.wanted)
    except UnsafeWorkbook as fault:
        return Finding(file=path.name, row=None, field="", found=str(fault), wanted=WORKBOOK)
    except CalamineError:
        return Finding(file=path.name, row=None, field="", found="no workbook that can be read", wanted=WORKBOOK)
    except OSError as fault:
        return _unreadable(path.name, fault)


def _unreadable(name: str, fault: OSError) -> Finding:
    wanted = "a file that can be read; open it, save it anew and try again"
    found = fault.strerror or "a file that cannot be read"
    return Finding(file=name, row=None, field="", found=found, wanted=wanted)


def missing_tables(grids: dict[str, Grid], needed: tuple[str, ...]) -> Iterator[Finding]:
    """Yield a finding for every table that a works cannot do without."""
    for table in needed:
        if table not in grids:
            wanted = f"{table}.csv, {table}.xlsx or a sheet {table} in {BOOK}; there are {listed(grids)}"
            yield Finding(file=f"{table}.csv", row=None, field="", found="no such table", wanted=wanted)
