"""What fills the places of a setting: one compact table for all tiers that use it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

from kilnpack.sheets.words import runs

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from kilnpack.model.loads import PlaceFill
    from kilnpack.model.works import Works
    from kilnpack.sheets.order import AlikeTiers

Filling: TypeAlias = tuple[tuple[str, int], ...]
"""(lot, pieces) of one place in one tier."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FillRow:
    """Places that are filled from one lot."""

    places: str
    each: tuple[tuple[int, int], ...]
    """(place, pieces) of every place of the row."""
    product: str
    name: str
    lot: str
    order_line: str
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FillPart:
    """Ware of one lot in a cell of the table; pieces for one tier."""

    product: str
    lot: str
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FillLine:
    """Places that are filled alike in every column; a cell without parts is an empty place."""

    places: str
    cells: tuple[tuple[FillPart, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FillTable:
    """The fills of all tiers of a page: a column for every group of tiers that are filled alike.

    `lots` says what each lot is; its places are those of the first column it stands in, its pieces are over all tiers.
    """

    columns: tuple[tuple[str, ...], ...]
    lines: tuple[FillLine, ...]
    lots: tuple[FillRow, ...]


def fill_table(works: Works, groups: Sequence[AlikeTiers]) -> FillTable:
    """Return the table of a page's fills, places that change together drawn together, in order of their numbers."""
    by_place = [_by_place(group.fills) for group in groups]
    together: dict[tuple[Filling, ...], list[int]] = {}
    for place in sorted({place for column in by_place for place in column}):
        together.setdefault(tuple(column.get(place, ()) for column in by_place), []).append(place)
    pieces: dict[str, int] = {}
    first: dict[str, FillRow] = {}
    for group in groups:
        for row in fill_rows(works, group.fills):
            first.setdefault(row.lot, row)
            pieces[row.lot] = pieces.get(row.lot, 0) + row.pieces * len(group.tiers)
    return FillTable(
        columns=tuple(tuple(row.name for row in group.tiers) for group in groups),
        lines=tuple(
            FillLine(places=runs(places), cells=tuple(_parts(works, cell, len(places)) for cell in key))
            for key, places in together.items()
        ),
        lots=tuple(replace(row, pieces=pieces[lot]) for lot, row in first.items()),
    )


def _by_place(fills: Iterable[PlaceFill]) -> dict[int, Filling]:
    found: dict[int, dict[str, int]] = {}
    for fill in fills:
        lots = found.setdefault(fill.place, {})
        lots[fill.lot] = lots.get(fill.lot, 0) + fill.pieces
    return {place: tuple(sorted(lots.items())) for place, lots in found.items()}


def _parts(works: Works, filling: Filling, places: int) -> tuple[FillPart, ...]:
    return tuple(FillPart(product=works.lot(lot).product, lot=lot, pieces=each * places) for lot, each in filling)


def fill_rows(works: Works, fills: Iterable[PlaceFill]) -> tuple[FillRow, ...]:
    """Return what fills one tier, a row for every lot in order of its first place."""
    by_lot: dict[str, list[PlaceFill]] = {}
    for fill in fills:
        by_lot.setdefault(fill.lot, []).append(fill)
    return tuple(_fill_row(works, lot, rows) for lot, rows in by_lot.items())


def _fill_row(works: Works, lot_code: str, fills: Sequence[PlaceFill]) -> FillRow:
    lot = works.lot(lot_code)
    product = works.product(lot.product)
    return FillRow(
        places=runs({fill.place for fill in fills}),
        each=tuple((fill.place, fill.pieces) for fill in fills),
        product=product.code,
        name=product.name,
        lot=lot.code,
        order_line=f"order {lot.order_line}" if lot.order_line else "stock",
        pieces=sum(fill.pieces for fill in fills),
    )
