"""What stands round every tier of a kiln: shelf, posts, walls, neighbours, keep-outs, cone packs, and its heat."""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from shapely.geometry import Point as ShapelyPoint
from shapely.ops import nearest_points

from kilnpack.packing.region_outline import outline_of, own_half, seen_from_shelf
from kilnpack.rules.heat import window_met
from kilnpack.shapes.outlines import in_kiln, point_in_kiln, region_polygon
from kilnpack.shapes.room import DiscKeepOut, Limit, PostSquare, RectKeepOut, Room

if TYPE_CHECKING:
    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.geometry import Point
    from kilnpack.model.kilns import StackPlace
    from kilnpack.packing.firing_rules import FiringRules
    from kilnpack.packing.ready_ware import ReadyWare
    from kilnpack.rules.heat import Span

HEAT_BAND_MM = 20.0
"""Heights this near to each other share one look at the offset map, at both ends of the band."""

COARSE_MM = 40.0
"""Heights of keep-outs are widened to whole multiples of this."""

KILNS_KEPT = 16
"""Kilns, each with its stage, whose heat is kept between loads."""

SAMPLES = 3
"""Points across and along a shelf at which its heat is looked up."""


@dataclass(frozen=True, eq=False)
class KilnSite:
    """The rooms of one kiln in one firing; see `problem.Site`."""

    rules: FiringRules
    ware: ReadyWare
    places: tuple[StackPlace, ...]
    shelves: tuple[ShelfType, ...]
    """The shelf of each stack."""
    gap_mm: float
    _plain: dict[int, Room] = field(default_factory=dict)
    _rooms: dict[tuple[int, float, float | None], Room | None] = field(default_factory=dict)
    _masks: dict[tuple[int, int, int], int] = field(default_factory=dict)
    _spans: dict[tuple[int, float, float], Span] = field(init=False)

    def __post_init__(self) -> None:
        """Take up what is known of the heat over these shelves."""
        object.__setattr__(self, "_spans", _known_spans(self))

    def room(self, stack: int, base_mm: float, posts_mm: float | None) -> Room | None:
        """Return the room over a shelf whose underside is at base_mm, None where the tier cannot be built.

        That is where the roof is too near, or a post would stand in the sight on a cone pack or in a keep-out.
        """
        key = (stack, round(base_mm, 3), posts_mm)
        if key not in self._rooms:
            self._rooms[key] = self._build(stack, base_mm, posts_mm)
        return self._rooms[key]

    def _build(self, stack: int, base_mm: float, posts_mm: float | None) -> Room | None:
        plain = self._plain.get(stack)
        if plain is None:
            plain = self._plain[stack] = self._plain_room(stack)
        floor_mm = base_mm + self.shelves[stack].thickness_mm
        clear_mm = self.rules.roof_mm - floor_mm if posts_mm is None else posts_mm - self.rules.headroom_mm
        place, shelf = self.places[stack], self.shelves[stack]
        if clear_mm <= 0 or (posts_mm is not None and self.rules.posts_in_the_way(place, shelf, floor_mm, posts_mm)):
            return None
        ceiling_mm = math.inf if posts_mm is None else posts_mm
        keeps = self.rules.keep_outs(place, shelf, floor_mm, ceiling_mm)
        return Room(
            outline=plain.outline,
            posts=plain.posts if posts_mm is not None else (),
            keep_outs=tuple(coarse(keep, clear_mm) for keep in keeps if keep.from_z_mm < clear_mm),
            limits=plain.limits,
            gap_mm=plain.gap_mm,
            post_gap_mm=plain.post_gap_mm,
            clear_height_mm=clear_mm,
            load_limit_kg=plain.load_limit_kg,
            foot_inset_mm=plain.foot_inset_mm,
        )

    def _plain_room(self, stack: int) -> Room:
        rules, place, shelf = self.rules, self.places[stack], self.shelves[stack]
        half = rules.post_side_mm / 2
        kinds = {item.code: item for item in rules.works.furniture.shelves}
        # Also a stack that cannot be built now keeps its half of the joint.
        others = [(p, kinds[p.shelf]) for p in rules.kiln.places if p.code != place.code]
        limits = [Limit(outline=seen_from_shelf(rules.kiln.chamber, place), clearance_mm=rules.wall_mm)]
        half_plane = own_half(place, shelf.outline, [(p, s.outline) for p, s in others])
        # Ware of two stacks keeps the gap of C1 across the joint: half of it on either side of the middle.
        limits += [replace(half_plane, clearance_mm=self.gap_mm / 2)] if half_plane else []
        return Room(
            outline=outline_of(shelf.outline),
            posts=tuple(
                PostSquare(x0_mm=x - half, y0_mm=y - half, x1_mm=x + half, y1_mm=y + half) for x, y in shelf.posts_mm
            ),
            limits=tuple(limits),
            gap_mm=self.gap_mm,
            post_gap_mm=rules.post_gap_mm,
            load_limit_kg=rules.load_limit_kg(shelf),
            foot_inset_mm=rules.settings.foot_edge_mm,
        )

    def allowed(self, stack: int, base_mm: float, posts_mm: float | None) -> int:
        """Return the kinds whose window the heat of the whole tier lies in, bit k for kind k."""
        band = math.floor(base_mm / HEAT_BAND_MM)
        height_mm = posts_mm if posts_mm is not None else max(0.0, self.rules.roof_mm - base_mm)
        key = (stack, band, math.ceil(height_mm / HEAT_BAND_MM))
        if key not in self._masks:
            self._masks[key] = self._mask(stack, band * HEAT_BAND_MM, height_mm)
        return self._masks[key]

    def _mask(self, stack: int, low_mm: float, height_mm: float) -> int:
        groups = self.ware.groups
        if all(group.low_degc is None and group.high_degc is None for group in groups):
            return (1 << len(self.ware.wares)) - 1
        low_k, high_k = self._heat_span_k(stack, low_mm, height_mm)
        peak = self.rules.peak_degc
        mask = 0
        for k, ware in enumerate(self.ware.wares):
            group = groups[ware.group]
            fits = window_met((group.low_degc, group.high_degc), peak + low_k, peak + high_k)
            mask |= int(fits) << k
        return mask

    def heat_of(self, stack: int, base_mm: float, posts_mm: float | None) -> Span:
        """Return how much colder and hotter than the programme a tier may be, K; None for an open top tier."""
        height_mm = posts_mm if posts_mm is not None else max(0.0, self.rules.roof_mm - base_mm)
        return self._heat_span_k(stack, math.floor(base_mm / HEAT_BAND_MM) * HEAT_BAND_MM, height_mm)

    def _heat_span_k(self, stack: int, low_mm: float, height_mm: float) -> Span:
        key = (stack, low_mm, height_mm)
        if key not in self._spans:
            self._spans[key] = self._spanned_k(*key)
        return self._spans[key]

    def _spanned_k(self, stack: int, low_mm: float, height_mm: float) -> Span:
        floor_mm = low_mm + self.shelves[stack].thickness_mm
        heights = [floor_mm, floor_mm + HEAT_BAND_MM, floor_mm + height_mm, floor_mm + HEAT_BAND_MM + height_mm]
        points = [(x, y, z) for x, y in self._points(stack) for z in (*heights, sum(heights) / 4)]
        points += self._nearest_to_readings(stack, min(heights), max(heights))
        offsets = [self.rules.offset_range_k(*point) for point in points]
        return min(low for low, _ in offsets), max(high for _, high in offsets)

    def _nearest_to_readings(self, stack: int, low_mm: float, high_mm: float) -> list[tuple[float, float, float]]:
        """Return the points over a shelf that lie nearest to the readings, where heat has its peaks."""
        shelf = in_kiln(region_polygon(self.shelves[stack].outline), self.places[stack])
        found = []
        for row in self.rules.readings:
            at, _ = nearest_points(shelf, ShapelyPoint(row.x_mm, row.y_mm))
            found.append((float(at.x), float(at.y), min(max(row.z_mm, low_mm), high_mm)))
        return found

    def _points(self, stack: int) -> list[Point]:
        x0, y0, x1, y1 = self.rules.bounds(self.shelves[stack])
        return [
            point_in_kiln(x0 + (x1 - x0) * i / (SAMPLES - 1), y0 + (y1 - y0) * j / (SAMPLES - 1), self.places[stack])
            for i in range(SAMPLES)
            for j in range(SAMPLES)
        ]


