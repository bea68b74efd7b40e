"""The backlog sent over the pages: nothing changes while there is a finding, all of it where there is none."""

from __future__ import annotations

import errno
import shutil
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import select

from kilnpack.errors import InputFaulty, SheetNotWritten
from kilnpack.records.tables_works import LineRow
from kilnpack.records.works_values import get_works
from kilnpack.workflow.taking_in import TakenIn, finish_taking_in, take_in
from kilnpack.works_folder import read_works, replacing
from kilnpack.works_folder.replacing import is_left
from kilnpack.works_folder.sent_tables import SentFile
from kilnpack.works_folder.table_files import tables_replaced
from tests.web.planned_place import planned_place_in

if TYPE_CHECKING:
    from kilnpack.web.place import Place

HEAD = "code,order,customer,item,quantity_pieces,due"
GOOD = f"{HEAD}\n1-1,1,Lantern Inn,MUG,16,2026-03-22\n2-1,2,Lantern Inn,MUG,8,2026-03-03\n3-1,3,Quay,MUG,4,2026-03-30\n"


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works with records and no plan."""
    return planned_place_in(tmp_path, with_plan=False)


def sent(place: Place, *, files_win: bool = False, **texts: str) -> TakenIn:
    """Send CSV files."""
    files = [SentFile(name=f"{name}.csv", content=text.encode()) for name, text in texts.items()]
    return take_in(place.records, place.folder, "Piet", files, files_win=files_win)


def files_of(place: Place) -> dict[str, bytes]:
    """The files of the works folder."""
    return {path.name: path.read_bytes() for path in place.folder.iterdir() if path.is_file()}


def lines_of(place: Place) -> list[str]:
    """The order lines that the records have."""
    with place.records.reading() as session:
        return [line.code for line in get_works(session).lines]


def test_a_good_table_reaches_records_and_folder(place: Place) -> None:
    """Guards the way in: the new line stands in the records and in the folder, which reads back as the records do."""
    taken = sent(place, orders=GOOD)
    assert taken.findings == ()
    assert taken.said == ("1 order line new: 3-1",)
    assert lines_of(place) == ["1-1", "2-1", "3-1"]
    with place.records.reading() as session:
        kept = get_works(session)
    read = read_works(place.folder)
    assert (read.lines, read.lots) == (kept.lines, kept.lots)
    assert sent(place, orders=GOOD).said == ("Nothing differs from what was there.",)


def test_what_other_hands_wrote_into_the_folder_is_kept_beside(place: Place) -> None:
    """Guards a table edited by hand and never imported: it is replaced by what the records have, and a copy stays."""
    lots = place.folder / "lots.csv"
    edited = lots.read_bytes().rstrip() + b"\r\n,by hand\r\n"
    lots.write_bytes(edited)
    taken = sent(place, orders=GOOD)
    kept = [path for path in (place.folder / "older_tables").rglob("*") if path.is_file()]
    assert [(path.name, path.read_bytes()) for path in kept] == [("lots.csv", edited)]
    assert kept[0].relative_to(place.folder).as_posix() in taken.said[-1]
    assert lots.read_bytes() != edited
    read_works(place.folder)
    assert len(sent(place, orders=GOOD).said) == 1


def test_every_finding_stands_at_its_cell_and_nothing_changes(place: Place) -> None:
    """Guards the findings: a wrong number, an unknown product and a missing day, each at its cell, all at once."""
    before = files_of(place)
    taken = sent(place, orders=f"{HEAD}\n1-1,1,Lantern Inn,MUG,many,2026-03-22\n2-1,2,Inn,JUG,8,\n")
    assert len(taken.findings) == 3
    table = taken.tables[0]
    cells = {(row.number, at): cell.text for row in table.rows for at, cell in enumerate(row.cells) if cell.wanted}
    assert (table.name, cells) == ("orders.csv", {(2, 4): "many", (3, 3): "JUG", (3, 5): ""})
    assert files_of(place) == before
    assert lines_of(place) == ["1-1", "2-1"]


def test_a_table_that_the_others_do_not_agree_with_is_shown_with_them(place: Place) -> None:
    """Guards references: lots bound to a line that the new orders lack are shown in their own table."""
    taken = sent(place, orders=f"{HEAD}\n1-1,1,Lantern Inn,MUG,16,2026-03-22\n")
    assert [(table.name, [row.number for row in table.rows if row.faulty]) for table in taken.tables] == [
        ("lots.csv", [3])
    ]
    assert lines_of(place) == ["1-1", "2-1"]


def test_a_file_as_a_whole_and_headings_have_findings_too(place: Place) -> None:
    """Guards what is no cell: a file of another kind, an unknown heading, cells under no heading."""
    taken = take_in(place.records, place.folder, "Piet", [SentFile(name="orders.pdf", content=b"x")])
    assert [one.file for one in taken.elsewhere] == ["orders.pdf"]
    taken = sent(place, orders=GOOD.replace("customer", "custmer").replace("MUG,4,2026-03-30", "MUG,4,2026-03-30,more"))
    heads = [head.text for head in taken.tables[0].headings if head.wanted]
    assert heads == ["custmer"]
    assert [row.number for row in taken.tables[0].rows if row.wanted] == [4]


def test_a_long_table_is_shown_without_the_rows_that_are_right(place: Place) -> None:
    """Guards long tables: only what is wrong is shown, and the rest counted."""
    rows = "".join(f"x{n},9,Quay,MUG,4,2026-03-30\n" for n in range(80))
    taken = sent(place, orders=GOOD.replace("MUG,4,", "MUG,none,") + rows)
    assert [row.number for row in taken.tables[0].rows] == [4]
    assert taken.tables[0].left_out == 82


def test_what_was_recorded_since_is_not_overwritten_unless_told(place: Place) -> None:
    """Guards the records: a line changed there since is a finding; where the files win, theirs counts."""
    with place.records.writing("Lena") as session:
        row = session.scalars(select(LineRow).where(LineRow.code == "1-1")).one()
        row.delivered_pieces = 3
    with place.records.writing("late") as session:
        session.scalars(select(LineRow).where(LineRow.code == "1-1")).one().changed_at = place.records.clock().replace(
            year=2027
        )
    taken = sent(place, orders=GOOD)
    assert [one.field for one in taken.findings] == ["1-1"]
    assert sent(place, orders=GOOD, files_win=True).findings == ()
    with place.records.reading() as session:
        assert session.scalars(select(LineRow).where(LineRow.code == "1-1")).one().delivered_pieces == 0


@pytest.mark.parametrize(("name", "least"), [("put_whole", 5), ("Path.replace", 4)])
def test_a_folder_that_cannot_be_written_changes_nothing(
    place: Place, monkeypatch: pytest.MonkeyPatch, name: str, least: int
) -> None:
    """Guards both or neither: whichever file cannot be written or moved, folder and records are as before; where all is
    moved and only the note of it stays, all is as sent, and the next who opens the records takes the note away.
    """
    before, failed = files_of(place), 0
    for last in range(1, 20):
        with monkeypatch.context() as patched:
            patched_to_fail(patched, name, last)
            try:
                sent(place, orders=GOOD)
            except SheetNotWritten as fault:
                failed += "the disk is full" in str(fault)
            else:
                break
        finish_taking_in(place.folder, place.records)
        assert files_of(place) == before, last
        assert lines_of(place) == ["1-1", "2-1"]
    assert failed >= least
    finish_taking_in(place.folder, place.records)
    assert not is_left(place.folder)
    assert [line.code for line in read_works(place.folder).lines] == lines_of(place) == ["1-1", "2-1", "3-1"]


def test_a_folder_left_by_a_killed_process_is_not_read(place: Place) -> None:
    """Guards whoever plans from the folder meanwhile: it is refused, with what to do; other records are refused too."""
    before, about = files_of(place), {"records": place.records.address, "works_version": 1}
    with suppress(KeyboardInterrupt), tables_replaced(place.folder, {"orders": GOOD}, about):
        shutil.copytree(place.folder, place.folder / "copy", ignore=shutil.ignore_patterns("records"))
        raise KeyboardInterrupt
    left = place.folder / "copy"
    with pytest.raises(InputFaulty, match=r"being replaced when a process was killed: orders.csv.*record init"):
        read_works(left)
    with pytest.raises(InputFaulty), tables_replaced(left, {"orders": GOOD}, about):
        pass
    other = replace(place.records, url=place.records.url.set(database="elsewhere"))
    with pytest.raises(InputFaulty, match="into which its tables were being taken"):
        finish_taking_in(left, other)
    finish_taking_in(left, place.records)
    assert {path.name: path.read_bytes() for path in left.iterdir()} == before


def patched_to_fail(patched: pytest.MonkeyPatch, name: str, last: int) -> list[str]:
    """Let the call of so high a number find a full disk."""
    calls: list[str] = []
    owner = replacing if name == "put_whole" else Path
    real = getattr(owner, name.rpartition(".")[2])

    def fails_once(path: Path, *more: object) -> object:
        calls.append(path.name)
        if len(calls) == last:
            raise OSError(errno.ENOSPC, "no space") if owner is Path else SheetNotWritten(path, "the disk is full")
        return real(path, *more)

    patched.setattr(owner, name.rpartition(".")[2], fails_once)
    return calls


def test_records_that_cannot_be_written_put_the_folder_back(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the other way round: a fault after the files were written puts them back."""
    before = files_of(place)
    monkeypatch.setattr("kilnpack.records.store.Session.commit", _refused)
    with pytest.raises(RuntimeError, match="gone"):
        sent(place, orders=GOOD)
    assert files_of(place) == before
    assert not is_left(place.folder)


def _refused(_: object) -> None:
    raise RuntimeError("gone")


def test_tables_inside_a_workbook_of_the_folder_are_not_written(place: Place) -> None:
    """Guards works.xlsx: a table that the folder keeps in there is a finding, and stays."""
    from openpyxl import Workbook

    (place.folder / "orders.csv").unlink()
    book = Workbook()
    book.active.title = "orders"
    for row in GOOD.splitlines():
        book.active.append(row.split(","))
    book.save(place.folder / "works.xlsx")
    before = files_of(place)
    taken = sent(place, orders=GOOD)
    assert [(one.file, one.field) for one in taken.findings] == [("works.xlsx", "orders")]
    assert files_of(place) == before
    with pytest.raises(InputFaulty), tables_replaced(place.folder, {"orders": GOOD}, {}):
        pass
