"""Outlines as unions of discs and grown convex polygons, taken apart into discs and capsules.

The cover contains the outline. Where the outline is round at its corners, the cover is exact on the boundary: the
edges of the polygon become capsules of the rounding radius. A many-sided outline, as drawn for an ellipse, becomes a
few capsules around a smaller core, and the cover stands out by no more than a stated excess. A skeleton inside makes
deep overlaps push the right way.
"""

from __future__ import annotations

import math
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.model.geometry import Disc, Point, TurnedPart
from kilnpack.shapes.primitives import Primitive, Profile, outer_profiles

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry import Polygon

    from kilnpack.model.geometry import Outline, Part

MANY_SIDES = 9
"""From this number of corners on an outline is taken for a drawn curve and compacted."""

MOST_DISCS = 17
"""Longest row of discs that stands for an oval."""

REACH_SHARES = tuple(share / 50 for share in range(48, 0, -2))
"""Parts of the longest axis tried for such a row."""

SKELETON_SHARE = 0.95
"""Part of the greatest inscribed radius that the inner capsule of a polygon takes."""


def decompose(outline: Outline, *, from_z_mm: float, to_z_mm: float, excess_mm: float = 0.8) -> tuple[Primitive, ...]:
    """Return discs and capsules between two heights that cover an outline.

    Parameters
    ----------
    outline
        Union of discs and grown convex polygons.
    from_z_mm, to_z_mm
        Heights between which the outline stands.
    excess_mm
        How far the cover of a many-sided outline may stand out over it.

    Raises
    ------
    ValueError
        If a polygon is not convex.
    """
    cover: list[Primitive] = []
    for member in outline:
        if isinstance(member, Disc):
            middle = (member.x_mm, member.y_mm)
            cover.append(_capsule(middle, middle, member.r_mm, from_z_mm, to_z_mm))
        else:
            axes = _polygon_cover(_anticlockwise(member.corners_mm), member.round_mm, excess_mm)
            cover.extend(_capsule(a, b, r_mm, from_z_mm, to_z_mm) for a, b, r_mm in axes)
    return tuple(dict.fromkeys(cover))


def primitives_of(parts: Sequence[Part], *, excess_mm: float = 0.8) -> tuple[Primitive, ...]:
    """Return discs and capsules that cover a body's parts.

    Turned parts round one axis become one disc, its radius the greatest of theirs at every height.

    Raises
    ------
    ValueError
        If a polygon is not convex.
    """
    turned: dict[Point, list[Profile]] = {}
    cover: list[Primitive] = []
    for part in parts:
        if isinstance(part, TurnedPart):
            turned.setdefault((part.x_mm, part.y_mm), []).append(part.profile_mm)
        else:
            cover.extend(decompose(part.outline, from_z_mm=part.from_z_mm, to_z_mm=part.to_z_mm, excess_mm=excess_mm))
    discs = [
        Primitive(x_mm=x_mm, y_mm=y_mm, profile=profile)
        for (x_mm, y_mm), profiles in turned.items()
        for profile in outer_profiles(profiles)
    ]
    return tuple(dict.fromkeys(discs + cover))


def _capsule(a: Point, b: Point, radius_mm: float, from_z_mm: float, to_z_mm: float) -> Primitive:
    return Primitive(
        x_mm=(a[0] + b[0]) / 2,
        y_mm=(a[1] + b[1]) / 2,
        hx_mm=(b[0] - a[0]) / 2,
        hy_mm=(b[1] - a[1]) / 2,
        profile=((from_z_mm, radius_mm), (to_z_mm, radius_mm)),
    )


def _anticlockwise(corners: Sequence[Point]) -> list[Point]:
    ring = [c for c, d in zip(corners, [*corners[1:], corners[0]], strict=True) if c != d]
    area = sum(ax * by - bx * ay for (ax, ay), (bx, by) in zip(ring, [*ring[1:], ring[0]], strict=True))
    ring = ring if area >= 0 else ring[::-1]
    size = max(math.dist(ring[0], corner) for corner in ring)
    for a, b, c in zip(ring, [*ring[1:], ring[0]], [*ring[2:], *ring[:2]], strict=True):
        if (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) < -1e-6 * size * size:
            raise ValueError("an outline part must be convex; say it as several parts")
    return ring


def _polygon_cover(ring: list[Point], round_mm: float, excess_mm: float) -> list[tuple[Point, Point, float]]:
    """Return axes with radii whose union covers the grown polygon."""
    flat = _flat_axis(ring)
    if flat is not None:
        axis_a, axis_b, half_mm = flat
        return [(axis_a, axis_b, round_mm + half_mm)]
    if round_mm == 0.0 and (disc := _as_disc(ring, excess_mm)) is not None:
        return [disc]
    if len(ring) >= MANY_SIDES and (row := _disc_row(ring, round_mm, excess_mm)) is not None:
        return row
    core, radius_mm = (ring, round_mm) if len(ring) < MANY_SIDES else _compact(ring, round_mm, excess_mm)
    flat = _flat_axis(core)
    if flat is not None:
        return [(flat[0], flat[1], radius_mm + flat[2])]
    edges = [(a, b, radius_mm) for a, b in zip(core, [*core[1:], core[0]], strict=True)]
    return edges + _skeleton(core, radius_mm)


