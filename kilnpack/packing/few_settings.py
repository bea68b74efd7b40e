"""A load of few different settings: tiers are bound into clusters that are all set alike.

A cluster of m tiers is filled from a m-th of what is spare, in the room that all its tiers offer. Clusters begin as the
tiers of equal room, are merged until few enough are left, and then improved like single tiers: filled anew, alone or
by twos, a tier handed from one to another, a column of posts changed.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.filler import EMPTY, Filled
from kilnpack.packing.improve import EVALUATIONS_A_FILL, Tuning
from kilnpack.packing.polish import polished
from kilnpack.packing.state import OPEN, LoadState, TierState, column_of_height, useful_columns
from kilnpack.search.listener import Progress

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.packing.filler import Filler
    from kilnpack.search.budget import Meter
    from kilnpack.search.listener import Listener
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


class FewImprover:
    """Large-neighbourhood search on clusters."""

    def __init__(
        self,
        clusters: Clusters,
        filler: Filler,
        rng: np.random.Generator,
        tuning: Tuning,
        *,
        most: int,
        span: tuple[float, float] = (0.0, 1.0),
    ) -> None:
        self.now = clusters
        self.best = clusters
        self.filler = filler
        self.rng = rng
        self.tuning = tuning
        self.span = span
        self.share = span[0]
        self.most = most
        self._moves: tuple[Callable[[Clusters], int], ...] = (
            self._refill_one,
            self._refill_two,
            self._hand_over,
            self._polish_one,
            self._other_column,
        )
        self.tries = [[0, 0] for _ in self._moves]

    def run(self, meter: Meter, listener: Listener) -> LoadState:
        """Spend the budget; Ctrl-C or the listener ends it early. Return the best load."""
        heard_s = -1.0
        try:
            while not meter.is_up and self.best.numbers():
                self.step(meter)
                if meter.elapsed_s - heard_s > 0.25:
                    heard_s = meter.elapsed_s
                    progress = Progress(
                        step="improving the settings", value=self.best.value, share=meter.share, elapsed_s=heard_s
                    )
                    if not listener.heard(progress):
                        break
        except KeyboardInterrupt:
            pass
        return self.best.state

    def step(self, meter: Meter) -> None:
        """Make one change and keep it or not."""
        self.share = self.span[0] + (self.span[1] - self.span[0]) * meter.share
        which = int(self.rng.choice(len(self._moves), p=(0.3, 0.25, 0.15, 0.2, 0.1)))
        trial = self.now.copy()
        meter.spend(max(self._moves[which](trial), EVALUATIONS_A_FILL))
        heat = self.tuning.heat_share * self.best.value * (1.0 - self.share) ** 2
        self.tries[which][0] += 1
        if trial.value > self.now.value - heat * float(self.rng.random()) ** 2:
            self.tries[which][1] += trial.value > self.now.value + 1e-9
            self.now = trial
        if trial.value > self.best.value + 1e-9:
            self.best = trial

    def _pick(self, clusters: Clusters) -> int:
        return int(self.rng.choice(clusters.numbers()))

    def _empty(self, clusters: Clusters, label: int) -> Filled:
        places = clusters.places(label)
        if not places:
            return EMPTY
        filled = clusters.state.stacks[places[0][0]][places[0][1]].filled
        clusters.set_all(places, EMPTY)
        return filled

    def _fill(self, clusters: Clusters, label: int, start: Filled) -> int:
        fills = self.tuning.fills
        return EVALUATIONS_A_FILL * fill_cluster(clusters, self.filler, label, fills=fills, rng=self.rng, start=start)

    def _refill_one(self, clusters: Clusters) -> int:
        label = self._pick(clusters)
        return self._fill(clusters, label, self._empty(clusters, label))

    def _refill_two(self, clusters: Clusters) -> int:
        return self._refill_both(clusters, self._pick(clusters), self._pick(clusters))

    def _refill_both(self, clusters: Clusters, first: int, second: int) -> int:
        starts = {label: self._empty(clusters, label) for label in (first, second)}
        return sum(self._fill(clusters, label, start) for label, start in starts.items())

    def _polish_one(self, clusters: Clusters) -> int:
        label = self._pick(clusters)
        places = clusters.places(label)
        common = clusters.common(places)
        if common is None or not self.tuning.polish_evaluations:
            return 0
        old = self._empty(clusters, label)
        spare = clusters.state.spare // len(places)
        better, spent = polished(
            clusters.state.problem,
            common[0],
            [int(kind) for kind in self.filler.kinds_for(*common, spare)],
            spare,
            old,
            evaluations=self.tuning.polish_at(self.share),
            seed=int(self.rng.integers(1 << 30)),
            turn_step_deg=self.tuning.turn_step_deg,
        )
        clusters.set_all(places, better)
        return spent

    def _hand_over(self, clusters: Clusters) -> int:
        """Give one tier to another cluster, or to a new one while there may be more."""
        numbers = clusters.numbers()
        places = [(s, k) for s, row in enumerate(clusters.labels) for k in range(len(row))]
        stack, at = places[int(self.rng.integers(len(places)))]
        old = clusters.labels[stack][at]
        fresh = max(numbers) + 1
        others = [label for label in numbers if label != old]
        if len(numbers) < self.most and len(clusters.places(old)) > 1:
            others.append(fresh)
        if not others:
            return 0
        new = int(self.rng.choice(others))
        clusters.state.refill(stack, at, EMPTY)
        clusters.labels[stack][at] = new
        if clusters.common(clusters.places(new)) is None:
            clusters.state.value = -np.inf
            return 0
        return self._refill_both(clusters, old, new)

    def _other_column(self, clusters: Clusters) -> int:
        """Give all tiers of a cluster other posts, where every stack has the height for them."""
        state = clusters.state
        label = self._pick(clusters)
        places = clusters.places(label)
        if any(state.stacks[stack][at].column == OPEN for stack, at in places):
            return 0
        start = self._empty(clusters, label)
        before = [state.bases_mm(stack) for stack in range(len(state.stacks))]
        for stack, at in places:
            state.remove(stack, at)
            state.insert(stack, at, TierState(OPEN))
        choice = useful_columns(state, places[0][0])
        if not choice:
            state.value = -np.inf
            return 0
        height_mm = state.problem.columns[int(self.rng.choice(choice))].height_mm
        for stack, at in places:
            state.remove(stack, at)
            column = column_of_height(state, stack, height_mm)
            if column is None:
                state.value = -np.inf
                return 0
            state.insert(stack, at, TierState(column))
        if min(state.slack_mm(stack) for stack, _ in places) < -1e-6:
            state.value = -np.inf
            return 0
        return self._settle(clusters, before) + self._fill(clusters, label, start)

    def _settle(self, clusters: Clusters, before: list[list[float]]) -> int:
        """Fill the clusters anew of which a tier may not stand at its new height."""
        state = clusters.state
        upset = set()
        for stack, tiers in enumerate(state.stacks):
            for at, (base_mm, tier) in enumerate(zip(state.bases_mm(stack), tiers, strict=False)):
                if state.room(stack, base_mm, tier.column) is None:
                    state.value = -np.inf
                    return 0
                if not state.still_stands(stack, base_mm, tier, before[stack][at]):
                    upset.add(clusters.labels[stack][at])
        return sum(self._fill(clusters, label, self._empty(clusters, label)) for label in sorted(upset))
