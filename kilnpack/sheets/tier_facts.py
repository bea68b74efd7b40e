"""One line of words for every tier of a load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.sheets.post_words import post_marks, posts_measured, posts_words
from kilnpack.sheets.words import kilograms, room_left, short_mm
from kilnpack.sheets.zones import zone_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.loads import Load, PlaceFill
    from kilnpack.model.works import Works
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.order import TierPlace


@dataclass(frozen=True, slots=True, kw_only=True)
class TierFacts:
    """One tier in words: where, what is fetched for it, and what is left over the ware."""

    turn: int
    name: str
    page: str
    shelf: str
    flat: bool
    at_mm: str
    posts: str
    """By their marks, lowest first."""
    posts_measured: str
    """Their measured height in all, where the marks do not say it."""
    headroom: str
    headroom_over: str
    above: bool
    """True where another shelf comes over it, on posts."""
    next_shelf: str
    zone: str
    pieces: int
    ware_kg: float
    mass: str
    ware: tuple[str, ...]


def tier_facts(works: Works, load: Load, row: TierPlace, figures: Mapping[str, Figure], page: str) -> TierFacts:
    """Return the words of one tier."""
    tier = row.tier
    standings = load.setting(tier.setting).standings
    tallest = max(standings, key=lambda each: figures[each.form].body.top_mm, default=None)
    stock = {post.code: post for post in works.furniture.posts}
    top_mm = figures[tallest.form].body.top_mm if tallest else 0.0
    ware_kg = sum(figures[each.form].body.ware_kg for each in standings)
    return TierFacts(
        turn=row.turn,
        name=row.name,
        page=page,
        shelf=tier.shelf,
        flat=tier.flat,
        at_mm=short_mm(tier.base_mm),
        posts=posts_words(tier.posts, post_marks(works, load)),
        posts_measured=posts_measured([stock[code] for code in tier.posts]),
        headroom=room_left(tier.room_mm - top_mm),
        headroom_over=f"over {tallest.place}" if tallest else "empty shelf",
        above=row.above is not None,
        next_shelf=f"{row.above.shelf} at {short_mm(row.above.base_mm)}" if row.above else "none: roof",
        zone=zone_words(works, load, row),
        pieces=sum(fill.pieces for fill in tier.fills),
        ware_kg=ware_kg,
        mass=kilograms(ware_kg),
        ware=_ware_words(works, tier.fills),
    )


def _ware_words(works: Works, fills: Sequence[PlaceFill]) -> tuple[str, ...]:
    """Pieces by product of one tier, for the unloading list."""
    counts: dict[str, int] = {}
    for fill in fills:
        product = works.lot(fill.lot).product
        counts[product] = counts.get(product, 0) + fill.pieces
    return tuple(f"{pieces} × {product}" for product, pieces in counts.items())
