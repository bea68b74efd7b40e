"""Deliveries: pieces or sets of an order line that left the works, taken from finished ware.

Ware bound to the line goes first, then finished ware bound to none. Nothing is received here: ware that was cast, and
furniture and moulds that were bought, come with the tables of the works folder, which say how many there are now.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import select

from kilnpack.errors import InputFaulty
from kilnpack.model.orders import LotKind
from kilnpack.planning.routes import items_of
from kilnpack.records.lots import history
from kilnpack.records.store import expect
from kilnpack.records.tables_works import LineRow, LotRow
from kilnpack.records.values import of_command, refuse
from kilnpack.records.works_values import get_works, line_of
from kilnpack.words import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy.orm import Session

    from kilnpack.errors import Finding
    from kilnpack.model.works import Works

_NEVER = (LotKind.SAMPLE.value, LotKind.FILLER.value)
"""Kinds of lots that are not delivered."""


def deliver(session: Session, line: str, quantity: int, *, note: str = "", seen: int | None = None) -> LineRow:
    """Note that so many pieces, or sets, of an order line were delivered.

    Parameters
    ----------
    seen
        Version of the line that its editor looked at; None asks for none.

    Raises
    ------
    InputFaulty
        There is no such line in the backlog, less of it is open, or less is finished; nothing is kept.
    ChangedMeanwhile
        Another changed the line since it was looked at.
    """
    waiting = select(LineRow).where(LineRow.position.is_not(None))
    row = session.scalars(waiting.where(LineRow.code == line)).first()
    if row is None:
        known = session.scalars(select(LineRow.code).where(LineRow.position.is_not(None)).order_by(LineRow.position))
        raise InputFaulty([of_command("line", line, f"an order line: {listed(known)}")])
    if seen is not None:
        expect(session, row, seen)
    works = get_works(session)
    wanted = {product: count * quantity for product, count in items_of(works, line_of(row)).items()}
    lots = {product: tuple(_finished(session, works, line, product)) for product in wanted}
    refuse(_faults(row, quantity, wanted, lots))
    row.delivered_pieces += quantity
    for product, pieces in wanted.items():
        left = pieces
        for lot in lots[product]:
            taken = min(left, lot.pieces)
            if taken:
                lot.pieces -= taken
                lot.position = lot.position if lot.pieces else None
                history(session, lot, "delivered", pieces=taken, note=" ".join((f"line {line}", note)).strip())
                left -= taken
    session.flush()
    return row


def _finished(session: Session, works: Works, line: str, product: str) -> Iterator[LotRow]:
    """Yield the lots a delivery may be taken from, those of the line first."""
    steps = len(works.product(product).route)
    chosen = select(LotRow).where(
        LotRow.position.is_not(None), LotRow.product == product, LotRow.step >= steps, LotRow.kind.not_in(_NEVER)
    )
    rows = [row for row in session.scalars(chosen.order_by(LotRow.position)) if row.order_line in (line, None)]
    yield from sorted(rows, key=lambda row: row.order_line is None)


def _faults(
    row: LineRow, quantity: int, wanted: dict[str, int], lots: dict[str, tuple[LotRow, ...]]
) -> Iterator[Finding]:
    still = row.quantity_pieces - row.delivered_pieces
    if not 1 <= quantity <= still:
        yield of_command(f"delivered of {row.code}", str(quantity), f"1 to {still}, as many as are open")
        return
    if quantity < still and not row.part_delivery:
        yield of_command(f"delivered of {row.code}", str(quantity), f"{still}: the line is delivered in one")
    for product, pieces in wanted.items():
        there = sum(lot.pieces for lot in lots[product])
        if there < pieces:
            said = "inspect the firing they came from first, or send the lots anew"
            yield of_command(f"finished {product}", str(there), f"{pieces}; {said}")


def line_versions(session: Session) -> dict[str, int]:
    """Return the version of every order line of the backlog."""
    chosen = select(LineRow.code, LineRow.version).where(LineRow.position.is_not(None))
    return {row.code: row.version for row in session.execute(chosen)}
