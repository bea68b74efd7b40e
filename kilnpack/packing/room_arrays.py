"""A room as plain arrays for the row-by-row fill, turned by quarter turns."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from kilnpack.shapes.primitives import radius_at, widest_between
from kilnpack.shapes.room import (
    ConvexOutline,
    DiscOutline,
    HalfDiscOutline,
    Outline,
    RectKeepOut,
    RectOutline,
    Room,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.shapes.primitives import Profile

UNBOUND = 1e9
RECT, DISC, HALF_DISC, PLANES = 0, 1, 2, 3
FOOT_ONLY = 2


class Classes(Protocol):
    """The profile classes of a filler: profile, overhang; 1 where a body has a foot of its own, 2 for that foot."""

    class_profile: list[Profile]
    class_overhang: list[float]
    class_foot: list[int]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoomArrays:
    """Regions to stay in and blocks to keep off; shapes as in `span_kernel.room_table`."""

    rows: int
    y0_mm: float
    kinds: NDArray[np.int64]
    numbers: NDArray[np.float64]
    plane_first: NDArray[np.int64]
    planes: NDArray[np.float64]
    insets: NDArray[np.float64]
    flats: NDArray[np.float64]
    blocks: NDArray[np.float64]
    block_needs: NDArray[np.float64]


def room_arrays(room: Room, classes: Classes, rotation: int, step_mm: float) -> RoomArrays:
    """Return the arrays of a room turned anticlockwise by so many quarter turns."""
    regions = [(room.outline, *_shelf_insets(room, classes))]
    for limit in room.limits:
        keep = [
            UNBOUND if foot == FOOT_ONLY or wide is None else wide + limit.clearance_mm
            for wide, foot in zip(_widest(classes, limit.from_z_mm, limit.to_z_mm), classes.class_foot, strict=True)
        ]
        regions.append((limit.outline, keep, keep))
    shaped = [_region(outline, rotation) for outline, _, _ in regions]
    planes = [plane for _, _, some in shaped for plane in some]
    y0_mm, y1_mm = _depth(room.outline, rotation)
    blocks, needs = _blocks(room, classes, rotation)
    return RoomArrays(
        rows=int((y1_mm - y0_mm) / step_mm) + 1,
        y0_mm=y0_mm,
        kinds=np.array([kind for kind, _, _ in shaped], np.int64),
        numbers=np.array([numbers for _, numbers, _ in shaped], np.float64),
        plane_first=np.cumsum([0] + [len(some) for _, _, some in shaped]).astype(np.int64),
        planes=np.array(planes, np.float64).reshape(len(planes), 3),
        insets=np.array([keep for _, keep, _ in regions], np.float64),
        flats=np.array([flat for _, _, flat in regions], np.float64),
        blocks=blocks,
        block_needs=needs,
    )


def _shelf_insets(room: Room, classes: Classes) -> tuple[list[float], list[float]]:
    """Return insets from the shelf's edge by class, and from a straight side that nothing reaches over."""
    insets, flats = [], []
    for profile, overhang_mm, foot in zip(
        classes.class_profile, classes.class_overhang, classes.class_foot, strict=True
    ):
        widest = max(r for _, r in profile)
        on_shelf = radius_at(profile, 0.0)
        foot_mm = -UNBOUND if foot == 1 or on_shelf is None else on_shelf + room.foot_inset_mm
        if foot == FOOT_ONLY:
            foot_mm = widest + room.foot_inset_mm
            insets.append(foot_mm)
        else:
            insets.append(max(widest - overhang_mm, foot_mm))
        flats.append(max(widest, foot_mm))
    return insets, flats


def _widest(classes: Classes, from_z_mm: float, to_z_mm: float) -> list[float | None]:
    top = min(to_z_mm, 1e8)
    return [widest_between(profile, from_z_mm, top) if top >= from_z_mm else None for profile in classes.class_profile]


