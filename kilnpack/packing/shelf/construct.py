"""Quick settings to begin from: bottom-left, lattices of equal rounds, and rows.

Each is clear when it is made, in hundredths of a second, and the search never gives back less than the best of them.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.shapes.kernel.places import fill_points, first_free

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from kilnpack.packing.shelf.tables import ShelfTables
    from kilnpack.packing.shelf.work import Demand

Places = list[tuple[int, float, float, float]]

RASTER_MM = 5.0
QUARTER_TURNS = 4
LATTICE_SHIFTS = (0.0, 0.25, 0.5, 0.75)
"""Shifts of a lattice along either side, in pitches."""

MOST_LATTICE_KINDS = 3
"""Lattices are laid for so many round kinds, the most valuable for their area first."""


class Builder:
    """Puts bodies on an empty shelf one after another, keeping counts, masses and distances.

    Parameters
    ----------
    tables
        Geometry of room and bodies.
    demand
        What may stand on the shelf.
    """

    def __init__(self, tables: ShelfTables, demand: Demand) -> None:
        self.tables = tables
        self.demand = demand
        most = int(min(demand.count.sum(), 400)) + 2
        axes = int((tables.spans[:, 1] - tables.spans[:, 0]).max())
        self.kinds = np.zeros(most, dtype=np.int64)
        self.pose = np.zeros((most, 3))
        self.world = np.zeros((most, axes, 4))
        self.slope = np.zeros((most, 3))
        self.used = np.zeros(len(demand.count), dtype=np.int64)
        self.placed = 0
        self.mass_kg = 0.0

    def room_for(self, kind: int) -> int:
        """Return how many more of a kind stock, load limit and arrays allow."""
        mass_kg = float(self.demand.mass_kg[kind])
        left = int(self.demand.count[kind] - self.used[kind])
        if mass_kg > 0 and math.isfinite(self.demand.load_limit_kg):
            left = min(left, int((self.demand.load_limit_kg - self.mass_kg) / mass_kg + 1e-9))
        return max(0, min(left, len(self.kinds) - 2 - self.placed))

    def put(self, kind: int, begin: int, low_mm: float, high_mm: float) -> int:
        """Put one body on the first free raster place between two depths; return the place's number or -1."""
        self.kinds[self.placed] = kind
        place = first_free(
            np.int64(self.placed), np.int64(begin), RASTER_MM, float(low_mm), float(high_mm), self._angles(kind),
            self.tables.frame, self.kinds, self.pose, *self.tables.geometry(), self.world, self.slope,
        )  # fmt: skip
        if place >= 0:
            self._count(kind, 1)
        return int(place)

    def put_on(self, points: NDArray[np.float64], kind: int) -> None:
        """Put bodies of a kind on all points that are free."""
        before = self.placed
        after = fill_points(
            points, np.int64(kind), np.int64(self.room_for(kind)), np.int64(before), self.kinds, self.pose,
            *self.tables.geometry(), self.world, self.slope,
        )  # fmt: skip
        self._count(kind, int(after) - before)

    def fill(self, order: Sequence[int]) -> None:
        """Put bodies bottom-left, kind after kind, those that have to be placed first."""
        must = np.maximum(self.demand.must - self.used, 0)
        for wanted in (must, self.demand.count):
            for kind in order:
                begin, asked = 0, int(wanted[kind])
                while begin >= 0 and self.room_for(kind) > 0 and self.used[kind] < asked:
                    begin = self.put(kind, begin, self.tables.frame[1], self.tables.frame[3])

    def places(self) -> Places:
        """Return what stands: kind, x in mm, y in mm, angle in radians."""
        n = self.placed
        return [
            (int(k), float(p[0]), float(p[1]), float(p[2])) for k, p in zip(self.kinds[:n], self.pose, strict=False)
        ]

    def rank(self) -> float:
        """Return the worth of what stands; bodies that have to be placed count more than all others together."""
        whole = 2.0 * float((self.demand.value * self.demand.count).sum()) + 1.0
        must = whole * float(np.minimum(self.used, self.demand.must).sum())
        return float(self.demand.value @ self.used) + must

    def _angles(self, kind: int) -> NDArray[np.float64]:
        if self.tables.spans[kind, 2]:
            return np.zeros(1)
        angles = np.arange(QUARTER_TURNS) * math.pi / 2
        step = self.tables.turn[kind]
        return angles if step == 0.0 else np.unique(np.round(angles / step) * step)

    def _count(self, kind: int, bodies: int) -> None:
        self.used[kind] += bodies
        self.placed += bodies
        self.mass_kg += bodies * float(self.demand.mass_kg[kind])


