"""Plain bottom-left filling of one shelf, the measure to beat: the largest first, each as far front and left as goes.

Places are tried on a raster from the front to the back and from the left to the right, at a few angles, and a free
place is slid on to the front and the left until something is touched.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.shelf.tables import tables_for
from kilnpack.shapes.kernel.overlap import spot_energy

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.packing.shelf.tables import ShelfTables
    from kilnpack.shapes.primitives import ShelfBody
    from kilnpack.shapes.room import Room

RASTER_MM = 5.0
CLEAR_MM2 = 3.6e-4
ANGLES_DEG = (0.0, 90.0, 180.0, 270.0)


def bottom_left(room: Room, bodies: Sequence[ShelfBody]) -> list[tuple[int, float, float, float]]:
    """Return (kind, x in mm, y in mm, angle in radians) of the bodies placed."""
    tables = tables_for(room, bodies)
    most = sum(body.count for body in bodies)
    kinds = np.zeros(most + 1, dtype=np.int64)
    pose = np.zeros((most + 1, 3))
    axes = int((tables.spans[:, 1] - tables.spans[:, 0]).max())
    world, slope = np.zeros((most + 1, axes, 4)), np.zeros((most + 1, 3))
    placed = 0
    for kind in np.argsort(-tables.area):
        for _ in range(bodies[kind].count):
            kinds[placed] = kind
            if not _first_free(tables, placed, kinds, pose, world, slope):
                break
            placed += 1
    return [(int(kinds[i]), float(pose[i, 0]), float(pose[i, 1]), float(pose[i, 2])) for i in range(placed)]


def _first_free(
    tables: ShelfTables,
    i: int,
    kinds: NDArray[np.int64],
    pose: NDArray[np.float64],
    world: NDArray[np.float64],
    slope: NDArray[np.float64],
) -> bool:
    """Write the first free place of body i into its pose; False if there is none."""

    def is_free(x: float, y: float, angle: float) -> bool:
        pose[i] = (x, y, angle)
        lack = spot_energy(np.int64(i), np.int64(i), 1e9, kinds, pose, *tables.geometry(), world, slope)
        return bool(lack <= CLEAR_MM2)

    angles = ANGLES_DEG if tables.spans[kinds[i], 2] == 0 else (0.0,)
    x0, y0, x1, y1 = tables.frame
    for y in np.arange(y0, y1, RASTER_MM):
        for x in np.arange(x0, x1, RASTER_MM):
            for angle in map(math.radians, angles):
                if is_free(x, y, angle):
                    pose[i] = _slid(is_free, float(x), float(y), angle)
                    return True
    return False


def _slid(is_free, x: float, y: float, angle: float) -> tuple[float, float, float]:  # type: ignore[no-untyped-def]
    """Slide to the front, then to the left, by ever smaller steps."""
    for _ in range(2):
        for step in (RASTER_MM, 1.0, 0.2, 0.05):
            while is_free(x, y - step, angle):
                y -= step
            while is_free(x - step, y, angle):
                x -= step
    return x, y, angle
