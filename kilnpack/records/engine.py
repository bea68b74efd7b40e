"""The connection to the data base, and its faults in plain words."""

from __future__ import annotations

from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import create_engine, event
from sqlalchemy.exc import DBAPIError, NoSuchModuleError

from kilnpack.errors import RecordsUnusable
from kilnpack.records.address import is_file, shown_address
from kilnpack.whole_files import reason_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy import URL, Connection, Engine

WAIT_S = 20.0
"""How long one writer waits for another before it gives up."""
WRITES = "kilnpack_writes"
"""Execution option of connections that are about to write."""


def engine_of(url: URL) -> Engine:
    """Return an engine for the records.

    A file is kept in write-ahead mode, so that readers never wait; its writers take turns from their first statement
    on, so that none finds half-way that another was quicker. Foreign keys are on.

    Raises
    ------
    RecordsUnusable
        The driver for a server is not installed.
    """
    if is_file(url):
        engine = create_engine(url, connect_args={"timeout": WAIT_S, "isolation_level": None})
        event.listen(engine, "connect", _set_up_file)
        event.listen(engine, "begin", _begin_file)
        return engine
    try:
        # A connection that died with the server is found out before it is used.
        return create_engine(url, pool_pre_ping=True, connect_args={"connect_timeout": int(WAIT_S)})
    except (ImportError, NoSuchModuleError) as fault:
        reason = "the driver is missing; install kilnpack with [postgresql]"
        raise RecordsUnusable(shown_address(url), reason) from fault


def _set_up_file(connection: Any, _record: object) -> None:
    """Prepare a new connection to a file."""
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_file(connection: Connection) -> None:
    """Begin a transaction; the driver's own way would leave the turn of writers open until their first change."""
    writes = connection.get_execution_options().get(WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def made_place(url: URL) -> None:
    """Make the folder for a file of records.

    Raises
    ------
    RecordsUnusable
        It cannot be made.
    """
    try:
        Path(str(url.database)).parent.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise RecordsUnusable(shown_address(url), reason_of(fault)) from fault


@contextmanager
def plain_faults(url: URL) -> Iterator[None]:
    """Turn the data base's own faults into one plain sentence.

    Raises
    ------
    RecordsUnusable
        The data base cannot be reached, read or written.
    """
    try:
        yield
    except DBAPIError as fault:
        raise RecordsUnusable(shown_address(url), _reason(fault)) from fault


REMEDIES = (
    ("readonly", "the file or its folder is read-only; give the right to write, or name another place"),
    ("read-only", "the records are read-only; give the right to write, or name another place"),
    ("disk is full", "the disk is full; make room and do it again: nothing of this was kept"),
    ("no space left", "the disk is full; make room and do it again: nothing of this was kept"),
    ("disk i/o error", "the disk could not be used; is it full, or a limit reached? Nothing of this was kept"),
    ("unable to open", "the file cannot be opened; its folder must be there and allow writing"),
    ("not a database", "the file is no data base; name another place or bring back a copy"),
    ("malformed", "the file is damaged; bring back a copy"),
    ("locked", f"another program has been writing for {WAIT_S:.0f} s; try again"),
    ("password", "name or password are not right"),
    ("connection", "the server does not answer; is it running, and is the address right?"),
)


def _reason(fault: DBAPIError) -> str:
    """Return the fault in words, with the remedy where it is known."""
    said = " ".join(str(fault.orig).split())
    known = next((words for mark, words in REMEDIES if mark in said.lower()), "")
    return f"{known} ({said})" if known else said
