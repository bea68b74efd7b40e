"""Tables of the row-by-row fill: forbidden stretches between kinds in their turns, and stretches of every room.

They depend on the ware's geometry, the gap and the rooms alone, so they are kept by content: whoever packs the same
ware again, with other counts, worths or posts, finds them built.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing import span_kernel as kernel
from kilnpack.packing.covers import boundary_of
from kilnpack.packing.room_arrays import FOOT_ONLY, RoomArrays, room_arrays

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.packing.problem import Ware
    from kilnpack.shapes.primitives import Primitive, Profile
    from kilnpack.shapes.room import Room

STEP_MM = 2.0
"""Rows of a shelf are this far apart."""

PAIR_ROWS = 3_000_000
"""Rows kept of forbidden stretches between two turns; 48 MB."""

ROOM_BYTES = 150_000_000
"""Tables of rooms kept."""

ROTATIONS = 4
MANY_TURNS = 120
"""With more turns than this, rows are tried along two sides of the shelf only, to save tables."""

MOST_TWINS = 8
"""So many turns with the same axes are looked through for a pair that is known; bodies of one axis are not."""

KEPT = 2
"""Sets of tables kept for ware that was packed before."""

ROW_BYTES = 250_000_000
"""Tables kept of single kinds in single rooms, whatever other ware they are packed with."""

MOST_NUMBERS = 20_000
"""Looks and rooms known at a time; two loads of a works of 100 products have 219, of 0.6 kB each."""

Geometry = tuple[tuple[tuple["Primitive", ...], tuple["Primitive", ...], float, tuple[float, ...]], ...]


class RoomTables:
    """Spans and blocked stretches of one room in its four rotations."""

    def __init__(self, turns: int, arrays: tuple[RoomArrays, ...], number: int) -> None:
        self.arrays = arrays
        self.rows = np.array([item.rows for item in arrays], np.int64)
        most = int(self.rows.max())
        self.span = np.zeros((len(arrays), turns, most, 2), np.float32)
        self.blocked = np.zeros((len(arrays), turns, most, arrays[0].blocks.shape[0], 2), np.float32)
        self.done = np.zeros(turns, np.bool_)
        self.size = self.span.nbytes + self.blocked.nbytes
        self.number = number


class WareTables:
    """Tables of some kinds of ware. Not to be shared between threads."""

    def __init__(self, wares: Sequence[Ware]) -> None:
        self._turns(wares)
        self._rooms: OrderedDict[Room, RoomTables] = OrderedDict()
        turns = self.axes_first.shape[0] - 1
        self.starts = np.full((turns, turns), -1, np.int64)
        self.reach = np.zeros((turns, turns), np.int64)
        self.buffer = np.zeros((PAIR_ROWS, 2))
        self.used = np.zeros(1, np.int64)
        self._needs: dict[float, NDArray[np.float64]] = {}
        self._gap_mm = -1.0

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
        self.extent = np.array(extent, np.float64)
        self.turn_deg = np.array([turn for ware in wares for turn in ware.turns_deg], np.float64)
        self._twins()
        self.looks = [
            _numbers.of((self.axes[a:b].tobytes(), tuple(self._look(c) for c in classes[a:b])))
            for a, b in pairwise(first)
        ]

    def _look(self, c: int) -> tuple[Profile, float, int]:
        """Return all that a profile class is."""
        return self.class_profile[c], self.class_overhang[c], self.class_foot[c]

    def _twins(self) -> None:
        """Note for every turn some turns with the very same axes, as nested bodies of one kind have."""
        ends = zip(self.axes_first[:-1], self.axes_first[1:], strict=True)
        alike: dict[bytes, list[list[int]]] = {}
        own: list[list[int]] = []
        for turn, (start, end) in enumerate(ends):
            groups = alike.setdefault(self.axes[start:end].tobytes(), [[]])
            if len(groups[-1]) == MOST_TWINS or end - start == 1:
                groups.append([])
            groups[-1].append(turn)
            own.append(groups[-1])
        self.twins = np.array([turn for group in own for turn in group], np.int64)
        self.twin_first = np.cumsum([0, *map(len, own)]).astype(np.int64)

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

    def pair_needs(self, gap_mm: float) -> NDArray[np.float64]:
        """Return the least distances by profile class; stretches for another gap are forgotten."""
        if gap_mm not in self._needs:
            points = np.array([point for profile in self.class_profile for point in profile], np.float64)
            starts = np.cumsum([0, *(len(profile) for profile in self.class_profile)]).astype(np.int64)
            foot_only = np.array([foot == FOOT_ONLY for foot in self.class_foot], np.bool_)
            table = kernel.need_table(points, starts, foot_only, float(gap_mm))
            self._needs[gap_mm] = table
        if gap_mm != self._gap_mm:
            self._gap_mm = gap_mm
            self.forget_pairs()
        return self._needs[gap_mm]

    def forget_pairs(self) -> None:
        """Empty the table of forbidden stretches, for another gap or when it is full."""
        self.starts[:] = -1
        self.used[0] = 0

    def room(self, room: Room) -> RoomTables:
        """Return the tables of a room, whatever its height; those longest unused go when they take too much."""
        plain = replace(room, clear_height_mm=math.inf, load_limit_kg=math.inf)
        tables = self._rooms.get(plain)
        if tables is None:
            rotations = ROTATIONS if len(self.turn_deg) <= MANY_TURNS else 2
            arrays = tuple(room_arrays(plain, self, rotation, STEP_MM) for rotation in range(rotations))
            tables = self._rooms[plain] = RoomTables(
                self.axes_first.shape[0] - 1, arrays, _numbers.of((plain, rotations))
            )
            while len(self._rooms) > 1 and sum(kept.size for kept in self._rooms.values()) > ROOM_BYTES:
                self._rooms.popitem(last=False)
        else:
            self._rooms.move_to_end(plain)
        return tables

    def complete(self, tables: RoomTables, kinds: NDArray[np.int64]) -> None:
        """Fill in what is missing for these kinds."""
        for kind in kinds:
            for turn in range(self.turn_first[kind], self.turn_first[kind + 1]):
                if tables.done[turn]:
                    continue
                key = (self.looks[turn], tables.number)
                kept = _rows.get(key)
                if kept is None:
                    self._fill(tables, turn)
                    _rows.keep(key, (tables.span[:, turn].copy(), tables.blocked[:, turn].copy()))
                else:
                    tables.span[:, turn], tables.blocked[:, turn] = kept
                tables.done[turn] = True

    def _fill(self, tables: RoomTables, turn: int) -> None:
        """Work out the tables of one kind in one turn."""
        for k, a in enumerate(tables.arrays):
            kernel.room_table(
                turn, self.axes, self.axes_first, self.axes_class,
                a.kinds, a.numbers, a.plane_first, a.planes, a.insets, a.flats, a.blocks, a.block_needs,
                STEP_MM, a.y0_mm, a.rows, tables.span[k, turn], tables.blocked[k, turn],
            )  # fmt: skip


def _turned(p: Primitive, turn_deg: float) -> tuple[float, float, float, float]:
    """Return both ends of an axis, turned."""
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    ends = []
    for sign in (1.0, -1.0):
        x, y = p.x_mm + sign * p.hx_mm, p.y_mm + sign * p.hy_mm
        ends += [cos * x - sin * y, sin * x + cos * y]
    return ends[0], ends[1], ends[2], ends[3]


class _Rows:
    """Tables of kinds in rooms by what they were worked out from; those longest unused go when they take too much."""

    def __init__(self) -> None:
        self._found: OrderedDict[tuple[int, int], tuple[NDArray[np.float32], NDArray[np.float32]]] = OrderedDict()
        self._bytes = 0

    def get(self, key: tuple[int, int]) -> tuple[NDArray[np.float32], NDArray[np.float32]] | None:
        """Return spans and blocked stretches, None where they are not kept."""
        if key in self._found:
            self._found.move_to_end(key)
        return self._found.get(key)

    def keep(self, key: tuple[int, int], tables: tuple[NDArray[np.float32], NDArray[np.float32]]) -> None:
        """Keep the tables of a kind in a room."""
        self._found[key] = tables
        self._bytes += sum(table.nbytes for table in tables)
        while self._bytes > ROW_BYTES:
            _, gone = self._found.popitem(last=False)
            self._bytes -= sum(table.nbytes for table in gone)


class Numbers:
    """Numbers of things that are compared often; those longest unused are forgotten, and no number is given twice.

    A thing that comes back after it was forgotten has another number: its tables are worked out anew, and nothing else
    changes.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._found: OrderedDict[object, int] = OrderedDict()
        self._next = 0

    def __len__(self) -> int:
        return len(self._found)

    def of(self, thing: object) -> int:
        """Return the number of a thing, a new one if it is not known."""
        if thing in self._found:
            self._found.move_to_end(thing)
            return self._found[thing]
        self._found[thing] = number = self._next
        self._next += 1
        if len(self._found) > self._most:
            self._found.popitem(last=False)
        return number


_rows = _Rows()
_numbers = Numbers(MOST_NUMBERS)
"""Numbers of looks and rooms."""


_kept: OrderedDict[Geometry, WareTables] = OrderedDict()
"""Tables of this process by what they were built from."""


def tables_for(wares: Sequence[Ware]) -> WareTables:
    """Return the tables of some kinds of ware, those built before where the geometry is the same."""
    key = tuple((ware.body.primitives, ware.body.foot, ware.body.overhang_mm, ware.turns_deg) for ware in wares)
    if key not in _kept:
        _kept[key] = WareTables(wares)
        while len(_kept) > KEPT:
            _kept.popitem(last=False)
    _kept.move_to_end(key)
    return _kept[key]
