"""Distances of axes, points and rectangles, and turns: small parts that disappear into the kernels.

An axis is given by its mid and its half vector; a share from -1 to 1 is a point on it.
"""

# ruff: noqa: PLR0917 (plain numbers, so that nothing is bundled)

from __future__ import annotations

import math

from kilnpack.shapes.kernel.compiled import small

TURN = 2.0 * math.pi


@small
def turned(angle):  # type: ignore[no-untyped-def]
    """Return cosine and sine, true to 2e-10, from series of the half angle: no branch, and alike on all processors."""
    h = 0.5 * (angle - TURN * math.floor(angle / TURN + 0.5))
    q = h * h
    s = q * (1.0 / 362880.0 + q * (-1.0 / 39916800.0 + q * (1.0 / 6227020800.0 - q / 1307674368000.0)))
    s = h * (1.0 + q * (-1.0 / 6.0 + q * (1.0 / 120.0 + q * (-1.0 / 5040.0 + s))))
    c = q * (-1.0 / 3628800.0 + q * (1.0 / 479001600.0 - q / 87178291200.0))
    c = 1.0 + q * (-0.5 + q * (1.0 / 24.0 + q * (-1.0 / 720.0 + q * (1.0 / 40320.0 + c))))
    return 1.0 - 2.0 * s * s, 2.0 * s * c


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


@small
def axis_pair(ax, ay, ahx, ahy, bx, by, bhx, bhy, wanted):  # type: ignore[no-untyped-def]
    """Return what two axes lack of a distance, mm (0 if nothing), the way apart, and the shares of the closest points.

    Where they cross there is no way apart, and that between their mids is taken.
    """
    s, t = closest(ax, ay, ahx, ahy, bx, by, bhx, bhy)
    ux = ax + s * ahx - bx - t * bhx
    uy = ay + s * ahy - by - t * bhy
    d2 = ux * ux + uy * uy
    if d2 >= wanted * wanted:
        return 0.0, 1.0, 0.0, s, t
    if d2 <= 1e-12:
        ux = ax - bx
        uy = ay - by
    length = math.sqrt(ux * ux + uy * uy)
    if length < 1e-9:
        ux = 1.0
        uy = 0.0
        length = 1.0
    return wanted - math.sqrt(d2), ux / length, uy / length, s, t


@small
def block_lack(ax, ay, ahx, ahy, half, wanted, x0, y0, x1, y1):  # type: ignore[no-untyped-def]
    """Return what an axis lacks of its distance from a rectangle, mm, the way off, and the point that lacks most."""
    px = ax
    py = ay
    if half > 0.0:
        share = worst_share(ax, ay, ahx, ahy, x0, y0, x1, y1)
        px += share * ahx
        py += share * ahy
    d, gx, gy = off_block(px, py, x0, y0, x1, y1)
    return wanted - d, gx, gy, px, py
