"""A workbook that somebody sent, before it is opened: unpacked within bounds, looked through, and packed anew.

A few bytes can unpack to gigabytes, and one cell at the far corner of a sheet makes a reader lay out all the empty ones
before it. So every part is unpacked here with a limit, whatever the archive says of itself, the places of the cells
are looked at, and only what was seen is passed on.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from dataclasses import dataclass, field
from xml.etree import ElementTree as ET
from xml.parsers import expat

MOST_PARTS = 500
MOST_UNPACKED_BYTES = 40_000_000
"""What all parts of a workbook may unpack to: a sheet of 20000 rows has about a tenth of it."""
MOST_RATIO = 400
"""How many times as large as packed a part may be, once it is larger than `SMALL_BYTES`; sheets reach about 30."""
SMALL_BYTES = 2_000_000
MOST_ROWS = 20_000
MOST_COLUMNS = 200
MOST_CELLS = 4_000_000
"""That all sheets may reach over: a single cell far out makes the reader lay out all those before it."""
CHUNK_BYTES = 1 << 16
PARTS = re.compile(
    r"\[Content_Types\]\.xml|(_rels/|xl/(?!vbaProject|externalLinks|activeX|embeddings)|docProps/).*\.(xml|rels)", re.I
)
"""Parts that are passed on; programs, pictures, links to other files and things put inside are not."""
BROKEN = (zipfile.BadZipFile, zlib.error, struct.error, RuntimeError, EOFError, OSError, ValueError, OverflowError)
"""What the reader of archives raises where an archive is cut short or says wrong places and sizes of itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """How many rows a sheet may have, how many cells all sheets may reach over, and what all parts may unpack to."""

    rows: int
    cells: int
    unpacked_bytes: int


class UnsafeWorkbook(Exception):
    """The workbook is not opened; the words say why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SafeWorkbook:
    """A workbook packed anew, and the cells that hold formulas: part of the archive, row, column (both from 1)."""

    content: bytes
    formulas: tuple[tuple[str, int, int], ...]


def safe_workbook(raw: bytes, bounds: Bounds | None = None) -> SafeWorkbook:
    """Return the workbook as it may be opened.

    Parameters
    ----------
    bounds
        Where not given, those of a workbook that somebody sent: `MOST_ROWS`, `MOST_CELLS` and `MOST_UNPACKED_BYTES`.

    Raises
    ------
    UnsafeWorkbook
        It is none, or too large inside.
    """
    bounds = bounds or Bounds(rows=MOST_ROWS, cells=MOST_CELLS, unpacked_bytes=MOST_UNPACKED_BYTES)
    out, formulas, left, cells = io.BytesIO(), [], bounds.unpacked_bytes, 0
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as anew:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS:
                raise UnsafeWorkbook(f"{len(parts)} parts, more than {MOST_PARTS}")
            for part in parts:
                if not PARTS.fullmatch(part.filename) or part.is_dir():
                    continue
                content = _unpacked(archive, part, left)
                left -= len(content)
                if b"sheetData" in content:  # whatever it is called: a sheet may lie anywhere
                    sheet = _sheet(content, bounds)
                    cells += sheet.rows * sheet.columns
                    formulas += [(part.filename, row, column) for row, column in sheet.formulas]
                if cells > bounds.cells:
                    raise UnsafeWorkbook(f"sheets that reach over more than {bounds.cells / 1e6:g} million cells")
                anew.writestr(part.filename, content)
    except BROKEN as fault:
        raise UnsafeWorkbook("no workbook that can be read") from fault
    return SafeWorkbook(content=out.getvalue(), formulas=tuple(formulas))


def _unpacked(archive: zipfile.ZipFile, part: zipfile.ZipInfo, left: int) -> bytes:
    """Unpack a part bit by bit, and stop where it is too large."""
    found = bytearray()
    with archive.open(part) as packed:
        while chunk := packed.read(CHUNK_BYTES):
            found += chunk
            if len(found) > left:
                raise UnsafeWorkbook("too large once unpacked")
            if len(found) > SMALL_BYTES and len(found) > MOST_RATIO * max(1, part.compress_size):
                raise UnsafeWorkbook(f"{part.filename} unpacks to more than {MOST_RATIO} times its size")
    _plain_markup(part.filename, bytes(found))
    return bytes(found)


def _plain_markup(name: str, content: bytes) -> None:
    """Refuse markup that is not in a plain encoding, where nothing could be looked for, or that declares entities."""
    if not content.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"<") or b"\0" in content:
        raise UnsafeWorkbook(f"{name} is not written in UTF-8")
    if b"<!DOCTYPE" in content or b"<!ENTITY" in content:
        raise UnsafeWorkbook(f"{name} declares entities")


@dataclass(slots=True)
class _Sheet:
    """The cells of one sheet as they come: where the last one stands, how far they reach, those with formulas."""

    bounds: Bounds
    row: int = 0
    column: int = 0
    rows: int = 0
    columns: int = 0
    formulas: list[tuple[int, int]] = field(default_factory=list)

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Note a row, a cell or a formula; a cell beyond the bounds is refused."""
        name = tag.rpartition(":")[2]
        if name == "row":
            self.row, self.column = _number(attributes.get("r"), self.row + 1), 0
        elif name == "c":
            self.row, self.column = _place(attributes.get("r"), self.row, self.column + 1)
        elif name == "f":
            self.formulas.append((self.row, self.column))
        if self.row > self.bounds.rows or self.column > MOST_COLUMNS:
            raise UnsafeWorkbook(f"a cell beyond row {self.bounds.rows} or column {MOST_COLUMNS}")
        self.rows, self.columns = max(self.rows, self.row), max(self.columns, self.column)


def _sheet(content: bytes, bounds: Bounds) -> _Sheet:
    """Look through a sheet without keeping it."""
    sheet = _Sheet(bounds)
    parser = expat.ParserCreate()
    parser.StartElementHandler = sheet.start
    try:
        parser.Parse(content, True)  # noqa: FBT003 - the library's
    except expat.ExpatError as fault:
        raise UnsafeWorkbook("a sheet that cannot be read") from fault
    return sheet


def _number(text: str | None, otherwise: int) -> int:
    return int(text) if text is not None and text.isdecimal() and len(text) < 9 else otherwise


def _place(text: str | None, row: int, column: int) -> tuple[int, int]:
    """Return row and column of a place such as ``B12``; without one, those counted."""
    found = re.fullmatch(r"([A-Z]{1,3})(\d{1,8})", text or "")
    if found is None:
        return row, column
    number = 0
    for letter in found[1]:
        number = 26 * number + ord(letter) - ord("A") + 1
    return int(found[2]), number


def sheet_names(content: bytes) -> dict[str, str]:
    """Return the name of every sheet by its part of the archive; `content` is a workbook packed anew."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        try:
            book = ET.fromstring(archive.read("xl/workbook.xml"))
            links = ET.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
        except (KeyError, ET.ParseError) as fault:
            raise UnsafeWorkbook("a workbook without a list of sheets") from fault
    targets = {row.get("Id"): (row.get("Target") or "").removeprefix("/").removeprefix("xl/") for row in links}
    found = {}
    for row in book.iter():
        if row.tag.endswith("}sheet"):
            link = next((value for key, value in row.items() if key.endswith("}id")), None)
            found[f"xl/{targets.get(link, '')}"] = row.get("name") or ""
    return found
