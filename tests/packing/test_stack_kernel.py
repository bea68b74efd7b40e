"""The dynamic programme over a stack against trying everything."""

from __future__ import annotations

import random

import numpy as np
import pytest

from kilnpack.packing.stack_kernel import best_columns


def _best(values: np.ndarray, pitches: list[int], ending: np.ndarray, base: int, left: int, must_end: bool) -> float:
    """Return the best worth from a base on by trying every column; see the kernel for the arguments."""
    levels = values.shape[1]
    best = (float(ending[base]) if left and base < levels else -1e15) if must_end else 0.0
    for c, pitch in enumerate(pitches):
        if left and base + pitch <= levels and base < levels and values[c, base] >= 0.0:
            best = max(best, float(values[c, base]) + _best(values, pitches, ending, base + pitch, left - 1, must_end))
    return best


@pytest.mark.kernel
@pytest.mark.parametrize("must_end", [False, True])
def test_stack_is_as_good_as_trying_every_stack(must_end: bool) -> None:
    """Guards the programme: 60 random small stacks, with and without an open top, equal full enumeration."""
    rng = random.Random(3)
    for _ in range(60):
        levels, left = rng.randint(6, 14), rng.randint(1, 4)
        pitches = [rng.randint(2, 6) for _ in range(rng.randint(1, 3))]
        values = np.array([[rng.choice([-1.0, rng.uniform(0, 9)]) for _ in range(levels)] for _ in pitches])
        ending = np.array([rng.uniform(0, 9) for _ in range(levels)])
        value, path = best_columns(values, np.array(pitches, np.int64), ending, must_end, 0, levels, left)
        assert value == pytest.approx(_best(values, pitches, ending, 0, left, must_end))
        assert len(path) <= left
        assert sum(pitches[c] for c in path) <= levels
