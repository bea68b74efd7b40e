"""Find what would pay at the master's prices: settings by filling shelves, structures by planning stacks."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.columns_master import Pool, Setting, Slot, Structure, slot_of
from kilnpack.packing.filler import EMPTY
from kilnpack.packing.polish import polished
from kilnpack.packing.rebuild import tier_worths
from kilnpack.packing.stack_kernel import best_columns
from kilnpack.packing.state import OPEN, useful_columns
from kilnpack.packing.walk import EVALUATIONS_A_FILL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.packing.columns_master import Prices
    from kilnpack.packing.filler import Filled, Filler
    from kilnpack.packing.state import LoadState
    from kilnpack.search.budget import Meter
    from kilnpack.shapes.room import Room

PAYS = 1e-6
POLISHED = 2
"""Slots handed to the shelf engine in one round."""
NOTHING = -1e15


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """How shelves are priced: random numbers, evaluations and angles of the shelf engine."""

    rng: np.random.Generator
    polish_evaluations: int = 6000
    turn_step_deg: float = 0.0


def setting_of(room: Room, filled: Filled) -> Setting:
    """Return a filled shelf as a setting for its room."""
    kinds = 0
    for spot in filled.spots:
        kinds |= 1 << spot.ware
    return Setting(room, kinds, filled)


def slot_there(state: LoadState, filler: Filler, stack: int, base_mm: float, column: int) -> Slot | None:
    """Return the slot of a tier at a height, None where no shelf may lie."""
    room = state.room(stack, base_mm, column)
    if room is None:
        return None
    return slot_of(room, state.allowed(stack, base_mm, column) & filler.low_enough(room.clear_height_mm))


class Pricing:
    """One look for settings that pay at the master's prices."""

    def __init__(self, pool: Pool, empty: LoadState, filler: Filler, prices: Prices, care: Care) -> None:
        self.pool = pool
        self.empty = empty
        self.filler = filler
        self.prices = prices
        self.care = care
        self.worths = worths_at(empty, prices)

    def settings(self, fills: int, meter: Meter, until: float) -> int:
        """Fill every slot at the prices; where nothing new pays, let the shelf engine try on a few.

        Ends at that part of the budget. Return how many settings joined the pool.
        """
        dull, fresh = [], 0
        for slot in self.pool.slots:
            if meter.share >= until:
                return fresh
            if self._filled(slot, fills, meter):
                fresh += 1
            else:
                dull.append(slot)
        if self.care.polish_evaluations:
            for k in self.care.rng.permutation(len(dull))[:POLISHED]:
                fresh += meter.share < until and self._polished(dull[int(k)], meter)
        return fresh

    def _best(self, slot: Slot) -> Filled:
        fitting = [setting.filled for setting in self.pool.settings if setting.fits(slot)]
        return max(fitting, key=lambda filled: _worth(filled, self.worths), default=EMPTY)

    def _joins(self, slot: Slot, filled: Filled) -> bool:
        if not filled.spots or _worth(filled, self.worths) <= self.prices.slots.get(slot, 0.0) + PAYS:
            return False
        setting = setting_of(slot.room, replace(filled, value=_true_value(self.empty, filled)))
        is_new = setting not in self.pool.settings
        self.pool.settings.setdefault(setting)
        return is_new

    def _filled(self, slot: Slot, fills: int, meter: Meter) -> bool:
        filled = self.filler.fill(
            slot.room, slot.mask, self.empty.spare,
            fills=fills, seed=int(self.care.rng.integers(1 << 30)), start=self._best(slot), worths=self.worths,
        )  # fmt: skip
        meter.spend(fills * EVALUATIONS_A_FILL)
        return self._joins(slot, filled)

    def _polished(self, slot: Slot, meter: Meter) -> bool:
        """Let the shelf engine improve the setting that is worth most in a slot, at the prices."""
        start = self._best(slot)
        problem = self.empty.problem
        wares = tuple(
            replace(ware, body=replace(ware.body, value=float(worth)))
            for ware, worth in zip(problem.wares, np.maximum(self.worths, 0.0), strict=True)
        )
        kinds = self.filler.kinds_for(slot.room, slot.mask, self.empty.spare)
        better, spent = polished(
            replace(problem, wares=wares), slot.room,
            [int(kind) for kind in kinds if self.worths[kind] > 0.0], self.empty.spare,
            replace(start, value=_worth(start, self.worths)),
            evaluations=self.care.polish_evaluations, seed=int(self.care.rng.integers(1 << 30)),
            turn_step_deg=self.care.turn_step_deg,
        )  # fmt: skip
        meter.spend(spent)
        return self._joins(slot, better)


