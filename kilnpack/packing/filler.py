"""Fills shelves row by row for the whole-load search: one call a shelf, tables from `ware_tables`."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing import span_kernel as kernel
from kilnpack.packing.ware_tables import STEP_MM, tables_for

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.packing.covers import Capsule
    from kilnpack.packing.problem import LoadProblem, Ware
    from kilnpack.packing.ware_tables import RoomTables
    from kilnpack.shapes.room import Room

SEQUENCE = 24
"""Longest sequence of kinds, before all others fill what is left."""

BODIES_MOST = 160
LEVEL_MM = 1e-9

FIRST_HEAT = 0.1
"""Loss kept at first by a fill that begins from nothing, as a share of the most valuable body."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One body on a shelf: kind of ware, axis in the shelf's frame, turn."""

    ware: int
    x_mm: float
    y_mm: float
    turn_deg: float


@dataclass(frozen=True, slots=True)
class Filled:
    """A filled shelf, and the sequence that a later fill may start from."""

    value: float
    spots: tuple[Spot, ...]
    recipe: tuple[tuple[int, int], ...] = ()
    frame: tuple[int, int] = (0, 1)


EMPTY = Filled(0.0, ())


class Filler:
    """Fills shelves for one problem. Not to be shared between threads."""

    def __init__(self, problem: LoadProblem) -> None:
        self.problem = problem
        self.tables = tables_for(problem.wares)
        self._wares(problem.wares)
        self._state = np.ones(1, np.uint64)
        self._scratch(self.tables.axes_first.shape[0] - 1)
        self.fills = 0
        self._low: dict[float, int] = {}

    def _wares(self, wares: Sequence[Ware]) -> None:
        groups = len(self.problem.counts)
        self.group = np.array([ware.group for ware in wares], np.int64)
        self.pieces = np.array([ware.pieces for ware in wares], np.int64)
        self.second = np.array([-1 if ware.support is None else groups + ware.support for ware in wares], np.int64)
        self.second_use = np.array([ware.support_pieces for ware in wares], np.int64)
        self.mass = np.array([ware.body.mass_kg for ware in wares], np.float64)
        self.value = np.array([ware.body.value for ware in wares], np.float64)
        self.tall = np.array([ware.body.height_mm for ware in wares], np.float64)
        self.area = np.array([_area_mm2(ware) for ware in wares], np.float64)
        self.density = self.value / self.area

    def _scratch(self, turns: int) -> None:
        most, kinds = BODIES_MOST, len(self.problem.wares)
        self._pointers = np.zeros(turns, np.int64)
        self._spare = np.zeros(len(self.problem.counts) + len(self.problem.supports), np.int64)
        self._placed = (
            np.zeros(most, np.int64),
            np.zeros(most, np.int64),
            np.zeros(most),
            np.zeros(most, np.int64),
        )
        self._genome = np.full((2, SEQUENCE + kinds), -1, np.int64)
        self._best = (
            np.zeros((2, SEQUENCE + kinds), np.int64),
            np.zeros(3, np.int64),
            np.zeros(most, np.int64),
            np.zeros(most, np.int64),
            np.zeros(most),
            np.zeros(most, np.int64),
        )

    def low_enough(self, clear_height_mm: float) -> int:
        """Return the kinds that are low enough for a height, bit k for kind k."""
        if clear_height_mm not in self._low:
            fits = np.flatnonzero(self.tall <= clear_height_mm + LEVEL_MM)
            self._low[clear_height_mm] = sum(1 << int(k) for k in fits)
        return self._low[clear_height_mm]

    def kinds_for(self, room: Room, allowed: int, spare: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the kinds that may stand in a room and of which pieces are left, best value for room first."""
        fits = (self.tall <= room.clear_height_mm + LEVEL_MM) & (self.mass <= room.load_limit_kg)
        fits &= spare[self.group] >= self.pieces
        supported = self.second >= 0
        fits[supported] &= spare[self.second[supported]] >= self.second_use[supported]
        kinds = [int(k) for k in np.flatnonzero(fits) if allowed >> int(k) & 1]
        return np.array(sorted(kinds, key=lambda k: -self.density[k]), np.int64)

    def fill(
        self,
        room: Room,
        allowed: int,
        spare: NDArray[np.int64],
        *,
        fills: int,
        seed: int,
        start: Filled = EMPTY,
        heat_share: float = 0.02,
        worths: NDArray[np.float64] | None = None,
    ) -> Filled:
        """Fill one shelf from the pieces (and supports) that are spare; return the best of so many fills.

        `worths` stands in for the values of the wares; what is worth nothing then stays out.
        """
        kinds = self.kinds_for(room, allowed, spare)
        values = self.value if worths is None else worths
        if worths is not None:
            kinds = np.array(sorted(kinds[worths[kinds] > 0.0], key=lambda k: -worths[k] / self.area[k]), np.int64)
        if not len(kinds):
            return EMPTY
        ware = self.tables
        needs = ware.pair_needs(room.gap_mm)
        tables = ware.room(room)
        ware.complete(tables, kinds)
        known = set(kinds.tolist())
        recipe = [step for step in start.recipe if step[0] in known]
        heat = heat_share * start.value if start.value else FIRST_HEAT * float(values[kinds].max())
        for _ in range(2):  # the second time, with room for pairs, begins as the first did: no result hangs on the past
            self._state[0] = np.uint64((seed * 2654435761 + 88172645463325252) % 18446744073709551557 + 1)
            self._genome[:] = -1
            for k, (kind, quota) in enumerate(recipe[:SEQUENCE]):
                self._genome[:, k] = kind, quota
            frame = np.array([start.frame[0], start.frame[1], len(tables.arrays)], np.int64)
            value, bodies, length = kernel.climb(
                fills, heat, SEQUENCE, self._genome, frame, kinds, self._state,
                ware.turn_first, self.group, self.pieces, self.second, self.second_use,
                self.mass, values, ware.extent,
                spare, float(room.load_limit_kg), tables.rows, tables.span, tables.blocked,
                ware.axes, ware.axes_first, ware.axes_class, ware.twin_first, ware.twins, needs, STEP_MM,
                ware.starts, ware.reach, ware.buffer, ware.used,
                self._pointers, self._spare, *self._placed, *self._best,
            )  # fmt: skip
            if ware.used[0] >= 0:
                break
            ware.forget_pairs()
        self.fills += fills
        return self._read(tables, value, int(bodies), int(length))

    def _read(self, tables: RoomTables, value: float, bodies: int, length: int) -> Filled:
        genome, frame, turns, kinds, xs, rows = self._best
        rotation = int(frame[0])
        y0 = tables.arrays[rotation].y0_mm
        spots = []
        for k in range(bodies):
            x, y = float(xs[k]), y0 + int(rows[k]) * STEP_MM
            for _ in range(rotation):
                x, y = y, -x
            turn = (float(self.tables.turn_deg[turns[k]]) - 90.0 * rotation) % 360.0
            spots.append(Spot(int(kinds[k]), x, y, turn))
        recipe = tuple((int(genome[0, k]), int(genome[1, k])) for k in range(length))
        return Filled(float(value), tuple(spots), recipe, (rotation, int(frame[1])))


def _area_mm2(ware: Ware) -> float:
    """Return about how much of a shelf a body covers, seen from above."""
    return _covered_mm2(
        tuple((p.x_mm, p.y_mm, p.hx_mm, p.hy_mm, max(r for _, r in p.profile)) for p in ware.body.primitives)
    )


@lru_cache(maxsize=4096)
def _covered_mm2(capsules: tuple[Capsule, ...]) -> float:
    import shapely

    shapes = [
        shapely.LineString([(x - hx, y - hy), (x + hx, y + hy)] if hx or hy else [(x, y), (x, y)]).buffer(
            r + 3.0, quad_segs=8
        )
        for x, y, hx, hy, r in capsules
    ]
    return float(shapely.union_all(shapes).area)
