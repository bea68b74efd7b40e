"""Furniture in the records: types as values, with counts, condemned pieces and firings beside them."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, Any, get_args

from sqlalchemy import select

from kilnpack.codec import VERSION, hints_of
from kilnpack.errors import InputFaulty
from kilnpack.model.furniture import Furniture, ShelfLot, ShelfType
from kilnpack.records.tables_works import CondemnedRow, FurnitureRow, ShelfLotRow, changed_since_taken
from kilnpack.records.values import of_command, plain_of, refuse, value_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy.orm import Session

    from kilnpack.model.loads import Load

KINDS: dict[str, Any] = {name: get_args(kind)[0] for name, kind in hints_of(Furniture).items()}
"""The parts of a stock and the class of each."""


def put_furniture(session: Session, stock: Furniture) -> None:
    """Bring the furniture's rows to what a stock says; types it no longer has stay without a position."""
    rows = {(row.kind, row.code): row for row in session.scalars(select(FurnitureRow))}
    kept = set()
    for kind in KINDS:
        for position, piece in enumerate(getattr(stock, kind)):
            kept.add((kind, piece.code))
            _put_type(session, rows.get((kind, piece.code)), kind, position, piece)
    for key, row in rows.items():
        if key not in kept:
            row.position = None


def _put_type(session: Session, row: FurnitureRow | None, kind: str, position: int, piece: Any) -> None:
    shelf = isinstance(piece, ShelfType)
    value = plain_of(replace(piece, lots=()) if shelf else piece)
    count = None if shelf else piece.count_pieces
    if row is None:
        row = FurnitureRow(kind=kind, code=piece.code, piece_firings=0)
        session.add(row)
    row.position, row.schema_version, row.value, row.count_pieces = position, VERSION, value, count
    if shelf:
        _put_shelf_lots(row, _since_counted(row, piece.lots))


def _since_counted(row: FurnitureRow, lots: tuple[ShelfLot, ...]) -> tuple[ShelfLot, ...]:
    """Return the lots with the firings that the records count on from.

    A folder that says what it said before, or what the records gave out, leaves their count as it is; one that says
    anything else counted itself, and the records begin again from there.
    """
    before = [_lot_value(row, lot).firings for lot in row.lots]
    now = [_shelf_lot(row, lot).firings for lot in row.lots]
    if [lot.firings for lot in lots] in (before, now):
        return tuple(replace(lot, firings=firings) for lot, firings in zip(lots, before, strict=True))
    row.piece_firings = 0
    return lots


def _put_shelf_lots(row: FurnitureRow, lots: tuple[ShelfLot, ...]) -> None:
    rows = {lot.number: lot for lot in row.lots}
    for number, lot in enumerate(lots, start=1):
        kept = rows.pop(number, None)
        if kept is None:
            kept = ShelfLotRow(number=number)
            row.lots.append(kept)
        kept.value, kept.count_pieces, kept.condemned_pieces = plain_of(lot), lot.count_pieces, lot.condemned_pieces
    for gone in rows.values():
        row.lots.remove(gone)


def shelf_differences(session: Session, stock: Furniture) -> Iterator[tuple[str, int, str, str]]:
    """Yield code, lot, what is kept and what the stock says where shelves were condemned since in the records."""
    said = {
        (shelf.code, number): lot for shelf in stock.shelves for number, lot in enumerate(shelf.lots, start=1)
    }  # fmt: skip
    for row in session.scalars(select(ShelfLotRow).where(changed_since_taken(ShelfLotRow))):
        lot = said.get((row.type.code, row.number))
        found = f"{lot.count_pieces} with {lot.condemned_pieces} condemned" if lot else "no such lot"
        kept = f"{row.count_pieces} with {row.condemned_pieces} condemned"
        if found != kept:
            yield row.type.code, row.number, kept, found


def furniture_of(session: Session) -> Furniture:
    """Return the stock as the records have it."""
    rows = session.scalars(
        select(FurnitureRow).where(FurnitureRow.position.is_not(None)).order_by(FurnitureRow.position)
    )
    found: dict[str, list[Any]] = {kind: [] for kind in KINDS}
    for row in rows:
        found[row.kind].append(_piece(row))
    return Furniture(**{kind: tuple(pieces) for kind, pieces in found.items()})


def _piece(row: FurnitureRow) -> Any:
    piece: Any = value_of(row.value, KINDS[row.kind], version=row.schema_version, where=f"furniture {row.code}")
    if isinstance(piece, ShelfType):
        return replace(piece, lots=tuple(_shelf_lot(row, lot) for lot in row.lots))
    return replace(piece, count_pieces=row.count_pieces)


def _lot_value(row: FurnitureRow, lot: ShelfLotRow) -> ShelfLot:
    return value_of(lot.value, ShelfLot, version=row.schema_version, where=f"shelf lot {lot.number} of {row.code}")


