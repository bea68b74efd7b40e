"""Press: look for a setting worth more than the best, by moving bodies while they still overlap.

Where a shelf is nearly full, clear settings lie far apart. Here all bodies of a target stand on the shelf at once, and
the moves lower their overlap: two bodies change places, one moves or turns, kinds are exchanged while the value stays
above the best. A move counts by the overlap left after relaxing, under annealing; at no overlap the best is raised.

State arrays as in `kilnpack.shapes.kernel.search`; scratch[-2, 1, 0] is the overlap of the bodies in hand.
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

import math

import numpy as np

from kilnpack.shapes.kernel.compiled import borrowed, kernel
from kilnpack.shapes.kernel.descent import relax
from kilnpack.shapes.kernel.overlap import settle, spot_energy
from kilnpack.shapes.kernel.search import (
    note,
    raise_best,
    swap_bodies,
    take_back,
    tiny_shelf,
    whole_worth,
    worth,
)
from kilnpack.shapes.kernel.spots import best_spot, draw

ANY = 1e100
"""More overlap than there can be."""

OWN_TURNS = 6
"""Turns tried where a body stands, or where it takes another's place."""

FAR = 40.0
"""Overlap a descent may be at, as a multiple of what it would have to reach, in the unit of `relax`."""


@kernel
def press(  # type: ignore[no-untyped-def]
    budget, heat, width, spots, patience, enough, frame, load_limit, must_value, count, must, value, mass,
    turn, arm, prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far,
    blocks, block_need, block_far, world, scratch, kinds, pose, best_kinds, best_pose, used, tally,
):  # fmt: skip
    """Spend about `budget` evaluations on lowering the overlap of targets worth more than the best.

    Parameters
    ----------
    heat
        Annealing temperature in mm2 of squared overlap.
    width
        How much more than the best a target may be worth.
    """
    (
        frame, count, must, value, mass, turn, arm, prims, spans, need, reach2, planes, plane_in, plane_far,
        rings, ring_in, ring_far, blocks, block_need, block_far, world, scratch, kinds, pose, best_kinds,
        best_pose, used, tally,
    ) = borrowed(
        frame, count, must, value, mass, turn, arm, prims, spans, need, reach2, planes, plane_in, plane_far,
        rings, ring_in, ring_far, blocks, block_need, block_far, world, scratch, kinds, pose, best_kinds,
        best_pose, used, tally,
    )  # fmt: skip
    # typed, or `best_spot` would be compiled once more for every number
    turns = np.int64(OWN_TURNS)
    none = np.int64(0)
    start = tally[0]
    kinds_count = count.shape[0]
    most = pose.shape[0]
    last = scratch.shape[0] - 1
    keep = borrowed(scratch[last])[0]
    slope = borrowed(scratch[0])[0]
    while tally[0] - start < budget:
        tally[3] += 1
        tally[0] += 1
        n = tally[1]
        best_worth = scratch[last - 1, 0, 1]
        energy = scratch[last - 1, 1, 0]
        now_worth = whole_worth(used, value, must, must_value)
        load = 0.0
        for t in range(kinds_count):
            load += mass[t] * used[t]
        forced = now_worth <= best_worth + 1e-9 or now_worth > best_worth + width
        note(n, kinds, pose, best_kinds, keep)
        for i in range(n):
            settle(i, kinds, pose, prims, spans, world)
        now = n
        moved = False
        dice = draw(tally)
        if forced or dice < 0.3:
            # exchange kinds: some out, others in, worth a little more than the best
            for _ in range(40):
                out = min(n, int(draw(tally) * 4.0))
                into = int(draw(tally) * 4.0)
                gain = 0.0
                after = load
                for o in range(out):
                    who = int(draw(tally) * (n - o))
                    kind = kinds[who]
                    swap_bodies(who, n - 1 - o, kinds, pose)
                    used[kind] -= 1
                    gain -= worth(kind, used[kind], value, must, must_value)
                    after -= mass[kind]
                fits = n - out + into <= most
                for a in range(into):
                    kind = int(draw(tally) * kinds_count)
                    best_kinds[2, a] = kind
                    if used[kind] >= count[kind]:
                        fits = False
                    gain += worth(kind, used[kind], value, must, must_value)
                    after += mass[kind]
                    used[kind] += 1
                total = now_worth + gain
                if fits and after <= load_limit and best_worth + 1e-9 < total <= best_worth + width:
                    moved = True
                    break
                for a in range(into):
                    used[best_kinds[2, a]] -= 1
                for o in range(out):
                    used[kinds[n - 1 - o]] += 1
            if moved:
                for o in range(out):
                    keep[most + o, 0] = pose[n - out + o, 0]
                    keep[most + o, 1] = pose[n - out + o, 1]
                now = n - out
                for i in range(now):
                    settle(i, kinds, pose, prims, spans, world)
                for a in range(into):
                    kinds[now] = best_kinds[2, a]
                    best_spot(
                        now, now, spots, turns if a < out else none, turns, most + a, frame, turn, kinds, pose,
                        prims, spans, need, reach2, planes, plane_in, plane_far, rings, ring_in, ring_far, blocks,
                        block_need, block_far, world, slope, keep, tally,
                    )  # fmt: skip
                    now += 1
        elif dice < 0.65 and n > 1:
            # two bodies of different kinds change places
            one = int(draw(tally) * n)
            other = int(draw(tally) * n)
            if kinds[one] != kinds[other]:
                for c in range(2):
                    keep[most, c] = pose[other, c]
                    keep[most + 1, c] = pose[one, c]
                    pose[one, c] = keep[most, c]
                    pose[other, c] = keep[most + 1, c]
                best_spot(
                    one, n, turns, turns, turns, most, frame, turn, kinds, pose, prims, spans, need, reach2, planes,
                    plane_in, plane_far, rings, ring_in, ring_far, blocks, block_need, block_far, world, slope, keep,
                    tally,
                )  # fmt: skip
                best_spot(
                    other, n, turns, turns, turns, most + 1, frame, turn, kinds, pose, prims, spans, need, reach2,
                    planes, plane_in, plane_far, rings, ring_in, ring_far, blocks, block_need, block_far, world, slope,
                    keep, tally,
                )  # fmt: skip
                moved = True
        elif n > 0:
            # one of the bodies that overlap more than others moves, or turns where it stands
            who = int(none)
            worst = -1.0
            for _ in range(3):
                i = int(draw(tally) * n)
                own = spot_energy(
                    i, n, 1e300, kinds, pose, prims, spans, need, reach2, planes, plane_in, plane_far,
                    rings, ring_in, ring_far, blocks, block_need, block_far, world, slope,
                )  # fmt: skip
                if own > worst:
                    worst = own
                    who = i
            tries = spots
            stay = none
            if dice < 0.8 and spans[kinds[who], 2] == 0:
                tries = np.int64(4)
                stay = np.int64(4)
            keep[most, 0] = pose[who, 0]
            keep[most, 1] = pose[who, 1]
            best_spot(
                who, n, tries, stay, turns, most, frame, turn, kinds, pose, prims, spans, need, reach2, planes,
                plane_in, plane_far, rings, ring_in, ring_far, blocks, block_need, block_far, world, slope, keep, tally,
            )  # fmt: skip
            moved = True
        if not moved:
            take_back(n, kinds, pose, best_kinds, keep, used)
            if forced:
                return
            continue
        limit = ANY if forced else energy - heat * math.log(draw(tally) + 1e-12)
        lack = relax(
            now, patience, enough, FAR * limit, kinds, pose, arm, prims, spans, need, reach2, planes, plane_in,
            plane_far, rings, ring_in, ring_far, blocks, block_need, block_far, scratch, tally,
        )  # fmt: skip
        if lack <= limit or lack <= enough:
            tally[1] = now
            tally[4] += 1
            scratch[last - 1, 1, 0] = lack
            if lack <= enough:
                total = whole_worth(used, value, must, must_value)
                raise_best(now, total, scratch, kinds, pose, best_kinds, best_pose, tally)
        else:
            take_back(n, kinds, pose, best_kinds, keep, used)
        tally[6] += 1


def warm_up() -> None:
    """Compile pressing, or load it compiled, by a few moves of one disc on a small square."""
    demand, arm, geometry, state = tiny_shelf()
    press(np.int64(20), 1.0, 0.1, np.int64(4), np.int64(20), 1e-4, *demand, np.zeros(1), arm, *geometry, *state)
