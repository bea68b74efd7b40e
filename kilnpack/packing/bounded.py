"""Pack a load and say how far it is from what is possible at most."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.packing.bound import proved_bound
from kilnpack.packing.exclusions import compatible
from kilnpack.packing.firing_rules import FiringRules
from kilnpack.packing.pack_load import pack_load
from kilnpack.packing.ready_ware import able
from kilnpack.packing.works_problem import works_problem
from kilnpack.search.listener import Silent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.packing.works_problem import WorksProblem
    from kilnpack.search.budget import Budget
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


def pack_bounded(  # noqa: PLR0913 - what a firing is, then how long to look and who listens
    works: Works,
    kiln: Kiln,
    programme: Programme,
    lots: Sequence[Lot],
    *,
    budget: Budget,
    seed: int,
    listener: Listener | None = None,
    reserve_share: float = 0.0,
    workers: int = 1,
) -> Load:
    """Return the load of `pack_load` with its proved bound and the worth in fractions of the settings found.

    The bound takes a few seconds more than the budget; Ctrl-C leaves it out.
    """
    noting = Noting(listener or Silent())
    load = pack_load(
        works,
        kiln,
        programme,
        lots,
        budget=budget,
        seed=seed,
        listener=noting,
        reserve_share=reserve_share,
        workers=workers,
    )
    rules = FiringRules(works, kiln, programme)
    fit, _ = able(rules, [lot for lot in lots if lot.pieces > 0])
    built = works_problem(rules, compatible(rules, fit)[0], reserve_share=reserve_share)
    ready = built.problem.ready_value
    if ready <= 0.0:
        return load
    bound, linear = bound_of(built), noting.linear_value
    return replace(
        load,
        bound_share=None if bound is None else min(1.0, math.ceil(DIGITS * bound / ready) / DIGITS),
        columns_share=None if linear is None else min(1.0, max(load.value_share, round(linear / ready, 6))),
    )


def bound_of(built: WorksProblem) -> float | None:
    """Return the proved bound of a works' problem, None where there is none or Ctrl-C cut it short."""
    try:
        return proved_bound(built.problem, [body.parts for body in built.ware.bodies])
    except KeyboardInterrupt:
        return None
