"""Fills shelves row by row for the whole-load search: tables kept by room, one call a shelf."""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing import span_kernel as kernel
from kilnpack.packing.covers import boundary_of
from kilnpack.packing.room_arrays import FOOT_ONLY, RoomArrays, room_arrays

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.packing.problem import LoadProblem, Ware
    from kilnpack.shapes.primitives import Primitive, Profile
    from kilnpack.shapes.room import Room

STEP_MM = 2.0
"""Rows of a shelf are this far apart."""

PAIR_ROWS = 3_000_000
"""Rows kept of forbidden stretches between two turns; 48 MB."""

SEQUENCE = 24
"""Longest sequence of kinds, before all others fill what is left."""

BODIES_MOST = 160
LEVEL_MM = 1e-9
ROOM_BYTES = 150_000_000
"""Tables of rooms kept."""

ROTATIONS = 4
MANY_TURNS = 120
"""With more turns than this, rows are tried along two sides of the shelf only, to save tables."""

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


class _RoomTables:
    """Spans and blocked stretches of one room in its four rotations."""

    def __init__(self, turns: int, arrays: tuple[RoomArrays, ...]) -> None:
        self.arrays = arrays
        self.rows = np.array([item.rows for item in arrays], np.int64)
        most = int(self.rows.max())
        self.span = np.zeros((len(arrays), turns, most, 2), np.float32)
        self.blocked = np.zeros((len(arrays), turns, most, arrays[0].blocks.shape[0], 2), np.float32)
        self.done = np.zeros(turns, np.bool_)
        self.size = self.span.nbytes + self.blocked.nbytes


