"""Tables of the works: its catalogue, order lines, lots with their history, furniture."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, ClassVar

from sqlalchemy import Double, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from kilnpack.records.base import CODE, WORD, Base, Plain, Versioned

if TYPE_CHECKING:
    from sqlalchemy import ColumnElement


class WorksRow(Versioned, Base):
    """The works without lines, lots and furniture, as one value; there is one row.

    `imported_at` is when a works folder was last taken in. Moments of the records are UTC.
    """

    __tablename__ = "works"
    what: ClassVar[str] = "works"
    key_name: ClassVar[str] = "name"

    name: Mapped[str]
    schema_version: Mapped[int]
    value: Mapped[Plain]
    imported_at: Mapped[datetime]


class OrderRow(Base):
    """An order, which its lines name; `taken_at` is when the records first heard of it."""

    __tablename__ = "orders"

    code: Mapped[str] = mapped_column(CODE, unique=True)
    taken_at: Mapped[datetime]


class FromFolder(Versioned):
    """A row that the works folder speaks of as well.

    `taken_version` is its version when the folder was last taken in: another one now means that the records changed it
    since, whatever the clocks said.
    """

    taken_version: Mapped[int | None]


def changed_since_taken(table: type[FromFolder]) -> ColumnElement[bool]:
    """Return the condition for rows that the records changed since a folder was taken in."""
    return table.version.is_distinct_from(table.taken_version)


class LineRow(FromFolder, Base):
    """An order line: the value with the columns that are asked for, which count where they differ.

    `position` is its place in the backlog, None once it has left it.
    """

    __tablename__ = "order_lines"
    what: ClassVar[str] = "order line"

    code: Mapped[str] = mapped_column(CODE, unique=True)
    position: Mapped[int | None] = mapped_column(index=True)
    order: Mapped[str] = mapped_column("order_code", CODE, ForeignKey("orders.code"), index=True)
    customer: Mapped[str]
    item: Mapped[str] = mapped_column(CODE, index=True)
    quantity_pieces: Mapped[int]
    delivered_pieces: Mapped[int]
    part_delivery: Mapped[bool]
    due: Mapped[date] = mapped_column(index=True)
    not_before: Mapped[date | None]
    priority_factor: Mapped[float] = mapped_column(Double)
    schema_version: Mapped[int]
    value: Mapped[Plain]


class LotRow(FromFolder, Base):
    """A lot at the firing it waits for: the value with the columns that are asked for, which count where they differ.

    `position` is its place in the backlog, None once it has left it. `came_from` is the lot it was split or sorted out
    of.
    """

    __tablename__ = "lots"
    what: ClassVar[str] = "lot"

    code: Mapped[str] = mapped_column(CODE, unique=True)
    position: Mapped[int | None] = mapped_column(index=True)
    product: Mapped[str] = mapped_column(CODE, index=True)
    step: Mapped[int]
    pieces: Mapped[int]
    order_line: Mapped[str | None] = mapped_column(CODE, ForeignKey("order_lines.code"), index=True)
    kind: Mapped[str] = mapped_column(WORD)
    ready_at: Mapped[datetime | None]
    glazed: Mapped[bool]
    came_from: Mapped[str | None] = mapped_column(CODE)
    schema_version: Mapped[int]
    value: Mapped[Plain]

    history: Mapped[list[LotHistoryRow]] = relationship(order_by="LotHistoryRow.id", back_populates="of")


class LotHistoryRow(Base):
    """Something that happened to a lot: taken in, fired, inspected, sorted out, left the backlog."""

    __tablename__ = "lot_history"

    lot: Mapped[str] = mapped_column(CODE, ForeignKey("lots.code"), index=True)
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(CODE)
    what: Mapped[str] = mapped_column(WORD)
    step: Mapped[int]
    pieces: Mapped[int]
    firing: Mapped[str | None] = mapped_column(CODE)
    note: Mapped[str] = mapped_column(default="")

    of: Mapped[LotRow] = relationship(back_populates="history")


class FurnitureRow(Versioned, Base):
    """One type of furniture as a value, with what is counted beside it.

    `kind` is the field of the stock it belongs to, such as ``posts``. `count_pieces` is None for shelves, which are
    counted by lot. `piece_firings` adds up how many of them stood in how many firings since they were last counted.
    """

    __tablename__ = "furniture"
    __table_args__ = (UniqueConstraint("kind", "code"),)
    what: ClassVar[str] = "furniture"

    kind: Mapped[str] = mapped_column(WORD)
    code: Mapped[str] = mapped_column(CODE)
    position: Mapped[int | None]
    schema_version: Mapped[int]
    value: Mapped[Plain]
    count_pieces: Mapped[int | None]
    piece_firings: Mapped[int] = mapped_column(default=0)

    lots: Mapped[list[ShelfLotRow]] = relationship(
        order_by="ShelfLotRow.number", cascade="all, delete-orphan", back_populates="type"
    )


class ShelfLotRow(FromFolder, Base):
    """Shelves of one type with the same measured bow, as a value, with those condemned."""

    __tablename__ = "shelf_lots"
    __table_args__ = (UniqueConstraint("furniture_id", "number"),)
    what: ClassVar[str] = "shelf lot"

    furniture_id: Mapped[int] = mapped_column(ForeignKey("furniture.id"))
    number: Mapped[int]
    value: Mapped[Plain]
    count_pieces: Mapped[int]
    condemned_pieces: Mapped[int]

    type: Mapped[FurnitureRow] = relationship(back_populates="lots")

    @property
    def key(self) -> str:
        """What names this row to people."""
        return f"{self.number} of {self.type.code}"


class CondemnedRow(Base):
    """Furniture taken out of use, or broken."""

    __tablename__ = "condemned"

    kind: Mapped[str] = mapped_column(WORD)
    code: Mapped[str] = mapped_column(CODE, index=True)
    shelf_lot: Mapped[int | None]
    pieces: Mapped[int]
    cause: Mapped[str]
    firing: Mapped[str | None] = mapped_column(CODE)
    at: Mapped[datetime]
    by: Mapped[str] = mapped_column(CODE)