def _farthest(ring: list[Point]) -> tuple[Point, Point]:
    return max(((p, q) for p in ring for q in ring), key=lambda pair: math.dist(*pair))


def _flat_axis(ring: list[Point], flat_mm: float = 0.05) -> tuple[Point, Point, float] | None:
    """Return the axis of a ring thinner than `flat_mm`, with its half width, or None."""
    a, b = _farthest(ring)
    length_mm = math.dist(a, b)
    if length_mm == 0.0:
        return a, b, 0.0
    half_mm = max(abs((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / length_mm for p in ring)
    return (a, b, half_mm) if half_mm <= flat_mm else None


def _as_disc(ring: list[Point], excess_mm: float) -> tuple[Point, Point, float] | None:
    """Return the disc through the corners of a ring drawn for a circle, or None."""
    if len(ring) < MANY_SIDES:
        return None
    middle = (sum(x for x, _ in ring) / len(ring), sum(y for _, y in ring) / len(ring))
    if math.hypot(*middle) < excess_mm / 4:
        middle = (0.0, 0.0)
    outer_mm = max(math.dist(middle, corner) for corner in ring)
    inner_mm = min(math.dist(middle, corner) for corner in ring)
    edge_mm = min(
        math.dist(middle, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
    )
    return (middle, middle, outer_mm) if outer_mm - min(inner_mm, edge_mm) <= excess_mm else None


def _disc_row(ring: list[Point], round_mm: float, excess_mm: float) -> list[tuple[Point, Point, float]] | None:
    """Return a row of discs along the longest axis that covers a grown oval ring, or None.

    Each disc is an inscribed one grown by the same amount, so that amount is the excess of the cover.
    """
    a, b = np.array(_longest_axis(ring))
    corners = np.array(ring)
    edges = np.roll(corners, -1, axis=0) - corners
    inward = np.stack([-edges[:, 1], edges[:, 0]]) / np.hypot(edges[:, 0], edges[:, 1])
    for grow_share, count, reach_share in product((0.4, 0.7, 1.0), range(3, MOST_DISCS + 1), REACH_SHARES):
        along = 0.5 + reach_share * (np.arange(count) / (count - 1) - 0.5)
        points = a + along[:, None] * (b - a)
        inside_mm = (points @ inward - (corners * inward.T).sum(axis=1)).min(axis=1)
        radii_mm = inside_mm + grow_share * excess_mm
        # corners first: quick, and mostly enough to say no
        if (((corners[:, None, :] - points) ** 2).sum(axis=2) <= radii_mm**2).any(axis=1).all():
            row = [((x, y), (x, y), r) for (x, y), r in zip(points.tolist(), radii_mm.tolist(), strict=True)]
            if _covers_edges(row, ring):
                return [(point, point, radius_mm + round_mm) for point, _, radius_mm in row]
    return None


def _longest_axis(ring: list[Point]) -> tuple[Point, Point]:
    """Return the ends of the longest line through the middle of a ring that halves it best."""
    middle = (sum(x for x, _ in ring) / len(ring), sum(y for _, y in ring) / len(ring))
    far = max(ring, key=lambda corner: math.dist(corner, middle))
    even = [corner for corner in ring if math.dist(corner, middle) > math.dist(far, middle) - 1e-3]
    if len(even) == 4:
        far = ((even[0][0] + even[-1][0]) / 2, (even[0][1] + even[-1][1]) / 2)
    return far, (2 * middle[0] - far[0], 2 * middle[1] - far[1])


def _covers_edges(row: list[tuple[Point, Point, float]], ring: list[Point]) -> bool:
    """Return whether every edge of the ring lies in the union of the discs, by intervals along the edge."""
    return all(_covers_edge(row, a, b) for a, b in zip(ring, [*ring[1:], ring[0]], strict=True))


def _covers_edge(row: list[tuple[Point, Point, float]], a: Point, b: Point) -> bool:
    length_mm = math.dist(a, b)
    ux, uy = (b[0] - a[0]) / length_mm, (b[1] - a[1]) / length_mm
    spans = []
    for (x, y), _, radius_mm in row:
        along_mm = (x - a[0]) * ux + (y - a[1]) * uy
        half2 = radius_mm * radius_mm - ((x - a[0]) * uy - (y - a[1]) * ux) ** 2
        if half2 > 0:
            spans.append((along_mm - math.sqrt(half2), along_mm + math.sqrt(half2)))
    covered_mm = 0.0
    for low_mm, high_mm in sorted(spans):
        if low_mm > covered_mm:
            break
        covered_mm = max(covered_mm, high_mm)
    return covered_mm >= length_mm


def _compact(ring: list[Point], round_mm: float, excess_mm: float) -> tuple[list[Point], float]:
    """Return (core, radius) whose sum covers the grown ring with few corners and at most `excess_mm` beyond it.

    The core is the ring eroded as far as its rounding allows, then thinned; the radius makes good for both.
    """
    from shapely.geometry import Polygon

    whole = Polygon(ring)
    best = (ring, round_mm)
    inner_mm = _inscribed_radius(whole)
    for share in (0.98, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1):
        eroded = whole.buffer(-share * inner_mm, join_style="mitre", mitre_limit=50.0)
        if eroded.is_empty or eroded.geom_type != "Polygon":
            continue
        for thin_mm in (1.0, 0.7, 0.5, 0.35, 0.2, 0.1):
            core = _ring_of(Polygon(eroded.exterior.simplify(thin_mm * excess_mm).coords))
            if len(core) < 3 or len(core) >= len(best[0]):
                continue
            radius_mm = max(_distance_to(core, corner) for corner in ring)
            if support_excess(core, radius_mm, ring) <= excess_mm:
                best = (core, radius_mm + round_mm)
                break
    return best


def support_excess(core: Sequence[Point], radius_mm: float, ring: Sequence[Point]) -> float:
    """Return how far core + radius stands out over a convex ring, in mm, over 1,440 directions."""
    worst_mm = 0.0
    for step in range(1440):
        ux, uy = math.cos(math.pi * step / 720), math.sin(math.pi * step / 720)
        ours_mm = max(x * ux + y * uy for x, y in core) + radius_mm
        worst_mm = max(worst_mm, ours_mm - max(x * ux + y * uy for x, y in ring))
    return worst_mm


def _skeleton(core: list[Point], radius_mm: float) -> list[tuple[Point, Point, float]]:
    """Return inner axes: one along the middle, and one from the middle towards each corner of a sharp core."""
    from shapely.geometry import Polygon

    whole = Polygon(core)
    inner_mm = _inscribed_radius(whole)
    eroded = whole.buffer(-SKELETON_SHARE * inner_mm, join_style="mitre", mitre_limit=50.0)
    spine = _ring_of(Polygon(eroded.exterior))
    a, b = _farthest(spine)
    axes = [(a, b, radius_mm + min(_distance_inside(core, a), _distance_inside(core, b)))]
    if radius_mm < inner_mm / 4 and len(core) < MANY_SIDES:
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        axes.extend(_towards(core, middle, corner, inner_mm / 4) for corner in core)
    return axes


def _towards(core: list[Point], middle: Point, corner: Point, radius_mm: float) -> tuple[Point, Point, float]:
    """Return the axis from the middle to where a disc of this radius still fits in the corner."""
    low, high = 0.0, 1.0
    for _ in range(40):
        share = (low + high) / 2
        point = (middle[0] + share * (corner[0] - middle[0]), middle[1] + share * (corner[1] - middle[1]))
        low, high = (share, high) if _distance_inside(core, point) >= radius_mm else (low, share)
    return middle, (middle[0] + low * (corner[0] - middle[0]), middle[1] + low * (corner[1] - middle[1])), radius_mm


def _ring_of(polygon: Polygon) -> list[Point]:
    return [(float(x), float(y)) for x, y in polygon.exterior.coords[:-1]][:: 1 if polygon.exterior.is_ccw else -1]


def _inscribed_radius(polygon: Polygon) -> float:
    """Return the radius of the greatest disc inside a convex polygon, in mm."""
    low, high = 0.0, math.sqrt(polygon.area / math.pi)
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (low, middle) if polygon.buffer(-middle, join_style="mitre").is_empty else (middle, high)
    return low


def _distance_inside(ring: Sequence[Point], point: Point) -> float:
    """Return the distance from a point inside a convex ring to its boundary; negative outside."""
    return min(
        ((bx - ax) * (point[1] - ay) - (by - ay) * (point[0] - ax)) / math.hypot(bx - ax, by - ay)
        for (ax, ay), (bx, by) in zip(ring, [*ring[1:], ring[0]], strict=True)
    )


def _distance_to(ring: Sequence[Point], point: Point) -> float:
    """Return the distance from a point to a convex region, in mm; 0 inside."""
    if _distance_inside(ring, point) >= 0:
        return 0.0
    return min(_to_segment(point, a, b) for a, b in zip(ring, [*ring[1:], ring[0]], strict=True))


def _to_segment(point: Point, a: Point, b: Point) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    length2 = dx * dx + dy * dy
    share = 0.0 if length2 == 0 else min(1.0, max(0.0, ((point[0] - a[0]) * dx + (point[1] - a[1]) * dy) / length2))
    return math.hypot(a[0] + share * dx - point[0], a[1] + share * dy - point[1])
