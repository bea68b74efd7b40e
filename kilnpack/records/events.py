"""Who changed what and when: written beside every change, and told to whoever comes second."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import inspect, select

from kilnpack.errors import ChangedMeanwhile
from kilnpack.records.base import Versioned
from kilnpack.records.tables_people import EventRow

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import datetime

    from sqlalchemy.orm import Session

_OWN = ("id", "version", "changed_by", "changed_at")
_NOT_REPEATED = ("value", "lots", "becomes", "password_hash")
"""Columns whose contents are too long, or nobody's business."""


def note_changes(session: Session) -> None:
    """Stamp every row that is about to be written, and write an event beside it."""
    by, at = session.info["by"], session.info["at"]
    for row, did in [*_rows(session)]:
        change = _change(row, did)
        if did == "changed" and not change:
            continue
        if did != "removed":
            row.changed_by, row.changed_at = by, at
        session.info["touched"].append((row.what, row.key))
        session.add(EventRow(at=at, by=by, what=row.what, key=row.key, did=did, change=change))


def _rows(session: Session) -> Iterator[tuple[Any, str]]:
    """Yield what is to be written, in an order that is the same every time."""
    groups: tuple[tuple[Iterable[object], str], ...] = (
        (session.new, "made"),
        (sorted(session.dirty, key=_by_row), "changed"),
        (sorted(session.deleted, key=_by_row), "removed"),
    )
    for rows, did in groups:
        yield from ((row, did) for row in rows if isinstance(row, Versioned))


def _by_row(row: Any) -> tuple[str, int]:
    """Return the table of a row that was written before, and its number there."""
    return row.__tablename__, row.id


def _change(row: Any, did: str) -> dict[str, Any]:
    """Return what changes: column -> [before, after]."""
    change: dict[str, Any] = {}
    for attribute in inspect(row).mapper.column_attrs:
        name = attribute.key
        history = inspect(row).attrs[name].history
        if name in _OWN or (did == "changed" and not history.has_changes()):
            continue
        before = history.deleted[0] if history.deleted else None
        after = None if did == "removed" else getattr(row, name)
        if name in _NOT_REPEATED:
            change[name] = ["...", "..."]
        elif before != after:
            change[name] = [_plain(before), _plain(after)]
    return change


def _plain(value: object) -> object:
    return value if isinstance(value, int | float | str | None) else str(value)


def last_event(session: Session, what: str, key: str) -> EventRow | None:
    """Return the newest event of a row, None where there is none."""
    chosen = select(EventRow).where(EventRow.what == what, EventRow.key == key).order_by(EventRow.id.desc()).limit(1)
    return session.scalars(chosen).first()


def changed_meanwhile(event: EventRow | None, what: str, key: str) -> ChangedMeanwhile:
    """Return the fault that tells the second editor what the first one did."""
    if event is None:
        return ChangedMeanwhile(f"{what} {key}", "", "", "")
    how = ", ".join(f"{name} {before} -> {after}" for name, (before, after) in event.change.items())
    return ChangedMeanwhile(f"{what} {key}", event.by, told(event.at), how if event.did == "changed" else event.did)


def told(at: datetime) -> str:
    """Return a moment as a person reads it."""
    return at.strftime("%Y-%m-%d %H:%M UTC") if at.tzinfo else at.isoformat(" ", "minutes")
