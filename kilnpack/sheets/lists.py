"""What a loader fetches: furniture by code, and ware by lot."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.model.furniture import Setter
from kilnpack.shapes.bodies import support
from kilnpack.sheets.order import tier_name
from kilnpack.sheets.words import short_mm

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.sheets.order import TierPlace


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """One line of the pick list; `stock_pieces` None where nothing is counted."""

    group: str
    code: str
    name: str
    pieces: int
    stock_pieces: int | None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ware:
    """One line of the trolley list: a lot, and how many of it go to which tier."""

    lot: str
    product: str
    name: str
    order_line: str
    pieces: int
    goes_to: tuple[tuple[str, int], ...]
    """(tier, pieces) in order of loading."""


def pick_list(works: Works, load: Load, tiers: Sequence[TierPlace]) -> tuple[Pick, ...]:
    """Return all furniture and consumables of a load, in the order it is fetched."""
    return (
        *_shelves(works, tiers),
        *_posts(works, tiers),
        *_stubs(works, load),
        *_supports(works, load, tiers),
        *_consumables(works, load, tiers),
    )


def _shelves(works: Works, tiers: Sequence[TierPlace]) -> Iterable[Pick]:
    used = Counter(row.tier.shelf for row in tiers)
    flat = Counter(row.tier.shelf for row in tiers if row.tier.flat)
    for shelf in works.furniture.shelves:
        if used[shelf.code]:
            limit = short_mm(works.settings.flat_bow_mm)
            note = f"{flat[shelf.code]} of them flat (bow ≤ {limit} mm)" if flat[shelf.code] else ""
            yield Pick(
                group="shelves",
                code=shelf.code,
                name=f"{shelf.name}, {short_mm(shelf.thickness_mm)} mm thick",
                pieces=used[shelf.code],
                stock_pieces=shelf.sound_pieces,
                note=note,
            )


def _posts(works: Works, tiers: Sequence[TierPlace]) -> Iterable[Pick]:
    points = {shelf.code: len(shelf.posts_mm) for shelf in works.furniture.shelves}
    used: Counter[str] = Counter()
    for row in tiers:
        for code in row.tier.posts:
            used[code] += points[row.tier.shelf]
    for post in sorted(works.furniture.posts, key=lambda each: each.height_mm):
        if used[post.code]:
            measured = f" (measured {short_mm(post.height_mm)})" if post.nominal_mm != post.height_mm else ""
            yield Pick(
                group="posts",
                code=post.code,
                name=f"post {short_mm(post.nominal_mm)} mm{measured}",
                pieces=used[post.code],
                stock_pieces=post.count_pieces,
            )


def _stubs(works: Works, load: Load) -> Iterable[Pick]:
    points = {shelf.code: len(shelf.posts_mm) for shelf in works.furniture.shelves}
    used: Counter[str] = Counter()
    for stack in load.stacks:
        if stack.stub and stack.tiers:
            used[stack.stub] += points[stack.tiers[0].shelf]
    for stub in works.furniture.stubs:
        if used[stub.code]:
            name = f"stub {short_mm(stub.height_mm)} mm under the bottom shelf"
            yield Pick(group="stubs", code=stub.code, name=name, pieces=used[stub.code], stock_pieces=stub.count_pieces)


def _supports(works: Works, load: Load, tiers: Sequence[TierPlace]) -> Iterable[Pick]:
    used: Counter[str] = Counter()
    for row in tiers:
        for standing in load.setting(row.tier.setting).standings:
            form = load.form(standing.form)
            if form.support:
                used[form.support] += form.pieces if isinstance(support(works, form.support), Setter) else 1
            if form.spacer:
                per_gap = {item.code: item.pieces_per_gap for item in works.furniture.spacers}[form.spacer]
                used[form.spacer] += per_gap * (form.pieces - 1)
    stock = works.furniture
    for kind, name, items in (
        ("setters", "setter", stock.setters),
        ("stilts", "stilt", stock.stilts),
        ("discs", "catch disc", stock.catch_discs),
        ("spacers", "spacer", stock.spacers),
    ):
        for item in items:
            if used[item.code]:
                yield Pick(
                    group=kind, code=item.code, name=name, pieces=used[item.code], stock_pieces=item.count_pieces
                )


def _consumables(works: Works, load: Load, tiers: Sequence[TierPlace]) -> Iterable[Pick]:
    if load.cone_packs:
        lifts = [f"{tier_name(pack.place, pack.tier)} raised {short_mm(pack.lift_mm)} mm" for pack in load.cone_packs]
        yield Pick(
            group="cones",
            code="",
            name="witness-cone packs",
            pieces=len(load.cone_packs),
            stock_pieces=None,
            note="; ".join(lifts),
        )
    for item in works.furniture.consumables:
        pieces = item.per_load_pieces + item.per_tier_pieces * len(tiers)
        if pieces:
            yield Pick(
                group="consumables", code=item.code, name=item.name, pieces=pieces, stock_pieces=item.count_pieces
            )


def trolley_list(works: Works, tiers: Sequence[TierPlace]) -> tuple[Ware, ...]:
    """Return the ware by lot, in the order it is first needed."""
    goes_to: dict[str, Counter[str]] = {}
    for row in tiers:
        for fill in row.tier.fills:
            goes_to.setdefault(fill.lot, Counter())[row.name] += fill.pieces
    return tuple(_ware(works, lot, counts) for lot, counts in goes_to.items())


def _ware(works: Works, lot_code: str, counts: Counter[str]) -> Ware:
    lot = works.lot(lot_code)
    product = works.product(lot.product)
    return Ware(
        lot=lot.code,
        product=product.code,
        name=product.name,
        order_line=f"order {lot.order_line}" if lot.order_line else "stock",
        pieces=sum(counts.values()),
        goes_to=tuple(counts.items()),
    )
