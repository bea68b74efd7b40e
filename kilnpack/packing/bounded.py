"""Say of a packed load how far it is from what is possible at most."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.packing.bound import proved_bound

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.packing.works_problem import WorksProblem
    from kilnpack.search.listener import Listener, Progress

DIGITS = 1e6
"""Shares are kept to so many parts; a bound is rounded up."""


@dataclass(slots=True)
class Noting:
    """Passes progress on and notes the last worth in fractions."""

    listener: Listener
    linear_value: float | None = None

    def heard(self, progress: Progress) -> bool:
        """Return whether to go on."""
        if progress.linear_value is not None:
            self.linear_value = progress.linear_value
        return self.listener.heard(progress)


def with_bounds(load: Load, built: WorksProblem, linear_value: float | None) -> Load:
    """Return a load with its proved bound and the worth in fractions of the settings found, as shares of all ready."""
    ready = built.problem.ready_value
    if ready <= 0.0:
        return load
    bound = bound_of(built)
    return replace(
        load,
        bound_share=None if bound is None else min(1.0, math.ceil(DIGITS * bound / ready) / DIGITS),
        columns_share=None if linear_value is None else min(1.0, max(load.value_share, round(linear_value / ready, 6))),
    )


def bound_of(built: WorksProblem) -> float | None:
    """Return the proved bound of a works' problem, None where there is none or Ctrl-C cut it short."""
    try:
        return proved_bound(built.problem, [body.parts for body in built.ware.bodies])
    except KeyboardInterrupt:
        return None
