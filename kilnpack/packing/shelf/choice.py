"""The settings known of a row of equal shelves, what a body is worth among them, and the choice of the fewest."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.shelf.master import Counts, fewest, worth_of_kinds
from kilnpack.packing.shelf.pack import as_setting

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kilnpack.packing.shelf.setting import ShelfSetting
    from kilnpack.packing.shelf.tables import ShelfTables
    from kilnpack.packing.shelf.work import Demand

Places = tuple[tuple[int, float, float, float], ...]


@dataclass(slots=True)
class Pool:
    """Settings known so far, by how many bodies of each kind they hold, and the best choice among them."""

    places: dict[Counts, Places] = field(default_factory=dict)
    chosen: list[Counts] = field(default_factory=list)
    evaluations: int = 0

    def add(self, found: dict[Counts, Places]) -> None:
        """Take in settings."""
        for counts, places in found.items():
            self.places.setdefault(counts, places)


def worth_now(pool: Pool, wanted: Counts) -> tuple[float, NDArray[np.float64], list[float]]:
    """Return the least shelves in fractions, what one body of each kind is worth (never nothing), and times set."""
    bound, prices, times = worth_of_kinds(list(pool.places), wanted)
    return bound, np.maximum(prices, 1e-4 / max(1, sum(wanted))), times


def choose(pool: Pool, wanted: Counts, prices: NDArray[np.float64], bound: float, seconds: float) -> None:
    """Choose whole numbers of settings, if that can save a shelf."""
    rough = greedy_choice(pool, wanted, prices)
    if len(rough) < len(pool.chosen):
        pool.chosen = rough
    if np.ceil(bound - 1e-6) >= len(pool.chosen):
        return
    begun = time.monotonic()
    held = list(pool.places)
    index = {counts: j for j, counts in enumerate(held)}
    hint = [0] * len(held)
    for counts in pool.chosen:
        hint[index[counts]] += 1
    times = fewest(held, wanted, seconds=max(0.02, seconds - (time.monotonic() - begun)), hint=hint)
    if times is not None and sum(times) < len(pool.chosen):
        pool.chosen = [counts for counts, n in zip(held, times, strict=True) for _ in range(n)]


def greedy_choice(pool: Pool, wanted: Counts, prices: NDArray[np.float64]) -> list[Counts]:
    """Return settings taken one after another, each worth most at the prices for what is still to be placed."""
    held = np.array(list(pool.places))
    rest = np.array(wanted)
    chosen = []
    while rest.any():
        worth = (np.minimum(held, rest) * prices).sum(axis=1)
        best = int(worth.argmax())
        chosen.append(tuple(int(n) for n in held[best]))
        rest = np.maximum(rest - held[best], 0)
    return chosen


def read_back(pool: Pool, tables: ShelfTables, demand: Demand, wanted: Counts) -> tuple[ShelfSetting, ...]:
    """Return the chosen settings, less bodies that are more than enough, fullest first."""
    rest = list(wanted)
    settings = []
    for counts in sorted(pool.chosen, key=lambda c: -float(np.dot(tables.area, c))):
        kept = []
        for place in pool.places[counts]:
            if rest[place[0]] > 0:
                rest[place[0]] -= 1
                kept.append(place)
        if kept:
            settings.append(as_setting(tables, demand, kept, evaluations=pool.evaluations))
    return tuple(settings)
