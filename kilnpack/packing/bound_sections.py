"""What every body surely takes of a shelf, height by height: the geometry under the proved bound.

Everything errs to the side of the packer: sections are measured a little too small, the room a little too large, so
that no load that can be built breaks a row of the bound.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import shapely

from kilnpack.model.geometry import Disc, ExtrudedPart, TurnedPart
from kilnpack.shapes.primitives import radius_at
from kilnpack.shapes.room import ConvexOutline, DiscOutline, HalfDiscOutline, RectOutline

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.geometry import Outline, Part, RoundedPolygon
    from kilnpack.shapes.room import Outline as RoomOutline
    from kilnpack.shapes.room import Room

ARC = 8
"""Chords a quarter of a circle is drawn with: a disc is taken 0.5 % too large or too small in radius at most."""

OUTSIDE = 1.0 / math.cos(math.pi / (4 * ARC))
"""A circle drawn with chords and grown by this holds the true circle."""

SLACK_MM = 0.01
"""A body is let this much over every edge, so that one that just fits keeps a place to stand."""

UNDER_MM = 1e-4
"""A section is looked up this much under a height at which a slice ends."""


@dataclass(frozen=True)
class Sections:
    """One kind of body: its parts, and what they cover at a height."""

    parts: tuple[Part, ...]

    def levels_mm(self) -> set[float]:
        """Return the heights at which the body changes, just under its upper ends."""
        found = {0.0}
        for part in self.parts:
            if isinstance(part, TurnedPart):
                found |= {z for z, _ in part.profile_mm}
            else:
                found |= {part.from_z_mm, max(0.0, part.to_z_mm - UNDER_MM)}
        return found

    def area_mm2(self, z_mm: float, grown_mm: float) -> float:
        """Return at most the area of the section grown all round; 0 where there is no body."""
        return _area_mm2(self, z_mm, grown_mm)

    def measured_mm2(self, z_mm: float, grown_mm: float) -> float:
        """Measure that area."""
        discs = [d for part in self.parts if (d := _disc(part, z_mm)) is not None]
        shapes = [
            _drawn(part.outline).buffer(grown_mm, quad_segs=ARC)
            for part in self.parts
            if isinstance(part, ExtrudedPart) and part.from_z_mm <= z_mm <= part.to_z_mm
        ]
        if not shapes and len({(x, y) for x, y, _ in discs}) == 1:
            return math.pi * (max(r for _, _, r in discs) + grown_mm) ** 2
        shapes += [shapely.Point(x, y).buffer(r + grown_mm, quad_segs=ARC) for x, y, r in discs]
        return float(shapely.union_all(shapes).area) if shapes else 0.0

    def outer_mm(self, z_mm: float) -> float:
        """Return the radius of a disc round the axis that holds the section, negative where there is none."""
        best = -1.0
        for part in self.parts:
            found = _disc(part, z_mm)
            if found is not None:
                best = max(best, found[2] + math.hypot(found[0], found[1]))
            elif isinstance(part, ExtrudedPart) and part.from_z_mm <= z_mm <= part.to_z_mm:
                best = max(best, *(_outside(member) for member in part.outline))
        return best

    def inner_mm(self, z_mm: float) -> float | None:
        """Return the radius of a disc round the axis inside the section, None where the axis is not in it."""
        best = -1.0
        for part in self.parts:
            if isinstance(part, TurnedPart):
                found = _disc(part, z_mm)
                best = max(best, -1.0 if found is None else found[2] - math.hypot(found[0], found[1]))
            elif part.from_z_mm <= z_mm <= part.to_z_mm:
                best = max(best, *(_inside(member) for member in part.outline))
        return best if best >= 0.0 else None


@lru_cache(maxsize=1 << 14)
def _area_mm2(sections: Sections, z_mm: float, grown_mm: float) -> float:
    return sections.measured_mm2(z_mm, grown_mm)


def _disc(part: Part, z_mm: float) -> tuple[float, float, float] | None:
    if not isinstance(part, TurnedPart):
        return None
    radius = radius_at(part.profile_mm, z_mm)
    return None if radius is None else (part.x_mm, part.y_mm, radius)


def _drawn(outline: Outline) -> BaseGeometry:
    shapes = [
        shapely.Point(one.x_mm, one.y_mm).buffer(one.r_mm, quad_segs=ARC)
        if isinstance(one, Disc)
        else _hull(one.corners_mm).buffer(one.round_mm, quad_segs=ARC)
        for one in outline
    ]
    return shapely.union_all(shapes)


def _hull(corners: Sequence[tuple[float, float]]) -> BaseGeometry:
    return shapely.MultiPoint(corners).convex_hull


def _inside(member: Disc | RoundedPolygon) -> float:
    """Return how far the axis is inside a member of an outline, negative outside."""
    if isinstance(member, Disc):
        return member.r_mm - math.hypot(member.x_mm, member.y_mm)
    core = _hull(member.corners_mm)
    middle = shapely.Point(0.0, 0.0)
    edge = float(core.boundary.distance(middle)) if core.geom_type == "Polygon" else 0.0
    inside = edge if core.contains(middle) else -float(core.distance(middle))
    return inside + member.round_mm


def _outside(member: Disc | RoundedPolygon) -> float:
    """Return how far from the axis a member of an outline gets."""
    if isinstance(member, Disc):
        return math.hypot(member.x_mm, member.y_mm) + member.r_mm
    return max(math.hypot(x, y) for x, y in member.corners_mm) + member.round_mm


def outline_shape(outline: RoomOutline) -> BaseGeometry:
    """Return a polygon that holds an outline."""
    if isinstance(outline, RectOutline):
        x, y = outline.x_mm, outline.y_mm
        return shapely.box(x, y, x + outline.width_mm, y + outline.depth_mm)
    if isinstance(outline, ConvexOutline):
        return shapely.Polygon(outline.corners)
    disc = shapely.Point(outline.x_mm, outline.y_mm).buffer(outline.radius_mm * OUTSIDE, quad_segs=ARC)
    if isinstance(outline, DiscOutline):
        return disc
    x, y, r = outline.x_mm, outline.y_mm, 2 * outline.radius_mm
    return disc.intersection(shapely.box(x - r, y, x + r, y + r))


def grown(shape: BaseGeometry, by_mm: float) -> BaseGeometry:
    """Return a shape that holds the given one grown all round."""
    return shape.buffer(by_mm * OUTSIDE, quad_segs=ARC) if by_mm else shape


class Ground:
    """The room over one kind of shelf without its height: where sections may lie, and where axes may stand."""

    def __init__(self, room: Room, overhang_mm: float) -> None:
        self.room = room
        self.shelf: BaseGeometry = outline_shape(room.outline)
        reach: BaseGeometry = grown(self.shelf, overhang_mm)
        if isinstance(room.outline, HalfDiscOutline):
            x0, _, x1, y1 = reach.bounds
            reach = reach.intersection(shapely.box(x0, room.outline.y_mm, x1, y1))
        for limit in room.limits:
            if limit.from_z_mm <= 0.0 and limit.to_z_mm >= room.clear_height_mm:
                reach = reach.intersection(outline_shape(limit.outline).buffer(-limit.clearance_mm, quad_segs=ARC))
        self.reach: BaseGeometry = reach
        self.posts = [shapely.box(p.x0_mm, p.y0_mm, p.x1_mm, p.y1_mm) for p in room.posts]
        half = room.gap_mm / 2
        self._inside = {True: grown(self.shelf.buffer(-room.foot_inset_mm), half), False: grown(self.reach, half)}
        self._off = shapely.union_all([post.buffer(room.post_gap_mm - half, quad_segs=ARC) for post in self.posts])
        self._places: dict[tuple[float, float], BaseGeometry] = {}
        self._covered: dict[tuple[bytes, float, bool], BaseGeometry] = {}

    def covered(self, places: BaseGeometry, outer_mm: float, *, is_foot: bool) -> BaseGeometry:
        """Return a shape that holds what a section, grown by half the gap, can cover when its axis is in `places`.

        `outer_mm` is the radius of a disc round the axis that holds the section. A body keeps `post_gap_mm` off a
        post; grown by half of `gap_mm`, it still keeps the difference.
        """
        if outer_mm < 0.0 or places.is_empty:
            return shapely.Point()
        key = (places.wkb, outer_mm, is_foot)
        if key not in self._covered:
            found = grown(places, outer_mm + self.room.gap_mm / 2).intersection(self._inside[is_foot])
            self._covered[key] = found.difference(self._off)
        return self._covered[key]

    def places(self, foot_mm: float, widest_mm: float) -> BaseGeometry:
        """Return a shape that holds every place the axis of a body may stand at.

        The body holds a disc of `foot_mm` round the axis on the shelf (negative: nothing is known of its foot) and
        one of `widest_mm` somewhere above.
        """
        key = (foot_mm, widest_mm)
        if key not in self._places:
            self._places[key] = self._placed(foot_mm, widest_mm)
        return self._places[key]

    def _placed(self, foot_mm: float, widest_mm: float) -> BaseGeometry:
        found: BaseGeometry = self.reach.buffer(SLACK_MM - widest_mm)
        if foot_mm >= 0.0:
            found = found.intersection(self.shelf.buffer(SLACK_MM - foot_mm - self.room.foot_inset_mm))
        keep = max(0.0, widest_mm + self.room.post_gap_mm - SLACK_MM)
        return found.difference(shapely.union_all([post.buffer(keep, quad_segs=ARC) for post in self.posts]))