def worths_at(empty: LoadState, prices: Prices) -> NDArray[np.float64]:
    """Return what one body of each ware is worth beyond the price of what it takes."""
    groups = len(empty.problem.counts)
    return np.array(
        [
            ware.body.value
            - ware.pieces * prices.stock[ware.group]
            - (ware.support_pieces * prices.stock[groups + ware.support] if ware.support is not None else 0.0)
            for ware in empty.problem.wares
        ]
    )


def _worth(filled: Filled, worths: NDArray[np.float64]) -> float:
    return float(sum(worths[spot.ware] for spot in filled.spots))


def _true_value(empty: LoadState, filled: Filled) -> float:
    return sum(empty.problem.wares[spot.ware].body.value for spot in filled.spots)


class _SlotWorths:
    """What a tier is worth at the prices: that of the best setting that fits it."""

    def __init__(self, pool: Pool, filler: Filler, worths: NDArray[np.float64]) -> None:
        self.filler = filler
        self.best: dict[Room, list[tuple[float, int]]] = {}
        for setting in pool.settings:
            self.best.setdefault(setting.room, []).append((_worth(setting.filled, worths), setting.kinds))
        for own in self.best.values():
            own.sort(reverse=True)
        self._known: dict[Slot, float] = {}

    def of(self, state: LoadState, room: Room, allowed: int) -> float:
        """Return the worth of a tier."""
        del state
        slot = slot_of(room, allowed & self.filler.low_enough(room.clear_height_mm))
        if slot not in self._known:
            own = self.best.get(slot.room, ())
            self._known[slot] = max(0.0, next((worth for worth, kinds in own if not kinds & ~slot.mask), 0.0))
        return self._known[slot]


def price_structures(pool: Pool, empty: LoadState, filler: Filler, prices: Prices, alike: dict[int, list[int]]) -> int:
    """Plan a stack of each kind at the prices; return how many structures joined the pool."""
    worths = _SlotWorths(pool, filler, worths_at(empty, prices))
    fresh = 0
    for first in alike:
        value, structure = _planned(empty, filler, first, worths, prices)
        if structure is not None and value > prices.stacks[first] + PAYS:
            fresh += structure not in pool.structures[first]
            pool.structures[first].setdefault(structure)
    return fresh


def _planned(
    empty: LoadState, filler: Filler, stack: int, worths: _SlotWorths, prices: Prices
) -> tuple[float, Structure | None]:
    problem = empty.problem
    site = problem.stacks[stack]
    start_mm = empty.first_base_mm(stack)
    levels = math.floor(site.top_mm - start_mm + 1e-6)
    columns = useful_columns(empty, stack)
    if levels <= 0 or not (columns or site.open_top):
        return 0.0, None
    points, shelf_price = problem.shelves[site.shelf].points, prices.shelves[site.shelf]
    pitches = np.array([math.ceil(empty.pitch_mm(stack, c) - 1e-6) for c in columns], np.int64)
    values = np.full((len(columns), levels), -1.0)
    for k, column in enumerate(columns):
        cost = shelf_price + points * sum(prices.posts[part] for part in problem.columns[column].parts)
        row = tier_worths(empty, stack, column, start_mm, levels - int(pitches[k]) + 1, levels, worths)
        values[k] = row - cost
    ending = np.full(levels, NOTHING)
    if site.open_top:
        ending = tier_worths(empty, stack, OPEN, start_mm, levels, levels, worths) - shelf_price
    left = empty.shelves[site.shelf]
    value, path = best_columns(values, pitches, ending, site.open_top, 0, levels, left)
    picked = [columns[int(c)] for c in path] + ([OPEN] if site.open_top else [])
    return float(value), _structure(empty, filler, stack, picked)


def _structure(empty: LoadState, filler: Filler, stack: int, picked: Sequence[int]) -> Structure | None:
    """Return the structure of these columns, None where one of them cannot be built."""
    base_mm = empty.first_base_mm(stack)
    slots = []
    for column in picked:
        slot = slot_there(empty, filler, stack, base_mm, column)
        if slot is None:
            return None
        slots.append(slot)
        base_mm += 0.0 if column == OPEN else empty.pitch_mm(stack, column)
    return Structure(empty.bottoms[stack], tuple(picked), tuple(slots))
