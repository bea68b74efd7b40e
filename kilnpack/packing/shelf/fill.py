"""Fill one shelf for as long as the budget lasts, on one or more threads."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

from kilnpack.packing.shelf.pack import HEAT_SHARE, as_setting, demand_of
from kilnpack.packing.shelf.setting import Ease
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.packing.shelf.work import CHUNK, ShelfWork

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.packing.shelf.setting import ShelfSetting
    from kilnpack.packing.shelf.tables import ShelfTables
    from kilnpack.packing.shelf.work import Demand
    from kilnpack.search.budget import Budget, Meter
    from kilnpack.shapes.primitives import ShelfBody
    from kilnpack.shapes.room import Room

ROUNDS = 4
"""Coolings a long search is cut into; the later ones begin from the best or from nothing, in turn."""

SHORT_S = 4.0
SHORT_EFFORT = 250
"""A search shorter than this (seconds, or thousands of evaluations) cools once."""

REHEAT = 0.6
"""Heat of a cooling that begins from the best setting, as a share of the usual."""


def fill_shelf(
    room: Room,
    bodies: Sequence[ShelfBody],
    *,
    budget: Budget,
    seed: int,
    workers: int = 1,
    ease: Ease | None = None,
) -> ShelfSetting:
    """Choose and place bodies on one shelf so that their value is greatest, until the budget is spent.

    Parameters
    ----------
    room, bodies, seed, ease
        As in `pack_shelf`.
    budget
        Seconds, or thousands of evaluations for each worker (then the result repeats).
    workers
        Threads that search, each for itself; the kernels run side by side.

    Raises
    ------
    SolverFault
        If the exact re-check finds an overlap.
    """
    ease = ease or Ease()
    tables = tables_for(room, bodies, turn_step_deg=ease.turn_step_deg)
    demand = demand_of(room, bodies)
    meters = [budget.start() for _ in range(max(1, workers))]
    seeds = [seed + 104729 * number for number in range(len(meters))]
    if len(meters) == 1:
        works = [_cool_in_rounds(tables, demand, seed, meters[0])]
    else:
        with ThreadPoolExecutor(len(meters)) as crew:
            works = list(crew.map(lambda pair: _cool_in_rounds(tables, demand, *pair), zip(seeds, meters, strict=True)))
    best = max(works, key=lambda work: work.rank)
    return as_setting(tables, demand, best.best(), evaluations=sum(work.evaluations for work in works))


def _cool_in_rounds(tables: ShelfTables, demand: Demand, seed: int, meter: Meter) -> ShelfWork:
    """Anneal round after round: the first from an empty shelf, then in turn from the best and from nothing."""
    work = ShelfWork(tables, demand, seed=seed)
    if not demand.count.any():
        return work
    long = (meter.budget.seconds or 0.0) > SHORT_S or (meter.budget.effort or 0) > SHORT_EFFORT
    rounds = ROUNDS if long else 1
    for number in range(rounds):
        if number:
            work.start_from(work.best() if number % 2 else [])
        heat_share = HEAT_SHARE * (REHEAT if number % 2 else 1.0)
        begin, end = number / rounds, (number + 1) / rounds
        while meter.share < end:
            left = max(0.0, (end - meter.share) / (end - begin))
            before = work.evaluations
            work.run(CHUNK, heat=heat_share * work.value * left)
            meter.spend(work.evaluations - before)
    return work
