"""Bring the squared overlap of a shelf down to nothing: L-BFGS over places and angles.

Angles count as arcs of `arm` mm, so that a turn and a shift weigh alike. `scratch[4 + 2 MEMORY, N, 3]` holds slope,
direction, old place, old slope, and the remembered steps and slope changes.
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

from kilnpack.shapes.kernel.compiled import kernel
from kilnpack.shapes.kernel.overlap import overlap

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


@kernel
def relax(  # type: ignore[no-untyped-def]
    n, limit, enough, far, kinds, pose, arm, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
    ring_far, blocks, block_need, block_far, world, scratch, tally,
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
    slope = scratch[0]
    way = scratch[1]
    old = scratch[2]
    old_slope = scratch[3]
    steps = scratch[4 : 4 + MEMORY]
    turns = scratch[4 + MEMORY : 4 + 2 * MEMORY]
    alpha = scratch[SCRATCH_ROWS, :, 0]
    inner = scratch[SCRATCH_ROWS + 1, :, 0]
    energy = overlap(
        n, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
        blocks, block_need, block_far, world, slope,
    )  # fmt: skip
    spent = 1
    known = 0
    newest = -1
    watched = energy
    looks = 0
    while energy > enough and spent < limit:
        for i in range(n):
            slope[i, 2] /= arm[kinds[i]]
            for c in range(3):
                way[i, c] = -slope[i, c]
        for back in range(known):
            k = (newest - back + MEMORY) % MEMORY
            dot = 0.0
            for i in range(n):
                dot += steps[k, i, 0] * way[i, 0] + steps[k, i, 1] * way[i, 1] + steps[k, i, 2] * way[i, 2]
            alpha[k] = dot / inner[k]
            for i in range(n):
                for c in range(3):
                    way[i, c] -= alpha[k] * turns[k, i, c]
        if known > 0:
            square = 0.0
            for i in range(n):
                for c in range(3):
                    square += turns[newest, i, c] * turns[newest, i, c]
            scale = inner[newest] / square
            for i in range(n):
                for c in range(3):
                    way[i, c] *= scale
        for back in range(known):
            k = (newest - (known - 1 - back) + MEMORY) % MEMORY
            dot = 0.0
            for i in range(n):
                dot += turns[k, i, 0] * way[i, 0] + turns[k, i, 1] * way[i, 1] + turns[k, i, 2] * way[i, 2]
            share = alpha[k] - dot / inner[k]
            for i in range(n):
                for c in range(3):
                    way[i, c] += share * steps[k, i, c]
        fall = 0.0
        farthest = 0.0
        for i in range(n):
            for c in range(3):
                fall += slope[i, c] * way[i, c]
                farthest = max(farthest, abs(way[i, c]))
                old[i, c] = pose[i, c]
                old_slope[i, c] = slope[i, c]
        if fall >= 0.0:
            if known == 0:
                break
            known = 0
            newest = -1
            for i in range(n):
                slope[i, 2] *= arm[kinds[i]]
            continue
        step = 1.0 if known > 0 else 0.25
        if step * farthest > LONGEST_STEP_MM:
            step = LONGEST_STEP_MM / farthest
        found = False
        for _ in range(6):
            for i in range(n):
                pose[i, 0] = old[i, 0] + step * way[i, 0]
                pose[i, 1] = old[i, 1] + step * way[i, 1]
                pose[i, 2] = old[i, 2] + step * way[i, 2] / arm[kinds[i]]
            after = overlap(
                n, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
                blocks, block_need, block_far, world, slope,
            )  # fmt: skip
            spent += 1
            if after <= energy + 1e-4 * step * fall:
                found = True
                break
            shrink = -0.5 * step * fall / (after - energy - step * fall)
            step *= min(0.6, max(0.1, shrink))
        if not found:
            for i in range(n):
                for c in range(3):
                    pose[i, c] = old[i, c]
                    slope[i, c] = old_slope[i, c]
                slope[i, 2] *= arm[kinds[i]]
            if known == 0:
                break
            known = 0
            newest = -1
            continue
        k = (newest + 1) % MEMORY
        dot = 0.0
        for i in range(n):
            for c in range(3):
                steps[k, i, c] = step * way[i, c]
                turns[k, i, c] = slope[i, c] - old_slope[i, c]
            turns[k, i, 2] = slope[i, 2] / arm[kinds[i]] - old_slope[i, 2]
            for c in range(3):
                dot += steps[k, i, c] * turns[k, i, c]
        if dot > 1e-12:
            inner[k] = dot
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
    tally[0] += spent
    return energy
