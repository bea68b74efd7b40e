"""Improve a load of few different settings: clusters of tiers (see `clusters`) are changed like single tiers.

They are filled anew, alone or by twos, hand a tier from one to another, and change their column of posts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.clusters import fill_cluster
from kilnpack.packing.filler import EMPTY
from kilnpack.packing.polish import polished
from kilnpack.packing.state import OPEN, TierState, column_of_height, useful_columns
from kilnpack.packing.walk import EVALUATIONS_A_FILL, Walk

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.packing.clusters import Clusters
    from kilnpack.packing.filler import Filled, Filler
    from kilnpack.packing.state import LoadState
    from kilnpack.packing.walk import Tuning
    from kilnpack.search.budget import Meter
    from kilnpack.search.listener import Listener

WEIGHTS = (0.3, 0.25, 0.15, 0.2, 0.1)


class FewImprover(Walk["Clusters"]):
    """Large-neighbourhood search on clusters."""

    step_name = "improving the settings"

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
        super().__init__(clusters, rng, tuning, WEIGHTS, span)
        self.filler = filler
        self.most = most

    @property
    def moves(self) -> tuple[Callable[[Clusters], int], ...]:
        """The changes to clusters."""
        return self._refill_one, self._refill_two, self._hand_over, self._polish_one, self._other_column

    def run(self, meter: Meter, listener: Listener) -> LoadState:
        """Spend the budget; Ctrl-C or the listener ends it early. Return the best load."""
        if self.best.numbers():
            self.walk(meter, listener)
        return self.best.state

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
