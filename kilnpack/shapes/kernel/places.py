"""Put bodies at places tried one after another: the compiled part of the quick constructors.

State arrays as in `kilnpack.shapes.kernel.overlap`; bodies 0 ... i - 1 stand already, body i is tried.
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

import math

import numpy as np

from kilnpack.shapes.kernel.compiled import borrowed, kernel
from kilnpack.shapes.kernel.overlap import settle, spot_energy
from kilnpack.shapes.kernel.search import tiny_shelf

TOUCH_MM2 = 1e-6
"""Squared overlap of one body that still counts as none, mm2: a thousandth of a millimetre."""

FINEST_MM = 0.01
"""Last step by which a body is slid on until it touches."""


@kernel
def first_free(  # type: ignore[no-untyped-def]
    i, begin, step, low, high, angles, frame, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far,
    rings, ring_in, ring_far, blocks, block_need, block_far, world, slope,
):  # fmt: skip
    """Move body i to the first free place of a raster, slid on to the front and the left; return its number or -1.

    Parameters
    ----------
    begin
        Number of the raster place to begin at: where the body before it of the same kind was put.
    step
        Pitch of the raster, mm. Places go from left to right in rows from the front to the back.
    low, high
        Rows are tried from y = low up to y = high, mm; bodies are not slid to the front where they are the same.
    angles
        Angles tried at each place, radians.
    """
    (
        angles, frame, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
        ring_far, blocks, block_need, block_far, world, slope,
    ) = borrowed(
        angles, frame, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
        ring_far, blocks, block_need, block_far, world, slope,
    )  # fmt: skip
    across = max(1, int((frame[2] - frame[0]) / step) + 1)
    deep = 1 if high <= low else int((high - low) / step) + 1
    for place in range(begin, across * deep):
        x = frame[0] + step * (place % across)
        y = low + step * (place // across)
        for a in range(angles.shape[0]):
            pose[i, 0] = x
            pose[i, 1] = y
            pose[i, 2] = angles[a]
            lack = spot_energy(
                i, i, TOUCH_MM2, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
                ring_far, blocks, block_need, block_far, world, slope,
            )  # fmt: skip
            if lack > TOUCH_MM2:
                continue
            for _ in range(2):
                for axis in range(2):
                    if axis == 0 and deep == 1:
                        continue
                    move = step
                    while move >= FINEST_MM:
                        x = pose[i, 0]
                        y = pose[i, 1]
                        found = False
                        for side in range(3 if axis == 0 else 1):
                            # straight on, else rolling off what is touched to the right or the left
                            if axis == 0:
                                pose[i, 0] = x + move * (side - 3 * (side // 2))
                                pose[i, 1] = y - move
                            else:
                                pose[i, 0] = x - move
                            lack = spot_energy(
                                i, i, TOUCH_MM2, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far,
                                rings, ring_in, ring_far, blocks, block_need, block_far, world, slope,
                            )  # fmt: skip
                            if lack <= TOUCH_MM2:
                                found = True
                                break
                        if not found:
                            pose[i, 0] = x
                            pose[i, 1] = y
                            move /= 5.0
            settle(i, kinds, pose, prims, spans, world)
            return place
    return -1


@kernel
def fill_points(  # type: ignore[no-untyped-def]
    points, kind, most, n, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
    ring_far, blocks, block_need, block_far, world, slope,
):  # fmt: skip
    """Put up to `most` bodies of one kind on those of points[M, 3] that are free; return how many stand then."""
    (
        points, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
        ring_far, blocks, block_need, block_far, world, slope,
    ) = borrowed(
        points, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
        ring_far, blocks, block_need, block_far, world, slope,
    )  # fmt: skip
    end = n + most
    for p in range(points.shape[0]):
        if n >= end:
            break
        kinds[n] = kind
        for c in range(3):
            pose[n, c] = points[p, c]
        lack = spot_energy(
            n, n, TOUCH_MM2, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
            ring_far, blocks, block_need, block_far, world, slope,
        )  # fmt: skip
        if lack <= TOUCH_MM2:
            n += 1
    return n


def warm_up() -> None:
    """Compile both, or load them compiled, by one disc on a small square."""
    demand, _, geometry, state = tiny_shelf()
    world, scratch, kinds, pose = state[:4]
    first_free(
        np.int64(0), np.int64(0), 5.0, 0.0, 10.0, np.zeros(1), demand[0], kinds, pose, *geometry, world, scratch[0]
    )
    fill_points(
        np.full((1, 3), math.pi), np.int64(0), np.int64(1), np.int64(0), kinds, pose, *geometry, world, scratch[0]
    )
