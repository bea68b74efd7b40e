"""The overlap of all bodies again and again while they move a little: lists of what is near, kept until it is not.

Arrays (S sections: every primitive of every body placed, body after body)
    first[n + 1]   first section of each body; prim[S] its primitive, body[S] its body
    axes[S, 4]     mid x, mid y, half vector x, half vector y in the shelf's frame, mm
    seen[S, 2]     mids when the lists were made, mm
    lists          rows that may come to overlap before some mid has moved by half of `SKIN_MM`
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

import math

import numpy as np

from kilnpack.shapes.kernel.compiled import borrowed, kernel, small
from kilnpack.shapes.kernel.distance import axis_pair, block_lack, off_block, turned
from kilnpack.shapes.kernel.overlap import NEVER, push

SKIN_MM = 12.0
MOVED2_MM2 = (SKIN_MM / 2.0) ** 2


@kernel
def sections(n, kinds, spans):  # type: ignore[no-untyped-def]
    """Return the section arrays of n bodies; no list is made yet."""
    total = 0
    for i in range(n):
        total += spans[kinds[i], 1] - spans[kinds[i], 0]
    first = np.empty(n + 1, dtype=np.uint32)
    prim = np.empty(total, dtype=np.uint32)
    body = np.empty(total, dtype=np.uint32)
    s = 0
    for i in range(n):
        first[i] = s
        for p in range(spans[kinds[i], 0], spans[kinds[i], 1]):
            prim[s] = p
            body[s] = i
            s += 1
    first[n] = s
    return first, prim, body, np.zeros((total, 4)), np.full((total, 2), 1e30)


@kernel
def list_near(  # type: ignore[no-untyped-def]
    n, kinds, pose, prims, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
    blocks, block_need, block_far, first, prim, axes, seen,
):  # fmt: skip
    """Return the lists: pairs of sections (discs from the front, axes of some length from the back) and what they keep,
    then sections with planes, rings and blocks the same way, and the lengths of the lists.
    """  # noqa: D205 (one sentence)
    (
        kinds, pose, prims, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far, blocks,
        block_need, block_far, first, prim, axes, seen,
    ) = borrowed(
        kinds, pose, prims, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far, blocks,
        block_need, block_far, first, prim, axes, seen,
    )  # fmt: skip
    room = 0
    for i in range(n):
        for j in range(i):
            dx = pose[i, 0] - pose[j, 0]
            dy = pose[i, 1] - pose[j, 1]
            reach = math.sqrt(reach2[kinds[i], kinds[j]])
            if reach > 0.0 and dx * dx + dy * dy < (reach + SKIN_MM) ** 2:
                room += (first[i + 1] - first[i]) * (first[j + 1] - first[j])
    pairs = np.empty((room, 2), dtype=np.uint32)
    keep = np.empty(room)
    total = axes.shape[0]
    edges = np.empty((total * (planes.shape[0] + rings.shape[0]), 2), dtype=np.uint32)
    posts = np.empty((total * blocks.shape[0], 2), dtype=np.uint32)
    discs = 0
    bars = 0
    flat = 0
    curved = 0
    square = 0
    for i in range(n):
        for s in range(first[i], first[i + 1]):
            seen[s, 0] = axes[s, 0]
            seen[s, 1] = axes[s, 1]
        for j in range(i):
            dx = pose[i, 0] - pose[j, 0]
            dy = pose[i, 1] - pose[j, 1]
            reach = math.sqrt(reach2[kinds[i], kinds[j]])
            if reach <= 0.0 or dx * dx + dy * dy >= (reach + SKIN_MM) ** 2:
                continue
            for a in range(first[i], first[i + 1]):
                p = prim[a]
                for b in range(first[j], first[j + 1]):
                    q = prim[b]
                    wanted = need[p, q]
                    if wanted <= 0.0:
                        continue
                    spread = prims[p, 4] + prims[q, 4]
                    dx = axes[a, 0] - axes[b, 0]
                    dy = axes[a, 1] - axes[b, 1]
                    if dx * dx + dy * dy >= (wanted + spread + SKIN_MM) ** 2:
                        continue
                    if spread > 0.0:
                        bars += 1
                        row = room - bars
                    else:
                        row = discs
                        discs += 1
                    pairs[row, 0] = a
                    pairs[row, 1] = b
                    keep[row] = wanted
        for k in range(planes.shape[0]):
            if planes[k, 0] * pose[i, 0] + planes[k, 1] * pose[i, 1] - planes[k, 2] >= plane_far[kinds[i], k] + SKIN_MM:
                continue
            for s in range(first[i], first[i + 1]):
                inset = plane_in[prim[s], k]
                far = planes[k, 0] * axes[s, 0] + planes[k, 1] * axes[s, 1] - planes[k, 2] - prims[prim[s], 4]
                if inset >= NEVER and far < inset + SKIN_MM:
                    edges[flat, 0] = s
                    edges[flat, 1] = k
                    flat += 1
        for k in range(rings.shape[0]):
            within = rings[k, 2] - ring_far[kinds[i], k] - SKIN_MM
            dx = pose[i, 0] - rings[k, 0]
            dy = pose[i, 1] - rings[k, 1]
            if within > 0.0 and dx * dx + dy * dy <= within * within:
                continue
            for s in range(first[i], first[i + 1]):
                inset = ring_in[prim[s], k]
                if inset < NEVER:
                    continue
                dx = axes[s, 0] - rings[k, 0]
                dy = axes[s, 1] - rings[k, 1]
                within = rings[k, 2] - inset - prims[prim[s], 4] - SKIN_MM
                if within <= 0.0 or dx * dx + dy * dy > within * within:
                    curved += 1
                    edges[edges.shape[0] - curved, 0] = s
                    edges[edges.shape[0] - curved, 1] = k
        for k in range(blocks.shape[0]):
            away, _, _ = off_block(pose[i, 0], pose[i, 1], blocks[k, 0], blocks[k, 1], blocks[k, 2], blocks[k, 3])
            if away >= block_far[kinds[i], k] + SKIN_MM:
                continue
            for s in range(first[i], first[i + 1]):
                wanted = block_need[prim[s], k]
                if wanted <= 0.0:
                    continue
                away, _, _ = off_block(axes[s, 0], axes[s, 1], blocks[k, 0], blocks[k, 1], blocks[k, 2], blocks[k, 3])
                if away < wanted + prims[prim[s], 4] + SKIN_MM:
                    posts[square, 0] = s
                    posts[square, 1] = k
                    square += 1
    return pairs, keep, edges, posts, discs, bars, flat, curved, square


@small
def place_sections(n, kinds, pose, prims, spans, first, prim, axes, seen):  # type: ignore[no-untyped-def]
    """Write the axes of all bodies in the shelf's frame; return the greatest square of how far a mid has moved, mm2."""
    far = 0.0
    for i in range(n):
        x = pose[i, 0]
        y = pose[i, 1]
        if spans[kinds[i], 2] == 1:
            for a in range(first[i], first[i + 1]):
                axes[a, 0] = x
                axes[a, 1] = y
                dx = x - seen[a, 0]
                dy = y - seen[a, 1]
                far = max(far, dx * dx + dy * dy)
            continue
        c, s = turned(pose[i, 2])
        for a in range(first[i], first[i + 1]):
            p = prim[a]
            axes[a, 0] = x + c * prims[p, 0] - s * prims[p, 1]
            axes[a, 1] = y + s * prims[p, 0] + c * prims[p, 1]
            axes[a, 2] = c * prims[p, 2] - s * prims[p, 3]
            axes[a, 3] = s * prims[p, 2] + c * prims[p, 3]
            dx = axes[a, 0] - seen[a, 0]
            dy = axes[a, 1] - seen[a, 1]
            far = max(far, dx * dx + dy * dy)
    return far