def _shelf_lot(row: FurnitureRow, lot: ShelfLotRow) -> ShelfLot:
    """Return a lot of shelves, its firings counted on by those recorded since."""
    value = _lot_value(row, lot)
    since = round(row.piece_firings / max(1, sum(one.count_pieces for one in row.lots)))
    return replace(
        value, count_pieces=lot.count_pieces, condemned_pieces=lot.condemned_pieces, firings=value.firings + since
    )


def condemn(
    session: Session,
    kind: str,
    code: str,
    pieces: int,
    *,
    cause: str,
    shelf_lot: int | None = None,
    firing: str | None = None,
) -> None:
    """Take pieces of furniture out of use: shelves count as condemned, all else leaves the count.

    Parameters
    ----------
    kind
        Part of the stock, such as ``shelves`` or ``posts``.
    shelf_lot
        Number of the lot of a shelf type, from 1.

    Raises
    ------
    InputFaulty
        There is no such furniture, or not so many of it.
    """
    row = session.scalars(select(FurnitureRow).where(FurnitureRow.kind == kind, FurnitureRow.code == code)).first()
    if row is None:
        raise InputFaulty([of_command("furniture", f"{kind} {code}", "furniture of the works")])
    lot = next((one for one in row.lots if one.number == (shelf_lot or 1)), None)
    if row.count_pieces is None and lot is None:
        refuse([of_command("shelf lot", str(shelf_lot), f"a lot of {code} from 1 to {len(row.lots)}")])
    left = lot.count_pieces - lot.condemned_pieces if lot else row.count_pieces or 0
    if not 1 <= pieces <= left:
        refuse([of_command("pieces", str(pieces), f"1 to {left}, as many as are in use")])
    if lot:
        lot.condemned_pieces += pieces
    else:
        row.count_pieces = left - pieces
    session.add(
        CondemnedRow(
            kind=kind, code=code, shelf_lot=lot.number if lot else None, pieces=pieces, cause=cause, firing=firing,
            at=session.info["at"], by=session.info["by"],
        )
    )  # fmt: skip
    session.flush()


def break_in_use(session: Session, code: str, pieces: int, *, cause: str, firing: str) -> None:
    """Take furniture out of use by its code alone: of shelves those of the lot with most of them in use.

    Raises
    ------
    InputFaulty
        There is no such furniture, or not so many of it.
    """
    row = session.scalars(select(FurnitureRow).where(FurnitureRow.code == code)).first()
    if row is None:
        raise InputFaulty([of_command("furniture", code, "furniture of the works")])
    lot = max(row.lots, key=lambda one: one.count_pieces - one.condemned_pieces, default=None)
    number = lot.number if lot is not None else None
    condemn(session, row.kind, code, pieces, cause=cause, shelf_lot=number, firing=firing)


def used_in(load: Load, stock: Furniture) -> Counter[tuple[str, str]]:
    """Return how many pieces of each type of shelf and post stand in a load, by (kind, code)."""
    points = {shelf.code: len(shelf.posts_mm) for shelf in stock.shelves}
    used: Counter[tuple[str, str]] = Counter()
    for stack in load.stacks:
        for tier in stack.tiers:
            used["shelves", tier.shelf] += 1
            for post in tier.posts:
                used["posts", post] += points.get(tier.shelf, 0)
    return used


def count_firing(session: Session, load: Load) -> None:
    """Add one firing to the furniture that stood in it."""
    used = used_in(load, furniture_of(session))
    for row in session.scalars(select(FurnitureRow).where(FurnitureRow.code.in_([code for _, code in used]))):
        row.piece_firings += used[row.kind, row.code]


def wear_rows(session: Session) -> Iterator[dict[str, Any]]:
    """Yield for every type that was fired: kind, code, pieces in use, condemned pieces, mean firings of a piece."""
    condemned: Counter[tuple[str, str]] = Counter()
    for one in session.scalars(select(CondemnedRow)):
        condemned[one.kind, one.code] += one.pieces
    for row in session.scalars(select(FurnitureRow).order_by(FurnitureRow.kind, FurnitureRow.code)):
        gone = condemned[row.kind, row.code]
        in_use = sum(lot.count_pieces - lot.condemned_pieces for lot in row.lots)
        pieces = in_use if row.count_pieces is None else row.count_pieces
        if row.piece_firings or gone:
            every = sum(lot.count_pieces for lot in row.lots) or pieces + gone
            before = sum(lot.count_pieces * _lot_value(row, lot).firings for lot in row.lots)
            mean = (before + row.piece_firings) / max(1, every)
            yield {
                "kind": row.kind, "code": row.code, "pieces": pieces, "condemned_pieces": gone, "mean_firings": mean
            }  # fmt: skip
