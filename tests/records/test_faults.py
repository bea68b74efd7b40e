"""Guards the records against what happens to machines: a killed writer, a place that cannot be written, two at once."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import event, select, text

from kilnpack.errors import ChangedMeanwhile, RecordsUnusable
from kilnpack.records.address import records_url
from kilnpack.records.store import expect, init_records, open_records
from kilnpack.records.tables_people import EventRow
from kilnpack.records.tables_works import LotRow

if TYPE_CHECKING:
    from sqlalchemy import URL
    from sqlalchemy.orm import Session

    from kilnpack.records.store import Records

ROOT = Path(__file__).resolve().parents[2]

WRITER = """
import sys
from sqlalchemy import make_url, select
from kilnpack.records.store import open_records
from kilnpack.records.tables_works import LotRow
records = open_records(make_url(sys.argv[1]))
with records.writing("writer") as session:
    for row in session.scalars(select(LotRow)):
        row.pieces = 1
    session.flush()
    print("half-way", flush=True)
    sys.stdin.read()
"""

ADDER = """
import sys
from sqlalchemy import make_url, select
from kilnpack.records.store import open_records
from kilnpack.records.tables_works import LotRow
records = open_records(make_url(sys.argv[1]))
for _ in range(int(sys.argv[2])):
    with records.writing(sys.argv[3]) as session:
        row = session.scalars(select(LotRow).where(LotRow.code == "CUP0").with_for_update()).one()
        row.pieces += 1
"""

OPENER = """
import os, sys
import sqlite3, alembic.command, sqlalchemy.dialects.sqlite, kilnpack.records.tables
from sqlalchemy import make_url
from kilnpack.errors import RecordsUnusable
from kilnpack.records.store import init_records, open_records
if os.geteuid() == 0:
    os.setuid(65534)
for opened in (open_records, init_records):
    try:
        with opened(make_url(sys.argv[1])).writing("nobody") as session:
            session.execute(sqlalchemy.text("DELETE FROM lots"))
    except RecordsUnusable as told:
        print(told)
"""

MAKER = """
import sys
from sqlalchemy import make_url
from kilnpack.records.store import init_records
print(init_records(make_url(sys.argv[1])).address)
"""


def started(program: str, url: URL, *arguments: str) -> subprocess.Popen[str]:
    """Start a Python process of its own on the records."""
    address = url.render_as_string(hide_password=False)
    return subprocess.Popen(
        [sys.executable, "-c", program, address, *arguments], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def test_a_writer_that_is_killed_leaves_the_records_whole(kept: Records) -> None:
    """A process killed in the middle of its writing (kill -9) changes nothing, and keeps nobody else from writing."""
    writer = started(WRITER, kept.url)
    assert writer.stdout is not None
    assert writer.stdout.readline() == "half-way\n"
    writer.send_signal(signal.SIGKILL)
    writer.communicate()
    assert writer.returncode == -signal.SIGKILL
    with kept.writing("eva") as session:
        assert {row.pieces for row in session.scalars(select(LotRow))} == {20}
        session.scalars(select(LotRow).where(LotRow.code == "CUP0")).one().pieces = 3
    with kept.reading() as session:
        assert session.scalars(select(LotRow).where(LotRow.code == "CUP0")).one().pieces == 3
        if kept.url.get_backend_name() == "sqlite":
            assert session.execute(text("PRAGMA integrity_check")).scalar() == "ok"
            assert session.execute(text("PRAGMA journal_mode")).scalar() == "wal"
            assert session.execute(text("PRAGMA foreign_keys")).scalar() == 1


def test_two_processes_write_in_turns(kept: Records) -> None:
    """Two processes that add at once lose nothing: twice ten pieces are twenty more."""
    adders = [started(ADDER, kept.url, "10", name) for name in ("ada", "ben")]
    for adder in adders:
        _, said = adder.communicate()
        assert adder.returncode == 0, said
    with kept.reading() as session:
        assert session.scalars(select(LotRow).where(LotRow.code == "CUP0")).one().pieces == 40


def test_two_processes_make_the_records_at_once(url: URL) -> None:
    """Both find them made: one does it, the other waits."""
    if url.get_backend_name() == "sqlite":
        Path(str(url.database)).parent.mkdir()
    makers = [started(MAKER, url) for _ in range(2)]
    for maker in makers:
        _, said = maker.communicate()
        assert maker.returncode == 0, said
    open_records(url).close()


def test_a_clock_set_back_keeps_the_order_of_events(kept: Records) -> None:
    """Each change is stamped an hour before the one before it: the order is that of the writing, and who comes second
    is told of the change that was written last.
    """
    noon = datetime(2026, 10, 25, 12, tzinfo=UTC)
    for hours, by in enumerate(("ada", "ben", "eva")):
        back = replace(kept, clock=lambda hours=hours: noon - timedelta(hours=hours))  # type: ignore[misc]
        with back.writing(by) as session:
            lot_of(session).pieces = hours + 1
    with kept.reading() as session:
        chosen = select(EventRow).where(EventRow.what == "lot", EventRow.key == "CUP0").order_by(EventRow.id)
        found = [(row.by, row.at.hour) for row in session.scalars(chosen)][-3:]
        assert found == [("ada", 12), ("ben", 11), ("eva", 10)]
    with pytest.raises(ChangedMeanwhile, match="by eva at 2026-10-25 10:00 UTC"), kept.writing("ida") as session:
        expect(session, lot_of(session), 1)


def lot_of(session: Session) -> LotRow:
    """Return the lot that these tests change."""
    return session.scalars(select(LotRow).where(LotRow.code == "CUP0")).one()


def test_a_full_disk_is_told_and_nothing_is_kept(tmp_path: Path) -> None:
    """The data base's own fault for a full disk (SQLITE_FULL, raised here by a bound on its pages) is one sentence."""
    records = init_records(records_url(tmp_path))

    def bound(connection: object, _record: object) -> None:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]  # type: ignore[attr-defined]
        connection.execute(f"PRAGMA max_page_count={pages}")  # type: ignore[attr-defined]

    records.close()
    event.listen(records.engine, "connect", bound)
    with pytest.raises(RecordsUnusable, match="the disk is full; make room") as told, records.writing("eva") as session:
        session.execute(text("INSERT INTO orders (code, taken_at) VALUES (:code, '')"), {"code": "x" * 100_000})
    assert str(tmp_path) in str(told.value)
    with records.reading() as session:
        assert session.execute(text("SELECT count(*) FROM orders")).scalar() == 0


