"""Search for the most valuable bodies on one shelf: exchange moves under annealing, in chunks.

State arrays: `pose`, `kinds` and `tally` (see below) are the setting in hand, always clear of overlap;
`best_pose`, `best_kinds` the best seen. tally[0] evaluations, [1] bodies in hand, [2] bodies of the best,
[3] moves tried, [4] moves taken, [5] random state, [6] moves since the last better. scratch[-2, 0] holds the value
in hand, the best value, and the greatest area ever filled.
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

import math
from typing import Any

import numpy as np

from kilnpack.shapes.kernel.compiled import borrowed, kernel, small
from kilnpack.shapes.kernel.descent import SCRATCH_ROWS, relax
from kilnpack.shapes.kernel.overlap import settle
from kilnpack.shapes.kernel.spots import best_spot, draw

TALLY = 8

LEAST_TRIED = 0.01
"""Share of moves tried however full they would make the shelf: a few large bodies fill it in leaps."""


@small
def worth(kind, already, value, must, must_value):  # type: ignore[no-untyped-def]
    """Return what one more body of a kind is worth when some stand already."""
    return value[kind] + (must_value if already < must[kind] else 0.0)


@small
def whole_worth(used, value, must, must_value):  # type: ignore[no-untyped-def]
    """Return what all bodies in hand are worth."""
    total = 0.0
    for t in range(used.shape[0]):
        total += value[t] * used[t] + must_value * min(used[t], must[t])
    return total


@small
def raise_best(n, total, scratch, kinds, pose, best_kinds, best_pose, tally):  # type: ignore[no-untyped-def]
    """Keep the n bodies in hand, worth `total`, if they are the best so far."""
    if total > scratch[-2, 0, 1] + 1e-9:
        scratch[-2, 0, 1] = total
        tally[2] = n
        tally[6] = 0
        for i in range(n):
            best_kinds[0, i] = kinds[i]
            for c in range(3):
                best_pose[i, c] = pose[i, c]


@small
def note(n, kinds, pose, best_kinds, keep):  # type: ignore[no-untyped-def]
    """Note the n bodies in hand before a move."""
    for i in range(n):
        best_kinds[1, i] = kinds[i]
        for c in range(3):
            keep[i, c] = pose[i, c]


@small
def take_back(n, kinds, pose, best_kinds, keep, used):  # type: ignore[no-untyped-def]
    """Bring back the n bodies noted before a move."""
    for t in range(used.shape[0]):
        used[t] = 0
    for i in range(n):
        kinds[i] = best_kinds[1, i]
        used[kinds[i]] += 1
        for c in range(3):
            pose[i, c] = keep[i, c]


@small
def swap_bodies(one, other, kinds, pose):  # type: ignore[no-untyped-def]
    """Let two bodies change their places in the row."""
    kind = kinds[one]
    kinds[one] = kinds[other]
    kinds[other] = kind
    for c in range(3):
        held = pose[one, c]
        pose[one, c] = pose[other, c]
        pose[other, c] = held


@kernel
def search(  # type: ignore[no-untyped-def]
    budget, heat, tight, spots, patience, enough, far, frame, load_limit, must_value, count, must, value, mass, area,
    turn, arm, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
    blocks, block_need, block_far, world, scratch, kinds, pose, best_kinds, best_pose, used, tally,
):  # fmt: skip
    """Spend about `budget` evaluations on exchange moves; all state stays in the arrays handed in.

    A move takes out 0 to 3 bodies that stand close together and puts in 0 to 3 others, whose gain passes the
    annealing test before any work is spent on them, at the clearest of `spots` places tried; then all bodies are
    relaxed together. It counts only if nothing overlaps afterwards.

    Parameters
    ----------
    heat
        Annealing temperature in units of value.
    tight
        mm2 by which a move may fill the shelf more than ever before while still being tried one time in e.
    patience
        Most evaluations for one move.
    frame
        frame[4]: x0, y0, x1, y1 of the region places are drawn from, mm.
    turn
        turn[T]: angle step in radians, 0 for any angle.
    """
    (
        frame, count, must, value, mass, area, turn, arm, prims, spans, need, reach2, planes, plane_in,
        plane_far, rings, ring_in, ring_far, blocks, block_need, block_far, world, scratch, kinds, pose,
        best_kinds, best_pose, used, tally,
    ) = borrowed(
        frame, count, must, value, mass, area, turn, arm, prims, spans, need, reach2, planes, plane_in,
        plane_far, rings, ring_in, ring_far, blocks, block_need, block_far, world, scratch, kinds, pose,
        best_kinds, best_pose, used, tally,
    )  # fmt: skip
    start = tally[0]
    kinds_count = count.shape[0]
    most = pose.shape[0]
    last = scratch.shape[0] - 1
    keep = borrowed(scratch[last])[0]
    slope = borrowed(scratch[0])[0]
    while tally[0] - start < budget:
        n = tally[1]
        tally[3] += 1
        tally[0] += 1
        note(n, kinds, pose, best_kinds, keep)
        # how much may be lost
        lost = heat * math.log(draw(tally) + 1e-12)
        out = min(n, int(draw(tally) * 4.0))
        into = int(draw(tally) * 4.0)
        if out == 0 and into == 0:
            into = 1
        # bodies out: one at random and those nearest to it, moved to the end of the row
        gain = 0.0
        load = 0.0
        for t in range(kinds_count):
            load += mass[t] * used[t]
        rest = n
        if out > 0:
            centre = int(draw(tally) * n)
            cx = pose[centre, 0]
            cy = pose[centre, 1]
            scatter = draw(tally) < 0.3
            for _ in range(out):
                near = 0
                least = 1e300
                for i in range(rest):
                    dx = pose[i, 0] - cx
                    dy = pose[i, 1] - cy
                    d2 = draw(tally) if scatter else (dx * dx + dy * dy) * (0.3 + draw(tally))
                    if d2 < least:
                        least = d2
                        near = i
                rest -= 1
                swap_bodies(near, rest, kinds, pose)
                kind = kinds[rest]
                used[kind] -= 1
                load -= mass[kind]
                gain -= worth(kind, used[kind], value, must, must_value)
        # kinds in: drawn until the gain passes
        passed = False
        base = gain
        base_load = load
        base_filled = 0.0
        for t in range(kinds_count):
            base_filled += area[t] * used[t]
        for _ in range(12):
            gain = base
            load = base_load
            filled = base_filled
            fits = True
            for a in range(into):
                kind = int(draw(tally) * kinds_count)
                best_kinds[2, a] = kind
                if used[kind] >= count[kind]:
                    fits = False
                gain += worth(kind, used[kind], value, must, must_value)
                load += mass[kind]
                filled += area[kind]
                used[kind] += 1
            for a in range(into):
                used[best_kinds[2, a]] -= 1
            if fits and gain >= lost and load <= load_limit and rest + into <= most:
                over = filled - scratch[last - 1, 0, 2]
                if over <= 0.0 or draw(tally) < max(LEAST_TRIED, math.exp(-over / tight)):
                    passed = True
                    break
            if into == 0:
                break
        clear = passed
        if passed:
            # largest first, each at the clearest of some places
            for a in range(into):
                for b in range(a + 1, into):
                    if arm[best_kinds[2, b]] > arm[best_kinds[2, a]]:
                        swap_kind = best_kinds[2, a]
                        best_kinds[2, a] = best_kinds[2, b]
                        best_kinds[2, b] = swap_kind
            for i in range(rest):
                settle(i, kinds, pose, prims, spans, world)
            now = rest
            for o in range(out):
                keep[most + o, 0] = pose[rest + o, 0]
                keep[most + o, 1] = pose[rest + o, 1]
            for a in range(into):
                kinds[now] = best_kinds[2, a]
                best_spot(
                    now, now, spots + 2 * out, 2 * out, np.int64(2), most, frame, turn, kinds, pose, prims, spans,
                    need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far, blocks, block_need,
                    block_far, world, slope, keep, tally,
                )  # fmt: skip
                now += 1
            if into > 0:
                lack = relax(
                    now, patience, enough, far, kinds, pose, arm, prims, spans, need, reach2, planes, plane_in,
                    plane_far, rings, ring_in, ring_far, blocks, block_need, block_far, scratch, tally,
                )  # fmt: skip
                clear = lack <= enough
        if clear:
            for a in range(into):
                used[best_kinds[2, a]] += 1
            tally[1] = rest + into
            tally[4] += 1
            filled = 0.0
            for t in range(kinds_count):
                filled += area[t] * used[t]
            scratch[last - 1, 0, 2] = max(scratch[last - 1, 0, 2], filled)
            total = whole_worth(used, value, must, must_value)
            raise_best(tally[1], total, scratch, kinds, pose, best_kinds, best_pose, tally)
        else:
            take_back(n, kinds, pose, best_kinds, keep, used)
        tally[6] += 1


def tiny_shelf() -> tuple[tuple[Any, ...], Any, tuple[Any, ...], tuple[Any, ...]]:
    """Return demand, arm, geometry and state of one disc on a small square, to compile kernels with."""
    floats = np.zeros
    planes = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [-1.0, 0.0, -10.0], [0.0, -1.0, -10.0]])
    frame = np.array([0.0, 0.0, 10.0, 10.0])
    demand = (frame, 1.0, 1.0, np.ones(1, dtype=np.int64), np.zeros(1, dtype=np.int64), np.ones(1), floats(1))
    geometry = (
        floats((1, 5)), np.array([[0, 1, 1]], dtype=np.int64), floats((1, 1)), floats((1, 1)), planes,
        np.ones((1, 4)), np.ones((1, 4)), floats((0, 3)), floats((1, 0)), floats((1, 0)), floats((0, 4)),
        floats((1, 0)), floats((1, 0)),
    )  # fmt: skip
    state = (
        floats((8, 1, 4)), floats((SCRATCH_ROWS + 4, 12, 3)), np.zeros(8, dtype=np.int64), floats((4, 3)),
        np.zeros((3, 8), dtype=np.int64), floats((4, 3)), np.zeros(1, dtype=np.int64),
        np.array([0, 0, 0, 0, 0, 1, 0, 0], dtype=np.int64),
    )  # fmt: skip
    return demand, np.ones(1), geometry, state


def warm_up() -> None:
    """Compile the search, or load it compiled, by a few moves of one disc on a small square."""
    demand, arm, geometry, state = tiny_shelf()
    search(
        np.int64(20), 0.0, 100.0, np.int64(4), np.int64(20), 1e-4, 1.0, *demand, np.ones(1), np.zeros(1), arm,
        *geometry, *state,
    )  # fmt: skip
