"""How far a packed load misses what is wished of it: even and low mass, like heat for sets, room for the flame.

Every wish gives a number that is 0 where it is met and about 1 where it is clearly missed, so that they can be added.
The rules behind it are the preferences Z3, Z6, C9, W11 and W12; the checker says them again in its own way.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import shapely

from kilnpack.model.kilns import WallKind
from kilnpack.packing.dealing import Matching, matching_lines, spread_k
from kilnpack.rules.heat import offset_map
from kilnpack.shapes.outlines import point_in_kiln, region_polygon
from kilnpack.shapes.primitives import radius_at

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.geometry import Point
    from kilnpack.packing.filler import Filled, Spot
    from kilnpack.packing.firing_rules import FiringRules
    from kilnpack.packing.state import LoadState
    from kilnpack.packing.works_problem import WorksProblem
    from kilnpack.shapes.primitives import Primitive

HOT_THINGS = ("element", "burner", "flame trench")
HEAT_K, LOW_MM, FLAT_BODIES, HANDLES, OPEN_SHARE = 10.0, 100.0, 4.0, 8.0, 0.1
"""What counts as clearly missed: kelvin apart, mm too high, bodies on the bottom tier, handles, share of a section."""


@dataclass(frozen=True, slots=True)
class Misses:
    """By how much each wish is missed; 0 is met."""

    sides: float
    low: float
    flat: float
    handles: float
    sets: float
    flame: float

    @property
    def total(self) -> float:
        """All of them together."""
        return self.sides + self.low + self.flat + self.handles + self.sets + self.flame


@dataclass(slots=True, eq=False)
class Wishes:
    """Measures loads of one firing; what does not change from load to load is kept."""

    rules: FiringRules
    built: WorksProblem
    _moments: dict[tuple[int, Filled], tuple[float, float]] = field(default_factory=dict)
    _sections: dict[tuple[int, Filled, float], float] = field(default_factory=dict)
    _facing: dict[tuple[int, Spot, float], bool] = field(default_factory=dict)
    _middle: float = 0.0
    _area_mm2: float = 0.0
    _hot: tuple[tuple[BaseGeometry, float, float], ...] = ()
    _is_flat: tuple[bool, ...] = ()
    _shelves_mm2: tuple[float, ...] = ()
    _tall_mm: dict[tuple[int, Filled], float] = field(default_factory=dict)
    _lines: tuple[Matching, ...] = ()
    _matching: frozenset[int] = frozenset()
    _heats: dict[tuple[int, float, float, float], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Look up what all loads share."""
        kiln, works = self.rules.kiln, self.rules.works
        chamber = region_polygon(kiln.chamber)
        self._middle, self._area_mm2 = float(chamber.centroid.x), float(chamber.area)
        self._hot = tuple(
            (region_polygon(keep.outline), keep.from_z_mm, keep.to_z_mm)
            for keep in kiln.keep_outs
            if keep.what in HOT_THINGS
        )
        self._is_flat = tuple(
            works.shape(form.shape).flatware and 2 * _reach_mm(ware.body.primitives) > self.rules.settings.large_flat_mm
            for form, ware in zip(self.built.ware.forms, self.built.ware.wares, strict=True)
        )
        self._shelves_mm2 = tuple(float(region_polygon(shelf.outline).area) for shelf in self.built.shelves)
        self._lines = tuple(matching_lines(works, self.built.ware).values())
        self._matching = frozenset(number for line in self._lines for number in line.pieces)

    def misses(self, state: LoadState) -> Misses:
        """Return by how much a load misses each wish."""
        return Misses(
            sides=self._sides(state),
            low=self._low(state),
            flat=self._flat(state) / FLAT_BODIES,
            handles=len(self.facing(state)) / HANDLES,
            sets=self._sets(state) / HEAT_K,
            flame=self._flame(state) / OPEN_SHARE,
        )

    # --- mass (Z6) -------------------------------------------------------------------------------------------------

    def _sides(self, state: LoadState) -> float:
        left = right = 0.0
        for stack, tiers in enumerate(state.stacks):
            for tier in tiers:
                own = self._halves_kg(stack, tier.filled)
                left, right = left + own[0], right + own[1]
        if min(left, right) <= 0.0:
            return float(max(left, right) > 0.0)
        return max(0.0, max(left, right) / min(left, right) - self.rules.settings.side_mass_ratio)

    def _halves_kg(self, stack: int, filled: Filled) -> tuple[float, float]:
        key = (stack, filled)
        if key not in self._moments:
            left = right = 0.0
            for spot in filled.spots:
                x, _ = self._point(stack, spot)
                mass = self.built.ware.bodies[spot.ware].mass_kg
                left, right = (left + mass, right) if x < self._middle else (left, right + mass)
            self._moments[key] = (left, right)
        return self._moments[key]

    def _low(self, state: LoadState) -> float:
        mass = moment = 0.0
        for stack, tiers in enumerate(state.stacks):
            shelf = self.built.shelves[stack]
            for base_mm, tier in zip(state.bases_mm(stack), tiers, strict=False):
                own = sum(self.built.ware.bodies[spot.ware].ware_kg for spot in tier.filled.spots) + shelf.mass_kg
                mass, moment = mass + own, moment + own * (base_mm + shelf.thickness_mm)
        middle = moment / mass if mass > 0 else 0.0
        return max(0.0, middle - self.rules.kiln.usable_height_mm / 2) / LOW_MM

    # --- ware (W11, W12) -------------------------------------------------------------------------------------------

    def _flat(self, state: LoadState) -> int:
        return sum(self._is_flat[spot.ware] for tiers in state.stacks if tiers for spot in tiers[0].filled.spots)

    def facing(self, state: LoadState) -> list[tuple[int, int, int]]:
        """Return the bodies whose handle points at something hot: stack, tier and number on it."""
        if not self._hot:
            return []
        return [
            (stack, at, k)
            for stack, tiers in enumerate(state.stacks)
            for at, (base_mm, tier) in enumerate(zip(state.bases_mm(stack), tiers, strict=False))
            for k, spot in enumerate(tier.filled.spots)
            if self.faces_heat(stack, spot, base_mm)
        ]

    def faces_heat(self, stack: int, spot: Spot, base_mm: float) -> bool:
        """Whether a handle, carried on by the clearance to the wall, meets something hot at its height (W12)."""
        key = (stack, spot, round(base_mm, 1))
        if key not in self._facing:
            self._facing[key] = self._meets_heat(stack, spot, base_mm)
        return self._facing[key]

    def _meets_heat(self, stack: int, spot: Spot, base_mm: float) -> bool:
        form, ware = self.built.ware.forms[spot.ware], self.built.ware.wares[spot.ware]
        handle = self.rules.works.shape(form.shape).handle_deg
        if handle is None:
            return False
        low = base_mm + self.built.shelves[stack].thickness_mm
        near = [thing for thing, z0, z1 in self._hot if z0 < low + ware.body.height_mm and z1 > low]
        x, y = self._point(stack, spot)
        way = math.radians(handle + spot.turn_deg + self.built.places[stack].turn_deg)
        far = _reach_mm(ware.body.primitives) + self.rules.settings.ware_wall_electric_mm
        ray = shapely.LineString([(x, y), (x + far * math.cos(way), y + far * math.sin(way))])
        return any(shapely.intersects(ray, thing) for thing in near)

    def _point(self, stack: int, spot: Spot) -> Point:
        return point_in_kiln(spot.x_mm, spot.y_mm, self.built.places[stack])

    # --- sets (Z3) -------------------------------------------------------------------------------------------------

    def heat_k(self, stack: int, spot: Spot, base_mm: float) -> float:
        """Return the middle of how much hotter or colder than the programme a body stands (Z1)."""
        key = (stack, spot.x_mm, spot.y_mm, base_mm)
        if key not in self._heats:
            x, y = self._point(stack, spot)
            low, high = self.rules.offset_range_k(x, y, base_mm + self.built.shelves[stack].thickness_mm)
            self._heats[key] = (low + high) / 2
        return self._heats[key]

    def _sets(self, state: LoadState) -> float:
        """Return by how many kelvin the sets of all lines are farther apart than they may be."""
        chart = offset_map(self.rules.kiln, self.rules.stage)
        if not self._lines or chart is None or not chart.readings:
            return 0.0
        slots: dict[int, list[tuple[float, int]]] = defaultdict(list)
        for stack, tiers in enumerate(state.stacks):
            for base_mm, tier in zip(state.bases_mm(stack), tiers, strict=False):
                for spot in tier.filled.spots:
                    ware = self.built.ware.wares[spot.ware]
                    if ware.group in self._matching:
                        slots[ware.group].append((self.heat_k(stack, spot, base_mm), ware.pieces))
        return sum(max(0.0, spread_k(slots, line) - line.within_k) for line in self._lines)

    # --- flame (C9) ------------------------------------------------------------------------------------------------

    def _flame(self, state: LoadState) -> float:
        if self.rules.kiln.wall is not WallKind.GAS:
            return 0.0
        rows = [
            (stack, base_mm, tier.filled)
            for stack, tiers in enumerate(state.stacks)
            for base_mm, tier in zip(state.bases_mm(stack), tiers, strict=False)
        ]
        for stack, _, filled in rows:
            if (stack, filled) not in self._tall_mm:
                tops = (self.built.ware.wares[spot.ware].body.height_mm for spot in filled.spots)
                self._tall_mm[stack, filled] = max(tops, default=0.0)
        levels = {base_mm + self.built.shelves[stack].thickness_mm / 2 for stack, base_mm, _ in rows}
        most = max((sum(self._section_mm2(*row, z) for row in rows) for z in levels), default=0.0)
        return max(0.0, most / self._area_mm2 - 1.0 + self.rules.settings.flame_open_share)

    def _section_mm2(self, stack: int, base_mm: float, filled: Filled, z_mm: float) -> float:
        shelf = self.built.shelves[stack]
        z = round(z_mm - base_mm - shelf.thickness_mm, 1)
        if -shelf.thickness_mm <= z <= 0:
            return self._shelves_mm2[stack]
        if not 0 < z <= self._tall_mm[stack, filled]:
            return 0.0
        key = (stack, filled, z)
        if key not in self._sections:
            self._sections[key] = sum(
                2 * r * 2 * math.hypot(p.hx_mm, p.hy_mm) + math.pi * r * r
                for spot in filled.spots
                for p in self.built.ware.wares[spot.ware].body.primitives
                if (r := radius_at(p.profile, z)) is not None
            )
        return self._sections[key]


def _reach_mm(primitives: tuple[Primitive, ...]) -> float:
    return max(p.reach_mm + max(r for _, r in p.profile) for p in primitives)
