"""Room and bodies as arrays for the kernels."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.shelf.walls import MARGIN_MM, Walls, as_columns, as_rows, block_tables, corners
from kilnpack.packing.shelf.way_down import with_way_down
from kilnpack.shapes.primitives import Primitive, ShelfBody, edge_inset, need
from kilnpack.shapes.room import (
    ConvexOutline,
    DiscOutline,
    HalfDiscOutline,
    Outline,
    RectOutline,
    Room,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

FROZEN_ARM_MM = 1.0e7
"""Arc a radian counts for where angles go in steps: so long that relaxing does not turn the body."""


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
    walls = Walls(axes, is_foot)
    walls.add_outline(room.outline, [inset + MARGIN_MM for inset in insets])
    for limit in room.limits:
        walls.add_limit(limit)
    blocks, block_need = block_tables(room, axes, is_foot)
    groups = [slice(int(a), int(b)) for a, b, _ in spans]
    x0, y0, x1, y1 = _bounds(room.outline)
    return ShelfTables(
        prims=prims,
        spans=spans,
        need=keep,
        reach2=_reach2(keep, reach, groups),
        planes=as_rows(walls.planes, 3),
        plane_in=as_columns(walls.plane_in, len(axes)),
        plane_far=_far(as_columns(walls.plane_in, len(axes)), reach, groups),
        rings=as_rows(walls.rings, 3),
        ring_in=as_columns(walls.ring_in, len(axes)),
        ring_far=_far(as_columns(walls.ring_in, len(axes)), reach, groups),
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
        ring = corners(outline)
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


def _bounds(outline: Outline) -> tuple[float, float, float, float]:
    if isinstance(outline, RectOutline | ConvexOutline):
        xs, ys = zip(*corners(outline), strict=True)
        return min(xs), min(ys), max(xs), max(ys)
    low_mm = outline.y_mm if isinstance(outline, HalfDiscOutline) else outline.y_mm - outline.radius_mm
    return (
        outline.x_mm - outline.radius_mm,
        low_mm,
        outline.x_mm + outline.radius_mm,
        outline.y_mm + outline.radius_mm,
    )


def _far(inset: NDArray[np.float64], reach: NDArray[np.float64], groups: Sequence[slice]) -> NDArray[np.float64]:
    if inset.shape[1] == 0:
        return np.zeros((len(groups), 0))
    far = inset + reach[:, None]
    return np.array([far[group].max(axis=0) for group in groups])
