"""Squared overlap of the bodies on a shelf, its slope, and the score of one spot.

Arrays (P primitives of T kinds of body, n bodies placed)
    prims[P, 5]    mid x, mid y, half vector x, half vector y, half length, in the body's frame, mm
    spans[T, 3]    first primitive, one past the last, 1 if turning changes nothing
    need[P, P]     distance two axes must keep, mm; 0 if their heights never meet
    reach2[T, T]   squared distance of two origins beyond which nothing meets, mm2
    planes[K, 3]   half-planes nx x + ny y >= c; then plane_in[P, K] inset, plane_far[T, K] reach + inset
    rings[C, 3]    discs to stay in (x, y, R); then ring_in[P, C] inset, ring_far[T, C] reach + inset
    blocks[B, 4]   rectangles to keep off (x0, y0, x1, y1); block_need[P, B], block_far[T, B]
    pose[n, 3]     x, y in mm, angle in radians; kinds[n]; world[n, M, 4] axes in the shelf's frame
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

import math

from kilnpack.shapes.kernel.compiled import kernel, small
from kilnpack.shapes.kernel.distance import axis_pair, block_lack, turned

NEVER = -1.0e8
"""An inset below this does not bind: the section is outside the heights of the limit."""


@small
def settle(i, kinds, pose, prims, spans, world):  # type: ignore[no-untyped-def]
    """Write the axes of body i in the shelf's frame."""
    kind = kinds[i]
    x = pose[i, 0]
    y = pose[i, 1]
    first = spans[kind, 0]
    if spans[kind, 2] == 1:
        for m in range(spans[kind, 1] - first):
            world[i, m, 0] = x
            world[i, m, 1] = y
            world[i, m, 2] = 0.0
            world[i, m, 3] = 0.0
        return
    c, s = turned(pose[i, 2])
    for m in range(spans[kind, 1] - first):
        p = first + m
        world[i, m, 0] = x + c * prims[p, 0] - s * prims[p, 1]
        world[i, m, 1] = y + s * prims[p, 0] + c * prims[p, 1]
        world[i, m, 2] = c * prims[p, 2] - s * prims[p, 3]
        world[i, m, 3] = s * prims[p, 2] + c * prims[p, 3]


@small
def push(i, px, py, fx, fy, pose, slope):  # type: ignore[no-untyped-def]
    """Add to the slope of body i what acts on it at a point."""
    slope[i, 0] += fx
    slope[i, 1] += fy
    slope[i, 2] += (px - pose[i, 0]) * fy - (py - pose[i, 1]) * fx


@small
def pair_energy(i, j, kinds, pose, prims, spans, need, world, slope):  # type: ignore[no-untyped-def]
    """Return the squared overlap of two bodies, mm2, and add its slope."""
    total = 0.0
    first_i = spans[kinds[i], 0]
    first_j = spans[kinds[j], 0]
    count_j = spans[kinds[j], 1] - first_j
    for m in range(spans[kinds[i], 1] - first_i):
        p = first_i + m
        ax = world[i, m, 0]
        ay = world[i, m, 1]
        for k in range(count_j):
            q = first_j + k
            wanted = need[p, q]
            if wanted <= 0.0:
                continue
            bx = world[j, k, 0]
            by = world[j, k, 1]
            reach = wanted + prims[p, 4] + prims[q, 4]
            if (ax - bx) * (ax - bx) + (ay - by) * (ay - by) >= reach * reach:
                continue
            lack, ux, uy, s, t = axis_pair(
                ax, ay, world[i, m, 2], world[i, m, 3], bx, by, world[j, k, 2], world[j, k, 3], wanted
            )
            if lack <= 0.0:
                continue
            total += lack * lack
            fx = -2.0 * lack * ux
            fy = -2.0 * lack * uy
            push(i, ax + s * world[i, m, 2], ay + s * world[i, m, 3], fx, fy, pose, slope)
            push(j, bx + t * world[j, k, 2], by + t * world[j, k, 3], -fx, -fy, pose, slope)
    return total


