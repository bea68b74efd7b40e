"""Bodies as the checker sees them: straight cores grown by a radius that changes over height.

A turned part is a point with its profile, a disc a point, a rounded polygon its corners; each grown by its radius. So
the distance of two parts at a height is the distance of their cores less both radii, without rounding any arc.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import shapely
from shapely import MultiPoint
from shapely import Point as ShapelyPoint

from kilnpack.model.geometry import Disc, Part, RoundedPolygon, TurnedPart
from kilnpack.shapes.bodies import Body, stand

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.loads import BodyForm
    from kilnpack.model.works import Works

Profile: TypeAlias = tuple[tuple[float, float], ...]
Array: TypeAlias = "NDArray[Any]"
SKY_MM = 1e6
NEVER_MM = -1e9
"""Stands for: the two never meet at any height."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """A body's parts and foot in the frame of its axis: cores, and for each its radius over height."""

    form: BodyForm
    body: Body
    cores: Array
    profiles: tuple[Profile, ...]
    foot_cores: Array
    foot_radii_mm: Array

    @property
    def radii_mm(self) -> Array:
        """Greatest radius of every core, mm."""
        return np.array([max(r for _, r in profile) for profile in self.profiles])

    @property
    def rim_reach_mm(self) -> float:
        """Farthest that any part gets from the axis, mm."""
        return float(np.max(_far_mm(self.cores) + self.radii_mm))

    @property
    def foot_reach_mm(self) -> float:
        """Farthest that the foot gets from the axis, mm."""
        return float(np.max(_far_mm(self.foot_cores) + self.foot_radii_mm))

    @property
    def foot_inner_mm(self) -> float:
        """Radius of the largest disc round the axis that lies in one member of the foot, mm."""
        return max(_inner_mm(core, r) for core, r in zip(self.foot_cores, self.foot_radii_mm, strict=True))


def _far_mm(cores: Array) -> Array:
    axis = ShapelyPoint(0.0, 0.0)
    return np.array([shapely.hausdorff_distance(core, axis) for core in cores])


def _inner_mm(core: BaseGeometry, radius_mm: float) -> float:
    axis = ShapelyPoint(0.0, 0.0)
    if core.geom_type == "Polygon" and core.covers(axis):
        return float(core.boundary.distance(axis)) + radius_mm
    return radius_mm - float(core.distance(axis))


def solid(works: Works, form: BodyForm) -> Solid:
    """Build the solid of a form.

    Raises
    ------
    KeyError
        If the shape, the way of stacking, the support or the spacer is not in the works.
    """
    body = stand(works, form)
    pairs = [pair for part in body.parts for pair in _grown(part)]
    foot = [_core(member) for member in body.foot]
    return Solid(
        form=form,
        body=body,
        cores=_array([core for core, _ in pairs]),
        profiles=tuple(profile for _, profile in pairs),
        foot_cores=_array([core for core, _ in foot]),
        foot_radii_mm=np.array([radius for _, radius in foot]),
    )


def _array(geometries: list[BaseGeometry]) -> Array:
    found = np.empty(len(geometries), dtype=object)
    found[:] = geometries
    return found


def _grown(part: Part) -> list[tuple[BaseGeometry, Profile]]:
    if isinstance(part, TurnedPart):
        return [(ShapelyPoint(part.x_mm, part.y_mm), part.profile_mm)]
    return [(core, ((part.from_z_mm, r), (part.to_z_mm, r))) for core, r in map(_core, part.outline)]


def _core(member: Disc | RoundedPolygon) -> tuple[BaseGeometry, float]:
    if isinstance(member, Disc):
        return ShapelyPoint(member.x_mm, member.y_mm), member.r_mm
    return MultiPoint(member.corners_mm).convex_hull, member.round_mm


def moved(cores: Array, x_mm: float, y_mm: float, turn_deg: float) -> Array:
    """Return cores turned about the origin and then moved."""
    turn = math.radians(turn_deg)
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])

    def move(xy: Array) -> Array:
        return np.asarray(xy @ matrix + (x_mm, y_mm))

    return np.asarray(shapely.transform(cores, move))


def radius_mm(profile: Profile, z_mm: float) -> float:
    """Return the greatest radius of a profile at a height inside it, mm."""
    found = 0.0
    for (z0, r0), (z1, r1) in pairwise(profile):
        if z0 <= z_mm <= z1:
            found = max(found, max(r0, r1) if z0 == z1 else r0 + (r1 - r0) * (z_mm - z0) / (z1 - z0))
    return found


@lru_cache(maxsize=1 << 16)
def widest_mm(first: Profile, second: Profile) -> float:
    """Return the greatest sum of two radii over the heights both exist, mm; `NEVER_MM` where there is none."""
    low, high = max(first[0][0], second[0][0]), min(first[-1][0], second[-1][0])
    if low > high:
        return NEVER_MM
    levels = {low, high} | {z for z, _ in first + second if low < z < high}
    return max(radius_mm(first, z) + radius_mm(second, z) for z in levels)


def between_mm(profile: Profile, low_mm: float, high_mm: float) -> float:
    """Return the greatest radius of a profile between two heights, mm; `NEVER_MM` where it does not exist."""
    return widest_mm(profile, ((low_mm, 0.0), (high_mm, 0.0)))


@lru_cache(maxsize=1 << 14)
def way_down(profile: Profile) -> Profile:
    """Return what a part passes through while it is lowered: at each height the widest of all that lies below it."""
    way = [profile[0]]
    for (z0, r0), (z1, r1) in pairwise(profile):
        held = way[-1][1]
        if r1 <= held:
            way.append((z1, held))
            continue
        if r0 < held:
            way.append((z0 + (z1 - z0) * (held - r0) / (r1 - r0), held))
        way.append((z1, r1))
    return (*way, (SKY_MM, way[-1][1]))


def past_mm(region: BaseGeometry, cores: Array, radii_mm: Array) -> Array:
    """Return by how much grown cores reach past a convex region, mm; negative is room left inside."""
    xy, owner = shapely.get_coordinates(cores, return_index=True)
    points = shapely.points(xy)
    edge = shapely.distance(region.boundary, points)
    signed = np.where(shapely.covers(region, points), -edge, edge)
    found = np.full(len(cores), -np.inf)
    np.maximum.at(found, owner, signed)
    return found + radii_mm
