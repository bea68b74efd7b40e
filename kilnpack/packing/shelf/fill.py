"""Fill one shelf for as long as the budget lasts, on one or more threads."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from threading import Lock
from typing import TYPE_CHECKING

from kilnpack.packing.shelf.construct import bottom_left, quick_setting
from kilnpack.packing.shelf.pack import (
    EXCHANGE_SHARE,
    PRESS_FROM,
    PRESS_HEAT_SHARE,
    QUICK_FROM,
    demand_of,
    exchange,
    finish,
    press,
)
from kilnpack.packing.shelf.setting import Ease
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.packing.shelf.work import CHUNK, ShelfWork
from kilnpack.search.budget import Budget

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from kilnpack.packing.shelf.setting import ShelfSetting
    from kilnpack.search.budget import Meter
    from kilnpack.shapes.primitives import ShelfBody
    from kilnpack.shapes.room import Room

ROUND_S = 2.5
ROUND_EFFORT = 1500
"""A budget is cut into rounds of about this length (seconds, or thousands of evaluations), each from an empty shelf."""

HEAT_SHARES = (PRESS_HEAT_SHARE, 4.0 * PRESS_HEAT_SHARE)
"""Heats at which the rounds press in turn: cold keeps what the exchange has made, warm finds what is far from it."""

CONSTRUCTORS_FROM_S = 5.0
"""From so many seconds on all quick constructors have their time, about half a second."""

PRESS_FROM_S = 0.4
"""A budget of fewer seconds is not worth pressing."""

QUICK_FROM_S = 0.4
"""From so many seconds on one thread begins with plain bottom-left."""

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
    searches = [
        Search(ShelfWork(tables, demand, seed=seed + 104729 * number), budget.start(), number)
        for number in range(max(1, workers))
    ]
    if len(searches) > 1 and budget.seconds is not None:
        common = Common()
        for search in searches:
            search.common = common
    with ThreadPoolExecutor(len(searches)) as crew:
        list(crew.map(_cool_in_rounds, searches))
    works = [search.work for search in searches]
    setting = finish(max(works, key=lambda work: work.rank), ease)
    return replace(setting, evaluations=sum(work.evaluations for work in works))


@dataclass(slots=True)
class Common:
    """The best setting of all threads. Only for budgets of seconds: who learns what when does not repeat."""

    worth: float = 0.0
    places: list[tuple[int, float, float, float]] = field(default_factory=list)
    lock: Lock = field(default_factory=Lock)

    def share(self, work: ShelfWork) -> None:
        """Give what one thread found to the others, or it what they found."""
        worth = work.rank[0]
        if worth == self.worth:
            return
        with self.lock:
            if worth > self.worth:
                self.worth, self.places = worth, work.best()
            elif worth < self.worth:
                work.learn(self.places, self.worth)


@dataclass(slots=True)
class Search:
    """One thread's search: its state, its budget, its number, and what it shares."""

    work: ShelfWork
    meter: Meter
    number: int
    common: Common | None = None


def _cool_in_rounds(search: Search) -> None:
    """Anneal from an empty shelf and press what was found, round after round."""
    work, budget = search.work, search.meter.budget
    if not work.demand.count.any():
        return
    if search.number == 0:
        _begin(work, budget)
    length = (budget.seconds or 0.0) / ROUND_S + (budget.effort or 0) / ROUND_EFFORT
    rounds = max(1, round(length))
    is_short = (budget.seconds or 0.0) < PRESS_FROM_S and 1000 * (budget.effort or 0) < PRESS_FROM
    for number in range(rounds):
        work.start_from([])
        begin, end = number / rounds, (number + 1) / rounds
        turn = end if is_short else begin + EXCHANGE_SHARE * (end - begin)
        _spend(search, exchange, begin, turn)
        warmth = 0 if number == 0 else (number + search.number) % len(HEAT_SHARES)
        if number == 0:
            work.start_from(work.best())
        _spend(search, partial(press, heat_share=HEAT_SHARES[warmth]), turn, end, common=search.common)


def _begin(work: ShelfWork, budget: Budget) -> None:
    """Start with a quick setting where the budget has time for one, so that nothing worth less is given back."""
    seconds = budget.seconds or 0.0
    if seconds >= CONSTRUCTORS_FROM_S or 1000 * (budget.effort or 0) >= QUICK_FROM:
        work.start_from(quick_setting(work.tables, work.demand))
    elif seconds >= QUICK_FROM_S:
        work.start_from(bottom_left(work.tables, work.demand))


def _spend(
    search: Search,
    step: Callable[[ShelfWork, int, float], None],
    begin: float,
    end: float,
    *,
    common: Common | None = None,
) -> None:
    """Take steps of one kind from one share of the budget to another."""
    work, meter = search.work, search.meter
    while meter.share < end:
        before = work.evaluations
        step(work, CHUNK, (end - meter.share) / (end - begin))
        meter.spend(work.evaluations - before)
        if common is not None:
            common.share(work)
