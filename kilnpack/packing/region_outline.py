"""Regions of the model as outlines of a room, seen from a shelf."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import shapely
from shapely.geometry import Polygon
from shapely.ops import nearest_points

from kilnpack.model.geometry import ConvexPolygon, Disc, HalfDisc, Rectangle, Region
from kilnpack.shapes.outlines import in_kiln, point_on_shelf, region_polygon
from kilnpack.shapes.room import ConvexOutline, DiscOutline, HalfDiscOutline, Limit, Outline, RectOutline

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.geometry import Point
    from kilnpack.model.kilns import StackPlace

FAR_MM = 1e4
LEAST_ARC_SIDES = 72


def outline_of(region: Region) -> Outline:
    """Return the outline of a region in its own frame."""
    if isinstance(region, Rectangle):
        return RectOutline(width_mm=region.w_mm, depth_mm=region.d_mm, x_mm=region.x_mm, y_mm=region.y_mm)
    if isinstance(region, Disc):
        return DiscOutline(radius_mm=region.r_mm, x_mm=region.x_mm, y_mm=region.y_mm)
    if isinstance(region, HalfDisc):
        return HalfDiscOutline(radius_mm=region.r_mm, x_mm=region.x_mm, y_mm=region.y_mm)
    return ConvexOutline(corners=region.corners_mm)


def seen_from_shelf(region: Region, place: StackPlace) -> Outline:
    """Return the outline of a region of the kiln in the frame of a stack's shelf; arcs lie inside the true ones."""
    if isinstance(region, Disc):
        x, y = point_on_shelf(region.x_mm, region.y_mm, place)
        return DiscOutline(radius_mm=region.r_mm, x_mm=x, y_mm=y)
    corners = _corners(region)
    moved = [point_on_shelf(x, y, place) for x, y in corners]
    xs, ys = [x for x, _ in moved], [y for _, y in moved]
    if isinstance(region, Rectangle) and place.turn_deg % 90.0 == 0.0:
        return RectOutline(width_mm=max(xs) - min(xs), depth_mm=max(ys) - min(ys), x_mm=min(xs), y_mm=min(ys))
    return ConvexOutline(corners=tuple(moved))


def _corners(region: Region) -> tuple[Point, ...]:
    if isinstance(region, Rectangle):
        x0, y0, x1, y1 = region.x_mm, region.y_mm, region.x_mm + region.w_mm, region.y_mm + region.d_mm
        return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    if isinstance(region, ConvexPolygon):
        return region.corners_mm
    if isinstance(region, HalfDisc):
        angles = [math.pi * k / LEAST_ARC_SIDES for k in range(LEAST_ARC_SIDES + 1)]
        return tuple((region.x_mm + region.r_mm * math.cos(a), region.y_mm + region.r_mm * math.sin(a)) for a in angles)
    raise TypeError(f"{type(region).__name__} has no corners")


def own_half(place: StackPlace, shelf: Region, others: list[tuple[StackPlace, Region]]) -> Limit | None:
    """Return what is nearer to a shelf than to its neighbours, split half way between the edges (rule W2)."""
    mine = in_kiln(region_polygon(shelf), place)
    ground: BaseGeometry = shapely.box(-FAR_MM, -FAR_MM, FAR_MM, FAR_MM)
    for other_place, other in others:
        theirs = in_kiln(region_polygon(other), other_place)
        ground = ground.intersection(_nearer_side(mine, theirs))
    corners = [point_on_shelf(float(x), float(y), place) for x, y in shapely.get_coordinates(ground)[:-1]]
    ring = Polygon(corners)
    if not ring.exterior.is_ccw:
        corners.reverse()
    return Limit(outline=ConvexOutline(corners=tuple(corners))) if others else None


def _nearer_side(mine: BaseGeometry, theirs: BaseGeometry) -> BaseGeometry:
    a, b = nearest_points(mine, theirs)
    dx, dy = b.x - a.x, b.y - a.y
    length = math.hypot(dx, dy)
    if length == 0.0:
        return shapely.box(-FAR_MM, -FAR_MM, FAR_MM, FAR_MM)
    ux, uy = dx / length, dy / length
    mx, my = (a.x + b.x) / 2, (a.y + b.y) / 2
    reach = 3 * FAR_MM
    return Polygon(
        [
            (mx - uy * reach, my + ux * reach),
            (mx + uy * reach, my - ux * reach),
            (mx + uy * reach - ux * 2 * reach, my - ux * reach - uy * 2 * reach),
            (mx - uy * reach - ux * 2 * reach, my + ux * reach - uy * 2 * reach),
        ]
    )
