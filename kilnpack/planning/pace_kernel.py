"""Annealing over the order of lines whose whole chains are laid out, each as early as can be; compiled by numba.

What is given: `first[l]` chains of a line, `begin[c]` steps of a chain, `group[s]` kilns that a step goes to, `work[s]`
kiln hours it takes, `lead[s]` hours before it is ready (of a first step from the start, else from the step before),
`after[s]` hours from its last kiln hour until it is out, `due[l]`, `weight[l]`, `room[g, t]` kiln hours in each stretch
of time, `drawn[m, 4]` random numbers in [0, 1).
"""

# ruff: noqa: PLR0917 (arrays bundled in an object would be reference-counted at every call)

from __future__ import annotations

import math

import numpy as np

from kilnpack.shapes.kernel.compiled import kernel

WAIT = 0.002
"""What an hour until a line is done costs, in hours late of a line of weight 1."""
NEAR = 12
"""Most moves go no further than so many places."""


@kernel
def lay_out(  # type: ignore[no-untyped-def]
    order, first, begin, group, work, lead, after, due, weight, room, stretch_h, left, opens, finish
):
    """Lay out the lines in an order; fill `finish[l]` and return what they cost."""
    left[:, :] = room
    opens[:] = 0
    last = room.shape[1] - 1
    cost = 0.0
    for at in range(order.shape[0]):
        line = order[at]
        done = 0.0
        for c in range(first[line], first[line + 1]):
            end = 0.0
            for s in range(begin[c], begin[c + 1]):
                g = group[s]
                ready = end + lead[s]
                t = min(last, max(np.int64(opens[g]), np.int64(ready / stretch_h)))
                rest = work[s]
                end = ready
                while rest > 0.0:
                    free = left[g, t]
                    if free > 0.0:
                        used = min(free, rest) if t < last else rest
                        rest -= used
                        left[g, t] = free - used
                        end = max(end, t * stretch_h + stretch_h * (1.0 - left[g, t] / max(room[g, t], used)))
                    if rest > 0.0:
                        t += 1
                while opens[g] < last and left[g, opens[g]] <= 0.0:
                    opens[g] += 1
                end += after[s]
            done = max(done, end)
        finish[line] = done
        cost += weight[line] * (max(0.0, done - due[line]) + WAIT * done)
    return cost


@kernel
def anneal_order(  # type: ignore[no-untyped-def]
    order, drawn, hot, cold, first, begin, group, work, lead, after, due, weight, room, stretch_h, left, opens, finish
):
    """Move and exchange lines in the order, leaving the best order in `order`; return its cost."""
    lines = order.shape[0]
    best = order.copy()
    cost = lay_out(order, first, begin, group, work, lead, after, due, weight, room, stretch_h, left, opens, finish)
    least = cost
    moves = drawn.shape[0]
    for m in range(moves):
        heat = hot * (cold / hot) ** (m / moves)
        i = np.int64(drawn[m, 0] * lines)
        if drawn[m, 2] < 0.7:
            j = i + np.int64(drawn[m, 1] * (2 * NEAR + 1)) - NEAR
            j = np.int64(min(lines - 1, max(np.int64(0), j)))
        else:
            j = np.int64(drawn[m, 1] * lines)
        if i == j:
            continue
        exchange = drawn[m, 2] < 0.2 or drawn[m, 2] > 0.9
        shift(order, i, j, exchange)
        tried = lay_out(
            order, first, begin, group, work, lead, after, due, weight, room, stretch_h, left, opens, finish
        )
        if tried <= cost or drawn[m, 3] < math.exp((cost - tried) / heat):
            cost = tried
            if cost < least:
                least = cost
                best[:] = order
        else:
            shift(order, j, i, exchange)
    order[:] = best
    return least


@kernel
def shift(order, i, j, exchange):  # type: ignore[no-untyped-def]
    """Move the line at place i to place j, or exchange both."""
    line = order[i]
    if exchange:
        order[i] = order[j]
        order[j] = line
        return
    step = 1 if j > i else -1
    for k in range(i, j, step):
        order[k] = order[k + step]
    order[j] = line


def warm_up() -> None:
    """Compile the kernels, or load them compiled, by a few moves of two lines of one firing each."""
    order, first = np.arange(2), np.arange(3)
    ones, room = np.ones(2), np.full((1, 4), 6.0)
    given = (first, first, np.zeros(2, np.int64), ones, ones, ones, ones, ones, room, 6.0)
    hand = (np.zeros_like(room), np.zeros(1, np.int64), np.zeros(2))
    anneal_order(order, np.full((3, 4), 0.4), 2.0, 1.0, *given, *hand)
    lay_out(order, *given, *hand)
