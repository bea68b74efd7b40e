"""From the packed state back to a load in the trade's words: settings, tiers, fills, cone packs."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING

from kilnpack.model.loads import PlaceFill, Setting, StackLoad, Standing, Tier
from kilnpack.packing.dealing import Slot, dealt, placed_pieces
from kilnpack.packing.filler import EMPTY, Filled, Spot
from kilnpack.packing.placing_order import Base, Piece, piece_at, placing_order
from kilnpack.packing.state import OPEN, LoadState
from kilnpack.shapes.outlines import region_polygon

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Callable, Sequence

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.works import Works
    from kilnpack.packing.kept import KeptTiers
    from kilnpack.packing.ready_ware import ReadyWare
    from kilnpack.packing.works_problem import WorksProblem

    HeatAt = Callable[[int, Spot, float], float]

DECIMALS = 3


def settle_orders(state: LoadState, ware: ReadyWare, shelves: Sequence[ShelfType], balance_share: float) -> LoadState:
    """Return the load with every shelf in placing order, without the bodies that cannot be set or would tip it."""
    settled = state.copy()
    known: dict[tuple[int, tuple[Spot, ...]], Filled] = {}
    for stack, tiers in enumerate(state.stacks):
        for at, tier in enumerate(tiers):
            key = (stack, tier.filled.spots)
            if key not in known:
                known[key] = ordered(tier.filled, ware, shelves[stack], balance_share)
            settled.refill(stack, at, known[key])
    return settled


def ordered(filled: Filled, ware: ReadyWare, shelf: ShelfType, balance_share: float) -> Filled:
    """Return one shelf in placing order, without the bodies that cannot be set or would tip it."""
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


def arranged(
    works: Works, state: LoadState, built: WorksProblem, heat_k: HeatAt, standing: KeptTiers | None = None
) -> Arranged:
    """Return stacks and settings; every place is filled from the lots of its group.

    Parameters
    ----------
    heat_k
        Tells how much hotter than the programme a body on a stack's shelf stands.
    standing
        Tiers that are set already: their settings keep their codes, and no code of their sheet comes to mean another.
    """
    ware, shelves = built.ware, built.shelves
    settings = {(row.shelf, row.standings): row for row in (standing.settings if standing else ())}
    taken = {row.code for row in standing.load.settings} if standing else set()
    found = dealt(works, ware, _slots(state, ware, heat_k))
    codes = (code for k in count(1) if (code := f"S{k}") not in taken)
    stacks = []
    for stack, tiers in enumerate(state.stacks):
        rows = []
        for at, (base_mm, tier) in enumerate(zip(state.bases_mm(stack), tiers, strict=False)):
            key = (shelves[stack].code, _standings(tier.filled.spots, ware))
            if key not in settings:
                settings[key] = Setting(code=next(codes), shelf=key[0], standings=key[1])
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
                        PlaceFill(place=place + 1, lot=lot.code, pieces=pieces)
                        for place in range(len(tier.filled.spots))
                        for lot, pieces in found[stack, at, place]
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
    return Arranged(stacks=tuple(stacks), settings=tuple(settings.values()), placed=placed_pieces(found))


def _slots(state: LoadState, ware: ReadyWare, heat_k: HeatAt) -> list[Slot]:
    return [
        Slot((stack, at, place), item.group, item.pieces, heat_k(stack, spot, base_mm))
        for stack, tiers in enumerate(state.stacks)
        for at, (base_mm, tier) in enumerate(zip(state.bases_mm(stack), tiers, strict=False))
        for place, spot in enumerate(tier.filled.spots)
        for item in (ware.wares[spot.ware],)
    ]


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
