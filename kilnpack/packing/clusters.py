"""Tiers bound into clusters that are all set alike, and the first such load.

A cluster of m tiers is filled from a m-th of what is spare, in the room that all its tiers offer. Clusters begin as the
tiers of equal room and are merged until few enough are left.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.packing.filler import EMPTY, Filled

if TYPE_CHECKING:
    import numpy as np

    from kilnpack.packing.filler import Filler
    from kilnpack.packing.state import LoadState
    from kilnpack.shapes.room import Room

Place = tuple[int, int]


class Clusters:
    """A load whose tiers carry the number of their cluster."""

    def __init__(self, state: LoadState, labels: list[list[int]]) -> None:
        self.state = state
        self.labels = labels

    def copy(self) -> Clusters:
        """Return clusters of their own with the same tiers."""
        return Clusters(self.state.copy(), [list(row) for row in self.labels])

    @property
    def value(self) -> float:
        """Worth of the load."""
        return self.state.value

    def places(self, label: int) -> list[Place]:
        """Return where the tiers of a cluster are."""
        return [(s, k) for s, row in enumerate(self.labels) for k, own in enumerate(row) if own == label]

    def numbers(self) -> list[int]:
        """Return the numbers of all clusters."""
        return sorted({label for row in self.labels for label in row})

    def common(self, places: list[Place]) -> tuple[Room, int] | None:
        """Return the room and the kinds that all of these tiers offer, None where they cannot be set alike."""
        rooms: list[Room] = []
        mask = -1
        for stack, at in places:
            base_mm = self.state.bases_mm(stack)[at]
            column = self.state.stacks[stack][at].column
            room = self.state.room(stack, base_mm, column)
            if room is None or (rooms and self._shelf(stack) != self._shelf(places[0][0])):
                return None
            rooms.append(room)
            mask &= self.state.allowed(stack, base_mm, column)
        first = rooms[0]
        if any(room.outline != first.outline or room.posts != first.posts for room in rooms):
            return None
        common = replace(
            first,
            keep_outs=tuple(dict.fromkeys(keep for room in rooms for keep in room.keep_outs)),
            limits=tuple(dict.fromkeys(limit for room in rooms for limit in room.limits)),
            clear_height_mm=min(room.clear_height_mm for room in rooms),
            load_limit_kg=min(room.load_limit_kg for room in rooms),
        )
        return common, mask

    def _shelf(self, stack: int) -> str:
        problem = self.state.problem
        return problem.shelves[problem.stacks[stack].shelf].code

    def set_all(self, places: list[Place], filled: Filled) -> None:
        """Set all of these tiers alike."""
        for stack, at in places:
            self.state.refill(stack, at, filled)


def clustered(state: LoadState, filler: Filler, *, most: int, fills: int, rng: np.random.Generator) -> Clusters:
    """Bind the tiers of a load into at most so many clusters and fill them."""
    clusters = Clusters(state.copy(), _labels(state))
    _merge(clusters, most)
    _split(clusters, most)
    for label in clusters.numbers():
        clusters.set_all(clusters.places(label), EMPTY)
    sizes = {label: len(clusters.places(label)) for label in clusters.numbers()}
    for label in sorted(sizes, key=lambda one: -sizes[one]):
        fill_cluster(clusters, filler, label, fills=fills, rng=rng, start=EMPTY)
    return clusters


def _labels(state: LoadState) -> list[list[int]]:
    known: dict[tuple[str, Room | None, int], int] = {}
    rows = []
    for stack, tiers in enumerate(state.stacks):
        row = []
        for base_mm, tier in zip(state.bases_mm(stack), tiers, strict=False):
            room = state.room(stack, base_mm, tier.column)
            shelf = state.problem.shelves[state.problem.stacks[stack].shelf].code
            key = (shelf, room, state.allowed(stack, base_mm, tier.column))
            row.append(known.setdefault(key, len(known)))
        rows.append(row)
    return rows


def _merge(clusters: Clusters, most: int) -> None:
    """Merge the two clusters that lose the least height and the fewest kinds, until few enough are left."""
    while len(numbers := clusters.numbers()) > most:
        best: tuple[float, int, int] | None = None
        for k, a in enumerate(numbers):
            for b in numbers[:k]:
                loss = _merge_loss(clusters, a, b)
                if loss is not None and (best is None or loss < best[0]):
                    best = (loss, a, b)
        if best is None:
            return
        for stack, at in clusters.places(best[1]):
            clusters.labels[stack][at] = best[2]


def _split(clusters: Clusters, most: int) -> None:
    """Halve the largest clusters until there are as many as may be: small ones leave fewer odd pieces."""
    while 0 < len(numbers := clusters.numbers()) < most:
        largest = max(numbers, key=lambda label: len(clusters.places(label)))
        places = clusters.places(largest)
        if len(places) < 2:
            return
        for stack, at in places[len(places) // 2 :]:
            clusters.labels[stack][at] = max(numbers) + 1


def _merge_loss(clusters: Clusters, a: int, b: int) -> float | None:
    """Return the height lost by all tiers together, with something for every kind barred."""
    first, second = clusters.places(a), clusters.places(b)
    both = clusters.common(first + second)
    one, two = clusters.common(first), clusters.common(second)
    if both is None or one is None or two is None:
        return None
    loss = 0.0
    for room, mask, count in ((*one, len(first)), (*two, len(second))):
        barred = bin(mask & ~both[1]).count("1")
        loss += count * (min(room.clear_height_mm, 400.0) - min(both[0].clear_height_mm, 400.0) + 10.0 * barred)
    return loss


def fill_cluster(
    clusters: Clusters, filler: Filler, label: int, *, fills: int, rng: np.random.Generator, start: Filled
) -> int:
    """Fill the emptied tiers of a cluster alike; return the fills spent."""
    places = clusters.places(label)
    common = clusters.common(places) if places else None
    if common is None:
        return 0
    spare = clusters.state.spare // len(places)
    filled = filler.fill(*common, spare, fills=fills, seed=int(rng.integers(1 << 30)), start=start)
    clusters.set_all(places, filled)
    return fills