_kept_spans: OrderedDict[object, dict[tuple[int, float, float], Span]] = OrderedDict()
"""Heat over the shelves of the kilns asked for last: a plan asks for the same again with every load."""


def _known_spans(site: KilnSite) -> dict[tuple[int, float, float], Span]:
    """Return what is known of the heat over these shelves, by stack, height of the shelf and room over it."""
    rules = site.rules
    shelves = tuple((shelf.outline, shelf.thickness_mm) for shelf in site.shelves)
    key = (rules.kiln, rules.stage, rules.settings.offset_spread_k, site.places, shelves)
    spans = _kept_spans.setdefault(key, {})
    _kept_spans.move_to_end(key)
    while len(_kept_spans) > KILNS_KEPT:
        _kept_spans.popitem(last=False)
    return spans


def coarse(keep: DiscKeepOut | RectKeepOut, clear_mm: float) -> DiscKeepOut | RectKeepOut:
    """Return a keep-out with its heights widened to whole steps, so that like tiers share one room."""
    low = math.floor(keep.from_z_mm / COARSE_MM) * COARSE_MM
    high = math.ceil(keep.to_z_mm / COARSE_MM) * COARSE_MM if keep.to_z_mm < clear_mm else math.inf
    return replace(keep, from_z_mm=max(0.0, low), to_z_mm=high)
