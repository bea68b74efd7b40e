"""A workbook that somebody sent, before it is opened: unpacked within bounds, looked through, and packed anew.

A few bytes can unpack to gigabytes, and one cell at the far corner of a sheet makes a reader lay out all the empty ones
before it. So every part is unpacked here with a limit, whatever the archive says of itself, the places of the cells
are looked at, and only what was seen is passed on.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_PARTS = 500
MOST_UNPACKED_BYTES = 40_000_000
"""What all parts of a workbook may unpack to: a sheet of 20000 rows has about a tenth of it."""
MOST_RATIO = 400
"""How many times as large as packed a part may be, once it is larger than `SMALL_BYTES`; sheets reach about 30."""
SMALL_BYTES = 2_000_000
MOST_ROWS = 20_000
MOST_COLUMNS = 200
CHUNK_BYTES = 1 << 16
PARTS = re.compile(
    r"(\[Content_Types\]\.xml|_rels/.*|xl/(?!vbaProject|externalLinks|activeX|embeddings).*|docProps/.*)"
)
"""Parts that are passed on; programs, links to other files and things put inside are not."""
MARKED = (".xml", ".rels")


class UnsafeWorkbook(Exception):
    """The workbook is not opened; the words say why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SafeWorkbook:
    """A workbook packed anew, and the cells that hold formulas: part of the archive, row, column (both from 1)."""

    content: bytes
    formulas: tuple[tuple[str, int, int], ...]


def safe_workbook(raw: bytes) -> SafeWorkbook:
    """Return the workbook as it may be opened.

    Raises
    ------
    UnsafeWorkbook
        It is none, or too large inside.
    """
    out, formulas, left = io.BytesIO(), [], MOST_UNPACKED_BYTES
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
                    formulas += [(part.filename, row, column) for row, column in _formulas(content)]
                anew.writestr(part.filename, content)
    except (zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, OSError) as fault:
        raise UnsafeWorkbook(f"no workbook that can be read ({fault})") from fault
    return SafeWorkbook(content=out.getvalue(), formulas=tuple(formulas))


def _unpacked(archive: zipfile.ZipFile, part: zipfile.ZipInfo, left: int) -> bytes:
    """Unpack a part bit by bit, and stop where it is too large."""
    found = bytearray()
    with archive.open(part) as packed:
        while chunk := packed.read(CHUNK_BYTES):
            found += chunk
            if len(found) > left:
                raise UnsafeWorkbook(f"more than {MOST_UNPACKED_BYTES // 1_000_000} MB once unpacked")
            if len(found) > SMALL_BYTES and len(found) > MOST_RATIO * max(1, part.compress_size):
                raise UnsafeWorkbook(f"{part.filename} unpacks to more than {MOST_RATIO} times its size")
    if part.filename.endswith(MARKED):
        _plain_markup(part.filename, bytes(found))
    return bytes(found)


def _plain_markup(name: str, content: bytes) -> None:
    """Refuse markup that is not in a plain encoding, where nothing could be looked for, or that declares entities."""
    if not content.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"<") or b"\0" in content:
        raise UnsafeWorkbook(f"{name} is not written in UTF-8")
    if b"<!DOCTYPE" in content or b"<!ENTITY" in content:
        raise UnsafeWorkbook(f"{name} declares entities")


def _formulas(content: bytes) -> Iterator[tuple[int, int]]:
    """Give the cells with a formula; a cell beyond the bounds is refused."""
    row = column = 0
    try:
        for event, element in ET.iterparse(io.BytesIO(content), events=("start", "end")):
            name = element.tag.rpartition("}")[2]
            if event == "start" and name == "row":
                row, column = _number(element.get("r"), row + 1), 0
            elif event == "start" and name == "c":
                row, column = _place(element.get("r"), row, column + 1)
            elif event == "end" and name == "f":
                yield row, column
            elif event == "end" and name == "row":
                element.clear()
            if row > MOST_ROWS or column > MOST_COLUMNS:
                raise UnsafeWorkbook(f"a cell beyond row {MOST_ROWS} or column {MOST_COLUMNS}")
    except ET.ParseError as fault:
        raise UnsafeWorkbook(f"a sheet that cannot be read ({fault})") from fault


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
