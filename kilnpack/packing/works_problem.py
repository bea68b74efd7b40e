"""From a works, a kiln and what is ready to the packer's problem."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.packing.problem import Bottom, Column, LoadProblem, Shelf, StackSite
from kilnpack.packing.ready_ware import ReadyWare, groups_of, ready_ware
from kilnpack.packing.tier_site import KilnSite

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.kilns import StackPlace
    from kilnpack.model.orders import Lot
    from kilnpack.packing.firing_rules import FiringRules
    from kilnpack.packing.kept import KeptTiers
    from kilnpack.rules.heat import Span


@dataclass(frozen=True, slots=True, kw_only=True)
class WorksProblem:
    """A load problem with what is needed to read its answer."""

    problem: LoadProblem
    site: KilnSite
    ware: ReadyWare
    places: tuple[StackPlace, ...]
    shelves: tuple[ShelfType, ...]
    """The shelf of each stack."""


def works_problem(
    rules: FiringRules, lots: Sequence[Lot], *, reserve_share: float, kept: KeptTiers | None = None
) -> WorksProblem:
    """Build the problem; `reserve_share` of every kind of shelf stays free for late pieces, `kept` tiers stand."""
    works = rules.works
    groups = groups_of(works, rules, lots)
    standing = kept.lots() if kept else []
    gap_mm = rules.gap_mm([*standing, *(lot for group in groups for lot in group.lots)])
    ware = ready_ware(works, groups, gap_mm=gap_mm, headroom_mm=rules.headroom_mm)
    places, shelves, stacks, stock = _stacks(rules, reserve_share, kept)
    columns = rules.columns()
    index = {post.code: k for k, post in enumerate(works.furniture.posts)}
    site = KilnSite(rules, ware, places, shelves, gap_mm)
    problem = LoadProblem(
        wares=ware.wares,
        counts=tuple(group.pieces for group in groups),
        supports=ware.support_pieces,
        columns=tuple(
            Column(parts=tuple(index[post.code] for post in parts), height_mm=height_mm) for parts, height_mm in columns
        ),
        posts=tuple(post.count_pieces if post in rules.posts else 0 for post in works.furniture.posts),
        stubs=tuple(stub.count_pieces for stub in works.furniture.stubs),
        shelves=stock,
        stacks=tuple(
            StackSite(
                code=site.code,
                shelf=site.shelf,
                top_mm=site.top_mm,
                open_top=site.open_top,
                bottoms=site.bottoms,
                columns=tuple(range(len(columns))),
                barred_mm=site.barred_mm,
            )
            for site in stacks
        ),
        site=site,
        headroom_mm=rules.headroom_mm,
        allowance_mm=rules.settings.tier_allowance_mm,
        settings_most=max(1, rules.settings.settings_most - (len(kept.settings) if kept else 0)),
    )
    return WorksProblem(problem=problem, site=site, ware=ware, places=places, shelves=shelves)


Stacks = tuple[tuple["StackPlace", ...], tuple["ShelfType", ...], list[StackSite], tuple[Shelf, ...]]


def _stacks(rules: FiringRules, reserve_share: float, kept: KeptTiers | None) -> Stacks:
    """Return the stacks that can be built, each with its stub, and the stock of their shelves."""
    stubs = _Stubs(rules)
    kinds: dict[str, int] = {}
    stock: list[Shelf] = []
    places, shelves, sites = [], [], []
    for place in rules.kiln.places:
        shelf = rules.shelf(place)
        if shelf is None:
            continue
        points = len(shelf.posts_mm)
        barred = tuple(rules.barred_mm(place, shelf))
        stood = kept.bottom(place, rules.roof_mm) if kept else None
        bottom = stood or stubs.under(place, shelf, barred)
        if bottom is None:
            continue
        if shelf.code not in kinds:
            kinds[shelf.code] = len(stock)
            sound = int(shelf.sound_pieces * (1.0 - reserve_share))
            stock.append(Shelf(code=shelf.code, thickness_mm=shelf.thickness_mm, points=points, stock_pieces=sound))
        places.append(place)
        shelves.append(shelf)
        sites.append(
            StackSite(
                code=place.code,
                shelf=kinds[shelf.code],
                top_mm=rules.roof_mm,
                open_top=True,
                bottoms=(bottom,),
                columns=(),
                barred_mm=barred,
            )
        )
    return tuple(places), tuple(shelves), sites, tuple(stock)


class _Stubs:
    """Hands out the stubs under the stacks, the lowest that may stand there first."""

    def __init__(self, rules: FiringRules) -> None:
        self.rules = rules
        self.stock = list(rules.works.furniture.stubs)
        self.left = {stub.code: stub.count_pieces for stub in self.stock}

    def under(self, place: StackPlace, shelf: ShelfType, barred: Sequence[Span]) -> Bottom | None:
        """Take the stubs of one stack; None where there are none that may stand there."""
        points = len(shelf.posts_mm)
        for stub in self.rules.stubs(place, shelf):
            if self.left[stub.code] >= points and not any(low < stub.height_mm < high for low, high in barred):
                self.left[stub.code] -= points
                return Bottom(stub=self.stock.index(stub), base_mm=stub.height_mm)
        return None
