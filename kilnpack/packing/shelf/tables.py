"""Room and bodies as arrays for the kernels."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.shelf.way_down import with_way_down
from kilnpack.shapes.primitives import Primitive, ShelfBody, edge_inset, need, widest_between
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

FROZEN_ARM_MM = 1.0e7
"""Arc a radian counts for where angles go in steps: so long that relaxing does not turn the body."""

CHAMFERS = 6
"""Chords that stand for the round corner of a grown outline."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShelfTables:
    """What the kernels read; shapes as in `kilnpack.shapes.kernel.overlap`."""

    prims: NDArray[np.float64]
    spans: NDArray[np.int64]
    need: NDArray[np.float64]
    reach2: NDArray[np.float64]
    planes: NDArray[np.float64]
    plane_in: NDArray[np.float64]
    plane_far: NDArray[np.float64]
    rings: NDArray[np.float64]
    ring_in: NDArray[np.float64]
    ring_far: NDArray[np.float64]
    blocks: NDArray[np.float64]
    block_need: NDArray[np.float64]
    block_far: NDArray[np.float64]
    arm: NDArray[np.float64]
    turn: NDArray[np.float64]
    frame: NDArray[np.float64]
    area: NDArray[np.float64]
    room_mm2: float

    def geometry(self) -> tuple[NDArray[np.float64] | NDArray[np.int64], ...]:
        """Return the arrays in the order the kernels take them."""
        return (
            self.prims, self.spans, self.need, self.reach2, self.planes, self.plane_in, self.plane_far,
            self.rings, self.ring_in, self.ring_far, self.blocks, self.block_need, self.block_far,
        )  # fmt: skip


@lru_cache(maxsize=256)
def shelf_tables(
    room: Room,
    primitives: tuple[tuple[Primitive, ...], ...],
    feet: tuple[tuple[Primitive, ...], ...],
    overhangs_mm: tuple[float, ...],
    turn_steps_deg: tuple[float, ...],
    *,
    from_above: bool = False,
) -> ShelfTables:
    """Build the tables for bodies in a room; kept, because the same bodies come again and again."""
    axes: list[Primitive] = []
    owner: list[int] = []
    is_foot: list[bool] = []
    spans = np.zeros((len(primitives), 3), dtype=np.int64)
    for kind, (body, foot) in enumerate(zip(primitives, feet, strict=True)):
        spans[kind, 0] = len(axes)
        axes += [*body, *foot]
        owner += [kind] * (len(body) + len(foot))
        is_foot += [False] * len(body) + [True] * len(foot)
        spans[kind, 1] = len(axes)
        spans[kind, 2] = all(p.reach_mm == 0.0 for p in (*body, *foot))
    prims = np.array([[p.x_mm, p.y_mm, p.hx_mm, p.hy_mm, math.hypot(p.hx_mm, p.hy_mm)] for p in axes])
    reach = np.array([p.reach_mm for p in axes])
    keep = _need_table(axes, is_foot, room.gap_mm)
    if from_above:
        keep = with_way_down(keep, [p.profile for p in axes], is_foot, spans, MARGIN_MM)
    own_foot = [bool(feet[kind]) for kind in owner]
    insets = [
        edge_inset(p, overhangs_mm[kind], room.foot_inset_mm, has_own_foot=own and not foot)
        for p, kind, own, foot in zip(axes, owner, own_foot, is_foot, strict=True)
    ]
    walls = _Walls(axes, is_foot)
    walls.add_outline(room.outline, [inset + MARGIN_MM for inset in insets])
    for limit in room.limits:
        walls.add_limit(limit)
    blocks, block_need = _blocks(room, axes, is_foot)
    groups = [slice(int(a), int(b)) for a, b, _ in spans]
    x0, y0, x1, y1 = _bounds(room.outline)
    return ShelfTables(
        prims=prims,
        spans=spans,
        need=keep,
        reach2=_reach2(keep, reach, groups),
        planes=_matrix(walls.planes, 3),
        plane_in=_columns(walls.plane_in, len(axes)),
        plane_far=_far(_columns(walls.plane_in, len(axes)), reach, groups),
        rings=_matrix(walls.rings, 3),
        ring_in=_columns(walls.ring_in, len(axes)),
        ring_far=_far(_columns(walls.ring_in, len(axes)), reach, groups),
        blocks=blocks,
        block_need=block_need,
        block_far=_far(block_need, reach, groups),
        arm=np.array(
            [
                max(1.0, 0.7 * _radius(group, axes)) + (FROZEN_ARM_MM if step > 0 else 0.0)
                for group, step in zip(groups, turn_steps_deg, strict=True)
            ]
        ),
        turn=np.radians(np.array(turn_steps_deg, dtype=np.float64)),
        frame=np.array([x0, y0, x1, y1], dtype=np.float64),
        area=np.array([_area(body, room.gap_mm) for body in primitives]),
        room_mm2=_room_area(room),
    )


