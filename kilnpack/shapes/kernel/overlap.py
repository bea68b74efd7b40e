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

NEVER = -1.0e8
"""An inset below this does not bind: the section is outside the heights of the limit."""


@small
def closest(ax, ay, ahx, ahy, bx, by, bhx, bhy):  # type: ignore[no-untyped-def]
    """Return the shares s, t in [-1, 1] of the closest points of two segments given by mid and half vector."""
    rx = ax - bx
    ry = ay - by
    aa = ahx * ahx + ahy * ahy
    bb = bhx * bhx + bhy * bhy
    ar = ahx * rx + ahy * ry
    br = bhx * rx + bhy * ry
    if aa <= 1e-12:
        if bb <= 1e-12:
            return 0.0, 0.0
        return 0.0, min(1.0, max(-1.0, br / bb))
    if bb <= 1e-12:
        return min(1.0, max(-1.0, -ar / aa)), 0.0
    ab = ahx * bhx + ahy * bhy
    det = aa * bb - ab * ab
    s = 0.0
    if det > 1e-9 * aa * bb:
        s = min(1.0, max(-1.0, (ab * br - ar * bb) / det))
    t = (ab * s + br) / bb
    if t > 1.0:
        t = 1.0
        s = min(1.0, max(-1.0, (ab - ar) / aa))
    elif t < -1.0:
        t = -1.0
        s = min(1.0, max(-1.0, (-ab - ar) / aa))
    return s, t


@small
def off_block(x, y, x0, y0, x1, y1):  # type: ignore[no-untyped-def]
    """Return the signed distance of a point from a rectangle (negative inside) and its slope."""
    mx = 0.5 * (x0 + x1)
    my = 0.5 * (y0 + y1)
    qx = abs(x - mx) - 0.5 * (x1 - x0)
    qy = abs(y - my) - 0.5 * (y1 - y0)
    sx = 1.0 if x >= mx else -1.0
    sy = 1.0 if y >= my else -1.0
    if qx > 0.0 and qy > 0.0:
        d = math.sqrt(qx * qx + qy * qy)
        return d, sx * qx / d, sy * qy / d
    if qx >= qy:
        return qx, sx, 0.0
    return qy, 0.0, sy


@small
def nearest_share(x, y, hx, hy, px, py):  # type: ignore[no-untyped-def]
    """Return the share in [-1, 1] of the segment's point closest to (px, py)."""
    return min(1.0, max(-1.0, ((px - x) * hx + (py - y) * hy) / (hx * hx + hy * hy)))


@small
def worst_share(x, y, hx, hy, x0, y0, x1, y1):  # type: ignore[no-untyped-def]
    """Return the share of the segment's point deepest in, or closest to, a rectangle.

    Apart, that is an end of the segment or the point closest to a corner; the middle helps where they cross.
    """
    best = 1.0
    least, _, _ = off_block(x + hx, y + hy, x0, y0, x1, y1)
    for k in range(6):
        if k == 0:
            s = -1.0
        elif k == 1:
            s = nearest_share(x, y, hx, hy, x0, y0)
        elif k == 2:
            s = nearest_share(x, y, hx, hy, x1, y0)
        elif k == 3:
            s = nearest_share(x, y, hx, hy, x0, y1)
        elif k == 4:
            s = nearest_share(x, y, hx, hy, x1, y1)
        else:
            s = nearest_share(x, y, hx, hy, 0.5 * (x0 + x1), 0.5 * (y0 + y1))
        d, _, _ = off_block(x + s * hx, y + s * hy, x0, y0, x1, y1)
        if d < least:
            least = d
            best = s
    return best


@kernel
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
    c = math.cos(pose[i, 2])
    s = math.sin(pose[i, 2])
    for m in range(spans[kind, 1] - first):
        p = first + m
        world[i, m, 0] = x + c * prims[p, 0] - s * prims[p, 1]
        world[i, m, 1] = y + s * prims[p, 0] + c * prims[p, 1]
        world[i, m, 2] = c * prims[p, 2] - s * prims[p, 3]
        world[i, m, 3] = s * prims[p, 2] + c * prims[p, 3]


@kernel
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
            dx = ax - world[j, k, 0]
            dy = ay - world[j, k, 1]
            d2 = dx * dx + dy * dy
            reach = wanted + prims[p, 4] + prims[q, 4]
            if d2 >= reach * reach:
                continue
            cx = ax
            cy = ay
            ex = world[j, k, 0]
            ey = world[j, k, 1]
            if prims[p, 4] + prims[q, 4] > 0.0:
                s, t = closest(ax, ay, world[i, m, 2], world[i, m, 3], ex, ey, world[j, k, 2], world[j, k, 3])
                cx = ax + s * world[i, m, 2]
                cy = ay + s * world[i, m, 3]
                ex += t * world[j, k, 2]
                ey += t * world[j, k, 3]
                ux = cx - ex
                uy = cy - ey
                d2 = ux * ux + uy * uy
                if d2 >= wanted * wanted:
                    continue
                if d2 > 1e-12:
                    dx = ux
                    dy = uy
            d = math.sqrt(d2)
            lack = wanted - d
            total += lack * lack
            length = math.sqrt(dx * dx + dy * dy)
            if length < 1e-9:
                dx = 1.0
                dy = 0.0
                length = 1.0
            fx = -2.0 * lack * dx / length
            fy = -2.0 * lack * dy / length
            slope[i, 0] += fx
            slope[i, 1] += fy
            slope[i, 2] += (cx - pose[i, 0]) * fy - (cy - pose[i, 1]) * fx
            slope[j, 0] -= fx
            slope[j, 1] -= fy
            slope[j, 2] -= (ex - pose[j, 0]) * fy - (ey - pose[j, 1]) * fx
    return total


@kernel
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
                    fx = -2.0 * lack * nx
                    fy = -2.0 * lack * ny
                    slope[i, 0] += fx
                    slope[i, 1] += fy
                    slope[i, 2] += (px - x) * fy - (py - y) * fx
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
                    fx = 2.0 * lack * dx / d
                    fy = 2.0 * lack * dy / d
                    slope[i, 0] += fx
                    slope[i, 1] += fy
                    slope[i, 2] += (px - x) * fy - (py - y) * fx
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
            px = world[i, m, 0]
            py = world[i, m, 1]
            if prims[first + m, 4] > 0.0:
                share = worst_share(px, py, world[i, m, 2], world[i, m, 3], x0, y0, x1, y1)
                px += share * world[i, m, 2]
                py += share * world[i, m, 3]
            d, gx, gy = off_block(px, py, x0, y0, x1, y1)
            lack = wanted - d
            if lack > 0.0:
                total += lack * lack
                fx = -2.0 * lack * gx
                fy = -2.0 * lack * gy
                slope[i, 0] += fx
                slope[i, 1] += fy
                slope[i, 2] += (px - x) * fy - (py - y) * fx
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


@kernel
def spot_energy(  # type: ignore[no-untyped-def]
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
