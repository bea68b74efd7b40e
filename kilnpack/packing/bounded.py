"""Say of a packed load how far it is from what is possible at most."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.packing.bound import proved_bound
from kilnpack.search.listener import Progress

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.packing.works_problem import WorksProblem
    from kilnpack.search.listener import Listener

MOST_S = 30.0
"""A bound that takes longer is left out."""

DIGITS = 1e6
"""Shares are kept to so many parts; a bound is rounded up."""


@dataclass(slots=True)
class Noting:
    """Passes progress on and notes the last worth in fractions."""

    listener: Listener
    linear_value: float | None = None
    stopped: bool = False
    """Whether the listener wanted to stop."""

    def heard(self, progress: Progress) -> bool:
        """Return whether to go on."""
        if progress.linear_value is not None:
            self.linear_value = progress.linear_value
        self.stopped = not self.listener.heard(progress)
        return not self.stopped


def with_bounds(load: Load, built: WorksProblem, noting: Noting) -> Load:
    """Return a load with its proved bound and the worth in fractions of the settings found, as shares of all ready."""
    ready, linear_value = built.problem.ready_value, noting.linear_value
    if ready <= 0.0:
        return load
    bound = bound_of(built, noting, load.value_share)
    return replace(
        load,
        bound_share=None if bound is None else min(1.0, math.ceil(DIGITS * bound / ready) / DIGITS),
        columns_share=None if linear_value is None else min(1.0, max(load.value_share, round(linear_value / ready, 6))),
    )


def bound_of(built: WorksProblem, noting: Noting, value_share: float) -> float | None:
    """Return the proved bound of a works' problem.

    None where there is none, where it takes longer than `MOST_S`, or where the listener or Ctrl-C ends it; half a proof
    proves nothing.
    """
    if noting.stopped:
        return None
    begun_s = time.monotonic()

    def going() -> bool:
        elapsed_s = time.monotonic() - begun_s
        said = f"{value_share:.0%} of the value, {elapsed_s:.0f} s of {MOST_S:.0f} at most; Ctrl-C leaves it out"
        progress = Progress(step="proving a bound", value=0.0, share=1.0, elapsed_s=elapsed_s, said=said)
        return noting.heard(progress) and elapsed_s < MOST_S

    try:
        return proved_bound(built.problem, [body.parts for body in built.ware.bodies], going)
    except KeyboardInterrupt:
        return None