def bottom_left(tables: ShelfTables, demand: Demand) -> Places:
    """Return the setting of plain bottom-left: large bodies first, each as far front, then as far left as goes."""
    builder = Builder(tables, demand)
    builder.fill([int(k) for k in np.argsort(-tables.area, kind="stable")])
    return builder.places()


def quick_setting(tables: ShelfTables, demand: Demand) -> Places:
    """Return the best of the quick constructors: bottom-left in two orders, and lattices of equal rounds."""
    best: Places = []
    best_rank = -1.0
    for builder in _attempts(tables, demand):
        if builder.rank() > best_rank:
            best, best_rank = builder.places(), builder.rank()
    return best


def _attempts(tables: ShelfTables, demand: Demand) -> Iterator[Builder]:
    large_first = [int(k) for k in np.argsort(-tables.area, kind="stable")]
    dear_first = [int(k) for k in np.argsort(-demand.value / tables.area, kind="stable")]
    orders = [large_first] if dear_first == large_first else [large_first, dear_first]
    for order in orders:
        builder = Builder(tables, demand)
        builder.fill(order)
        yield builder
    rounds = [k for k in dear_first if tables.spans[k, 2] and demand.count[k] > 1]
    for kind in rounds[:MOST_LATTICE_KINDS]:
        points = max(lattices(tables, kind), key=lambda each: _held(tables, demand, each, kind))
        builder = Builder(tables, demand)
        builder.put_on(points, kind)
        builder.fill(large_first)
        yield builder


def _held(tables: ShelfTables, demand: Demand, points: NDArray[np.float64], kind: int) -> int:
    builder = Builder(tables, demand)
    builder.put_on(points, kind)
    return builder.placed


def lattices(tables: ShelfTables, kind: int) -> Iterator[NDArray[np.float64]]:
    """Yield lattices of points for the round bodies of one kind: squares, and triangles along either side.

    Each is laid as close as the bodies stand, and stretched across so that the last touches the far edge.
    """
    first, last = tables.spans[kind, :2]
    pitch = float(tables.need[first:last, first:last].max()) + 1e-6
    insets = [*tables.plane_in[first:last].ravel(), *tables.ring_in[first:last].ravel()]
    edge = float(max(insets)) + 1e-6
    x0, y0, x1, y1 = (float(v) for v in tables.frame)
    for is_turned in (False, True):
        wide, deep = (y1 - y0, x1 - x0) if is_turned else (x1 - x0, y1 - y0)
        fits = max(1, int((wide - 2 * edge) / pitch + 1e-9))
        stretched = max(pitch, (wide - 2 * edge) / fits)
        for across in dict.fromkeys((pitch, stretched)):
            for is_square in (False, True):
                up = pitch if is_square else math.sqrt(max(pitch**2 - across**2 / 4, (pitch / 2) ** 2))
                skew = 0.0 if is_square else 0.5
                for shift_x in LATTICE_SHIFTS:
                    for shift_y in LATTICE_SHIFTS:
                        grid = _grid(wide, deep, across, up, (skew, shift_x, shift_y), edge)
                        u, v = (1, 0) if is_turned else (0, 1)
                        yield np.stack([x0 + grid[:, u], y0 + grid[:, v], np.zeros(len(grid))], axis=1)


def _grid(
    wide: float, deep: float, across: float, up: float, shifts: tuple[float, float, float], edge: float
) -> NDArray[np.float64]:
    skew, shift_x, shift_y = shifts
    rows = np.arange(int(deep / up) + 2)
    columns = np.arange(-1, int(wide / across) + 2)
    v, k = (grid.ravel() for grid in np.meshgrid(rows, columns, indexing="ij"))
    x = edge + across * (k + shift_x + skew * (v % 2))
    return np.stack([x, edge + up * (v + shift_y)], axis=1)


def in_rows(tables: ShelfTables, demand: Demand) -> Places:
    """Return a setting in straight rows: each body on a line that is there, else on a new one as far front as goes."""
    builder = Builder(tables, demand)
    lines: list[float] = []
    for kind in (int(k) for k in np.argsort(-tables.area, kind="stable")):
        while builder.room_for(kind) > 0:
            if any(builder.put(kind, 0, line, line) >= 0 for line in lines):
                continue
            if builder.put(kind, 0, tables.frame[1], tables.frame[3]) < 0:
                break
            lines.append(float(builder.pose[builder.placed - 1, 1]))
    return builder.places()
