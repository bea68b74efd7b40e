"""Which lot stands at which place: whole order lines first, and the ware of a matching set in like heat (Z3)."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works
    from kilnpack.packing.ready_ware import ReadyWare

Key = tuple[int, int, int]
"""Stack, tier and number of a body on it."""


@dataclass(frozen=True, slots=True)
class Slot:
    """One body of a load: where, of which group, how many pieces, and how much hotter than the programme it is."""

    key: Key
    group: int
    pieces: int
    heat_k: float


@dataclass(frozen=True, slots=True)
class Matching:
    """An order line whose ware matches: within how many kelvin, and its pieces of every group."""

    within_k: float
    pieces: dict[int, int]


def matching_lines(works: Works, ware: ReadyWare) -> dict[str, Matching]:
    """Return the order lines whose ware has to match (Z3)."""
    lines: dict[str, Matching] = {}
    for number, group in enumerate(ware.groups):
        for lot in group.lots:
            within = works.product(lot.product).matching_k
            if within is not None and lot.order_line:
                known = lines.get(lot.order_line, Matching(math.inf, {}))
                pieces = known.pieces | {number: known.pieces.get(number, 0) + lot.pieces}
                lines[lot.order_line] = Matching(min(known.within_k, within), pieces)
    return lines


def dealt(works: Works, ware: ReadyWare, slots: Sequence[Slot]) -> dict[Key, list[tuple[Lot, int]]]:
    """Return for every body the lots its pieces come from.

    A line whose ware matches takes the places nearest in heat to the middle of all that are open to it; what is left
    is filled in order of the places.
    """
    lines = matching_lines(works, ware)
    by_group: dict[int, list[Slot]] = defaultdict(list)
    for slot in slots:
        by_group[slot.group].append(slot)
    rows = {
        number: shared_out(works, ware.groups[number].lots, sum(slot.pieces for slot in own))
        for number, own in by_group.items()
    }
    found: dict[Key, list[tuple[Lot, int]]] = defaultdict(list)
    left = {slot.key: slot.pieces for slot in slots}
    for line in sorted(lines, key=lambda code: lines[code].within_k):
        heats = [slot.heat_k for number in lines[line].pieces for slot in by_group.get(number, ()) if left[slot.key]]
        middle = median(heats) if heats else 0.0
        for number in lines[line].pieces:
            nearest = sorted(by_group.get(number, ()), key=lambda slot: abs(slot.heat_k - middle))
            _fill(nearest, [row for row in rows.get(number, ()) if row[0].order_line == line], left, found)
    for number, own in by_group.items():
        _fill(own, [row for row in rows[number] if row[0].order_line not in lines], left, found)
    return found


def _fill(
    slots: Sequence[Slot],
    rows: Sequence[tuple[Lot, int]],
    left: dict[Key, int],
    found: dict[Key, list[tuple[Lot, int]]],
) -> None:
    """Hand the pieces of some lots to places in their order."""
    open_slots = iter([slot for slot in slots if left[slot.key]])
    slot = next(open_slots, None)
    for lot, pieces in rows:
        need = pieces
        while need and slot is not None:
            take = min(need, left[slot.key])
            found[slot.key].append((lot, take))
            left[slot.key] -= take
            need -= take
            if not left[slot.key]:
                slot = next(open_slots, None)


def placed_pieces(found: dict[Key, list[tuple[Lot, int]]]) -> Counter[str]:
    """Return the pieces placed, by lot."""
    placed: Counter[str] = Counter()
    for rows in found.values():
        for lot, pieces in rows:
            placed[lot.code] += pieces
    return placed


def spread_k(slots_of: dict[int, list[tuple[float, int]]], line: Matching) -> float:
    """Return how far apart in heat the ware of a line would be dealt, K.

    Parameters
    ----------
    slots_of
        (heat in K, pieces) of every body, by group.
    """
    heats = [heat for number in line.pieces for heat, _ in slots_of.get(number, ())]
    if not heats:
        return 0.0
    middle = median(heats)
    taken: list[float] = []
    for number, pieces in line.pieces.items():
        need = pieces
        for heat, held in sorted(slots_of.get(number, ()), key=lambda row: abs(row[0] - middle)):
            if need <= 0:
                break
            taken.append(heat)
            need -= held
    return max(taken) - min(taken)


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
