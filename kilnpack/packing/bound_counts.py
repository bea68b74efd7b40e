"""How many bodies a shelf holds at most: areas height by height, mass, and counts of bodies that keep a distance.

A count is proved in one of two ways. Groemer and Oler: points at least d apart in a compact convex region of area A
and perimeter P are at most 2 A / (sqrt(3) d^2) + P / (2 d) + 1. Pigeonholes: a region cut into cells that are each
narrower than d holds at most one point a cell. Both take the axes of bodies as points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations, pairwise, product
from typing import TYPE_CHECKING, cast

import numpy as np
import shapely

from kilnpack.packing.bound_sections import Ground, Sections

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.geometry import Part
    from kilnpack.packing.problem import Ware
    from kilnpack.shapes.room import Room

LEVELS = 12
"""Heights at most at which areas are compared."""

CELLS = 4
"""Cuts at most in each direction for the pigeonholes."""

FEW = 8
"""Pigeonholes are tried where the other way leaves no more than this."""

MOST_COUNTED = 12
"""Counts above this say no more than the areas do."""

ROUNDING = 1e-9
Row = tuple[dict[int, float], float]
"""Weights by kind, and what their sum on one shelf may not exceed."""


def most_points(region: BaseGeometry, apart_mm: float) -> int:
    """Return how many points at least so far apart a region holds at most."""
    hull = region.convex_hull
    if hull.is_empty:
        return 0
    oler = 2 / math.sqrt(3) * hull.area / apart_mm**2 + 1 + ROUNDING
    oler += (hull.length / (2 * apart_mm)) if hull.geom_type == "Polygon" else hull.length / apart_mm
    most = math.floor(oler)
    return min(most, _pigeonholes(hull, apart_mm)) if most <= FEW else most


def _pigeonholes(hull: BaseGeometry, apart_mm: float) -> int:
    if _diameter(hull) < apart_mm:
        return 1
    x0, y0, x1, y1 = hull.bounds
    best = FEW + 1
    for across, deep in product(range(1, CELLS + 1), repeat=2):
        if across * deep >= best or math.hypot((x1 - x0) / across, (y1 - y0) / deep) >= apart_mm - ROUNDING:
            continue
        xs, ys = np.linspace(x0, x1, across + 1), np.linspace(y0, y1, deep + 1)
        best = sum(hull.intersects(shapely.box(a, c, b, d)) for (a, b), (c, d) in product(pairwise(xs), pairwise(ys)))
    return best


def _corners(shape: BaseGeometry) -> NDArray[np.float64]:
    return shapely.get_coordinates(shape.convex_hull)


def _diameter(shape: BaseGeometry) -> float:
    return farthest_mm(shape, shape)


def farthest_mm(one: BaseGeometry, other: BaseGeometry) -> float:
    """Return the greatest distance between points of two shapes, 0 where one is empty."""
    a, b = _corners(one), _corners(other)
    if not len(a) or not len(b):
        return 0.0
    return float(np.hypot(*(a[:, None, :] - b[None, :, :]).transpose(2, 0, 1)).max())


@dataclass(frozen=True, slots=True)
class _Kind:
    places: BaseGeometry
    corners: NDArray[np.float64]
    areas: tuple[float, ...]
    inner: tuple[float, ...]
    """Radius of a disc inside the section by level, -1 where there is none."""
    reach: tuple[BaseGeometry, ...]
    """What sections, grown by half the gap, can cover by level."""


class ShelfCounts:
    """Rows that everything standing on one kind of shelf keeps, whatever its kinds and places."""

    def __init__(self, room: Room, wares: Sequence[Ware], parts: Sequence[Sequence[Part]]) -> None:
        self.wares = wares
        sections = [Sections(tuple(own)) for own in parts]
        self.ground = Ground(room, max((ware.body.overhang_mm for ware in wares), default=0.0))
        self.levels = _spread(sorted({z for one in sections for z in one.levels_mm()}))
        self.gap_mm, self.limit_kg = room.gap_mm, room.load_limit_kg
        self.kinds = [self._kind(ware, one) for ware, one in zip(wares, sections, strict=True)]
        self._rooms: list[dict[frozenset[int], BaseGeometry]] = [{} for _ in self.levels]
        self._counted: dict[tuple[frozenset[int], float], int] = {}
        self._known: dict[int, list[Row]] = {}
        self._apart = self._conflicts()

    def _kind(self, ware: Ware, one: Sections) -> _Kind:
        inner = tuple(-1.0 if (r := one.inner_mm(z)) is None else r for z in self.levels)
        own = [r for z in sorted(one.levels_mm()) if (r := one.inner_mm(z)) is not None]
        foot = one.inner_mm(0.0)
        half = self.gap_mm / 2
        places = self.ground.places(-1.0 if ware.body.foot or foot is None else foot, max(own, default=0.0))
        return _Kind(
            places,
            _corners(places),
            tuple(one.area_mm2(z, half) for z in self.levels),
            inner,
            tuple(
                self.ground.covered(places, one.outer_mm(z), is_foot=z == 0.0 and not ware.body.foot)
                for z in self.levels
            ),
        )

    def rows(self, mask: int) -> list[Row]:
        """Return the rows for a shelf on which only the kinds of the mask may stand."""
        if mask not in self._known:
            kinds = [k for k in range(len(self.wares)) if mask >> k & 1]
            found = [*self._areas(kinds), *self._families(kinds), *self._pairs(kinds)]
            if math.isfinite(self.limit_kg):
                found.append(({k: self.wares[k].body.mass_kg for k in kinds}, self.limit_kg))
            self._known[mask] = found
        return self._known[mask]

    def _areas(self, kinds: list[int]) -> list[Row]:
        """Return a row for each level that no other makes idle: shares of the room's area."""
        shares = []
        for z in range(len(self.levels)):
            room = self._room_mm2(z, frozenset(k for k in kinds if self.kinds[k].areas[z] > 0.0))
            shares.append(np.array([self.kinds[k].areas[z] / room if room > 0 else 0.0 for k in kinds]))
        kept: list[int] = []
        for z in sorted(range(len(shares)), key=lambda z: -shares[z].sum()):
            if not any((shares[z] <= shares[other] + ROUNDING).all() for other in kept):
                kept.append(z)
        return [({k: float(share) for k, share in zip(kinds, shares[z], strict=True)}, 1.0 + 1e-7) for z in kept]

    def _room_mm2(self, level: int, kinds: frozenset[int]) -> float:
        """Return the area that the sections of these kinds can cover at a level."""
        known = self._rooms[level]
        if kinds not in known:
            inner = max((own for own in known if own < kinds), key=len, default=frozenset[int]())
            shapes = [self.kinds[k].reach[level] for k in kinds - inner]
            known[kinds] = shapely.union_all([*shapes, *([known[inner]] if inner else [])])
        return float(known[kinds].area)

    def _families(self, kinds: list[int]) -> list[Row]:
        best: dict[frozenset[int], int] = {}
        for level in range(len(self.levels)):
            for radius in sorted({self.kinds[k].inner[level] for k in kinds} - {-1.0}):
                family = frozenset(k for k in kinds if self.kinds[k].inner[level] >= radius)
                most = self._most(family, 2 * radius + self.gap_mm)
                if most < MOST_COUNTED:
                    best[family] = min(most, best.get(family, most))
        kept: list[tuple[frozenset[int], int]] = []
        for family, most in sorted(best.items(), key=lambda item: (item[1], -len(item[0]))):
            if not any(family <= other and most >= count for other, count in kept):
                kept.append((family, most))
        return [(dict.fromkeys(sorted(family), 1.0), float(most)) for family, most in kept]

    def _most(self, family: frozenset[int], apart_mm: float) -> int:
        key = (family, apart_mm)
        if apart_mm <= 0.0:
            return MOST_COUNTED
        if key not in self._counted:
            corners = np.concatenate([self.kinds[k].corners for k in family])
            self._counted[key] = most_points(cast("BaseGeometry", shapely.multipoints(corners)), apart_mm)
        return self._counted[key]

    def _conflicts(self) -> list[tuple[int, int]]:
        """Return the pairs of kinds of which a shelf holds not one each."""
        found = []
        for a, b in combinations(range(len(self.kinds)), 2):
            one, other = self.kinds[a], self.kinds[b]
            both = [r + s for r, s in zip(one.inner, other.inner, strict=True) if r >= 0 and s >= 0]
            if both and farthest_mm(one.places, other.places) < max(both) + self.gap_mm:
                found.append((a, b))
        return found

    def _pairs(self, kinds: list[int]) -> list[Row]:
        """Of two kinds in conflict only one stands on a shelf: the shares of their own counts sum to 1 at most."""
        single = {k: max(1, self._alone(k)) for k in kinds}
        return [({a: 1 / single[a], b: 1 / single[b]}, 1.0) for a, b in self._apart if a in single and b in single]

    def _alone(self, kind: int) -> int:
        return min(
            self._most(frozenset([kind]), 2 * radius + self.gap_mm) for radius in self.kinds[kind].inner if radius >= 0
        )


def _spread(levels: list[float]) -> list[float]:
    """Return at most so many of the levels, the lowest and highest among them, evenly by number."""
    if len(levels) <= LEVELS:
        return levels
    return [levels[round(k * (len(levels) - 1) / (LEVELS - 1))] for k in range(LEVELS)]