class Filler:
    """Fills shelves for one problem. Not to be shared between threads."""

    def __init__(self, problem: LoadProblem) -> None:
        self.problem = problem
        wares = problem.wares
        self._turns(wares)
        self._wares(wares)
        self._rooms: OrderedDict[Room, _RoomTables] = OrderedDict()
        self._state = np.ones(1, np.uint64)
        turns = self.axes_first.shape[0] - 1
        self._starts = np.full((turns, turns), -1, np.int64)
        self._reach = np.zeros((turns, turns), np.int64)
        self._buffer = np.zeros((PAIR_ROWS, 2))
        self._used = np.zeros(1, np.int64)
        self._needs: dict[float, NDArray[np.float64]] = {}
        self._gap_mm = -1.0
        self._scratch(turns)
        self.fills = 0
        self._low: dict[float, int] = {}

    def _turns(self, wares: Sequence[Ware]) -> None:
        axes: list[tuple[float, float, float, float]] = []
        classes: list[int] = []
        first, turn_first, extent = [0], [0], []
        self.class_overhang: list[float] = []
        self.class_profile: list[Profile] = []
        self.class_foot: list[int] = []
        keys: dict[tuple[Profile, float, int], int] = {}
        for ware in wares:
            prims = [(p, 1 if ware.body.foot else 0) for p in boundary_of(ware.body.primitives)]
            prims += [(p, FOOT_ONLY) for p in ware.body.foot]
            for turn_deg in ware.turns_deg:
                ends = [_turned(p, turn_deg) for p, _ in prims]
                axes += ends
                classes += [self._class(keys, p.profile, ware.body.overhang_mm, foot) for p, foot in prims]
                tops = [
                    max(y1, y2) + max(r for _, r in p.profile)
                    for (_, y1, _, y2), (p, _) in zip(ends, prims, strict=True)
                ]
                extent.append(max(tops))
                first.append(len(axes))
            turn_first.append(len(first) - 1)
        self.axes = np.array(axes, np.float64).reshape(len(axes), 4)
        self.axes_class = np.array(classes, np.int64)
        self.axes_first = np.array(first, np.int64)
        self.turn_first = np.array(turn_first, np.int64)
        self.extent = np.array(extent)
        self.turn_deg = np.array([turn for ware in wares for turn in ware.turns_deg])

    def _class(
        self, keys: dict[tuple[Profile, float, int], int], profile: Profile, overhang_mm: float, foot: int
    ) -> int:
        """Return the number of a profile class, a new one if it was never seen."""
        key = (profile, overhang_mm, foot)
        if key not in keys:
            keys[key] = len(keys)
            self.class_profile.append(profile)
            self.class_overhang.append(overhang_mm)
            self.class_foot.append(foot)
        return keys[key]

    def _wares(self, wares: Sequence[Ware]) -> None:
        groups = len(self.problem.counts)
        self.group = np.array([ware.group for ware in wares], np.int64)
        self.pieces = np.array([ware.pieces for ware in wares], np.int64)
        self.second = np.array([-1 if ware.support is None else groups + ware.support for ware in wares], np.int64)
        self.second_use = np.array([ware.support_pieces for ware in wares], np.int64)
        self.mass = np.array([ware.body.mass_kg for ware in wares])
        self.value = np.array([ware.body.value for ware in wares])
        self.tall = np.array([ware.body.height_mm for ware in wares])
        area = np.array([_area_mm2(ware) for ware in wares])
        self.density = self.value / area

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

    def _pair_needs(self, gap_mm: float) -> NDArray[np.float64]:
        if gap_mm not in self._needs:
            points = np.array([point for profile in self.class_profile for point in profile], np.float64)
            starts = np.cumsum([0, *(len(profile) for profile in self.class_profile)]).astype(np.int64)
            foot_only = np.array([foot == FOOT_ONLY for foot in self.class_foot], np.bool_)
            table = kernel.need_table(points, starts, foot_only, gap_mm)
            self._needs[gap_mm] = table
        if gap_mm != self._gap_mm:
            self._gap_mm = gap_mm
            self._forget_pairs()
        return self._needs[gap_mm]

    def _forget_pairs(self) -> None:
        self._starts[:] = -1
        self._used[0] = 0

    def _tables(self, room: Room) -> _RoomTables:
        plain = replace(room, clear_height_mm=math.inf, load_limit_kg=math.inf)
        tables = self._rooms.get(plain)
        if tables is None:
            rotations = ROTATIONS if len(self.turn_deg) <= MANY_TURNS else 2
            arrays = tuple(room_arrays(plain, self, rotation, STEP_MM) for rotation in range(rotations))
            tables = self._rooms[plain] = _RoomTables(self.axes_first.shape[0] - 1, arrays)
            while len(self._rooms) > 1 and sum(kept.size for kept in self._rooms.values()) > ROOM_BYTES:
                self._rooms.popitem(last=False)
        else:
            self._rooms.move_to_end(plain)
        return tables

    def _complete(self, tables: _RoomTables, kinds: NDArray[np.int64]) -> None:
        for kind in kinds:
            for turn in range(self.turn_first[kind], self.turn_first[kind + 1]):
                if tables.done[turn]:
                    continue
                tables.done[turn] = True
                for k, a in enumerate(tables.arrays):
                    kernel.room_table(
                        turn, self.axes, self.axes_first, self.axes_class,
                        a.kinds, a.numbers, a.plane_first, a.planes, a.insets, a.flats, a.blocks, a.block_needs,
                        STEP_MM, a.y0_mm, a.rows, tables.span[k, turn], tables.blocked[k, turn],
                    )  # fmt: skip

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
    ) -> Filled:
        """Fill one shelf from the pieces (and supports) that are spare; return the best of so many fills."""
        kinds = self.kinds_for(room, allowed, spare)
        if not len(kinds):
            return EMPTY
        needs = self._pair_needs(room.gap_mm)
        tables = self._tables(room)
        self._complete(tables, kinds)
        self._state[0] = np.uint64((seed * 2654435761 + 88172645463325252) % 18446744073709551557 + 1)
        known = set(kinds.tolist())
        recipe = [step for step in start.recipe if step[0] in known]
        self._genome[:] = -1
        for k, (kind, quota) in enumerate(recipe[:SEQUENCE]):
            self._genome[:, k] = kind, quota
        frame = np.array([start.frame[0], start.frame[1], len(tables.arrays)], np.int64)
        heat = heat_share * start.value if start.value else FIRST_HEAT * float(self.value[kinds].max())
        for _ in range(2):
            value, bodies, length = kernel.climb(
                fills, heat, SEQUENCE, self._genome, frame, kinds, self._state,
                self.turn_first, self.group, self.pieces, self.second, self.second_use,
                self.mass, self.value, self.extent,
                spare, room.load_limit_kg, tables.rows, tables.span, tables.blocked,
                self.axes, self.axes_first, self.axes_class, needs, STEP_MM, self._starts, self._reach,
                self._buffer, self._used, self._pointers, self._spare, *self._placed, *self._best,
            )  # fmt: skip
            if self._used[0] >= 0:
                break
            self._forget_pairs()
        self.fills += fills
        return self._read(tables, value, int(bodies), int(length))

    def _read(self, tables: _RoomTables, value: float, bodies: int, length: int) -> Filled:
        genome, frame, turns, kinds, xs, rows = self._best
        rotation = int(frame[0])
        y0 = tables.arrays[rotation].y0_mm
        spots = []
        for k in range(bodies):
            x, y = float(xs[k]), y0 + int(rows[k]) * STEP_MM
            for _ in range(rotation):
                x, y = y, -x
            turn = (float(self.turn_deg[turns[k]]) - 90.0 * rotation) % 360.0
            spots.append(Spot(int(kinds[k]), x, y, turn))
        recipe = tuple((int(genome[0, k]), int(genome[1, k])) for k in range(length))
        return Filled(float(value), tuple(spots), recipe, (rotation, int(frame[1])))


def _turned(p: Primitive, turn_deg: float) -> tuple[float, float, float, float]:
    """Return both ends of an axis, turned."""
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    ends = []
    for sign in (1.0, -1.0):
        x, y = p.x_mm + sign * p.hx_mm, p.y_mm + sign * p.hy_mm
        ends += [cos * x - sin * y, sin * x + cos * y]
    return ends[0], ends[1], ends[2], ends[3]


def _area_mm2(ware: Ware) -> float:
    """Return about how much of a shelf a body covers, seen from above."""
    import shapely

    shapes = [
        shapely.LineString(
            [(p.x_mm - p.hx_mm, p.y_mm - p.hy_mm), (p.x_mm + p.hx_mm, p.y_mm + p.hy_mm)]
            if p.hx_mm or p.hy_mm
            else [(p.x_mm, p.y_mm), (p.x_mm, p.y_mm)]
        ).buffer(max(r for _, r in p.profile) + 3.0, quad_segs=8)
        for p in ware.body.primitives
    ]
    return float(shapely.union_all(shapes).area)
