"""From the packed state back to a load in the trade's words: settings, tiers, fills, cone packs."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.model.loads import PlaceFill, Setting, StackLoad, Standing, Tier
from kilnpack.packing.filler import EMPTY, Filled, Spot
from kilnpack.packing.placing_order import Base, Piece, piece_at, placing_order
from kilnpack.packing.state import OPEN, LoadState
from kilnpack.shapes.outlines import region_polygon

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works
    from kilnpack.packing.ready_ware import ReadyWare

DECIMALS = 3


def settle_orders(state: LoadState, ware: ReadyWare, shelves: Sequence[ShelfType], balance_share: float) -> LoadState:
    """Return the load with every shelf in placing order, without the bodies that cannot be set or would tip it."""
    settled = state.copy()
    known: dict[tuple[int, tuple[Spot, ...]], Filled] = {}
    for stack, tiers in enumerate(state.stacks):
        for at, tier in enumerate(tiers):
            key = (stack, tier.filled.spots)
            if key not in known:
                known[key] = _ordered(tier.filled, ware, shelves[stack], balance_share)
            settled.refill(stack, at, known[key])
    return settled


def _ordered(filled: Filled, ware: ReadyWare, shelf: ShelfType, balance_share: float) -> Filled:
    if not filled.spots:
        return EMPTY
    pieces = [_piece(spot, ware) for spot in filled.spots]
    order, off = placing_order(pieces, base_of(shelf, balance_share))
    spots = tuple(filled.spots[k] for k in order)
    lost = sum(pieces[k].value for k in off)
    return Filled(filled.value - lost, spots, filled.recipe, filled.frame)


def _piece(spot: Spot, ware: ReadyWare) -> Piece:
    body = ware.wares[spot.ware].body
    return piece_at(body.primitives, spot.x_mm, spot.y_mm, spot.turn_deg, mass_kg=body.mass_kg, value=body.value)


def base_of(shelf: ShelfType, balance_share: float) -> Base:
    """Return the empty shelf with the hull of its posts and the margin that the balance wants (rule F13)."""
    import shapely

    outline = region_polygon(shelf.outline)
    hull = shapely.MultiPoint(shelf.posts_mm).convex_hull
    left, front, right, back = hull.bounds
    ring = [(float(x), float(y)) for x, y in shapely.get_coordinates(hull)[:-1]] if hull.area > 0 else []
    if sum(ax * by - bx * ay for (ax, ay), (bx, by) in zip(ring, [*ring[1:], *ring[:1]], strict=True)) < 0:
        ring.reverse()
    return Base(
        mass_kg=shelf.mass_kg,
        x_mm=float(outline.centroid.x),
        y_mm=float(outline.centroid.y),
        corners=tuple(ring),
        margin_mm=balance_share * min(right - left, back - front),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Arranged:
    """Stacks and settings of a load."""

    stacks: tuple[StackLoad, ...]
    settings: tuple[Setting, ...]
    placed: Counter[str]
    """Pieces placed, by lot."""


def arranged(works: Works, state: LoadState, ware: ReadyWare, shelves: Sequence[ShelfType]) -> Arranged:
    """Return stacks and settings; every place is filled from the lots of its group."""
    settings: dict[tuple[str, tuple[Standing, ...]], Setting] = {}
    drawn = _Draw(works, state, ware)
    stacks = []
    for stack, tiers in enumerate(state.stacks):
        rows = []
        for at, (base_mm, tier) in enumerate(zip(state.bases_mm(stack), tiers, strict=False)):
            key = (shelves[stack].code, _standings(tier.filled.spots, ware))
            if key not in settings:
                settings[key] = Setting(code=f"S{len(settings) + 1}", shelf=key[0], standings=key[1])
            column = tier.column
            posts = () if column == OPEN else state.problem.columns[column].parts
            floor_mm = base_mm + shelves[stack].thickness_mm
            top_mm = state.problem.stacks[stack].top_mm
            rows.append(
                Tier(
                    number=at + 1,
                    base_mm=round(base_mm, 4),
                    shelf=shelves[stack].code,
                    posts=tuple(works.furniture.posts[part].code for part in posts),
                    room_mm=round(top_mm - floor_mm if column == OPEN else state.problem.columns[column].height_mm, 4),
                    setting=settings[key].code,
                    fills=tuple(
                        fill for place, spot in enumerate(tier.filled.spots) for fill in drawn.fills(place + 1, spot)
                    ),
                    flat=any(ware.groups[ware.wares[spot.ware].group].flat for spot in tier.filled.spots),
                )
            )
        site = state.problem.stacks[stack]
        stub = site.bottoms[state.bottoms[stack]].stub
        stacks.append(
            StackLoad(
                place=site.code, stub=None if stub is None else works.furniture.stubs[stub].code, tiers=tuple(rows)
            )
        )
    return Arranged(stacks=tuple(stacks), settings=tuple(settings.values()), placed=drawn.placed)


def _standings(spots: Sequence[Spot], ware: ReadyWare) -> tuple[Standing, ...]:
    return tuple(
        Standing(
            place=place + 1,
            form=ware.forms[spot.ware].code,
            x_mm=round(spot.x_mm, DECIMALS),
            y_mm=round(spot.y_mm, DECIMALS),
            turn_deg=round(spot.turn_deg % 360.0, DECIMALS),
        )
        for place, spot in enumerate(spots)
    )


class _Draw:
    """Draws pieces from the lots of a group: whole order lines first, the most pressing of them before others."""

    def __init__(self, works: Works, state: LoadState, ware: ReadyWare) -> None:
        self.ware = ware
        self.placed: Counter[str] = Counter()
        wanted: Counter[int] = Counter()
        for tiers in state.stacks:
            for tier in tiers:
                for spot in tier.filled.spots:
                    wanted[ware.wares[spot.ware].group] += ware.wares[spot.ware].pieces
        self._left = {number: shared_out(works, group.lots, wanted[number]) for number, group in enumerate(ware.groups)}

    def fills(self, place: int, spot: Spot) -> list[PlaceFill]:
        """Return the fills of one place and take the pieces from their lots."""
        item = self.ware.wares[spot.ware]
        queue = self._left[item.group]
        need = item.pieces
        rows = []
        while need:
            lot, left = queue[0]
            take = min(need, left)
            rows.append(PlaceFill(place=place, lot=lot.code, pieces=take))
            self.placed[lot.code] += take
            need -= take
            queue[0] = (lot, left - take)
            if left == take:
                queue.pop(0)
        return rows


def shared_out(works: Works, lots: Sequence[Lot], pieces: int) -> list[tuple[Lot, int]]:
    """Return how many pieces each lot gives, lots in order of worth; lots that go in whole come before one split.

    A line that may not be delivered in part gives way to one that may, where it would not be complete.
    """
    whole = {line.code for line in works.lines if not line.part_delivery}
    rows: list[tuple[Lot, int]] = []
    left = pieces
    later: list[Lot] = []
    for lot in lots:
        if lot.pieces <= left:
            rows.append((lot, lot.pieces))
            left -= lot.pieces
        else:
            later.append(lot)
    for lot in sorted(later, key=lambda one: one.order_line in whole):
        take = min(left, lot.pieces)
        if take:
            rows.append((lot, take))
            left -= take
    return rows
