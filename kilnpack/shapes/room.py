"""The room over one shelf: outline, posts, keep-outs and the limits of the chamber, in mm."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True, kw_only=True)
class RectOutline:
    """A rectangle, by default with its left front corner at the origin."""

    width_mm: float
    depth_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscOutline:
    """A disc around (x, y)."""

    radius_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfDiscOutline:
    """The half y >= y_mm of a disc around (x, y). Nothing reaches over its straight side."""

    radius_mm: float
    x_mm: float = 0.0
    y_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ConvexOutline:
    """A convex polygon, corners counter-clockwise."""

    corners: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        ring = self.corners
        if len(ring) < 3:
            raise ValueError("an outline needs three corners")
        for (ax, ay), (bx, by), (cx, cy) in zip(ring, ring[1:] + ring[:1], ring[2:] + ring[:2], strict=True):
            if (bx - ax) * (cy - by) - (by - ay) * (cx - bx) < -1e-9:
                raise ValueError("an outline must be convex with its corners counter-clockwise")


Outline: TypeAlias = RectOutline | DiscOutline | HalfDiscOutline | ConvexOutline


@dataclass(frozen=True, slots=True, kw_only=True)
class PostSquare:
    """A post that stands on the shelf over the full height: an upright rectangle."""

    x0_mm: float
    y0_mm: float
    x1_mm: float
    y1_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RectKeepOut:
    """A rectangle that bodies keep off by a clearance between two heights over the shelf."""

    x0_mm: float
    y0_mm: float
    x1_mm: float
    y1_mm: float
    from_z_mm: float = 0.0
    to_z_mm: float = math.inf
    clearance_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscKeepOut:
    """A disc that bodies keep off by a clearance between two heights over the shelf."""

    x_mm: float
    y_mm: float
    radius_mm: float
    from_z_mm: float = 0.0
    to_z_mm: float = math.inf
    clearance_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A convex region every section between two heights stays inside, less a clearance.

    The chamber's wall, a burner's side, half of the gap to a neighbouring stack.
    """

    outline: Outline
    clearance_mm: float = 0.0
    from_z_mm: float = 0.0
    to_z_mm: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """One shelf and the space above it.

    Attributes
    ----------
    outline
        The shelf.
    gap_mm, post_gap_mm
        Least distance between two bodies, and between a body and a post, at every height.
    clear_height_mm
        Greatest height of a body.
    load_limit_kg
        Greatest mass of all bodies together.
    foot_inset_mm
        How far inside the shelf's edge a foot stays.
    """

    outline: Outline
    posts: tuple[PostSquare, ...] = ()
    keep_outs: tuple[RectKeepOut | DiscKeepOut, ...] = ()
    limits: tuple[Limit, ...] = ()
    gap_mm: float = 0.0
    post_gap_mm: float = 0.0
    clear_height_mm: float = math.inf
    load_limit_kg: float = math.inf
    foot_inset_mm: float = 0.0
