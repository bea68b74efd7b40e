"""Where a body that comes in, or moves, stands clearest: places drawn at random and compared.

Both searches draw all their random numbers here.
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

import math

import numpy as np

from kilnpack.shapes.kernel.compiled import borrowed, kernel, small
from kilnpack.shapes.kernel.overlap import settle, spot_overlap


@small
def draw(tally):  # type: ignore[no-untyped-def]
    """Return a random number in [0, 1) and move the generator on (xorshift of 32 bits)."""
    word = tally[5]
    word = (word ^ (word << 13)) & 0xFFFFFFFF
    word = word ^ (word >> 17)
    word = (word ^ (word << 5)) & 0xFFFFFFFF
    tally[5] = word
    return word / 4294967296.0


@kernel
def best_spot(  # type: ignore[no-untyped-def]
    i, n, tries, stay, each, hint, frame, turn, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far,
    rings, ring_in, ring_far, blocks, block_need, block_far, world, slope, keep, tally,
):  # fmt: skip
    """Move body i to the clearest of some places, alone among bodies 0 ... n - 1.

    The first `stay` tries turn it at the places in keep[hint], keep[hint + 1] ..., `each` times at each.
    """
    (
        frame, turn, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
        ring_far, blocks, block_need, block_far, world, slope, keep, tally,
    ) = borrowed(
        frame, turn, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in,
        ring_far, blocks, block_need, block_far, world, slope, keep, tally,
    )  # fmt: skip
    kind = kinds[i]
    bx = pose[i, 0]
    by = pose[i, 1]
    ba = pose[i, 2]
    least = 1e300
    for s in range(tries):
        if s < stay:
            pose[i, 0] = keep[hint + s // each, 0]
            pose[i, 1] = keep[hint + s // each, 1]
        else:
            pose[i, 0] = frame[0] + draw(tally) * (frame[2] - frame[0])
            pose[i, 1] = frame[1] + draw(tally) * (frame[3] - frame[1])
        angle = 0.0
        if spans[kind, 2] == 0:
            angle = draw(tally) * 2.0 * math.pi
            if turn[kind] > 0.0:
                angle = turn[kind] * math.floor(angle / turn[kind])
        elif s < stay and (s + 1) % each > 0:
            continue
        pose[i, 2] = angle
        lack = spot_overlap(
            i, n, least, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far,
            rings, ring_in, ring_far, blocks, block_need, block_far, world, slope,
        )  # fmt: skip
        if lack < least:
            least = lack
            bx = pose[i, 0]
            by = pose[i, 1]
            ba = angle
    pose[i, 0] = bx
    pose[i, 1] = by
    pose[i, 2] = ba
    settle(i, kinds, pose, prims, spans, world)
    tally[0] += tries // 8 + 1


def warm_up() -> None:
    """Compile the choice of a place, or load it compiled, by one disc on a small square."""
    from kilnpack.shapes.kernel.search import tiny_shelf

    demand, _, geometry, state = tiny_shelf()
    world, scratch, kinds, pose = state[:4]
    best_spot(
        np.int64(0), np.int64(1), np.int64(4), np.int64(0), np.int64(2), np.int64(0), demand[0], np.zeros(1), kinds,
        pose, *geometry, world, scratch[0], scratch[-1], state[-1],
    )  # fmt: skip