def test_a_read_only_file_is_told(kept: Records) -> None:
    """Records that may only be read are read; writing is refused in one sentence."""
    if kept.url.get_backend_name() == "sqlite":
        kept.close()
        only = kept.url.set(database=f"file:{kept.url.database}", query={"mode": "ro", "uri": "true"})
        statement = ""
    else:
        only, statement = kept.url, "SET TRANSACTION READ ONLY"
    records = open_records_of(only)
    with records.reading() as session:
        assert len(session.scalars(select(LotRow)).all()) > 0

    def write() -> None:
        with records.writing("eva") as session:
            if statement:
                session.execute(text(statement))
            session.scalars(select(LotRow).where(LotRow.code == "CUP0")).one().pieces = 1

    with pytest.raises(RecordsUnusable, match="read-only; give the right to write"):
        write()
    records.close()


def test_a_read_only_folder_is_told() -> None:
    """Somebody who may not write in the folder (root gives that right up first) is told so, whatever they try."""
    folder = Path(mkdtemp(prefix="kp-ro-", dir="/tmp"))
    url = records_url(folder)
    try:
        init_records(url).close()
        for path in (folder / "records" / "records.sqlite", folder / "records", folder):
            path.chmod(0o555)
        opener = started(OPENER, url)
        said, faults = opener.communicate()
        assert (opener.returncode, faults) == (0, "")
        assert said.count("the file or its folder is read-only; give the right to write") == 2
    finally:
        for path in (folder, folder / "records"):
            path.chmod(0o755)
        shutil.rmtree(folder)


def open_records_of(url: URL) -> Records:
    """Open records by an address that is no plain path."""
    from kilnpack.records.engine import engine_of
    from kilnpack.records.store import Records

    return Records(url=url, engine=engine_of(url))


def test_a_place_that_is_no_folder_is_told(tmp_path: Path) -> None:
    """The folder for the file cannot be made: one sentence with the place."""
    (tmp_path / "records").write_text("a file in the place of the folder")
    with pytest.raises(RecordsUnusable, match=r"records\.sqlite cannot be used"):
        init_records(records_url(tmp_path))


def test_a_file_that_is_no_data_base_is_told(tmp_path: Path) -> None:
    """Somebody's notes under the name of the records are left as they are."""
    other = tmp_path / "records.sqlite"
    other.write_text("minutes of a meeting, " * 100)
    with pytest.raises(RecordsUnusable, match="the file is no data base"):
        open_records(records_url(tmp_path, str(other)))
    assert other.read_text().startswith("minutes of a meeting")


def test_a_server_that_is_not_there_is_told(tmp_path: Path) -> None:
    """No server answers at the socket of an empty folder."""
    with pytest.raises(RecordsUnusable, match="the server does not answer"):
        open_records(records_url(tmp_path, f"postgresql://eva@/works?host={tmp_path}"))
