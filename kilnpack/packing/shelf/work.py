"""State of one search: the arrays a kernel works on, and the chunks it is fed in."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.shelf.tables import FROZEN_ARM_MM
from kilnpack.shapes.kernel.descent import SCRATCH_ROWS
from kilnpack.shapes.kernel.press import ANY, press
from kilnpack.shapes.kernel.search import TALLY, search

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.packing.shelf.tables import ShelfTables

CHUNK = 1000
"""Evaluations between two looks at clock and cancel, about 3 ms."""

ENOUGH_MM2 = 3.6e-4
"""Squared overlap that counts as clear; its root is less than the margin in every distance."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Demand:
    """What may stand on the shelf: arrays over the kinds of body.

    Attributes
    ----------
    count, must
        Bodies at hand and bodies that have to be placed.
    value, mass_kg
        Of one body.
    load_limit_kg
        Of all bodies together.
    """

    count: NDArray[np.int64]
    must: NDArray[np.int64]
    value: NDArray[np.float64]
    mass_kg: NDArray[np.float64]
    load_limit_kg: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How a search spends its evaluations.

    Attributes
    ----------
    spots
        Places tried for a body that comes in.
    patience
        Most evaluations for one move.
    tight_share
        How much fuller than ever before a move may make the shelf, as a share of it, before it is seldom tried.
    """

    spots: int = 24
    patience: int = 80
    tight_share: float = 0.015


class ShelfWork:
    """One search on one shelf: its setting in hand, its best, and its random state.

    Parameters
    ----------
    tables
        Geometry of room and bodies.
    demand
        What may stand on the shelf.
    seed
        Start of the random numbers; the same seed and the same chunks give the same setting.
    """

    def __init__(self, tables: ShelfTables, demand: Demand, *, seed: int, effort: Effort | None = None) -> None:
        self.tables = tables
        self.demand = demand
        self.effort = effort or Effort()
        most = int(max(4, min(demand.count.sum(), 400)))
        axes = int((tables.spans[:, 1] - tables.spans[:, 0]).max())
        self.world = np.zeros((most + 4, axes, 4))
        self.scratch = np.zeros((SCRATCH_ROWS + 4, most + 8, 3))
        self.kinds = np.zeros(most + 4, dtype=np.int64)
        self.pose = np.zeros((most, 3))
        self.best_kinds = np.zeros((3, most + 4), dtype=np.int64)
        self.best_pose = np.zeros((most, 3))
        self.used = np.zeros(len(demand.count), dtype=np.int64)
        self.tally = np.zeros(TALLY, dtype=np.int64)
        self.tally[5] = (seed * 2654435761 + 88172645463325252) % 4294967291 + 1
        self.tight_mm2 = self.effort.tight_share * tables.room_mm2
        self.scratch[-2, 0, 2] = 0.5 * tables.room_mm2
        self.far_mm2 = float(np.mean(tables.arm % FROZEN_ARM_MM) ** 2)
        self.must_value = 2.0 * float((demand.value * demand.count).sum()) + 1.0

    @property
    def evaluations(self) -> int:
        """Evaluations spent so far."""
        return int(self.tally[0])

    @property
    def value(self) -> float:
        """Value of the best setting so far, without what must-pieces add in the search."""
        kinds = self.best_kinds[0, : self.tally[2]]
        return float(self.demand.value[kinds].sum())

    @property
    def rank(self) -> tuple[float, int]:
        """Order of settings: what the search counted, must-pieces first; then fewer bodies."""
        return float(self.scratch[-2, 0, 1]), -int(self.tally[2])

    def run(self, evaluations: int, *, heat: float) -> None:
        """Spend about this many evaluations at one temperature, in units of value."""
        demand, tables, effort = self.demand, self.tables, self.effort
        search(
            np.int64(evaluations), float(heat), self.tight_mm2, np.int64(effort.spots), np.int64(effort.patience),
            ENOUGH_MM2, self.far_mm2, tables.frame, float(demand.load_limit_kg), self.must_value, demand.count,
            demand.must, demand.value, demand.mass_kg, tables.area, tables.turn, tables.arm, *tables.geometry(),
            self.world, self.scratch, self.kinds, self.pose, self.best_kinds, self.best_pose, self.used, self.tally,
        )  # fmt: skip

    def best(self) -> list[tuple[int, float, float, float]]:
        """Return the best setting: kind, x in mm, y in mm, angle in radians."""
        best = []
        for i in range(int(self.tally[2])):
            x_mm, y_mm, angle = (float(v) for v in self.best_pose[i])
            best.append((int(self.best_kinds[0, i]), x_mm, y_mm, angle))
        return best

    def press(self, evaluations: int, *, heat_share: float, width: float) -> None:
        """Spend about this many evaluations on targets worth up to `width` more than the best.

        Parameters
        ----------
        heat_share
            Annealing temperature of the squared overlap, in units of the square of a usual body's size.
        """
        demand, tables, effort = self.demand, self.tables, self.effort
        press(
            np.int64(evaluations), heat_share * self.far_mm2, float(width), np.int64(effort.spots),
            np.int64(effort.patience), ENOUGH_MM2, tables.frame, float(demand.load_limit_kg), self.must_value,
            demand.count, demand.must, demand.value, demand.mass_kg, tables.turn, tables.arm, *tables.geometry(),
            self.world, self.scratch, self.kinds, self.pose, self.best_kinds, self.best_pose, self.used, self.tally,
        )  # fmt: skip

    def learn(self, places: Sequence[tuple[int, float, float, float]], worth: float) -> None:
        """Take over a clear setting as the best, as the search counts worth, and leave the one in hand as it is."""
        self.scratch[-2, 0, 1] = worth
        self.tally[2] = len(places)
        for i, (kind, x_mm, y_mm, angle) in enumerate(places):
            self.best_kinds[0, i] = kind
            self.best_pose[i] = (x_mm, y_mm, angle)

    def counts(self) -> tuple[int, ...]:
        """Return how many bodies of each kind the best setting holds."""
        kinds = self.best_kinds[0, : self.tally[2]]
        return tuple(int(n) for n in np.bincount(kinds, minlength=len(self.demand.count)))

    def in_hand(self) -> tuple[tuple[int, ...], tuple[tuple[int, float, float, float], ...]]:
        """Return the counts and places of the setting in hand."""
        places = []
        for i in range(int(self.tally[1])):
            x_mm, y_mm, angle = (float(v) for v in self.pose[i])
            places.append((int(self.kinds[i]), x_mm, y_mm, angle))
        return tuple(int(n) for n in self.used), tuple(places)

    def start_from(self, places: Sequence[tuple[int, float, float, float]]) -> None:
        """Take up a setting known to be clear as the one in hand, and as the best if it is."""
        self.used[:] = 0
        for i, (kind, x_mm, y_mm, angle) in enumerate(places):
            self.kinds[i] = kind
            self.pose[i] = (x_mm, y_mm, angle)
            self.used[kind] += 1
        self.tally[1] = len(places)
        self.scratch[-2, 1, 0] = 0.0
        demand = self.demand
        worth = float(demand.value @ self.used + self.must_value * np.minimum(self.used, demand.must).sum())
        if worth > self.scratch[-2, 0, 1]:
            self.scratch[-2, 0, 2] = max(self.scratch[-2, 0, 2], float(self.tables.area @ self.used))
            self.learn(places, worth)

    def press_all(self, places: Sequence[tuple[int, float, float, float]]) -> None:
        """Take up every body at places that may overlap, as the one target to press."""
        self.used[:] = 0
        for i, (kind, x_mm, y_mm, angle) in enumerate(places):
            self.kinds[i] = kind
            self.pose[i] = (x_mm, y_mm, angle)
            self.used[kind] += 1
        self.tally[1] = len(places)
        demand = self.demand
        worth = float(demand.value @ self.used + self.must_value * np.minimum(self.used, demand.must).sum())
        self.scratch[-2, 0, 1] = 0.999 * worth
        self.scratch[-2, 1, 0] = ANY
