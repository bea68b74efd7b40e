"""Outlines and regions as shapely geometry, and the move from a shelf's own frame into the kiln.

Arcs become many-sided polygons inscribed in the true circle; with `SIDES` corners to the full circle the error of a
300 mm radius is 0.011 mm, under the checker's tolerance.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import shapely
from shapely import affinity
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon, box

from kilnpack.model.geometry import Disc, HalfDisc, Outline, Point, Rectangle, Region, RoundedPolygon

if TYPE_CHECKING:
    from collections.abc import Iterable

    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.kilns import StackPlace

SIDES = 360
QUADRANT = SIDES // 4


def disc_polygon(x_mm: float, y_mm: float, r_mm: float) -> BaseGeometry:
    """Return a disc as a polygon of `SIDES` corners."""
    return ShapelyPoint(x_mm, y_mm).buffer(r_mm, quad_segs=QUADRANT)


def outline_polygon(outline: Outline) -> BaseGeometry:
    """Return the union of an outline's members as shapely geometry, mm."""
    return shapely.union_all([_member(member) for member in outline])


def _member(member: Disc | RoundedPolygon) -> BaseGeometry:
    if isinstance(member, Disc):
        return disc_polygon(member.x_mm, member.y_mm, member.r_mm)
    core = shapely.MultiPoint(member.corners_mm).convex_hull
    return core.buffer(member.round_mm, quad_segs=QUADRANT) if member.round_mm > 0 else core


@lru_cache(maxsize=1024)
def region_polygon(region: Region) -> BaseGeometry:
    """Return a shelf's or chamber's outline as shapely geometry in its own frame, mm."""
    if isinstance(region, Rectangle):
        return box(region.x_mm, region.y_mm, region.x_mm + region.w_mm, region.y_mm + region.d_mm)
    if isinstance(region, Disc):
        return disc_polygon(region.x_mm, region.y_mm, region.r_mm)
    if isinstance(region, HalfDisc):
        steps = [math.pi * k / (SIDES // 2) for k in range(SIDES // 2 + 1)]
        arc = [(region.x_mm + region.r_mm * math.cos(a), region.y_mm + region.r_mm * math.sin(a)) for a in steps]
        return Polygon(arc)
    return Polygon(region.corners_mm)


def square(x_mm: float, y_mm: float, side_mm: float) -> BaseGeometry:
    """Return an upright square round a centre: the section of a post."""
    half = side_mm / 2
    return box(x_mm - half, y_mm - half, x_mm + half, y_mm + half)


def in_kiln(geometry: BaseGeometry, place: StackPlace) -> BaseGeometry:
    """Move geometry from the frame of a stack's shelf into the kiln frame."""
    turned = affinity.rotate(geometry, place.turn_deg, origin=(0, 0))
    return affinity.translate(turned, place.x_mm, place.y_mm)


def point_in_kiln(x_mm: float, y_mm: float, place: StackPlace) -> Point:
    """Move a point from the frame of a stack's shelf into the kiln frame."""
    turn = math.radians(place.turn_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    return (place.x_mm + x_mm * cos - y_mm * sin, place.y_mm + x_mm * sin + y_mm * cos)


def point_on_shelf(x_mm: float, y_mm: float, place: StackPlace) -> Point:
    """Move a point from the kiln frame into the frame of a stack's shelf."""
    turn = math.radians(-place.turn_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    dx, dy = x_mm - place.x_mm, y_mm - place.y_mm
    return (dx * cos - dy * sin, dx * sin + dy * cos)


def placed(outline: Outline, x_mm: float, y_mm: float, turn_deg: float) -> BaseGeometry:
    """Return an outline turned about its own axis and then moved to (x, y)."""
    turned = affinity.rotate(outline_polygon(outline), turn_deg, origin=(0, 0))
    return affinity.translate(turned, x_mm, y_mm)


def bounds_mm(geometries: Iterable[BaseGeometry]) -> tuple[float, float, float, float]:
    """Return the bounding box of many geometries: left, front, right, back."""
    left, front, right, back = shapely.total_bounds([*geometries])
    return float(left), float(front), float(right), float(back)
