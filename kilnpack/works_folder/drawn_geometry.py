"""Geometry of drawn lines: the silhouette of a half section, the ring of an outline, its convex pieces."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import shapely

from kilnpack.model.geometry import RoundedPolygon
from kilnpack.works_folder.build_parts import is_convex

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.geometry import Point

_Ring = tuple["Point", ...]
_NEAR_MM = 1e-6
MOST_PIECES = 1500
MEET_MM = 0.01
"""Grid that the ends of drawn lines snap to, so that lines meet in spite of rounding."""


def silhouette(lines: Sequence[Sequence[Point]]) -> tuple[Point, ...]:
    """Return (height, greatest radius) of lines given as (height, radius), from the bottom up.

    Between two neighbouring heights of corners or crossings one straight piece is the farthest, so its two ends say
    all. Where the farthest piece changes at one height, the profile has a step. Nothing is returned for a scribble of
    more than `MOST_PIECES` pieces, or so many crossings.
    """
    pieces = [_upward(a, b) for line in lines for a, b in pairwise(line)]
    crossings = set(_crossings(pieces)) if len(pieces) <= MOST_PIECES else None
    if crossings is None or len(crossings) > MOST_PIECES:
        return ()
    levels = sorted({z for piece in pieces for z, _ in piece} | crossings)
    profile: list[Point] = []
    for low, high in pairwise(levels):
        middle = (low + high) / 2
        spanning = [piece for piece in pieces if piece[0][0] < middle < piece[1][0]]
        if not spanning or high - low < _NEAR_MM:
            continue
        farthest = max(spanning, key=lambda piece: _radius(piece, middle))
        for level in (low, high):
            point = (level, _radius(farthest, level))
            if not profile or abs(point[0] - profile[-1][0]) + abs(point[1] - profile[-1][1]) > _NEAR_MM:
                profile.append(point)
    return _without_straight(profile)


def _upward(a: Point, b: Point) -> tuple[Point, Point]:
    return (a, b) if a[0] <= b[0] else (b, a)


def _radius(piece: tuple[Point, Point], z_mm: float) -> float:
    (z0, r0), (z1, r1) = piece
    return r0 + (r1 - r0) * (z_mm - z0) / (z1 - z0)


def _crossings(pieces: Sequence[tuple[Point, Point]]) -> Iterable[float]:
    """Return the heights at which two pieces cross."""
    lines = shapely.linestrings([[(z, r) for z, r in piece] for piece in pieces])
    ones, others = shapely.STRtree(lines).query(lines, predicate="crosses")
    crossings = shapely.intersection(lines[ones], lines[others])
    return [float(z) for z in shapely.get_x(crossings[shapely.get_type_id(crossings) == 0])]


def _without_straight(profile: list[Point]) -> tuple[Point, ...]:
    """Leave out the points that lie on the straight line between their neighbours."""
    kept: list[Point] = []
    for point in profile:
        while len(kept) > 1 and _is_straight(kept[-2], kept[-1], point):
            kept.pop()
        kept.append(point)
    return tuple(kept)


def _is_straight(a: Point, b: Point, c: Point) -> bool:
    return abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) < _NEAR_MM


def ring_of(lines: Sequence[Sequence[Point]], flat_mm: float) -> _Ring | None:
    """Return the counter-clockwise ring that lines enclose, None where they enclose none or more than one.

    What lies inside (a hole, an ornament) does not matter.
    """
    drawn = shapely.union_all([shapely.LineString(line) for line in lines], grid_size=MEET_MM)
    areas = shapely.union_all(shapely.get_parts(shapely.polygonize([*shapely.get_parts(drawn)])))
    if not isinstance(areas, shapely.Polygon) or areas.is_empty:
        return None
    plain = shapely.Polygon(areas.exterior).simplify(flat_mm)
    return _corners(plain)


def _corners(polygon: BaseGeometry) -> _Ring:
    """Return the corners of a polygon counter-clockwise, each once."""
    ring = shapely.get_exterior_ring(shapely.orient_polygons(polygon))
    return tuple((float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1])


def convex_pieces(ring: _Ring) -> tuple[RoundedPolygon, ...]:
    """Return convex polygons whose union is the ring: triangles, joined as long as they stay convex."""
    if is_convex(ring):
        return (RoundedPolygon(corners_mm=ring),)
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.Polygon(ring)))
    open_pieces = [_corners(one) for one in triangles]
    done: list[_Ring] = []
    while open_pieces:
        piece = open_pieces.pop()
        joined = next((pair for other in open_pieces if (pair := _joined(piece, other)) is not None), None)
        if joined is None:
            done.append(piece)
        else:
            whole, used = joined
            open_pieces.remove(used)
            open_pieces.append(whole)
    return tuple(RoundedPolygon(corners_mm=one) for one in done)


def _joined(one: _Ring, other: _Ring) -> tuple[_Ring, _Ring] | None:
    """Return two rings joined along the side they share if the whole is convex, with the second of them."""
    starts = {side: k for k, side in enumerate(zip(other, other[1:] + other[:1], strict=True))}
    for k, (a, b) in enumerate(zip(one, one[1:] + one[:1], strict=True)):
        if (b, a) in starts:
            after = starts[b, a] + 1  # the corner a of the other ring; b is the one before it
            turned = other[after:] + other[:after]
            whole = one[: k + 1] + turned[1:-1] + one[k + 1 :]
            return (whole, other) if is_convex(whole) else None
    return None
