"""Open the records; read and write them in sessions that are kept whole or not at all."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import event
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from kilnpack.errors import ChangedMeanwhile, RecordsUnusable
from kilnpack.records import schema_state
from kilnpack.records.address import is_file, shown_address
from kilnpack.records.engine import WRITES, engine_of, made_place, plain_faults
from kilnpack.records.events import changed_meanwhile, last_event, note_changes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from sqlalchemy import URL, Engine

    from kilnpack.records.base import Versioned


def utc_now() -> datetime:
    """Return the present moment in UTC."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """Open records. `clock` tells the moment that changes are stamped with, in UTC."""

    url: URL
    engine: Engine
    clock: Callable[[], datetime] = utc_now

    @property
    def address(self) -> str:
        """Where the records are, as people may see it."""
        return shown_address(self.url)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Open a session that only reads, all of it as of one moment; its rows may be used until it is closed.

        Raises
        ------
        RecordsUnusable
            The data base cannot be read.
        """
        # A file's reader sees one moment by itself; a server must be asked to.
        options = {} if is_file(self.url) else {"isolation_level": "REPEATABLE READ"}
        engine = self.engine.execution_options(**options)
        with plain_faults(self.url), Session(engine, autoflush=False) as session:
            yield session
            session.rollback()

    @contextmanager
    def writing(self, by: str) -> Iterator[Session]:
        """Open a session that writes: all of it is kept at the end, or nothing where a fault is raised.

        Parameters
        ----------
        by
            Who writes; stands beside every change.

        Raises
        ------
        ChangedMeanwhile
            Another wrote to the same row since it was read; nothing of what was written here is kept.
        RecordsUnusable
            The data base cannot be written; nothing was kept.
        """
        engine = self.engine.execution_options(**{WRITES: True})
        with plain_faults(self.url), Session(engine) as session:
            session.info.update(by=by, at=self.clock(), touched=[])
            event.listen(session, "before_flush", lambda flushed, *_: note_changes(flushed))
            try:
                yield session
                session.commit()
            except StaleDataError as fault:
                session.rollback()
                raise self._second(session) from fault
            except IntegrityError as fault:
                session.rollback()
                said = " ".join(str(fault.orig).split())
                raise ChangedMeanwhile("something with the same code or link", "", "", said) from fault

    def _second(self, session: Session) -> ChangedMeanwhile:
        """Return the fault for the row that another wrote last among those that were touched here."""
        touched = session.info["touched"]
        found = [(last_event(session, what, key), what, key) for what, key in touched]
        latest = max(found, key=lambda row: -1 if row[0] is None else row[0].id)
        return changed_meanwhile(*latest)

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()


def expect(session: Session, row: Versioned, seen_version: int) -> None:
    """Refuse to change a row that is no longer the one its editor looked at.

    Raises
    ------
    ChangedMeanwhile
        Its version is another than the one seen.
    """
    if row.version != seen_version:
        raise changed_meanwhile(last_event(session, row.what, row.key), row.what, row.key)


def init_records(url: URL, *, clock: Callable[[], datetime] = utc_now) -> Records:
    """Make the records, or bring those there to the present form, and open them.

    Raises
    ------
    RecordsUnusable
        The place or the server does not allow it, or the records were made by a newer kilnpack.
    """
    if is_file(url):
        made_place(url)
    engine = engine_of(url)
    with plain_faults(url):
        _refuse_newer(url, engine)
        schema_state.bring_up(engine)
    return Records(url=url, engine=engine, clock=clock)


def open_records(url: URL, *, clock: Callable[[], datetime] = utc_now) -> Records:
    """Open records that are there.

    Raises
    ------
    RecordsUnusable
        There are none, or their form is not the present one, or they cannot be reached.
    """
    if is_file(url) and not Path(str(url.database)).is_file():
        raise RecordsUnusable(shown_address(url), "there are none; make them with kilnpack record init")
    engine = engine_of(url)
    with plain_faults(url), engine.connect() as connection:
        found = schema_state.revision_of(connection)
    if found != schema_state.HEAD:
        _refuse_newer(url, engine)
        old = "are of an older form" if found else "hold no tables yet"
        engine.dispose()
        raise RecordsUnusable(shown_address(url), f"they {old}; kilnpack record init brings them up to date")
    return Records(url=url, engine=engine, clock=clock)


def _refuse_newer(url: URL, engine: Engine) -> None:
    with engine.connect() as connection:
        found = schema_state.revision_of(connection)
    if found is not None and found > schema_state.HEAD:
        engine.dispose()
        raise RecordsUnusable(shown_address(url), "they were made by a newer kilnpack; use that one")
