"""Outlines and parts: the geometry every piece, shelf and keep-out is described with.

All lengths are millimetres. An outline is a union of discs and of convex polygons with rounded corners, which draws
handles, spouts, ovals and rounded squares without loss. A part is turned (radius over height) or extruded (an outline
between two heights).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

Point: TypeAlias = tuple[float, float]
"""(x, y) in mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A disc in the plane."""

    x_mm: float = 0.0
    y_mm: float = 0.0
    r_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundedPolygon:
    """A convex polygon (counter-clockwise corners) grown by a radius; two corners make a capsule."""

    corners_mm: tuple[Point, ...]
    round_mm: float = 0.0


Outline: TypeAlias = tuple[Disc | RoundedPolygon, ...]
"""The union of its members."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnedPart:
    """A part made on the wheel: `profile_mm` is (height, radius) from the bottom up, round the axis at (x, y)."""

    profile_mm: tuple[Point, ...]
    x_mm: float = 0.0
    y_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtrudedPart:
    """The same outline from one height to another: handles, spouts, ovals, boxes."""

    from_z_mm: float
    to_z_mm: float
    outline: Outline


Part: TypeAlias = TurnedPart | ExtrudedPart


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """An upright rectangle, corner at (x, y), used for shelves, chambers and keep-outs."""

    x_mm: float = 0.0
    y_mm: float = 0.0
    w_mm: float
    d_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfDisc:
    """The half of a disc round (x, y) with local y above it: straight edge along y, flat side to the front."""

    x_mm: float
    y_mm: float = 0.0
    r_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ConvexPolygon:
    """A convex polygon with counter-clockwise corners."""

    corners_mm: tuple[Point, ...]


Region: TypeAlias = Rectangle | Disc | HalfDisc | ConvexPolygon
"""What a shelf or a chamber may look like from above. All are convex."""
