"""A larger works with a drawn backlog, to see how planning grows: the works of a folder, kilns and all, twice over.

All of it is invented: lines ask for products of the folder in lots of 10 to 90 pieces, a part of them in progress.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from kilnpack.model.orders import Lot, OrderLine
from kilnpack.planning.routes import start_pieces
from kilnpack.search.seeds import stream

if TYPE_CHECKING:
    import numpy as np

    from kilnpack.model.furniture import Furniture
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.orders import Supply
    from kilnpack.model.pieces import Product
    from kilnpack.model.works import Works

TIMES = 2
"""How often every kiln is there, with its hands; three kilns become six."""
FURNITURE_TIMES = 4
"""How often shelves and posts are there: enough for a second car while the first one cools."""
SUPPLY_TIMES = 6
"""How often moulds, drying places and glazers are there, so that the kilns and not the moulds are what is short."""
LINE_PIECES = (10, 90)
DUE_DAYS = (4, 35)
IN_PROGRESS_SHARE = 0.5


def larger_works(works: Works, *, lines: int, seed: int) -> Works:
    """Return a works of twice the kilns with so many order lines over five weeks.

    Parameters
    ----------
    works
        Whose products, kilns, furniture and hours are taken.
    lines
        How many order lines are drawn.
    seed
        For the draws; the first lines of a longer backlog are those of a shorter one.
    """
    draw = stream(seed, 11)
    rows = [_line(works, number, draw) for number in range(lines)]
    return replace(
        works,
        kilns=tuple(_again(kiln, k) for kiln in works.kilns for k in range(TIMES)),
        furniture=_more_furniture(works.furniture),
        supply=_more_supply(works.supply),
        calendar=replace(
            works.calendar,
            shifts=tuple(replace(s, crew_people=TIMES * s.crew_people) for s in works.calendar.shifts),
        ),
        sets=(),
        lines=tuple(line for line, _ in rows),
        lots=tuple(lot for _, lot in rows if lot is not None),
    )


def _line(works: Works, number: int, draw: np.random.Generator) -> tuple[OrderLine, Lot | None]:
    """Draw one line and what is in progress for it; every line takes the same count of draws."""
    product = works.products[int(draw.integers(len(works.products)))]
    pieces = int(draw.integers(LINE_PIECES[0], LINE_PIECES[1] + 1))
    due = works.now.date() + timedelta(days=int(draw.integers(DUE_DAYS[0], DUE_DAYS[1] + 1)))
    code = f"Z{number + 1:03d}"
    line = OrderLine(code=code, order=code, customer="", item=product.code, quantity_pieces=pieces, due=due)
    begun, step = draw.random() < IN_PROGRESS_SHARE, int(draw.integers(len(product.route)))
    return line, _lot(line, product, step) if begun else None


def _lot(line: OrderLine, product: Product, step: int) -> Lot:
    """Return the pieces of a line as a lot before a firing, glazed where that is needed."""
    pieces = start_pieces(line.quantity_pieces, product.route, step)
    return Lot(code=f"L{line.code}", product=product.code, step=step, pieces=pieces, order_line=line.code)


def _again(kiln: Kiln, number: int) -> Kiln:
    """Return a kiln under another code, its cars too."""
    if not number:
        return kiln
    cars = tuple(replace(car, code=f"{car.code}.{number + 1}") for car in kiln.cars)
    return replace(kiln, code=f"{kiln.code}.{number + 1}", cars=cars)


def _more_furniture(furniture: Furniture) -> Furniture:
    """Return all furniture so many times."""
    return replace(
        furniture,
        shelves=tuple(
            replace(s, lots=tuple(replace(lot, count_pieces=FURNITURE_TIMES * lot.count_pieces) for lot in s.lots))
            for s in furniture.shelves
        ),
        posts=tuple(replace(row, count_pieces=FURNITURE_TIMES * row.count_pieces) for row in furniture.posts),
        stubs=tuple(replace(row, count_pieces=FURNITURE_TIMES * row.count_pieces) for row in furniture.stubs),
        stilts=tuple(replace(row, count_pieces=FURNITURE_TIMES * row.count_pieces) for row in furniture.stilts),
        setters=tuple(replace(row, count_pieces=FURNITURE_TIMES * row.count_pieces) for row in furniture.setters),
        catch_discs=tuple(
            replace(row, count_pieces=FURNITURE_TIMES * row.count_pieces) for row in furniture.catch_discs
        ),
        spacers=tuple(replace(row, count_pieces=FURNITURE_TIMES * row.count_pieces) for row in furniture.spacers),
    )


def _more_supply(supply: Supply) -> Supply:
    """Return moulds, drying places, glazers and racks so many times."""

    def more(count: int | None) -> int | None:
        return None if count is None else SUPPLY_TIMES * count

    rate = supply.glazing_pieces_per_hour
    return replace(
        supply,
        moulds=tuple(replace(row, moulds_pieces=SUPPLY_TIMES * row.moulds_pieces) for row in supply.moulds),
        drying_places_pieces=more(supply.drying_places_pieces),
        rack_places_pieces=more(supply.rack_places_pieces),
        glazing_pieces_per_hour=None if rate is None else SUPPLY_TIMES * rate,
    )
