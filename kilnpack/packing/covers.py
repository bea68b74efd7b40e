"""Discs and capsules of whole bodies: every outline is taken apart once, equal axes share one profile over height."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import shapely

from kilnpack.model.geometry import TurnedPart
from kilnpack.shapes.decompose import decompose
from kilnpack.shapes.primitives import Primitive, Profile, outer_profiles, radius_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.geometry import Outline, Part
    from kilnpack.shapes.bodies import Body

THIN_MM = 0.02
"""Edges without a radius are taken this thick, so that a ring of them encloses an area."""

Axis = tuple[float, float, float, float]
Capsule = tuple[float, float, float, float, float]
"""Mid point, half vector and radius."""


@lru_cache(maxsize=4096)
def outline_axes(outline: Outline) -> tuple[tuple[Axis, float], ...]:
    """Return the axes (mid point, half vector) and radii that cover an outline."""
    return tuple(
        ((p.x_mm, p.y_mm, p.hx_mm, p.hy_mm), p.profile[0][1]) for p in decompose(outline, from_z_mm=0.0, to_z_mm=1.0)
    )


def cover_of(parts: Sequence[Part]) -> tuple[Primitive, ...]:
    """Return primitives that cover the parts of a body, however many of them are stacked.

    Raises
    ------
    ValueError
        If a polygon is not convex.
    """
    profiles: dict[Axis, list[Profile]] = {}
    for part in parts:
        if isinstance(part, TurnedPart):
            profiles.setdefault((part.x_mm, part.y_mm, 0.0, 0.0), []).append(part.profile_mm)
            continue
        for axis, radius_mm in outline_axes(part.outline):
            stretch = ((part.from_z_mm, radius_mm), (part.to_z_mm, radius_mm))
            profiles.setdefault(axis, []).append(stretch)
    return tuple(
        Primitive(x_mm=axis[0], y_mm=axis[1], hx_mm=axis[2], hy_mm=axis[3], profile=profile)
        for axis, several in profiles.items()
        for profile in outer_profiles(list(dict.fromkeys(several)))
    )


@lru_cache(maxsize=4096)
def boundary_of(primitives: tuple[Primitive, ...]) -> tuple[Primitive, ...]:
    """Return the primitives without those that lie wholly inside the others at all their heights.

    A row crosses a body from one side of its boundary to the other, so what lies inside adds nothing to a stretch.
    """
    kept = list(primitives)
    for p in sorted(primitives, key=lambda one: max(r for _, r in one.profile)):
        others = [q for q in kept if q is not p and _is_beside(q, p)]
        least = tuple((*_axis(q), _least_radius(q.profile, p.profile)) for q in others)
        if others and _hidden((*_axis(p), max(r for _, r in p.profile)), least):
            kept.remove(p)
    return tuple(kept)


@lru_cache(maxsize=16384)
def _hidden(own: Capsule, others: tuple[Capsule, ...]) -> bool:
    """Return whether a capsule lies inside others and the holes between them; nested bodies ask the same again."""
    return bool(_filled([_seen(other) for other in others]).covers(_seen(own)))


def _axis(p: Primitive) -> Axis:
    return p.x_mm, p.y_mm, p.hx_mm, p.hy_mm


def _is_beside(q: Primitive, p: Primitive) -> bool:
    """Return whether q exists at all heights of p."""
    return q.profile[0][0] <= p.profile[0][0] and q.profile[-1][0] >= p.profile[-1][0]


def _least_radius(profile: Profile, heights: Profile) -> float:
    """Return the smallest radius over the heights of another profile."""
    low, high = heights[0][0], heights[-1][0]
    levels = [low, high, *(z for z, _ in profile if low < z < high)]
    own = [radius_at(profile, z) or 0.0 for z in levels]
    return min([*own, *(r for z, r in profile if low <= z <= high)])


@lru_cache(maxsize=16384)
def _seen(capsule: Capsule) -> BaseGeometry:
    x_mm, y_mm, hx_mm, hy_mm, radius_mm = capsule
    if hx_mm == hy_mm == 0.0:
        return shapely.Point(x_mm, y_mm).buffer(max(radius_mm, THIN_MM), quad_segs=24)
    ends = [(x_mm - hx_mm, y_mm - hy_mm), (x_mm + hx_mm, y_mm + hy_mm)]
    return shapely.LineString(ends).buffer(max(radius_mm, THIN_MM), quad_segs=24)


def _filled(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return the union with its holes filled."""
    union = shapely.union_all(shapes)
    rings = [part.exterior for part in shapely.get_parts(union)]
    return shapely.union_all([shapely.Polygon(ring) for ring in rings]).buffer(THIN_MM)


def foot_reach_mm(body: Body) -> float:
    """Return how far the foot gets from the axis."""
    return max(math.hypot(abs(x) + abs(hx), abs(y) + abs(hy)) + r for (x, y, hx, hy), r in outline_axes(body.foot))
