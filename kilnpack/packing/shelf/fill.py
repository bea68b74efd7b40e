"""Fill one shelf for as long as the budget lasts, on one or more threads."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.packing.shelf.construct import bottom_left, quick_setting
from kilnpack.packing.shelf.pack import EXCHANGE_SHARE, PRESS_FROM, QUICK_FROM, demand_of, exchange, finish, press
from kilnpack.packing.shelf.setting import Ease
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.packing.shelf.work import CHUNK, ShelfWork
from kilnpack.search.budget import Budget

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.packing.shelf.setting import ShelfSetting
    from kilnpack.packing.shelf.tables import ShelfTables
    from kilnpack.packing.shelf.work import Demand
    from kilnpack.search.budget import Meter
    from kilnpack.shapes.primitives import ShelfBody
    from kilnpack.shapes.room import Room

ROUND_S = 5.0
ROUND_EFFORT = 1500
"""A budget is cut into rounds of about this length (seconds, or thousands of evaluations), each from an empty shelf."""

PRESS_FROM_S = 0.4
"""A budget of fewer seconds is not worth pressing."""

QUICK_FROM_S = 0.4
"""From so many seconds on one thread begins with plain bottom-left; from a whole round on, with all constructors."""

ROWS_FROM = 0.8
"""Part of the seconds after which rows are worked on, where a row has a price."""


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
    tables = tables_for(room, bodies, turn_step_deg=ease.turn_step_deg, from_above=ease.free_way_down)
    demand = demand_of(room, bodies)
    if ease.row_cost_share > 0 and budget.seconds is not None:
        budget = Budget(seconds=ROWS_FROM * budget.seconds)
    meters = [budget.start() for _ in range(max(1, workers))]
    seeds = [seed + 104729 * number for number in range(len(meters))]
    if len(meters) == 1:
        works = [_cool_in_rounds(tables, demand, seed, meters[0], is_first=True)]
    else:
        with ThreadPoolExecutor(len(meters)) as crew:
            tasks = [
                crew.submit(_cool_in_rounds, tables, demand, own_seed, meter, is_first=own_seed == seed)
                for own_seed, meter in zip(seeds, meters, strict=True)
            ]
            works = [task.result() for task in tasks]
    best = max(works, key=lambda work: work.rank)
    setting = finish(best, ease)
    return replace(setting, evaluations=sum(work.evaluations for work in works))


def _cool_in_rounds(
    tables: ShelfTables, demand: Demand, seed: int, meter: Meter, *, is_first: bool = False
) -> ShelfWork:
    """Anneal from an empty shelf and press what was found, round after round."""
    work = ShelfWork(tables, demand, seed=seed)
    if not demand.count.any():
        return work
    budget = meter.budget
    if is_first and ((budget.seconds or 0.0) >= ROUND_S or 1000 * (budget.effort or 0) >= QUICK_FROM):
        work.start_from(quick_setting(tables, demand))
    elif is_first and (budget.seconds or 0.0) >= QUICK_FROM_S:
        work.start_from(bottom_left(tables, demand))
    length = (budget.seconds or 0.0) / ROUND_S + (budget.effort or 0) / ROUND_EFFORT
    rounds = max(1, round(length))
    is_short = (budget.seconds or 0.0) < PRESS_FROM_S and 1000 * (budget.effort or 0) < PRESS_FROM
    for number in range(rounds):
        work.start_from([])
        begin, end = number / rounds, (number + 1) / rounds
        turn = end if is_short else begin + EXCHANGE_SHARE * (end - begin)
        _anneal(work, meter, begin, turn)
        if number == 0:
            work.start_from(work.best())
        _press(work, meter, turn, end)
    return work


def _anneal(work: ShelfWork, meter: Meter, begin: float, end: float) -> None:
    while meter.share < end:
        before = work.evaluations
        exchange(work, CHUNK, (end - meter.share) / (end - begin))
        meter.spend(work.evaluations - before)


def _press(work: ShelfWork, meter: Meter, begin: float, end: float) -> None:
    while meter.share < end:
        before = work.evaluations
        press(work, CHUNK, (end - meter.share) / (end - begin))
        meter.spend(work.evaluations - before)