def _turned(x: float, y: float, rotation: int) -> tuple[float, float]:
    for _ in range(rotation):
        x, y = -y, x
    return x, y


def _ring(outline: Outline) -> Sequence[tuple[float, float]]:
    if isinstance(outline, ConvexOutline):
        return outline.corners
    if isinstance(outline, RectOutline):
        x0, y0 = outline.x_mm, outline.y_mm
        x1, y1 = x0 + outline.width_mm, y0 + outline.depth_mm
        return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    low = outline.y_mm if isinstance(outline, HalfDiscOutline) else outline.y_mm - outline.radius_mm
    r = outline.radius_mm
    return (
        (outline.x_mm - r, low),
        (outline.x_mm + r, low),
        (outline.x_mm + r, outline.y_mm + r),
        (outline.x_mm - r, outline.y_mm + r),
    )


def _depth(outline: Outline, rotation: int) -> tuple[float, float]:
    ys = [_turned(x, y, rotation)[1] for x, y in _ring(outline)]
    return min(ys), max(ys)


Shaped = tuple[int, tuple[float, float, float, float], list[tuple[float, float, float]]]


def _region(outline: Outline, rotation: int) -> Shaped:
    if isinstance(outline, RectOutline):
        corners = [_turned(x, y, rotation) for x, y in _ring(outline)]
        xs, ys = [x for x, _ in corners], [y for _, y in corners]
        return RECT, (min(xs), min(ys), max(xs), max(ys)), []
    if isinstance(outline, ConvexOutline):
        return PLANES, (0.0, 0.0, 0.0, 0.0), _planes([_turned(x, y, rotation) for x, y in outline.corners])
    x, y = _turned(outline.x_mm, outline.y_mm, rotation)
    if isinstance(outline, DiscOutline):
        return DISC, (x, y, outline.radius_mm, 0.0), []
    return HALF_DISC, (x, y, outline.radius_mm, float(rotation)), []


def _planes(corners: Sequence[tuple[float, float]]) -> list[tuple[float, float, float]]:
    planes = []
    for (ax, ay), (bx, by) in zip(corners, [*corners[1:], corners[0]], strict=True):
        length = math.hypot(bx - ax, by - ay)
        nx, ny = (by - ay) / length, (ax - bx) / length
        planes.append((nx, ny, nx * ax + ny * ay))
    return planes


def _blocks(room: Room, classes: Classes, rotation: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rows: list[tuple[float, float, float, float, float]] = []
    needs: list[list[float]] = []
    for post in room.posts:
        rows.append(_block_rect(post.x0_mm, post.y0_mm, post.x1_mm, post.y1_mm, rotation))
        needs.append(_block_need(classes, 0.0, math.inf, room.post_gap_mm))
    for keep in room.keep_outs:
        if isinstance(keep, RectKeepOut):
            rows.append(_block_rect(keep.x0_mm, keep.y0_mm, keep.x1_mm, keep.y1_mm, rotation))
        else:
            x, y = _turned(keep.x_mm, keep.y_mm, rotation)
            rows.append((0.0, x, y, keep.radius_mm, 0.0))
        needs.append(_block_need(classes, keep.from_z_mm, keep.to_z_mm, keep.clearance_mm))
    shape = (len(rows), len(classes.class_profile))
    return np.array(rows, np.float64).reshape(len(rows), 5), np.array(needs, np.float64).reshape(shape)


def _block_rect(x0: float, y0: float, x1: float, y1: float, rotation: int) -> tuple[float, float, float, float, float]:
    ax, ay = _turned(x0, y0, rotation)
    bx, by = _turned(x1, y1, rotation)
    return 1.0, min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)


def _block_need(classes: Classes, from_z_mm: float, to_z_mm: float, clear_mm: float) -> list[float]:
    return [
        -1.0 if foot == FOOT_ONLY or wide is None else wide + clear_mm
        for wide, foot in zip(_widest(classes, from_z_mm, to_z_mm), classes.class_foot, strict=True)
    ]
