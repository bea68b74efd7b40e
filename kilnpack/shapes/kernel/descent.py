"""Bring the squared overlap of a shelf down to nothing: L-BFGS over places and angles.

Angles count as arcs of `arm` mm, so that a turn and a shift weigh alike. `scratch[4 + 2 MEMORY, N, 3]` holds slope,
direction, old place, old slope, and the remembered steps and slope changes.
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

import math

import numpy as np

from kilnpack.shapes.kernel.compiled import borrowed, kernel, small
from kilnpack.shapes.kernel.near import MOVED2_MM2, list_near, listed_overlap, place_sections, sections

SLOPE, WAY, OLD, OLD_SLOPE = range(4)
MEMORY = 5
SCRATCH_ROWS = 4 + 2 * MEMORY
LONGEST_STEP_MM = 40.0
WATCH = 8
"""Steps between two looks at whether the descent still gets anywhere."""
STALLED = 0.7
"""A descent that keeps more than this share of its overlap over `WATCH` steps, while still far off, is given up."""
HOPELESS_4 = 0.6
HOPELESS_8 = 0.2
HOPELESS_16 = 0.05
"""Overlap left after 4, 8 and 16 steps, in units of `far`, above which fewer than one descent in fifty ends clear."""


@small
def dot(rows, one, other, size):  # type: ignore[no-untyped-def]
    """Return the product of two rows of a table, in four sums that do not wait for each other."""
    a = 0.0
    b = 0.0
    c = 0.0
    d = 0.0
    whole = size - size % 4
    for k in range(0, whole, 4):
        a += rows[one, k] * rows[other, k]
        b += rows[one, k + 1] * rows[other, k + 1]
        c += rows[one, k + 2] * rows[other, k + 2]
        d += rows[one, k + 3] * rows[other, k + 3]
    for k in range(whole, size):
        a += rows[one, k] * rows[other, k]
    return (a + b) + (c + d)


@kernel
def relax(  # type: ignore[no-untyped-def]
    n, limit, enough, far, kinds, pose, arm, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
    ring_far, blocks, block_need, block_far, scratch, tally,
):  # fmt: skip
    """Descend from `pose` (changed in place); return the squared overlap left, mm2.

    Parameters
    ----------
    limit
        Most evaluations to spend; those spent are added to tally[0].
    enough
        Squared overlap at which the bodies count as clear, mm2.
    far
        Square of a usual body's size, mm2: what overlaps are measured against.
    arm
        arm[T]: mm of arc that one radian counts for.
    """
    (
        kinds, pose, arm, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
        blocks, block_need, block_far, scratch, tally,
    ) = borrowed(
        kinds, pose, arm, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
        blocks, block_need, block_far, scratch, tally,
    )  # fmt: skip
    size = 3 * n
    slope = borrowed(scratch[0])[0]
    rows = borrowed(scratch[:SCRATCH_ROWS].reshape(SCRATCH_ROWS, -1))[0]
    place = borrowed(pose.reshape(-1))[0]
    alpha = borrowed(scratch[SCRATCH_ROWS, :, 0])[0]
    inner = borrowed(scratch[SCRATCH_ROWS + 1, :, 0])[0]
    own = sections(n, kinds, spans)
    first, prim, body, axes, seen = borrowed(own[0], own[1], own[2], own[3], own[4])
    for m in range(size):
        rows[OLD, m] = place[m]
        rows[WAY, m] = 0.0
    spent = 0
    known = 0
    newest = -1
    looks = -1
    step = 0.0
    fall = 0.0
    energy = math.inf
    watched = math.inf
    while True:
        # along the way by ever shorter steps; the first time round there is no way yet
        found = False
        for _ in range(6):
            for i in range(n):
                pose[i, 0] = rows[OLD, 3 * i] + step * rows[WAY, 3 * i]
                pose[i, 1] = rows[OLD, 3 * i + 1] + step * rows[WAY, 3 * i + 1]
                pose[i, 2] = rows[OLD, 3 * i + 2] + step * rows[WAY, 3 * i + 2] / arm[kinds[i]]
            if place_sections(n, kinds, pose, prims, spans, first, prim, axes, seen) > MOVED2_MM2:
                lists = list_near(
                    n, kinds, pose, prims, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
                    blocks, block_need, block_far, first, prim, axes, seen,
                )  # fmt: skip
                pairs, keep, edges, posts = borrowed(lists[0], lists[1], lists[2], lists[3])
                discs, bars, flat, curved, square = lists[4:]
            after = listed_overlap(
                n, pose, prims, planes, plane_in, rings, ring_in, blocks, block_need, prim, body, axes,
                pairs, keep, edges, posts, discs, bars, flat, curved, square, slope,
            )  # fmt: skip
            for i in range(n):
                rows[SLOPE, 3 * i + 2] /= arm[kinds[i]]
            spent += 1
            if after <= energy + 1e-4 * step * fall:
                found = True
                break
            step *= min(0.6, max(0.1, -0.5 * step * fall / (after - energy - step * fall)))
        if found:
            k = (newest + 1) % MEMORY
            for m in range(size):
                rows[4 + k, m] = step * rows[WAY, m]
                rows[4 + MEMORY + k, m] = rows[SLOPE, m] - rows[OLD_SLOPE, m]
            product = dot(rows, 4 + k, 4 + MEMORY + k, size)
            if product > 1e-12:
                inner[k] = product
                newest = k
                known = min(known + 1, MEMORY)
            energy = after
            looks += 1
            if (
                (looks == 4 and energy > HOPELESS_4 * far)
                or (looks == 8 and energy > HOPELESS_8 * far)
                or (looks == 16 and energy > HOPELESS_16 * far)
            ):
                break
            if looks % WATCH == 0:
                if energy > STALLED * watched and energy > 100.0 * enough:
                    break
                watched = energy
        else:
            for m in range(size):
                place[m] = rows[OLD, m]
                rows[SLOPE, m] = rows[OLD_SLOPE, m]
            if known == 0:
                break
            known = 0
            newest = -1
        if energy <= enough or spent >= limit:
            break
        # the next way down
        for m in range(size):
            rows[WAY, m] = -rows[SLOPE, m]
            rows[OLD, m] = place[m]
            rows[OLD_SLOPE, m] = rows[SLOPE, m]
        for back in range(known):
            k = (newest - back + MEMORY) % MEMORY
            alpha[k] = dot(rows, 4 + k, WAY, size) / inner[k]
            for m in range(size):
                rows[WAY, m] -= alpha[k] * rows[4 + MEMORY + k, m]
        if known > 0:
            scale = inner[newest] / dot(rows, 4 + MEMORY + newest, 4 + MEMORY + newest, size)
            for m in range(size):
                rows[WAY, m] *= scale
        for back in range(known):
            k = (newest - (known - 1 - back) + MEMORY) % MEMORY
            share = alpha[k] - dot(rows, 4 + MEMORY + k, WAY, size) / inner[k]
            for m in range(size):
                rows[WAY, m] += share * rows[4 + k, m]
        fall = dot(rows, SLOPE, WAY, size)
        if fall >= 0.0:
            known = 0
            newest = -1
            for m in range(size):
                rows[WAY, m] = -rows[SLOPE, m]
            fall = dot(rows, SLOPE, WAY, size)
            if fall >= 0.0:
                break
        farthest = 0.0
        for m in range(size):
            farthest = max(farthest, abs(rows[WAY, m]))
        step = 1.0 if known > 0 else 0.25
        if step * farthest > LONGEST_STEP_MM:
            step = LONGEST_STEP_MM / farthest
    # sections and lists are held until here
    tally[0] += spent + 0 * (len(own) + len(lists))
    return energy


def warm_up() -> None:
    """Compile the descent, or load it compiled, by one disc on a small square."""
    from kilnpack.shapes.kernel.search import tiny_shelf

    _, arm, geometry, state = tiny_shelf()
    _, scratch, kinds, pose = state[:4]
    relax(np.int64(1), np.int64(20), 1e-4, 1.0, kinds, pose, arm, *geometry, scratch, state[-1])
