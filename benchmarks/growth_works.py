"""Works of any size, to see how each stage grows: more types, more pieces, a taller kiln, more and larger order lines.

All of it is invented from a works folder: types are its shapes a little lower each time round.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from benchmarks.plan_scale_works import larger_works
from kilnpack.model.geometry import ExtrudedPart, TurnedPart
from kilnpack.planning.ready import ready_lots

if TYPE_CHECKING:
    from kilnpack.model.geometry import Part
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.orders import Lot
    from kilnpack.model.pieces import Shape
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works

LOWER_SHARE = 0.004
"""How much lower a type is than the one of the same shape before it."""
PLENTY = 40
"""How often furniture is there, so that the kiln and not the furniture is full."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OneFiring:
    """A works and what is ready for one of its firings."""

    works: Works
    kiln: Kiln
    programme: Programme
    lots: tuple[Lot, ...]


def one_firing(works: Works, *, kiln: str, programme: str, types: int, pieces: int, height: float) -> OneFiring:
    """Return a firing of so many types, with so many pieces in all, in a kiln so many times as tall."""
    tall = works.kiln(kiln)
    tall = replace(tall, usable_height_mm=tall.usable_height_mm * height)
    ready = ready_lots(works, tall, works.programme(programme), works.now)
    each: dict[str, Lot] = {}
    for lot in ready:
        each.setdefault(works.product(lot.product).shape, lot)
    rows = [_type(works, list(each.values()), number, max(1, pieces // types)) for number in range(types)]
    works = replace(
        _with_plenty(works),
        kilns=tuple(tall if one.code == kiln else one for one in works.kilns),
        shapes=(*works.shapes, *(shape for shape, _, _ in rows)),
        products=(*works.products, *(product for _, product, _ in rows)),
        lots=tuple(lot for _, _, lot in rows),
    )
    return OneFiring(works=works, kiln=tall, programme=works.programme(programme), lots=works.lots)


def _type(works: Works, lots: list[Lot], number: int, pieces: int):  # type: ignore[no-untyped-def]
    lot = lots[number % len(lots)]
    product = works.product(lot.product)
    shape = lower(works.shape(product.shape), 1.0 - LOWER_SHARE * number / len(lots), f"X{number}")
    made = replace(product, code=f"X{number}", shape=shape.code)
    return shape, made, replace(lot, code=f"LX{number}", product=made.code, pieces=pieces, order_line=None)


def lower(shape: Shape, share: float, code: str) -> Shape:
    """Return a shape of another height under another code, without a lid."""
    return replace(shape, code=code, parts=tuple(_part(part, share) for part in shape.parts), lid=None)


def _part(part: Part, share: float) -> Part:
    if isinstance(part, TurnedPart):
        return replace(part, profile_mm=tuple((z * share, r) for z, r in part.profile_mm))
    assert isinstance(part, ExtrudedPart)
    return replace(part, from_z_mm=part.from_z_mm * share, to_z_mm=part.to_z_mm * share)


def _with_plenty(works: Works) -> Works:
    furniture = works.furniture
    shelves = tuple(
        replace(s, lots=tuple(replace(lot, count_pieces=PLENTY * lot.count_pieces) for lot in s.lots))
        for s in furniture.shelves
    )
    posts = tuple(replace(row, count_pieces=PLENTY * row.count_pieces) for row in furniture.posts)
    return replace(works, furniture=replace(furniture, shelves=shelves, posts=posts))


def with_lines(works: Works, *, lines: int, times: int, seed: int) -> Works:
    """Return a works of so many order lines, each of so many times the usual pieces."""
    larger = larger_works(works, lines=lines, seed=seed)
    return replace(
        larger,
        lines=tuple(replace(line, customer="-", quantity_pieces=times * line.quantity_pieces) for line in larger.lines),
        lots=tuple(replace(lot, pieces=times * lot.pieces) for lot in larger.lots),
    )


def with_products(works: Works, *, types: int) -> Works:
    """Return a works of so many products, each of a shape of its own."""
    shapes, products = [], []
    for number in range(types):
        product = works.products[number % len(works.products)]
        shapes.append(lower(works.shape(product.shape), 1.0 - LOWER_SHARE * (number % 50), f"X{number}"))
        products.append(replace(product, code=f"X{number}", shape=f"X{number}"))
    return replace(works, shapes=(*works.shapes, *shapes), products=(*works.products, *products))