def tables_for(
    room: Room, bodies: Sequence[ShelfBody], *, turn_step_deg: float = 0.0, from_above: bool = False
) -> ShelfTables:
    """Return the tables for these bodies; `turn_step_deg` is the least step of every body.

    With `from_above`, bodies keep a free way straight down as well (`kilnpack.packing.shelf.way_down`).
    """
    return shelf_tables(
        room,
        tuple(body.primitives for body in bodies),
        tuple(body.foot for body in bodies),
        tuple(body.overhang_mm for body in bodies),
        tuple(max(body.turn_step_deg, turn_step_deg) for body in bodies),
        from_above=from_above,
    )


def _area(body: Sequence[Primitive], gap_mm: float) -> float:
    """Return the area a body takes seen from above, grown by half the gap, in mm2."""
    from shapely import union_all
    from shapely.geometry import LineString, Point

    shapes = []
    for p in body:
        axis = LineString([(p.x_mm - p.hx_mm, p.y_mm - p.hy_mm), (p.x_mm + p.hx_mm, p.y_mm + p.hy_mm)])
        line = axis if p.hx_mm or p.hy_mm else Point(p.x_mm, p.y_mm)
        shapes.append(line.buffer(max(r for _, r in p.profile) + gap_mm / 2, quad_segs=16))
    return float(union_all(shapes).area)


def _room_area(room: Room) -> float:
    """Return the area of the shelf grown by half a gap, less posts, in mm2; a measure, not a bound."""
    outline = room.outline
    if isinstance(outline, DiscOutline):
        whole = math.pi * outline.radius_mm**2
    elif isinstance(outline, HalfDiscOutline):
        whole = math.pi * outline.radius_mm**2 / 2
    else:
        ring = _corners(outline)
        whole = sum(ax * by - bx * ay for (ax, ay), (bx, by) in zip(ring, [*ring[1:], ring[0]], strict=True)) / 2
    posts = sum((post.x1_mm - post.x0_mm) * (post.y1_mm - post.y0_mm) for post in room.posts)
    return whole - posts


def _radius(group: slice, axes: Sequence[Primitive]) -> float:
    return max(p.reach_mm + max(r_mm for _, r_mm in p.profile) for p in axes[group])


def _need_table(axes: Sequence[Primitive], is_foot: Sequence[bool], gap_mm: float) -> NDArray[np.float64]:
    """Return need[p, q] with the margin; a foot of its own keeps off edges only."""
    table = np.zeros((len(axes), len(axes)))
    for p, first in enumerate(axes):
        for q in range(p + 1):
            if is_foot[p] or is_foot[q]:
                continue
            wanted_mm = need(first, axes[q], gap_mm)
            table[p, q] = table[q, p] = wanted_mm + MARGIN_MM if wanted_mm > 0 else 0.0
    return table


def _reach2(keep: NDArray[np.float64], reach: NDArray[np.float64], groups: Sequence[slice]) -> NDArray[np.float64]:
    far = np.where(keep > 0, keep + reach[:, None] + reach[None, :], 0.0)
    return np.array([[far[a, b].max(initial=0.0) ** 2 for b in groups] for a in groups])


def _far(inset: NDArray[np.float64], reach: NDArray[np.float64], groups: Sequence[slice]) -> NDArray[np.float64]:
    if inset.shape[1] == 0:
        return np.zeros((len(groups), 0))
    far = inset + reach[:, None]
    return np.array([far[group].max(axis=0) for group in groups])


def _matrix(rows: Sequence[Sequence[float]], width: int) -> NDArray[np.float64]:
    return np.array(rows, dtype=np.float64).reshape(len(rows), width)


def _columns(columns: Sequence[Sequence[float]], height: int) -> NDArray[np.float64]:
    return np.ascontiguousarray(np.array(columns, dtype=np.float64).reshape(len(columns), height).T)


class _Walls:
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
        ring = _corners(outline)
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


def _corners(outline: RectOutline | ConvexOutline) -> list[tuple[float, float]]:
    if isinstance(outline, ConvexOutline):
        return list(outline.corners)
    x0, y0 = outline.x_mm, outline.y_mm
    x1, y1 = x0 + outline.width_mm, y0 + outline.depth_mm
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _bounds(outline: Outline) -> tuple[float, float, float, float]:
    if isinstance(outline, RectOutline | ConvexOutline):
        xs, ys = zip(*_corners(outline), strict=True)
        return min(xs), min(ys), max(xs), max(ys)
    low_mm = outline.y_mm if isinstance(outline, HalfDiscOutline) else outline.y_mm - outline.radius_mm
    return (
        outline.x_mm - outline.radius_mm,
        low_mm,
        outline.x_mm + outline.radius_mm,
        outline.y_mm + outline.radius_mm,
    )


def _blocks(
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
    return _matrix(rows, 4), _columns(columns, len(axes))


def _block_need(p: Primitive, from_z_mm: float, to_z_mm: float, clear_mm: float) -> float:
    wide_mm = widest_between(p.profile, from_z_mm, to_z_mm)
    return 0.0 if wide_mm is None else wide_mm + clear_mm + MARGIN_MM
