"""How large a round body could still stand on a shelf beside what stands there already."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import shapely

from kilnpack.shapes.outlines import region_polygon
from kilnpack.shapes.room import DiscKeepOut

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.geometry import Region
    from kilnpack.packing.filler import Spot
    from kilnpack.packing.problem import Ware
    from kilnpack.shapes.primitives import Primitive
    from kilnpack.shapes.room import Room

GRID_MM = 5.0
"""Points this far apart are looked at, so a place may be missed by so much, never made up."""

OUTLINES_KEPT = 64
"""Outlines of shelves whose points are kept: a works has few, and every load asks again."""

Grid = tuple["NDArray[np.float64]", "NDArray[np.float64]"]


def free_radius_mm(room: Room, shelf: ShelfType, wares: Sequence[Ware], spots: Sequence[Spot]) -> float:
    """Return the radius of the largest disc that keeps every gap on a shelf, wholly over it; 0 or less: none.

    Bodies count with their widest outline at every height, so a place under a rim is not seen.
    """
    (x, y), inside_mm = _bare(shelf.outline)
    free = inside_mm.copy()
    for spot in spots:
        for cx, cy, radius in discs_of(wares[spot.ware], spot):
            np.minimum(free, np.hypot(x - cx, y - cy) - radius - room.gap_mm, out=free)
    for post in room.posts:
        np.minimum(free, _to_box((x, y), post.x0_mm, post.y0_mm, post.x1_mm, post.y1_mm) - room.post_gap_mm, out=free)
    for keep in room.keep_outs:
        if isinstance(keep, DiscKeepOut):
            away = np.hypot(x - keep.x_mm, y - keep.y_mm) - keep.radius_mm
        else:
            away = _to_box((x, y), keep.x0_mm, keep.y0_mm, keep.x1_mm, keep.y1_mm)
        np.minimum(free, away - keep.clearance_mm, out=free)
    return float(free.max(initial=-math.inf))


@lru_cache(maxsize=OUTLINES_KEPT)
def _bare(outline: Region) -> tuple[Grid, NDArray[np.float64]]:
    """Return points over a bare shelf, and how far within its edge each lies, mm; minus infinity outside."""
    polygon = region_polygon(outline)
    left, front, right, back = polygon.bounds
    x, y = np.meshgrid(np.arange(left, right, GRID_MM), np.arange(front, back, GRID_MM))
    points = shapely.points(x, y)
    return (x, y), np.where(shapely.contains(polygon, points), shapely.distance(polygon.boundary, points), -np.inf)


def _to_box(grid: Grid, x0: float, y0: float, x1: float, y1: float) -> NDArray[np.float64]:
    x, y = grid
    dx = np.maximum(np.maximum(x0 - x, x - x1), 0.0)
    dy = np.maximum(np.maximum(y0 - y, y - y1), 0.0)
    return np.hypot(dx, dy)


def discs_of(ware: Ware, spot: Spot) -> Iterator[tuple[float, float, float]]:
    """Yield discs that cover a body where it stands: x, y and radius."""
    cos, sin = math.cos(math.radians(spot.turn_deg)), math.sin(math.radians(spot.turn_deg))
    for p in ware.body.primitives:
        radius = max(r for _, r in p.profile)
        for share, grown in _along(p, radius):
            x, y = p.x_mm + share * p.hx_mm, p.y_mm + share * p.hy_mm
            yield spot.x_mm + cos * x - sin * y, spot.y_mm + sin * x + cos * y, grown


def _along(p: Primitive, radius_mm: float) -> list[tuple[float, float]]:
    """Return where discs stand along an axis, and how large they are so that they cover all of it."""
    half = math.hypot(p.hx_mm, p.hy_mm)
    if half == 0.0:
        return [(0.0, radius_mm)]
    count = max(2, math.ceil(2 * half / max(radius_mm, 1.0)) + 1)
    grown = math.hypot(radius_mm, half / (count - 1))
    return [(-1.0 + 2.0 * k / (count - 1), grown) for k in range(count)]


def reach_mm(ware: Ware) -> float:
    """Return how far a body gets from its axis."""
    return max(p.reach_mm + max(r for _, r in p.profile) for p in ware.body.primitives)