@small
def listed_overlap(  # type: ignore[no-untyped-def]
    n, pose, prims, planes, plane_in, rings, ring_in, blocks, block_need, prim, body, axes,
    pairs, keep, edges, posts, discs, bars, flat, curved, square, slope,
):  # fmt: skip
    """Return the squared overlap of all that is listed, mm2, and write its slope over (x, y, angle)."""
    total = 0.0
    for i in range(n):
        slope[i, 0] = 0.0
        slope[i, 1] = 0.0
        slope[i, 2] = 0.0
    for row in range(discs):
        a = pairs[row, 0]
        b = pairs[row, 1]
        wanted = keep[row]
        dx = axes[a, 0] - axes[b, 0]
        dy = axes[a, 1] - axes[b, 1]
        d2 = dx * dx + dy * dy
        if d2 >= wanted * wanted:
            continue
        d = math.sqrt(d2)
        lack = wanted - d
        total += lack * lack
        if d < 1e-9:
            dx = 1.0
            dy = 0.0
            d = 1.0
        fx = -2.0 * lack * dx / d
        fy = -2.0 * lack * dy / d
        push(body[a], axes[a, 0], axes[a, 1], fx, fy, pose, slope)
        push(body[b], axes[b, 0], axes[b, 1], -fx, -fy, pose, slope)
    for row in range(pairs.shape[0] - bars, pairs.shape[0]):
        a = pairs[row, 0]
        b = pairs[row, 1]
        wanted = keep[row]
        dx = axes[a, 0] - axes[b, 0]
        dy = axes[a, 1] - axes[b, 1]
        reach = wanted + prims[prim[a], 4] + prims[prim[b], 4]
        if dx * dx + dy * dy >= reach * reach:
            continue
        lack, ux, uy, s, t = axis_pair(
            axes[a, 0], axes[a, 1], axes[a, 2], axes[a, 3], axes[b, 0], axes[b, 1], axes[b, 2], axes[b, 3], wanted
        )
        if lack <= 0.0:
            continue
        total += lack * lack
        fx = -2.0 * lack * ux
        fy = -2.0 * lack * uy
        push(body[a], axes[a, 0] + s * axes[a, 2], axes[a, 1] + s * axes[a, 3], fx, fy, pose, slope)
        push(body[b], axes[b, 0] + t * axes[b, 2], axes[b, 1] + t * axes[b, 3], -fx, -fy, pose, slope)
    for row in range(flat):
        a = edges[row, 0]
        k = edges[row, 1]
        nx = planes[k, 0]
        ny = planes[k, 1]
        for end in range(2 if prims[prim[a], 4] > 0.0 else 1):
            sign = 1.0 - 2.0 * end
            px = axes[a, 0] + sign * axes[a, 2]
            py = axes[a, 1] + sign * axes[a, 3]
            lack = planes[k, 2] + plane_in[prim[a], k] - nx * px - ny * py
            if lack > 0.0:
                total += lack * lack
                push(body[a], px, py, -2.0 * lack * nx, -2.0 * lack * ny, pose, slope)
    for row in range(edges.shape[0] - curved, edges.shape[0]):
        a = edges[row, 0]
        k = edges[row, 1]
        within = rings[k, 2] - ring_in[prim[a], k]
        for end in range(2 if prims[prim[a], 4] > 0.0 else 1):
            sign = 1.0 - 2.0 * end
            px = axes[a, 0] + sign * axes[a, 2]
            py = axes[a, 1] + sign * axes[a, 3]
            dx = px - rings[k, 0]
            dy = py - rings[k, 1]
            d = math.sqrt(dx * dx + dy * dy)
            lack = d - within
            if lack > 0.0 and d > 1e-9:
                total += lack * lack
                push(body[a], px, py, 2.0 * lack * dx / d, 2.0 * lack * dy / d, pose, slope)
    for row in range(square):
        a = posts[row, 0]
        k = posts[row, 1]
        lack, gx, gy, px, py = block_lack(
            axes[a, 0], axes[a, 1], axes[a, 2], axes[a, 3], prims[prim[a], 4], block_need[prim[a], k],
            blocks[k, 0], blocks[k, 1], blocks[k, 2], blocks[k, 3],
        )  # fmt: skip
        if lack > 0.0:
            total += lack * lack
            push(body[a], px, py, -2.0 * lack * gx, -2.0 * lack * gy, pose, slope)
    return total
