"""A load place by place, for a page that shows one tier at a time: what stands where, and what a tap tells of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.sheets.order import tier_name

if TYPE_CHECKING:
    from kilnpack.model.loads import Load, Tier
    from kilnpack.model.works import Works
    from kilnpack.sheets.facts import LoadingFacts
    from kilnpack.sheets.page_facts import FillFacts, PageFacts, RowFacts
    from kilnpack.sheets.svg import Drawing
    from kilnpack.sheets.tier_facts import TierFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacePart:
    """Pieces of one lot at a place."""

    lot: str
    product: str
    name: str
    order_line: str
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceAt:
    """One place of a tier: where its foot stands, mm from two edges, and what it holds."""

    place: int
    ruler: RowFacts
    stands: str
    parts: tuple[PlacePart, ...]

    @property
    def product(self) -> str:
        """Code of what stands here."""
        return self.parts[0].product if self.parts else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One tier in its turn, with all of its places in placing order."""

    stack: str
    number: int
    tier: TierFacts
    page: PageFacts
    drawing: Drawing
    places: tuple[PlaceAt, ...]


def stations(works: Works, load: Load, facts: LoadingFacts) -> tuple[Station, ...]:
    """Return the tiers of a load in order of loading."""
    tiers = {tier_name(stack.place, tier.number): (stack.place, tier) for stack in load.stacks for tier in stack.tiers}
    pages = {page.name: page for page in facts.pages}
    return tuple(_station(works, *tiers[row.name], row, pages[row.page]) for row in facts.tiers)


def _station(works: Works, stack: str, tier: Tier, row: TierFacts, page: PageFacts) -> Station:
    fill = next(each for each in page.fills if row.name in each.tiers)
    return Station(
        stack=stack,
        number=tier.number,
        tier=row,
        page=page,
        drawing=fill.drawing,
        places=tuple(_place(works, tier, page, fill, ruler) for ruler in page.each),
    )


def _place(works: Works, tier: Tier, page: PageFacts, fill: FillFacts, ruler: RowFacts) -> PlaceAt:
    number = int(ruler.places)
    form = next(form for form in page.forms if number in form.numbers)
    names = {row.lot: row for row in fill.rows}
    return PlaceAt(
        place=number,
        ruler=ruler,
        stands=f"{form.name}, {form.support}, {form.size}, half foot {form.half_foot}",
        parts=tuple(
            PlacePart(
                lot=one.lot,
                product=works.lot(one.lot).product,
                name=names[one.lot].name,
                order_line=names[one.lot].order_line,
                pieces=one.pieces,
            )
            for one in tier.fills
            if one.place == number
        ),
    )
