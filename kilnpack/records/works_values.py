"""A works into the records and back, so that what comes out is equal to what went in.

The catalogue is one value; order lines, lots and furniture are rows, because firings change them. What left the
backlog stays in the records without a position. A works folder that is taken in again does not undo what was recorded
since: where both changed, nothing is written and every difference is told.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, select, update
from sqlalchemy.orm.attributes import flag_modified

from kilnpack.codec import VERSION
from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.furniture import Furniture
from kilnpack.model.orders import Lot, LotKind, OrderLine
from kilnpack.model.works import Works
from kilnpack.records.furniture import furniture_of, put_furniture, shelf_differences
from kilnpack.records.lots import history, set_lot
from kilnpack.records.measured import measured_of, with_measured
from kilnpack.records.tables_works import (
    LineRow,
    LotRow,
    OrderRow,
    ShelfLotRow,
    WorksRow,
    changed_since_taken,
)
from kilnpack.records.values import plain_of, refuse, value_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from sqlalchemy.orm import Session

_LINE_FIELDS = (
    "order", "customer", "item", "quantity_pieces", "delivered_pieces", "part_delivery", "due", "not_before",
    "priority_factor",
)  # fmt: skip


def put_works(session: Session, works: Works, *, folder_wins: bool = False) -> None:
    """Take a works in: make its rows, or bring those there to what the works says.

    Parameters
    ----------
    works
        As read from its folder.
    folder_wins
        Take the folder's word also where a line, a lot or a shelf lot was changed in the records since the last time.

    Raises
    ------
    InputFaulty
        The records hold another works, or both changed the same thing; nothing is written.
    """
    row = session.scalars(select(WorksRow)).first()
    refuse(_differences(session, works, row, folder_wins=folder_wins))
    rest = replace(works, lines=(), lots=(), furniture=Furniture())
    value, at = plain_of(rest), session.info["at"]
    if row is None:
        session.add(WorksRow(name=works.name, schema_version=VERSION, value=value, imported_at=at))
    else:
        row.schema_version, row.value, row.imported_at = VERSION, value, at
        flag_modified(row, "imported_at")  # its version counts how often works were taken in, whatever the clock says
    _put_lines(session, works)
    session.flush()
    _put_lots(session, works)
    put_furniture(session, works.furniture)
    session.flush()
    for rows in (LineRow, LotRow, ShelfLotRow):
        _note_taken(session, rows)


def _note_taken(session: Session, rows: type[Any]) -> None:
    """Note of every row of a table which version the folder agrees with.

    Written past the session, as it is no change of the row; a version that another wrote meanwhile is not meant.
    """
    table = rows.__table__
    now = [
        {"row": row.id, "seen": row.version}
        for row in session.scalars(select(rows))
        if row.taken_version != row.version
    ]
    if now:
        told = update(table).where(table.c.id == bindparam("row")).values(taken_version=bindparam("seen"))
        session.connection().execute(told, now)


def _differences(session: Session, works: Works, row: WorksRow | None, *, folder_wins: bool) -> Iterator[Finding]:
    if row is None:
        return
    if row.name != works.name:
        yield Finding(
            file="works.toml", row=None, field="name", found=works.name, wanted=f"{row.name}, whose records these are"
        )
    if folder_wins:
        return
    yield from _line_differences(session, works)
    yield from _lot_differences(session, works)
    for code, number, kept, found in shelf_differences(session, works.furniture):
        yield _both("shelf_lots", f"lot {number} of {code}", found, kept)


def _line_differences(session: Session, works: Works) -> Iterator[Finding]:
    lines = {line.code: line for line in works.lines}
    for row in session.scalars(select(LineRow).where(changed_since_taken(LineRow))):
        line = lines.get(row.code)
        if line is None or line_of(row) != line:
            found = f"{line.delivered_pieces} delivered" if line else "no such line"
            yield _both("orders", row.code, found, f"{row.delivered_pieces} delivered")


def _lot_differences(session: Session, works: Works) -> Iterator[Finding]:
    lots = {lot.code: lot for lot in works.lots}
    for row in session.scalars(select(LotRow).where(changed_since_taken(LotRow))):
        lot = lots.get(row.code)
        if row.position is None and lot is None:
            continue
        if lot is None or row.position is None or lot_of(row) != lot:
            found = f"{lot.pieces} pieces at firing {lot.step + 1}" if lot else "no such lot"
            kept = f"{row.pieces} pieces at firing {row.step + 1}" if row.position is not None else "none left"
            yield _both("lots", row.code, found, kept)


def _both(table: str, code: str, found: str, kept: str) -> Finding:
    wanted = f"what was recorded since ({kept}); export the records first, or let the folder win"
    return Finding(file=table, row=None, field=code, found=found, wanted=wanted)


def _put_lines(session: Session, works: Works) -> None:
    rows = {row.code: row for row in session.scalars(select(LineRow))}
    orders = set(session.scalars(select(OrderRow.code)))
    for code in dict.fromkeys(line.order for line in works.lines):
        if code not in orders:
            session.add(OrderRow(code=code, taken_at=session.info["at"]))
    session.flush()
    kept = {line.code for line in works.lines}
    for position, line in enumerate(works.lines):
        values = {name: getattr(line, name) for name in _LINE_FIELDS}
        values |= {"schema_version": VERSION, "value": plain_of(line)}
        row = rows.get(line.code)
        if row is None:
            session.add(LineRow(code=line.code, position=position, **values))
            continue
        for name, value in (*values.items(), ("position", position)):
            setattr(row, name, value)
    for code, row in rows.items():
        if code not in kept:
            row.position = None


def _put_lots(session: Session, works: Works) -> None:
    rows = {row.code: row for row in session.scalars(select(LotRow))}
    kept = {lot.code for lot in works.lots}
    for position, lot in enumerate(works.lots):
        row = rows.get(lot.code)
        if row is None or row.position is None or lot_of(row) != lot:
            set_lot(session, row, lot, position=position, what="taken in")
        else:
            row.position = position
    for code, row in rows.items():
        if code not in kept and row.position is not None:
            row.position = None
            history(session, row, "left the backlog")


def works_version(session: Session) -> int:
    """Return the version of the works, another one after every time that it was taken in; 0 before the first."""
    return session.scalar(select(WorksRow.version)) or 0


def line_of(row: LineRow) -> OrderLine:
    """Return an order line as the model has it."""
    line = value_of(row.value, OrderLine, version=row.schema_version, where=f"order line {row.code}")
    return replace(line, **{name: getattr(row, name) for name in _LINE_FIELDS})


def lot_of(row: LotRow) -> Lot:
    """Return a lot as the model has it."""
    lot = value_of(row.value, Lot, version=row.schema_version, where=f"lot {row.code}")
    return replace(
        lot,
        product=row.product,
        step=row.step,
        pieces=row.pieces,
        order_line=row.order_line,
        kind=LotKind(row.kind),
        ready_at=row.ready_at,
        glazed=row.glazed,
    )


def get_works(session: Session, *, now: datetime | None = None) -> Works:
    """Return the works as the records have it.

    Parameters
    ----------
    now
        The moment to plan from; None is the one the works folder named.

    Raises
    ------
    InputFaulty
        No works was taken in yet.
    """
    row = session.scalars(select(WorksRow)).first()
    if row is None:
        wanted = "a works; take one in with kilnpack record import"
        raise InputFaulty([Finding(file="records", row=None, field="works", found="none", wanted=wanted)])
    rest = value_of(row.value, Works, version=row.schema_version, where=f"works {row.name}")
    lines = session.scalars(select(LineRow).where(LineRow.position.is_not(None)).order_by(LineRow.position))
    lots = session.scalars(select(LotRow).where(LotRow.position.is_not(None)).order_by(LotRow.position))
    return replace(
        rest,
        now=now or rest.now,
        lines=tuple(line_of(line) for line in lines),
        lots=tuple(lot_of(lot) for lot in lots),
        furniture=furniture_of(session),
        measured=with_measured(rest.measured, measured_of(session)),
    )
