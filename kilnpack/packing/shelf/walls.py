"""What bodies stay inside of and keep off, as arrays: half-planes, discs and rectangles."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.shapes.primitives import Primitive, widest_between
from kilnpack.shapes.room import (
    ConvexOutline,
    DiscOutline,
    HalfDiscOutline,
    Limit,
    Outline,
    RectKeepOut,
    RectOutline,
    Room,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

UNBOUND = -1.0e9
"""Inset of a section that a limit does not touch."""

MARGIN_MM = 0.02
"""Added to every distance kept, so that an overlap this small is still none."""

CHAMFERS = 6
"""Chords that stand for the round corner of a grown outline."""


class Walls:
    """Half-planes and discs to stay in, with an inset for each primitive."""

    def __init__(self, axes: Sequence[Primitive], is_foot: Sequence[bool]) -> None:
        self.axes = axes
        self.is_foot = is_foot
        self.planes: list[tuple[float, float, float]] = []
        self.plane_in: list[list[float]] = []
        self.rings: list[tuple[float, float, float]] = []
        self.ring_in: list[list[float]] = []

    def add_outline(self, outline: Outline, insets_mm: list[float], sides_mm: list[float] | None = None) -> None:
        """Keep every axis its inset inside an outline; `sides_mm` for a straight side nothing reaches over."""
        if isinstance(outline, DiscOutline | HalfDiscOutline):
            self.rings.append((outline.x_mm, outline.y_mm, outline.radius_mm))
            self.ring_in.append(insets_mm)
            if isinstance(outline, HalfDiscOutline):
                widest = [max(r for _, r in p.profile) + MARGIN_MM for p in self.axes]
                floor = [max(inset, wide) for inset, wide in zip(insets_mm, sides_mm or widest, strict=True)]
                self._add_plane(0.0, 1.0, outline.y_mm, floor)
            return
        ring = corners(outline)
        edges = list(zip(ring, [*ring[1:], ring[0]], strict=True))
        normals = []
        for (ax, ay), (bx, by) in edges:
            length = math.hypot(bx - ax, by - ay)
            normals.append(((ay - by) / length, (bx - ax) / length))
            nx, ny = normals[-1]
            self._add_plane(nx, ny, nx * ax + ny * ay, insets_mm)
        if min(insets_mm) < 0:
            for k, (x, y) in enumerate(ring):
                self._add_chamfers((x, y), normals[k - 1], normals[k], insets_mm)

    def _add_chamfers(
        self,
        corner: tuple[float, float],
        before: tuple[float, float],
        after: tuple[float, float],
        insets_mm: list[float],
    ) -> None:
        """Cut the corner of a grown outline by chords of its round corner."""
        turn = math.atan2(before[0] * after[1] - before[1] * after[0], before[0] * after[0] + before[1] * after[1])
        half = turn / CHAMFERS / 2
        for k in range(CHAMFERS):
            angle = math.atan2(before[1], before[0]) + (2 * k + 1) * half
            nx, ny = math.cos(angle), math.sin(angle)
            chord = [inset * math.cos(half) if inset < 0 else UNBOUND for inset in insets_mm]
            self._add_plane(nx, ny, nx * corner[0] + ny * corner[1], chord)

    def add_limit(self, limit: Limit) -> None:
        """Keep every section between the heights of a limit inside it."""
        insets = []
        for p, foot in zip(self.axes, self.is_foot, strict=True):
            wide_mm = None if foot else widest_between(p.profile, limit.from_z_mm, limit.to_z_mm)
            insets.append(UNBOUND if wide_mm is None else wide_mm + limit.clearance_mm + MARGIN_MM)
        self.add_outline(limit.outline, insets, insets)

    def _add_plane(self, nx: float, ny: float, c: float, insets_mm: list[float]) -> None:
        self.planes.append((nx, ny, c))
        self.plane_in.append(insets_mm)


def block_tables(
    room: Room, axes: Sequence[Primitive], is_foot: Sequence[bool]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return posts and keep-outs as rectangles, and what each primitive keeps off them."""
    rows: list[tuple[float, float, float, float]] = []
    columns: list[list[float]] = []

    def add(x0: float, y0: float, x1: float, y1: float, keep: Callable[[Primitive], float]) -> None:
        rows.append((x0, y0, x1, y1))
        columns.append([0.0 if foot else keep(p) for p, foot in zip(axes, is_foot, strict=True)])

    for post in room.posts:
        add(post.x0_mm, post.y0_mm, post.x1_mm, post.y1_mm, lambda p: _block_need(p, 0.0, math.inf, room.post_gap_mm))
    for place in room.keep_outs:
        if isinstance(place, RectKeepOut):
            x0, y0, x1, y1, grown_mm = place.x0_mm, place.y0_mm, place.x1_mm, place.y1_mm, 0.0
        else:
            x0, y0, x1, y1, grown_mm = place.x_mm, place.y_mm, place.x_mm, place.y_mm, place.radius_mm
        clear_mm = grown_mm + place.clearance_mm
        add(x0, y0, x1, y1, lambda p, k=place, c=clear_mm: _block_need(p, k.from_z_mm, k.to_z_mm, c))  # type: ignore[misc]
    return as_rows(rows, 4), as_columns(columns, len(axes))


def _block_need(p: Primitive, from_z_mm: float, to_z_mm: float, clear_mm: float) -> float:
    wide_mm = widest_between(p.profile, from_z_mm, to_z_mm)
    return 0.0 if wide_mm is None else wide_mm + clear_mm + MARGIN_MM


def corners(outline: RectOutline | ConvexOutline) -> list[tuple[float, float]]:
    """Return the corners of an outline of straight sides, counter-clockwise."""
    if isinstance(outline, ConvexOutline):
        return list(outline.corners)
    x0, y0 = outline.x_mm, outline.y_mm
    x1, y1 = x0 + outline.width_mm, y0 + outline.depth_mm
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def as_rows(rows: Sequence[Sequence[float]], width: int) -> NDArray[np.float64]:
    """Return rows as an array, also where there are none."""
    return np.array(rows, dtype=np.float64).reshape(len(rows), width)


def as_columns(columns: Sequence[Sequence[float]], height: int) -> NDArray[np.float64]:
    """Return columns as an array, also where there are none."""
    return np.ascontiguousarray(np.array(columns, dtype=np.float64).reshape(len(columns), height).T)
