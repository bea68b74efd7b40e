"""Discs and capsules over height: what the shelf engine knows of a body.

A primitive is a straight axis seen from above (a point for a disc, a segment for a capsule) with a radius that
changes over height. Two primitives keep their gap at every height both exist when their axes keep `need`; so the
third dimension costs one table look-up and nothing in the search.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Sequence

Profile: TypeAlias = tuple[tuple[float, float], ...]
"""(height in mm, radius in mm) from the foot up; equal heights in a row make a step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Primitive:
    """A disc or capsule in its body's own frame.

    Attributes
    ----------
    x_mm, y_mm
        Mid point of the axis.
    hx_mm, hy_mm
        Half of the axis as a vector; (0, 0) for a disc.
    profile
        Radius over height, straight between its points, closed at both ends.
    """

    x_mm: float
    y_mm: float
    hx_mm: float = 0.0
    hy_mm: float = 0.0
    profile: Profile

    def __post_init__(self) -> None:
        heights = [z_mm for z_mm, _ in self.profile]
        if not heights or any(low > high for low, high in pairwise(heights)):
            raise ValueError("a profile needs points in order of height")
        if any(radius_mm < 0 for _, radius_mm in self.profile):
            raise ValueError("a radius may not be negative")

    @property
    def reach_mm(self) -> float:
        """Greatest distance of the axis from the body's origin, in mm."""
        return max(
            math.hypot(self.x_mm + self.hx_mm, self.y_mm + self.hy_mm),
            math.hypot(self.x_mm - self.hx_mm, self.y_mm - self.hy_mm),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfBody:
    """A kind of body that may stand on the shelf, and how many there are.

    Attributes
    ----------
    primitives
        Cover of the body; their union is what keeps the gap.
    foot
        What must stand on the shelf. Empty: the sections of the primitives at height 0.
    value
        Worth of one body placed.
    count, must_pieces
        Bodies at hand, and how many of them have to be placed.
    overhang_mm
        How far sections above the foot may reach past the shelf's edge.
    turn_step_deg
        Angles allowed are multiples of this; 0 leaves the angle free.
    """

    code: str
    primitives: tuple[Primitive, ...]
    foot: tuple[Primitive, ...] = ()
    height_mm: float
    mass_kg: float = 0.0
    value: float
    count: int
    must_pieces: int = 0
    overhang_mm: float = 0.0
    turn_step_deg: float = 0.0

    def __post_init__(self) -> None:
        if not self.primitives:
            raise ValueError(f"{self.code}: a body needs at least one primitive")
        if not 0 <= self.must_pieces <= self.count:
            raise ValueError(f"{self.code}: {self.must_pieces} must be placed of {self.count}")

    @property
    def is_round(self) -> bool:
        """Whether turning the body changes nothing."""
        axes = self.primitives + self.foot
        return all(p.x_mm == p.y_mm == p.hx_mm == p.hy_mm == 0.0 for p in axes)


def radius_at(profile: Profile, z_mm: float) -> float | None:
    """Return the largest radius in mm at a height, None where the primitive does not exist."""
    if not profile[0][0] <= z_mm <= profile[-1][0]:
        return None
    best = max((radius_mm for level_mm, radius_mm in profile if level_mm == z_mm), default=-1.0)
    for (z0_mm, r0_mm), (z1_mm, r1_mm) in pairwise(profile):
        if z0_mm < z_mm < z1_mm:
            best = max(best, r0_mm + (r1_mm - r0_mm) * (z_mm - z0_mm) / (z1_mm - z0_mm))
    return best


@lru_cache(maxsize=1 << 17)
def profile_need(first: Profile, second: Profile) -> float:
    """Return the greatest sum of two radii over the heights both exist, in mm; -1 if they never meet.

    Both profiles are straight between their points, so the sum is greatest at a point of one of them.
    """
    low_mm = max(first[0][0], second[0][0])
    high_mm = min(first[-1][0], second[-1][0])
    if low_mm > high_mm:
        return -1.0
    levels = {low_mm, high_mm}
    levels.update(z_mm for z_mm, _ in first + second if low_mm < z_mm < high_mm)
    return max((radius_at(first, z) or 0.0) + (radius_at(second, z) or 0.0) for z in levels)


def outer_profiles(profiles: Sequence[Profile]) -> tuple[Profile, ...]:
    """Return the greatest radius over height of parts round one axis, one profile per unbroken stretch of height."""
    stretches: list[list[Profile]] = []
    for profile in sorted(profiles):
        if stretches and profile[0][0] <= max(p[-1][0] for p in stretches[-1]):
            stretches[-1].append(profile)
        else:
            stretches.append([profile])
    return tuple(stretch[0] if len(stretch) == 1 else _envelope(stretch) for stretch in stretches)


def _envelope(profiles: Sequence[Profile]) -> Profile:
    """Return the upper envelope of profiles, a step where one begins or ends."""
    levels = {z_mm for profile in profiles for z_mm, _ in profile}
    for one, first in enumerate(profiles):
        for second in profiles[:one]:
            levels.update(_crossings(first, second))
    points: list[tuple[float, float]] = []
    ordered = sorted(levels)
    for low_mm, high_mm in pairwise(ordered):
        middle_mm = (low_mm + high_mm) / 2
        here = [p for p in profiles if p[0][0] < middle_mm < p[-1][0]]
        best = max(here, key=lambda p: radius_at(p, middle_mm) or 0.0)
        points += [(low_mm, _side_radius(best, low_mm, middle_mm)), (high_mm, _side_radius(best, high_mm, middle_mm))]
    return tuple(dict.fromkeys(points))


def _side_radius(profile: Profile, z_mm: float, towards_mm: float) -> float:
    """Return the radius at a height as seen from another height, so a step counts on its own side only."""
    for (z0_mm, r0_mm), (z1_mm, r1_mm) in pairwise(profile):
        if z0_mm < z1_mm and z0_mm <= min(z_mm, towards_mm) and max(z_mm, towards_mm) <= z1_mm:
            return r0_mm + (r1_mm - r0_mm) * (z_mm - z0_mm) / (z1_mm - z0_mm)
    raise ValueError("no stretch of the profile holds both heights")


def _crossings(first: Profile, second: Profile) -> list[float]:
    """Return the heights at which two profiles change places."""
    found = []
    levels = sorted({z_mm for z_mm, _ in first + second})
    for low_mm, high_mm in pairwise(levels):
        middle_mm = (low_mm + high_mm) / 2
        if radius_at(first, middle_mm) is None or radius_at(second, middle_mm) is None:
            continue
        low_gap = _side_radius(first, low_mm, middle_mm) - _side_radius(second, low_mm, middle_mm)
        high_gap = _side_radius(first, high_mm, middle_mm) - _side_radius(second, high_mm, middle_mm)
        if low_gap * high_gap < 0:
            found.append(low_mm + (high_mm - low_mm) * low_gap / (low_gap - high_gap))
    return found


SKY_MM = 1e5
"""Height a body comes down from."""


@lru_cache(maxsize=4096)
def swept(profile: Profile) -> Profile:
    """Return the radius that has passed each height once a body is down: the greatest from its lower end up.

    Where a section widens again above a narrower one, the straight line between is taken, which is never too little.
    """
    way = [profile[0]]
    for z_mm, r_mm in profile[1:]:
        way.append((z_mm, max(way[-1][1], r_mm)))
    return (*way, (SKY_MM, way[-1][1]))


def need(first: Primitive, second: Primitive, gap_mm: float) -> float:
    """Return the distance in mm two axes must keep: max over common heights of r1(z) + r2(z) + gap, else 0."""
    radii_mm = profile_need(first.profile, second.profile)
    return 0.0 if radii_mm < 0 else radii_mm + gap_mm


def widest_between(profile: Profile, from_z_mm: float, to_z_mm: float) -> float | None:
    """Return the largest radius in mm between two heights, None where the primitive does not exist."""
    band_mm = profile_need(profile, ((from_z_mm, 0.0), (to_z_mm, 0.0)))
    return None if band_mm < 0 else band_mm


def edge_inset(primitive: Primitive, overhang_mm: float, foot_inset_mm: float, *, has_own_foot: bool) -> float:
    """Return how far inside the shelf's edge an axis must stay, in mm; negative where it may pass the edge.

    The foot stands wholly on the shelf, what is above may reach over by the overhang: max(foot, rim - overhang).
    """
    inset_mm = max(radius_mm for _, radius_mm in primitive.profile) - overhang_mm
    on_shelf_mm = None if has_own_foot else radius_at(primitive.profile, 0.0)
    return inset_mm if on_shelf_mm is None else max(inset_mm, on_shelf_mm + foot_inset_mm)
