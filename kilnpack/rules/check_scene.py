"""A load with its codes resolved: what the checker walks over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from kilnpack.rules.check_solids import Array, moved
from kilnpack.shapes.outlines import in_kiln, point_in_kiln, region_polygon, square

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.furniture import PostType, ShelfType, Stub
    from kilnpack.model.kilns import Kiln, StackPlace
    from kilnpack.model.loads import Load, Standing, Tier
    from kilnpack.model.orders import Lot
    from kilnpack.model.pieces import Glaze, Product, RouteStep
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.rules.check_solids import Solid


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """Pieces of a lot at one place, with what the lot's firing asks for."""

    lot: Lot
    pieces: int
    product: Product
    step: RouteStep
    glaze: Glaze | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One body of a tier and the lots its pieces come from; `where` names it for a person."""

    standing: Standing
    solid: Solid
    fillings: tuple[Filling, ...]
    where: str

    @property
    def label(self) -> str:
        """Form and place number, for a person."""
        return f"{self.solid.form.code} at place {self.standing.place}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One tier with its furniture and bodies, in the kiln frame where not said otherwise."""

    place: StackPlace
    tier: Tier
    shelf: ShelfType
    posts: tuple[PostType, ...]
    bodies: tuple[Placed, ...]
    is_top: bool
    room_mm: float
    where: str

    @property
    def floor_mm(self) -> float:
        """Height of the shelf's upper side over floor or deck."""
        return self.tier.base_mm + self.shelf.thickness_mm

    @property
    def shelf_outline(self) -> BaseGeometry:
        """Outline of the shelf in its own frame."""
        return region_polygon(self.shelf.outline)

    @property
    def outline(self) -> BaseGeometry:
        """Outline of the shelf in the kiln."""
        return in_kiln(self.shelf_outline, self.place)

    @property
    def post_side_mm(self) -> float:
        """Side of the widest post on the shelf, 0 without posts."""
        return max((post.side_mm for post in self.posts), default=0.0)

    def post_squares(self) -> list[BaseGeometry]:
        """Sections of the posts in the kiln; none on an open top tier."""
        if not self.posts:
            return []
        side = self.post_side_mm
        return [in_kiln(square(x, y, side), self.place) for x, y in self.shelf.posts_mm]

    def cores_of(self, body: Placed) -> Array:
        """Cores of a body, moved into the kiln."""
        at = body.standing
        x, y = point_in_kiln(at.x_mm, at.y_mm, self.place)
        return moved(body.solid.cores, x, y, at.turn_deg + self.place.turn_deg)

    def point_of(self, body: Placed) -> tuple[float, float]:
        """Axis of a body in the kiln."""
        return point_in_kiln(body.standing.x_mm, body.standing.y_mm, self.place)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """The tiers of one stack that could be read, bottom to top."""

    place: StackPlace
    stub: Stub | None
    levels: tuple[Level, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Everything the checker walks over."""

    works: Works
    load: Load
    kiln: Kiln
    programme: Programme
    stacks: tuple[Stack, ...]

    @property
    def levels(self) -> tuple[Level, ...]:
        """All tiers, stack by stack, bottom to top."""
        return tuple(level for stack in self.stacks for level in stack.levels)

    @property
    def peak_degc(self) -> float:
        """Hottest temperature of the programme, degC."""
        return self.programme.peak_degc

    @property
    def chamber(self) -> BaseGeometry:
        """Outline of the chamber or deck."""
        return region_polygon(self.kiln.chamber)

    def offsets_k(self, points: list[tuple[float, float, float]]) -> tuple[float, float]:
        """Lowest and highest offset over some points of the kiln (Z1)."""
        chart = next((row for row in self.kiln.offsets if row.stage is self.programme.stage), None)
        if chart is None or not chart.readings:
            spread = self.works.settings.offset_spread_k if chart is None else chart.spread_k
            return -spread, spread
        at = np.array([(row.x_mm, row.y_mm, row.z_mm) for row in chart.readings])
        read = np.array([row.offset_k for row in chart.readings])
        apart = np.linalg.norm(np.array(points)[:, None, :] - at[None, :, :], axis=2)
        weight = 1.0 / np.maximum(apart, 1e-6) ** 2
        found = (weight * read).sum(axis=1) / weight.sum(axis=1)
        return float(found.min()), float(found.max())


def shelf_points(level: Level) -> list[tuple[float, float, float]]:
    """Corners and middle of a shelf at its upper side: where its heat is judged."""
    ring = shapely.get_coordinates(level.outline)
    middle = level.outline.centroid
    step = max(1, len(ring) // 12)
    return [(float(x), float(y), level.floor_mm) for x, y in (*ring[::step], (middle.x, middle.y))]
