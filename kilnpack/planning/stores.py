"""What a plan asks of the stores: places on racks for ware that waits, and wads, cones and wash that are used up.

Neither keeps a firing back. Ware can wait elsewhere and consumables can be bought; the plan says when either runs out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.planning.clock import TICK_H

if TYPE_CHECKING:
    from collections.abc import Mapping

    from kilnpack.planning.shop import Shop


def most_on_racks(shop: Shop) -> tuple[int, float]:
    """Return the most pieces that wait between their firings at a time, and the hour at which they first do.

    Ware is on the racks from when it is dry after casting or unloaded until its next firing is loaded; stock in
    progress from the start. What dries after casting has its own places.
    """
    moves = [(0.0, ware.pieces) for ware in shop.backlog.wares]
    moves += [(cast.ware.ready_h, cast.ware.pieces) for cast in shop.backlog.casts]
    for fired in shop.fired:
        for part in fired.moved:
            moves.append((fired.load_start_h, -part.ware.pieces))
            if not part.becomes.endswith("@done"):
                moves.append((fired.unload_end_h, part.good_pieces))
    moves.sort()
    now, most, at_h = 0, 0, 0.0
    for number, (hour, pieces) in enumerate(moves):
        now += pieces
        last = number + 1 == len(moves) or moves[number + 1][0] > hour + TICK_H
        if last and now > most:
            most, at_h = now, hour
    return most, at_h


def store_remarks(shop: Shop, codes: Mapping[int, str]) -> tuple[str, ...]:
    """Return a remark where racks are too few, and one for every consumable that runs out, with the firing."""
    places, said = shop.works.supply.rack_places_pieces, []
    most, at_h = most_on_racks(shop)
    if places is not None and most > places:
        said.append(f"racks: {most} pieces wait on {shop.clock.moment(at_h):%Y-%m-%d}, there are places for {places}")
    order = sorted(codes, key=lambda number: shop.fired[number].load_start_h)
    for item in shop.works.furniture.consumables:
        used = 0
        for number in order:
            load = shop.fired[number].packed.load
            tiers = sum(len(stack.tiers) for stack in load.stacks) if load is not None else 0
            used += item.per_load_pieces + item.per_tier_pieces * tiers
            if used > item.count_pieces:
                said.append(f"{item.name}: the stock of {item.count_pieces} is used up by {codes[number]}")
                break
    return tuple(said)
