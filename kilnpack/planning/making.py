"""Moulds and drying places, working day by working day."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING

from kilnpack.planning.clock import TICK_H

if TYPE_CHECKING:
    from kilnpack.model.works import Works
    from kilnpack.planning.backlog import Cast


class Making:
    """What can still be cast; castings that firings that stay need come first."""

    def __init__(self, works: Works, kept: list[Cast]) -> None:
        self.works = works
        self.kept = kept
        self.rates = {mould.shape: mould.moulds_pieces * mould.casts_per_day for mould in works.supply.moulds}
        self.made: dict[str, float] = defaultdict(float)
        self.drying: list[tuple[float, int]] = []

    def shapes(self, product: str) -> list[str]:
        """Return the shapes of a product that a mould rate holds for: its own and its lid's."""
        shape = self.works.shape(self.works.product(product).shape)
        codes = [shape.code] + ([shape.lid.shape] if shape.lid else [])
        return [code for code in codes if code in self.rates]

    def room(self, product: str, day: int, end_h: float) -> int:
        """Return how many pieces of a product can be cast on a day (0-based) and set to dry."""
        rooms = [math.floor(self.rates[code] * (day + 1) - self.made[code] + 1e-9) for code in self.shapes(product)]
        places = self.works.supply.drying_places_pieces
        if places is not None:
            dry_h = self.works.product(product).route[0].ready_after_h
            soon = (cast for cast in self.kept if end_h + TICK_H < cast.end_h < end_h + dry_h)
            held = sum(pieces for until_h, pieces in self.drying if until_h > end_h)
            rooms.append(places - held - sum(cast.ware.pieces for cast in soon))
        return max(0, min(rooms, default=10**9))

    def make(self, product: str, pieces: int, until_h: float) -> None:
        """Book pieces as cast, drying until a moment."""
        for code in self.shapes(product):
            self.made[code] += pieces
        self.drying.append((until_h, pieces))

    def make_kept(self, begin_h: float, end_h: float) -> None:
        """Book the castings of a day that are kept."""
        for cast in self.kept:
            if begin_h + TICK_H < cast.end_h <= end_h + TICK_H:
                self.make(cast.ware.product, cast.ware.pieces, cast.ware.ready_h)

    def close_day(self, day: int) -> None:
        """Forget what the moulds could have made and did not: casts of a day cannot be made up later."""
        for code, rate in self.rates.items():
            self.made[code] = max(self.made[code], math.floor(rate * (day + 1) + 1e-9) + 0.0)
