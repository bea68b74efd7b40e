"""Settings measured with shapely, from profiles and axes, in a way the engine does not share."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from shapely.geometry import LineString, Point, Polygon, box

from kilnpack.shapes.primitives import radius_at
from kilnpack.shapes.room import ConvexOutline, DiscOutline, HalfDiscOutline, RectOutline

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from kilnpack.packing.shelf.setting import Placement
    from kilnpack.shapes.primitives import Primitive, ShelfBody
    from kilnpack.shapes.room import Outline, Room


def region(outline: Outline) -> BaseGeometry:
    """Return an outline as a polygon; arcs have 1,440 sides."""
    if isinstance(outline, RectOutline):
        x, y = outline.x_mm, outline.y_mm
        return box(x, y, x + outline.width_mm, y + outline.depth_mm)
    if isinstance(outline, ConvexOutline):
        return Polygon(outline.corners)
    disc = Point(outline.x_mm, outline.y_mm).buffer(outline.radius_mm, quad_segs=360)
    if isinstance(outline, DiscOutline):
        return disc
    assert isinstance(outline, HalfDiscOutline)
    r = outline.radius_mm
    return disc.intersection(box(outline.x_mm - r, outline.y_mm, outline.x_mm + r, outline.y_mm + r))


def axis(p: Primitive, place: Placement) -> BaseGeometry:
    """Return where the axis of a primitive stands."""
    turn = math.radians(place.turn_deg)
    ends = []
    for sign in (-1, 1):
        x, y = p.x_mm + sign * p.hx_mm, p.y_mm + sign * p.hy_mm
        ends.append(
            (
                place.x_mm + x * math.cos(turn) - y * math.sin(turn),
                place.y_mm + x * math.sin(turn) + y * math.cos(turn),
            )
        )
    return Point(ends[0]) if math.dist(*ends) < 1e-12 else LineString(ends)


def levels(first: Primitive, second: Primitive) -> list[float]:
    """Return the heights at which the sum of two radii may be greatest."""
    return sorted({z for z, _ in first.profile + second.profile})


def worst_gap_lack(room: Room, bodies: Sequence[ShelfBody], places: Sequence[Placement]) -> float:
    """Return how much a setting lacks of the distances it has to keep, mm, height by height."""
    worst = 0.0
    for i, place in enumerate(places):
        for p in bodies[place.body].primitives:
            worst = max(worst, edge_lack(room, bodies[place.body], p, place), post_lack(room, p, place))
            for other in places[:i]:
                for q in bodies[other.body].primitives:
                    distance = axis(p, place).distance(axis(q, other))
                    for z in levels(p, q):
                        one, two = radius_at(p.profile, z), radius_at(q.profile, z)
                        if one is not None and two is not None:
                            worst = max(worst, one + two + room.gap_mm - distance)
    return worst


def edge_lack(room: Room, body: ShelfBody, p: Primitive, place: Placement) -> float:
    """Return how far a primitive is beyond the shelf (foot), or the shelf and the overhang (above)."""
    shelf = region(room.outline)
    worst = 0.0
    for z, r in p.profile:
        solid = axis(p, place).buffer(r, quad_segs=90)
        free = shelf.buffer(-room.foot_inset_mm) if z == 0 else shelf.buffer(body.overhang_mm, quad_segs=360)
        outside = solid.difference(free.buffer(0.01))
        if not outside.is_empty:
            worst = max(worst, outside.hausdorff_distance(free))
    return worst


def post_lack(room: Room, p: Primitive, place: Placement) -> float:
    """Return what lacks to the posts."""
    widest = max(r for _, r in p.profile)
    posts = [box(post.x0_mm, post.y0_mm, post.x1_mm, post.y1_mm) for post in room.posts]
    return max((widest + room.post_gap_mm - axis(p, place).distance(post) for post in posts), default=0.0)
