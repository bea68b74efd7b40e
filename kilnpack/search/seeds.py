"""Seeds: one number from the user becomes many that do not repeat each other."""

from __future__ import annotations

import numpy as np


def stream(seed: int, *path: int) -> np.random.Generator:
    """Return random numbers for one part of a search; the same seed and path give the same numbers."""
    return np.random.default_rng([seed & 0xFFFFFFFF, *path])


def split(seed: int, count: int) -> tuple[int, ...]:
    """Return seeds for so many workers."""
    return tuple(int(number) for number in np.random.SeedSequence(seed & 0xFFFFFFFF).generate_state(count, np.uint32))
