"""Strength: what a shelf on its posts may carry (F9, F16)."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from kilnpack.shapes.outlines import region_polygon

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.geometry import Point
    from kilnpack.model.settings import WorksSettings

G_N_PER_KG = 9.80665
SPAN_FACTOR = 0.75
"""Moment q L^2 / 8 over the section modulus t^2 / 6 of a strip of unit width."""
FREE_FACTOR = 3.0
"""Moment q c^2 / 2 over the same section modulus."""
CORNER_FACTOR = 1.25
"""What four corner posts add to the stress of the strip."""


def limit_mpa(settings: WorksSettings, shelf: ShelfType) -> float:
    """F9: the greatest bending stress a shelf may see, a share of its hot strength, or a smaller one of its cold, MPa.

    References
    ----------
    `own-proposal` for both shares; `shelf-maker-data`, `sic-data` for strengths.
    """
    if shelf.strength_mpa is not None:
        return shelf.strength_mpa * settings.strength_share
    return (shelf.cold_strength_mpa or 0.0) * settings.cold_strength_share


def stress_mpa(shelf: ShelfType, ware_kg: float) -> float:
    """F9, F16: greatest bending stress of a shelf under its own mass and the ware's, spread evenly, MPa.

    References
    ----------
    `roark`: beam on two supports and cantilever under a uniform load, quoted from memory.
    """
    area_mm2 = float(region_polygon(shelf.outline).area)
    return _stress_per_load(shelf) * (shelf.mass_kg + ware_kg) * G_N_PER_KG / area_mm2


def load_limit_kg(settings: WorksSettings, shelf: ShelfType) -> float:
    """F9, F16: the ware a shelf may carry, kg; nothing where its own mass is too much for it."""
    area_mm2 = float(region_polygon(shelf.outline).area)
    q_mpa = limit_mpa(settings, shelf) / _stress_per_load(shelf)
    return max(0.0, q_mpa * area_mm2 / G_N_PER_KG - shelf.mass_kg)


def _stress_per_load(shelf: ShelfType) -> float:
    """Return stress over load per area, the greater of the span's and the free part's."""
    ring = hull(shelf.posts_mm)
    corners = CORNER_FACTOR if len(shelf.posts_mm) > 3 else 1.0
    bent = max(SPAN_FACTOR * corners * span_mm(ring) ** 2, FREE_FACTOR * free_mm(shelf, ring) ** 2)
    return bent / shelf.thickness_mm**2


def span_mm(ring: Sequence[Point]) -> float:
    """F9, F16: the longest distance between posts that follow each other round the shelf, mm."""
    return max((math.dist(a, b) for a, b in pairwise([*ring, ring[0]])), default=0.0)


def free_mm(shelf: ShelfType, ring: Sequence[Point]) -> float:
    """F16: how far the shelf reaches beyond the polygon of its posts, mm.

    The distance from a convex polygon grows outwards only, so the farthest point is a corner of the outline.
    """
    corners = region_polygon(shelf.outline).exterior.coords  # type: ignore[attr-defined]
    return max(_outside_mm((x, y), ring) for x, y in corners)


def _outside_mm(point: Point, ring: Sequence[Point]) -> float:
    """Return the distance from a convex polygon, 0 inside it."""
    edges = list(pairwise([*ring, ring[0]]))
    if len(ring) > 2 and all(_side(a, b, point) >= 0 for a, b in edges):
        return 0.0
    return min(segment_mm(point, a, b) for a, b in edges)


def segment_mm(point: Point, a: Point, b: Point) -> float:
    """Return the distance of a point from the stretch between two others, mm."""
    along = (b[0] - a[0], b[1] - a[1])
    square = along[0] ** 2 + along[1] ** 2
    share = ((point[0] - a[0]) * along[0] + (point[1] - a[1]) * along[1]) / square if square else 0.0
    share = min(1.0, max(0.0, share))
    return math.dist(point, (a[0] + share * along[0], a[1] + share * along[1]))


def hull(points: Iterable[Point]) -> list[Point]:
    """Return the corners of the smallest convex polygon round some points, counter-clockwise."""
    rows = sorted(set(points))
    return _lower(rows)[:-1] + _lower(rows[::-1])[:-1] if len(rows) > 1 else rows


def _lower(rows: Sequence[Point]) -> list[Point]:
    chain: list[Point] = []
    for point in rows:
        while len(chain) > 1 and _side(chain[-2], chain[-1], point) <= 0:
            chain.pop()
        chain.append(point)
    return chain


def _side(a: Point, b: Point, point: Point) -> float:
    """Return above 0 where a point lies left of the way from a to b."""
    return (b[0] - a[0]) * (point[1] - a[1]) - (b[1] - a[1]) * (point[0] - a[0])
