"""Tables sent over the pages: told apart, bounded, and refused before they can do harm."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING

import pytest
from openpyxl import Workbook

from kilnpack.works_folder import sent_tables, workbook_guard
from kilnpack.works_folder.sent_tables import SentFile, lay_down
from kilnpack.works_folder.workbook_guard import UnsafeWorkbook, safe_workbook

if TYPE_CHECKING:
    from pathlib import Path

ORDERS = "code,order,customer,item,quantity_pieces,due\n1/1,1,Lantern Inn,MUG,4,2026-03-09\n"
LOTS = "code,product,next_firing,pieces\nA,MUG,1,4\n"


def book(**sheets: list[list[object]]) -> bytes:
    """A workbook of some sheets."""
    made = Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def rows_of(text: str) -> list[list[object]]:
    """The cells of a CSV text."""
    return [list(row.split(",")) for row in text.splitlines()]


def with_part(raw: bytes, name: str, content: bytes, *, say_bytes: int | None = None) -> bytes:
    """A workbook with a part more, or another one in its place; the size it says of itself may be wrong."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            if part.filename != name:
                new.writestr(part.filename, old.read(part))
        new.writestr(name, content)
    return out.getvalue()


def test_a_file_is_known_by_its_name_or_by_its_headings(tmp_path: Path) -> None:
    """Guards telling apart: a name of a table counts; any other name is passed over for the headings."""
    files = [SentFile(name="Orders.CSV", content=ORDERS.encode()), SentFile(name="stock.csv", content=LOTS.encode())]
    found, faults = lay_down(files, tmp_path)
    assert faults == ()
    assert {one.table: one.shown for one in found} == {"orders": "Orders.CSV", "lots": "stock.csv"}
    assert {path.name for path in tmp_path.iterdir()} == {"orders.csv", "lots.csv"}


def test_sheets_of_one_workbook_are_tables(tmp_path: Path) -> None:
    """Guards workbooks: each sheet named for a table is one, others are passed over."""
    raw = book(Orders=rows_of(ORDERS), lots=rows_of(LOTS), Notes=[["call Monday"]])
    found, faults = lay_down([SentFile(name="backlog.xlsx", content=raw)], tmp_path)
    assert faults == ()
    assert {one.table: one.shown for one in found} == {"orders": "backlog.xlsx: Orders", "lots": "backlog.xlsx: lots"}
    assert [row[1][0] for row in found[0].grid.rows] == ["code", "1/1"]
    named, faults = lay_down([SentFile(name="lots.xlsx", content=book(Sheet1=rows_of(LOTS)))], tmp_path)
    assert (faults, [one.table for one in named]) == ((), ["lots"])


@pytest.mark.parametrize("name", ["../../etc/orders.csv", "C:\\temp\\orders.csv", "/orders.csv", "a\x00b/orders.csv"])
def test_a_name_never_becomes_a_path(name: str, tmp_path: Path) -> None:
    """Guards the disk: whatever path a name says, the table lies in its own folder under its own name."""
    folder = tmp_path / "inside"
    folder.mkdir()
    found, _ = lay_down([SentFile(name=name, content=ORDERS.encode())], folder)
    assert [one.path for one in found] == [folder / "orders.csv"]
    assert [path.name for path in tmp_path.rglob("*")] == ["inside", "orders.csv"]


@pytest.mark.parametrize(
    ("name", "content", "found"),
    [
        ("orders.pdf", b"%PDF", "a file of kind pdf"),
        ("orders", b"code", "a file of kind orders"),
        ("notes.csv", b"what,when\nx,y\n", "headings of no table"),
        ("orders.csv", b"code\n" + b"1\n" * 20_001, "20002 rows of up to 1 cells"),
        ("orders.csv", b"x" * 5_000_001, "5.0 MB"),
        ("orders.csv", b"code\n\x81\x8d", "bytes that are no text"),
        ("orders.xlsx", b"PK nothing", "no workbook that can be read"),
        ("orders.xlsx", book(Other=[["x"]], Another=[["y"]])[:400], "no workbook that can be read"),
        ("backlog.xlsx", book(Other=[["x"]], Another=[["y"]]), "sheets Other, Another"),
    ],
)
def test_what_is_no_table_is_said(name: str, content: bytes, found: str, tmp_path: Path) -> None:
    """Guards the reader from what it cannot use: kind, headings, rows, size, text, archive."""
    laid, faults = lay_down([SentFile(name=name, content=content)], tmp_path)
    assert laid == ()
    assert [one.found[: len(found)] for one in faults] == [found]
    assert faults[0].file == name


