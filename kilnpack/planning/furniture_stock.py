"""Furniture as a resource: what a load takes out of the stock, and the works with what is left of it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.model.furniture import CatchDisc, Furniture, Setter, ShelfType, Spacer, Stilt
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works

Taken: TypeAlias = Counter[tuple[str, str]]
"""(kind, code) -> pieces; kinds are those of KINDS, and `flat` for shelves of the flat lots among `shelf`."""

SHELF, FLAT, POST, STUB, SUPPORT = "shelf", "flat shelf", "post", "stub", "support"


def furniture_of(works: Works, load: Load) -> Taken:
    """Count the furniture a load takes.

    Raises
    ------
    KeyError
        The load names furniture, a form or a setting that is not there.
    """
    taken: Taken = Counter()
    points = {shelf.code: len(shelf.posts_mm) for shelf in works.furniture.shelves}
    bodies = _supports_of_settings(works, load)
    for stack in load.stacks:
        if stack.stub is not None and stack.tiers:
            taken[STUB, stack.stub] += points[stack.tiers[0].shelf]
        for tier in stack.tiers:
            taken[FLAT if tier.flat else SHELF, tier.shelf] += 1
            for post in tier.posts:
                taken[POST, post] += points[tier.shelf]
            taken.update(bodies[tier.setting])
    return taken


def _supports_of_settings(works: Works, load: Load) -> dict[str, Taken]:
    """Count stilts, setters, discs and spacers of every setting of a load."""
    setters = {item.code for item in works.furniture.setters}
    spacers = {item.code: item.pieces_per_gap for item in works.furniture.spacers}
    forms = {form.code: form for form in load.forms}
    found: dict[str, Taken] = {}
    for setting in load.settings:
        taken: Taken = Counter()
        for standing in setting.standings:
            form = forms[standing.form]
            if form.support is not None:
                taken[SUPPORT, form.support] += form.pieces if form.support in setters else 1
            if form.spacer is not None:
                taken[SUPPORT, form.spacer] += spacers[form.spacer] * (form.pieces - 1)
        found[setting.code] = taken
    return found


def stock_of(works: Works) -> Taken:
    """Count the sound furniture of a works; `flat shelf` counts those of the `shelf` rows that are flat enough."""
    furniture, stock = works.furniture, Counter[tuple[str, str]]()
    for shelf in furniture.shelves:
        stock[SHELF, shelf.code] += shelf.sound_pieces
        stock[FLAT, shelf.code] += _flat_pieces(shelf, works.settings.flat_bow_mm)
    for post in furniture.posts:
        stock[POST, post.code] += post.count_pieces
    for stub in furniture.stubs:
        stock[STUB, stub.code] += stub.count_pieces
    supports: tuple[Stilt | Setter | CatchDisc | Spacer, ...] = furniture.stilts + furniture.setters
    for item in supports + furniture.catch_discs + furniture.spacers:
        stock[SUPPORT, item.code] += item.count_pieces
    return stock


def _flat_pieces(shelf: ShelfType, bow_mm: float) -> int:
    return sum(lot.sound_pieces for lot in shelf.lots if lot.bow_mm <= bow_mm)


def lacking(stock: Taken, taken: Taken) -> Taken:
    """Return what a stock lacks for all that is taken; flat shelves count among the shelves of their type."""
    short: Taken = Counter()
    for (kind, code), count in taken.items():
        if kind == SHELF:
            continue
        short[kind, code] = max(0, count - stock[kind, code])
    for code in {code for kind, code in taken if kind in {SHELF, FLAT}}:
        short[SHELF, code] = max(0, taken[SHELF, code] + taken[FLAT, code] - stock[SHELF, code])
    return +short


def with_less(works: Works, taken: Taken) -> Works:
    """Return the works without the furniture that is elsewhere; never less than none of a kind."""
    return replace(works, furniture=_reduced(works.furniture, taken, works.settings.flat_bow_mm)) if taken else works


def _reduced(furniture: Furniture, taken: Taken, flat_bow_mm: float) -> Furniture:
    def left(kind: str, code: str, count: int) -> int:
        return max(0, count - taken[kind, code])

    return replace(
        furniture,
        shelves=tuple(_fewer_shelves(shelf, taken, flat_bow_mm) for shelf in furniture.shelves),
        posts=tuple(replace(p, count_pieces=left(POST, p.code, p.count_pieces)) for p in furniture.posts),
        stubs=tuple(replace(s, count_pieces=left(STUB, s.code, s.count_pieces)) for s in furniture.stubs),
        stilts=tuple(replace(s, count_pieces=left(SUPPORT, s.code, s.count_pieces)) for s in furniture.stilts),
        setters=tuple(replace(s, count_pieces=left(SUPPORT, s.code, s.count_pieces)) for s in furniture.setters),
        catch_discs=tuple(
            replace(s, count_pieces=left(SUPPORT, s.code, s.count_pieces)) for s in furniture.catch_discs
        ),
        spacers=tuple(replace(s, count_pieces=left(SUPPORT, s.code, s.count_pieces)) for s in furniture.spacers),
    )


def times_furniture(furniture: Furniture, factor: int) -> Furniture:
    """Return so many times the furniture."""
    return replace(
        furniture,
        shelves=tuple(
            replace(
                shelf,
                lots=tuple(
                    replace(
                        lot,
                        count_pieces=factor * lot.count_pieces,
                        condemned_pieces=factor * lot.condemned_pieces,
                    )
                    for lot in shelf.lots
                ),
            )
            for shelf in furniture.shelves
        ),
        posts=tuple(replace(row, count_pieces=factor * row.count_pieces) for row in furniture.posts),
        stubs=tuple(replace(row, count_pieces=factor * row.count_pieces) for row in furniture.stubs),
        stilts=tuple(replace(row, count_pieces=factor * row.count_pieces) for row in furniture.stilts),
        setters=tuple(replace(row, count_pieces=factor * row.count_pieces) for row in furniture.setters),
        catch_discs=tuple(replace(row, count_pieces=factor * row.count_pieces) for row in furniture.catch_discs),
        spacers=tuple(replace(row, count_pieces=factor * row.count_pieces) for row in furniture.spacers),
    )


def _fewer_shelves(shelf: ShelfType, taken: Taken, flat_bow_mm: float) -> ShelfType:
    """Take flat shelves from the flat lots, all others from the most bowed lots first."""
    lots = dict(enumerate(shelf.lots))
    flat = [n for n, lot in lots.items() if lot.bow_mm <= flat_bow_mm]
    bowed_first = sorted(lots, key=lambda n: -lots[n].bow_mm)
    for numbers, count in ((flat, taken[FLAT, shelf.code]), (bowed_first, taken[SHELF, shelf.code])):
        left = count
        for n in numbers:
            gone = min(left, lots[n].sound_pieces)
            lots[n] = replace(lots[n], count_pieces=lots[n].count_pieces - gone)
            left -= gone
    return replace(shelf, lots=tuple(lots[n] for n in sorted(lots)))


def total(rows: Iterable[Taken]) -> Taken:
    """Add up what several loads take."""
    found: Taken = Counter()
    for row in rows:
        found.update(row)
    return found
