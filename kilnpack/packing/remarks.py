"""What the loader should know of a packed load: a near-empty kiln and what could fill it, packs and late pieces."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING

from kilnpack.packing.kept import ware_kg
from kilnpack.shapes.bodies import piece_kg

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.packing.firing_rules import FiringRules

MOST_NAMED = 5
"""Lots named that could fill up."""


def remarks(rules: FiringRules, load: Load, late: Mapping[str, int], ready: Sequence[Lot]) -> Iterator[str]:
    """Yield what the loader should know."""
    yield from _near_empty(rules, load, ready)
    standing = {pack.peephole for pack in load.cone_packs}
    for hole in rules.packs():
        if hole.code not in standing:
            yield f"C7: no shelf under the cone pack of {hole.code}"
    for product, pieces in late.items():
        kept = Counter[str]()
        for row in load.reserved:
            if row.product == product:
                kept[f"tier {row.tier} of stack {row.stack}"] += row.pieces
        where = ", ".join(f"{count} on {tier}" for tier, count in kept.items())
        yield f"room is kept for {kept.total()} of {pieces} late pieces of {product}{where and ': '}{where}"


def _near_empty(rules: FiringRules, load: Load, ready: Sequence[Lot]) -> Iterator[str]:
    """Z7: too little ware, with the lots that could fill up and how many pieces of them it takes."""
    least_kg, ware = rules.kiln.least_ware_kg, ware_kg(rules.works, load)
    if ware >= least_kg:
        return
    lacking_kg = least_kg - ware
    yield f"Z7: {ware:.1f} kg of ware, at least {least_kg:.1f} kg wanted; {lacking_kg:.1f} kg are lacking"
    named: list[str] = []
    found_kg = 0.0
    for lot, pieces, why in _fillers(rules, load, ready):
        if found_kg >= lacking_kg or len(named) == MOST_NAMED:
            break
        each_kg = _each_kg(rules, lot)
        wanted = min(pieces, math.ceil((lacking_kg - found_kg) / each_kg))
        found_kg += wanted * each_kg
        named.append(f"{wanted} of {lot.code} ({lot.product}, {wanted * each_kg:.1f} kg, {why})")
    if named:
        yield f"Z7: could fill up: {'; '.join(named)}"
    if found_kg < lacking_kg:
        yield f"Z7: {lacking_kg - found_kg:.1f} kg of dummies would even the fire"


def _fillers(rules: FiringRules, load: Load, ready: Sequence[Lot]) -> Iterator[tuple[Lot, int, str]]:
    """Yield what could still go in: ready lots left out for room, fillers first, then lots of this firing to come."""
    left = {row.lot: row.pieces for row in load.left_out if row.rule == "no room"}
    known = {lot.code for lot in ready}
    for lot in sorted(ready, key=lambda one: (one.kind.value != "filler", one.code)):
        if left.get(lot.code):
            yield lot, left[lot.code], f"ready {lot.kind.value}, no room as packed"
    for lot in sorted(rules.works.lots, key=lambda one: (one.ready_at is None, str(one.ready_at), one.code)):
        if lot.code not in known and lot.pieces > 0 and _waits(rules, lot):
            when = f"ready {lot.ready_at:%Y-%m-%d %H:%M}" if lot.ready_at else "to be made ready"
            yield lot, lot.pieces, when


def _waits(rules: FiringRules, lot: Lot) -> bool:
    route = rules.works.product(lot.product).route
    return lot.step < len(route) and route[lot.step].programme == rules.programme.code


def _each_kg(rules: FiringRules, lot: Lot) -> float:
    product = rules.works.product(lot.product)
    return piece_kg(rules.works, rules.works.shape(product.shape), rules.stage)
