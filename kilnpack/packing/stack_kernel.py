"""Compiled dynamic programme over one stack: which columns of posts, from the bottom up, within so many shelves."""

from __future__ import annotations

import numpy as np

from kilnpack.shapes.kernel.compiled import kernel


@kernel
def best_columns(values, pitches, ending, must_end, start, levels, left):  # type: ignore[no-untyped-def]
    """Return (value, columns from the bottom up) of the best stack.

    values (c, levels) is the worth of a tier with column c at a base height, negative where none may be; pitches (c)
    is its height in levels; ending (levels) is the worth of the open top tier at a base height; must_end says that the
    stack needs one, else it just ends. left is the number of shelves.
    """
    count = pitches.shape[0]
    worth = np.full((levels + 1, left + 1), -1e15 if must_end else 0.0)
    choice = np.full((levels + 1, left + 1), -1, np.int64)
    for base in range(levels - 1, start - 1, -1):
        for n in range(1, left + 1):
            best = ending[base] if must_end else 0.0
            pick = -1
            for c in range(count):
                above = base + pitches[c]
                if above <= levels and values[c, base] >= 0.0:
                    got = values[c, base] + worth[above, n - 1]
                    if got > best + 1e-9:
                        best = got
                        pick = c
            worth[base, n] = best
            choice[base, n] = pick
    columns = []
    base = start
    n = left
    while n > 0 and base < levels and choice[base, n] >= 0:
        c = choice[base, n]
        columns.append(c)
        base += pitches[c]
        n -= 1
    return worth[start, left], np.array(columns, np.int64)