def test_nothing_too_much_and_twice_are_said(tmp_path: Path) -> None:
    """Guards the counts: no file at all, too many of them, one table in two files."""
    assert [one.found for one in lay_down([], tmp_path)[1]] == ["nothing"]
    twice = [SentFile(name=name, content=ORDERS.encode()) for name in ("orders.csv", "new orders.csv")]
    assert [one.found for one in lay_down(twice, tmp_path)[1]] == ["orders"]
    many = [SentFile(name="orders.csv", content=ORDERS.encode())] * (sent_tables.MOST_FILES + 1)
    assert any(one.found == "9 files" for one in lay_down(many, tmp_path)[1])


def test_formulas_are_found_at_their_cells(tmp_path: Path) -> None:
    """Guards from formulas: in a workbook those that are, in CSV text that a spreadsheet would take for one."""
    rows = rows_of(ORDERS)
    rows[1][4] = "=2+2"
    _, faults = lay_down([SentFile(name="orders.xlsx", content=book(orders=rows))], tmp_path)
    assert [(one.row, one.field, one.found) for one in faults] == [(2, "quantity_pieces", "a formula")]
    text = ORDERS.replace("Lantern Inn", '"=HYPERLINK(""x"")"') + "1/2,1,-,@cmd,-4,+x\n"
    _, faults = lay_down([SentFile(name="orders.csv", content=text.encode())], tmp_path)
    assert [(one.row, one.field) for one in faults] == [(2, "customer"), (3, "item"), (3, "due")]


def test_an_archive_that_unpacks_to_too_much_is_not_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards from bombs: by what really comes out, in all and for one part, whatever the archive says of itself."""
    raw = book(orders=rows_of(ORDERS))
    bomb = with_part(raw, "xl/big.xml", b"<" + b"a" * 3_000_000)
    with pytest.raises(UnsafeWorkbook, match="unpacks to more than 400 times"):
        safe_workbook(bomb)
    monkeypatch.setattr(workbook_guard, "MOST_UNPACKED_BYTES", 1000)
    with pytest.raises(UnsafeWorkbook, match="once unpacked"):
        safe_workbook(raw)
    monkeypatch.setattr(workbook_guard, "MOST_PARTS", 3)
    with pytest.raises(UnsafeWorkbook, match="parts, more than 3"):
        safe_workbook(raw)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b'<worksheet><sheetData><row r="1"><c r="XFD1"/></row></sheetData></worksheet>', "a cell beyond"),
        (b'<worksheet><sheetData><row r="1048576"><c/></row></sheetData></worksheet>', "a cell beyond"),
        (b"<worksheet><sheetData><row></sheetData>", "a sheet that cannot be read"),
        (b'<!DOCTYPE x [<!ENTITY a "b">]><worksheet><sheetData/></worksheet>', "declares entities"),
        ('<?xml version="1.0" encoding="utf-16"?><sheetData/>'.encode("utf-16"), "not written in UTF-8"),
    ],
)
def test_a_sheet_made_to_do_harm_is_not_opened(content: bytes, said: str) -> None:
    """Guards the reader: cells at the far corner, broken markup, entities, and encodings nothing can be seen in."""
    raw = with_part(book(orders=rows_of(ORDERS)), "xl/worksheets/sheet1.xml", content)
    with pytest.raises(UnsafeWorkbook, match=said):
        safe_workbook(raw)


def test_programs_inside_a_workbook_are_left_out() -> None:
    """Guards from what is no table: programs, links and things put inside do not come through; cells do."""
    raw = with_part(book(orders=rows_of(ORDERS)), "xl/vbaProject.bin", b"program")
    raw = with_part(raw, "xl/embeddings/thing.bin", b"thing")
    with zipfile.ZipFile(io.BytesIO(safe_workbook(raw).content)) as archive:
        names = archive.namelist()
    assert "xl/workbook.xml" in names
    assert not [name for name in names if "vba" in name or "embeddings" in name]


def test_a_workbook_without_its_list_of_sheets_is_said(tmp_path: Path) -> None:
    """Guards broken workbooks: one that lists no sheets is a finding."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("xl/worksheets/sheet1.xml", "<worksheet><sheetData/></worksheet>")
    laid, faults = lay_down([SentFile(name="orders.xlsx", content=out.getvalue())], tmp_path)
    assert laid == ()
    assert faults[0].found == "a workbook without a list of sheets"
