"""Lots as they move: changed in one place, each change with a line of history."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from sqlalchemy import func, select

from kilnpack.codec import VERSION
from kilnpack.records.tables_works import LotHistoryRow, LotRow
from kilnpack.records.values import plain_of

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from kilnpack.model.orders import Lot


def record_code(code: str) -> str:
    """Return the code of a lot in the records for the one that a plan gives it.

    A plan writes ``L-7@2`` for what lot L-7 is before its second firing; a works folder knows no such sign.
    """
    return code.replace("@", "-")


def set_lot(
    session: Session,
    row: LotRow | None,
    lot: Lot,
    *,
    position: int | None,
    what: str,
    firing: str | None = None,
    came_from: str | None = None,
) -> LotRow:
    """Make a lot, or bring its row to what the model says, and note it in its history."""
    if row is None:
        row = LotRow(code=lot.code, came_from=came_from)
        session.add(row)
    row.position, row.product, row.step, row.pieces = position, lot.product, lot.step, lot.pieces
    row.order_line, row.kind, row.ready_at, row.glazed = lot.order_line, lot.kind.value, lot.ready_at, lot.glazed
    row.schema_version, row.value = VERSION, plain_of(lot)
    history(session, row, what, firing=firing)
    return row


def history(
    session: Session, row: LotRow, what: str, *, firing: str | None = None, pieces: int | None = None, note: str = ""
) -> None:
    """Note that something happened to a lot; without a number all its pieces are meant."""
    session.add(
        LotHistoryRow(
            of=row,
            at=session.info["at"],
            by=session.info["by"],
            what=what,
            step=row.step,
            pieces=row.pieces if pieces is None else pieces,
            firing=firing,
            note=note,
        )
    )


def lot_row(session: Session, code: str) -> LotRow | None:
    """Return the row of a lot by the records' code or a plan's, None where there is none."""
    return session.scalars(select(LotRow).where(LotRow.code == record_code(code))).first()


def whole_of(session: Session, part: Lot) -> LotRow | None:
    """Return the lot of the backlog that a plan splits a part from: ``L-7`` for ``L-7.left`` and ``L-7.1042/1``."""
    code = record_code(part.code)
    waiting = select(LotRow).where(
        LotRow.position.is_not(None), LotRow.product == part.product, LotRow.step == part.step
    )
    wholes = [row for row in session.scalars(waiting) if code.startswith(f"{row.code}.")]
    return max(wholes, key=lambda row: len(row.code), default=None)


def take_from(session: Session, row: LotRow, pieces: int, *, what: str, firing: str, note: str = "") -> None:
    """Take pieces out of a lot; one that has none left leaves the backlog."""
    row.pieces = max(0, row.pieces - pieces)
    row.position = row.position if row.pieces else None
    history(session, row, what, firing=firing, pieces=pieces, note=note)


def join(session: Session, lot: Lot, *, what: str, firing: str, came_from: str) -> None:
    """Add pieces to a lot of the backlog that waits for the same, or make a new one."""
    row = session.scalars(select(LotRow).where(LotRow.code == lot.code)).first()
    same = row is not None and (row.product, row.step, row.order_line) == (lot.product, lot.step, lot.order_line)
    if row is not None and same:
        pieces = lot.pieces + (row.pieces if row.position is not None else 0)
        position = next_position(session) if row.position is None else row.position
        set_lot(session, row, replace(lot, pieces=pieces), position=position, what=what, firing=firing)
        return
    lot = replace(lot, code=new_code(session, lot.code))
    set_lot(
        session, None, lot, position=next_position(session), what=what, firing=firing, came_from=came_from
    )  # fmt: skip


def next_position(session: Session) -> int:
    """Return the place after the last lot of the backlog."""
    last = session.scalar(select(func.max(LotRow.position)))
    return 0 if last is None else last + 1


def new_code(session: Session, wanted: str) -> str:
    """Return a code that no lot has yet: the one wanted, or the same with a number behind it."""
    taken = set(session.scalars(select(LotRow.code).where(LotRow.code.startswith(wanted, autoescape=True))))
    numbered = (f"{wanted}{number}" for number in range(2, len(taken) + 3))
    return next(code for code in (wanted, *numbered) if code not in taken)