@small
def wall_energy(  # type: ignore[no-untyped-def]
    i, kinds, pose, prims, spans, world, planes, plane_in, plane_far, rings, ring_in, ring_far,
    blocks, block_need, block_far, slope,
):  # fmt: skip
    """Return the squared overlap of body i with edges, walls, posts and keep-outs, mm2, and add its slope."""
    total = 0.0
    kind = kinds[i]
    x = pose[i, 0]
    y = pose[i, 1]
    first = spans[kind, 0]
    count = spans[kind, 1] - first
    for k in range(planes.shape[0]):
        nx = planes[k, 0]
        ny = planes[k, 1]
        if nx * x + ny * y - planes[k, 2] >= plane_far[kind, k]:
            continue
        for m in range(count):
            inset = plane_in[first + m, k]
            if inset < NEVER:
                continue
            for end in range(2 if prims[first + m, 4] > 0.0 else 1):
                sign = 1.0 - 2.0 * end
                px = world[i, m, 0] + sign * world[i, m, 2]
                py = world[i, m, 1] + sign * world[i, m, 3]
                lack = planes[k, 2] + inset - nx * px - ny * py
                if lack > 0.0:
                    total += lack * lack
                    push(i, px, py, -2.0 * lack * nx, -2.0 * lack * ny, pose, slope)
    for k in range(rings.shape[0]):
        room = rings[k, 2] - ring_far[kind, k]
        dx = x - rings[k, 0]
        dy = y - rings[k, 1]
        if room > 0.0 and dx * dx + dy * dy <= room * room:
            continue
        for m in range(count):
            inset = ring_in[first + m, k]
            if inset < NEVER:
                continue
            for end in range(2 if prims[first + m, 4] > 0.0 else 1):
                sign = 1.0 - 2.0 * end
                px = world[i, m, 0] + sign * world[i, m, 2]
                py = world[i, m, 1] + sign * world[i, m, 3]
                dx = px - rings[k, 0]
                dy = py - rings[k, 1]
                d = math.sqrt(dx * dx + dy * dy)
                lack = d + inset - rings[k, 2]
                if lack > 0.0 and d > 1e-9:
                    total += lack * lack
                    push(i, px, py, 2.0 * lack * dx / d, 2.0 * lack * dy / d, pose, slope)
    for k in range(blocks.shape[0]):
        x0 = blocks[k, 0]
        y0 = blocks[k, 1]
        x1 = blocks[k, 2]
        y1 = blocks[k, 3]
        far = block_far[kind, k]
        if x >= x1 + far or x <= x0 - far or y >= y1 + far or y <= y0 - far:
            continue
        for m in range(count):
            wanted = block_need[first + m, k]
            if wanted <= 0.0:
                continue
            lack, gx, gy, px, py = block_lack(
                world[i, m, 0], world[i, m, 1], world[i, m, 2], world[i, m, 3], prims[first + m, 4], wanted,
                x0, y0, x1, y1,
            )  # fmt: skip
            if lack > 0.0:
                total += lack * lack
                push(i, px, py, -2.0 * lack * gx, -2.0 * lack * gy, pose, slope)
    return total


@kernel
def overlap(  # type: ignore[no-untyped-def]
    n, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
    blocks, block_need, block_far, world, slope,
):  # fmt: skip
    """Return the squared overlap of n bodies, mm2, and write its slope over (x, y, angle)."""
    total = 0.0
    for i in range(n):
        settle(i, kinds, pose, prims, spans, world)
        slope[i, 0] = 0.0
        slope[i, 1] = 0.0
        slope[i, 2] = 0.0
    for i in range(n):
        total += wall_energy(
            i, kinds, pose, prims, spans, world, planes, plane_in, plane_far, rings, ring_in, ring_far,
            blocks, block_need, block_far, slope,
        )  # fmt: skip
        for j in range(i):
            dx = pose[i, 0] - pose[j, 0]
            dy = pose[i, 1] - pose[j, 1]
            if dx * dx + dy * dy < reach2[kinds[i], kinds[j]]:
                total += pair_energy(i, j, kinds, pose, prims, spans, need, world, slope)
    return total


@small
def spot_overlap(  # type: ignore[no-untyped-def]
    i, n, bound, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
    blocks, block_need, block_far, world, slope,
):  # fmt: skip
    """Return the squared overlap of body i with all others, mm2, or the part found once it passes the bound."""
    settle(i, kinds, pose, prims, spans, world)
    total = wall_energy(
        i, kinds, pose, prims, spans, world, planes, plane_in, plane_far, rings, ring_in, ring_far,
        blocks, block_need, block_far, slope,
    )  # fmt: skip
    for j in range(n):
        if total >= bound:
            return total
        dx = pose[i, 0] - pose[j, 0]
        dy = pose[i, 1] - pose[j, 1]
        if j != i and dx * dx + dy * dy < reach2[kinds[i], kinds[j]]:
            total += pair_energy(i, j, kinds, pose, prims, spans, need, world, slope)
    return total


@kernel
def spot_energy(  # type: ignore[no-untyped-def]
    i, n, bound, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
    blocks, block_need, block_far, world, slope,
):  # fmt: skip
    """Return the same for whoever is not compiled into one piece with it."""
    return spot_overlap(
        i, n, bound, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
        blocks, block_need, block_far, world, slope,
    )  # fmt: skip
