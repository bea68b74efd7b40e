"""All bodies on the fewest shelves of one kind: settings are found with prices, and chosen together.

Filling one shelf after another is short-sighted. Here a linear programme over all settings known so far says what one
more body of each kind is worth, searches look for settings that are worth more than one shelf at these prices, and a
whole-number programme chooses among everything found. Prices replace the guess of a value per body.
"""

from __future__ import annotations

from concurrent.futures import FIRST_COMPLETED, Executor, Future, ThreadPoolExecutor, wait
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.shelf.choice import Places, Pool, choose, greedy_choice, read_back, worth_now
from kilnpack.packing.shelf.construct import bottom_left
from kilnpack.packing.shelf.pack import HEAT_SHARE, demand_of
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.packing.shelf.work import CHUNK, ShelfWork
from kilnpack.search.executor import InPlace

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.packing.shelf.master import Counts
    from kilnpack.packing.shelf.setting import ShelfSetting
    from kilnpack.packing.shelf.tables import ShelfTables
    from kilnpack.packing.shelf.work import Demand
    from kilnpack.search.budget import Budget, Meter
    from kilnpack.shapes.primitives import ShelfBody
    from kilnpack.shapes.room import Room

FIRST_EVALUATIONS = 3000
"""Search for a shelf of one kind alone, to begin the prices with."""

PRICED_EVALUATIONS = 30_000
"""Longest search for one setting at given prices, under 0.1 s."""

PRICED_SHARE = 0.012
"""The same as a part of the budget."""

ONE_BY_ONE_SHARE = 0.3
ONE_BY_ONE_SECONDS = 1.0
"""Part of the budget, and most seconds, for filling shelf after shelf before prices are asked."""

PLAIN_SHARE = 0.7
"""Part of the budget after which plain bottom-left, once it holds every body, is all there is time for."""

POWERS = (1.3, 1.0, 1.7, 2.2)
"""A body is worth its area to one of these powers while shelf after shelf is filled: large ones must not be left."""

LEAST_WORTH = 0.97
"""A setting worth less than this part of a shelf at the prices of its search is not kept."""

LAST_SHARE = 0.85
"""Part of the budget after which no new search is begun, so that the choice has its time."""

CHOICE_SECONDS = 1.5
"""Most seconds for one whole-number choice on the way."""


def pack_shelves(
    room: Room, bodies: Sequence[ShelfBody], *, budget: Budget, seed: int, workers: int = 1
) -> tuple[ShelfSetting, ...]:
    """Place every body on the fewest equal shelves found within the budget.

    Parameters
    ----------
    room
        The shelf and the space above it; all shelves are alike.
    bodies
        Kinds of body with their counts; values are not looked at.
    budget
        Seconds, or thousands of evaluations (then the result repeats with the seed and one worker).
    workers
        Threads that search; the kernels run side by side.

    Raises
    ------
    ValueError
        If a body does not fit on an empty shelf.
    """
    meter = budget.start()
    tables = tables_for(room, bodies)
    demand = demand_of(room, bodies)
    wanted = tuple(body.count for body in bodies)
    pool = Pool()
    plain = _bottom_left_row(pool, tables, demand, wanted)
    if not plain or meter.share < PLAIN_SHARE:
        _first_settings(pool, tables, demand, wanted, seed, meter)
        pool.chosen = greedy_choice(pool, wanted, tables.area)
    if plain and (not pool.chosen or len(plain) < len(pool.chosen)):
        pool.chosen = plain
    crew: Executor = InPlace() if workers <= 1 else ThreadPoolExecutor(workers)
    with crew:
        _fill_one_by_one(pool, tables, demand, wanted, seed, meter, crew, max(1, workers))
        _grow(pool, tables, demand, wanted, seed, meter, crew, max(1, workers))
    return read_back(pool, tables, demand, wanted)


def _first_settings(pool: Pool, tables: ShelfTables, demand: Demand, wanted: Counts, seed: int, meter: Meter) -> None:
    """Fill one shelf with each kind alone, and one with all by area."""
    for kind, count in enumerate(wanted):
        if count == 0:
            continue
        alone = np.zeros(len(wanted), dtype=np.int64)
        alone[kind] = min(count, demand.count[kind])
        found, spent = search_priced(
            tables, replace(demand, count=alone), np.ones(len(wanted)), seed, FIRST_EVALUATIONS
        )
        if not found:
            raise ValueError(f"body {kind} does not fit on an empty shelf")
        pool.add(found)
        pool.evaluations += spent
        meter.spend(spent)


def _bottom_left_row(pool: Pool, tables: ShelfTables, demand: Demand, wanted: Counts) -> list[Counts]:
    """Fill shelf after shelf by plain bottom-left, the least any choice has to reach; nothing if a body is left."""
    row: list[Counts] = []
    rest = np.array(wanted)
    while rest.any():
        places = tuple(bottom_left(tables, replace(demand, count=np.minimum(demand.count, rest))))
        if not places:
            # what is left stands only at angles or places the raster does not hold
            return []
        held = np.bincount([place[0] for place in places], minlength=len(wanted))
        counts = tuple(int(n) for n in held)
        pool.add({counts: places})
        # with as much of each kind left, the next shelf would be the same
        often = int((rest[held > 0] // held[held > 0]).min())
        row += [counts] * often
        rest -= often * held
    return row


def _fill_one_by_one(
    pool: Pool,
    tables: ShelfTables,
    demand: Demand,
    wanted: Counts,
    seed: int,
    meter: Meter,
    crew: Executor,
    workers: int,
) -> None:
    """Fill shelf after shelf by area to a power, each setting as often as it goes, and keep the shortest row."""
    evaluations = _priced_evaluations(meter) // 4
    for power in POWERS:
        value = (tables.area / tables.area.max()) ** power
        row: list[Counts] = []
        rest = np.array(wanted)
        while rest.any() and len(row) < len(pool.chosen):
            if meter.share > ONE_BY_ONE_SHARE or _seconds(meter) > ONE_BY_ONE_SECONDS:
                row += greedy_choice(pool, tuple(rest), value)
                break
            count = np.minimum(demand.count, rest)
            tasks = [
                crew.submit(search_priced, tables, replace(demand, count=count), value, seed + n, evaluations)
                for n in range(workers)
            ]
            found: dict[Counts, Places] = {}
            for task in tasks:
                settings, spent = task.result()
                found.update(settings)
                pool.evaluations += spent
                meter.spend(spent)
            pool.add(found)
            best = np.array(max(found, key=lambda counts: float(np.dot(value, counts))))
            often = int((rest[best > 0] // best[best > 0]).min())
            row += [tuple(int(n) for n in best)] * often
            rest -= often * best
        if len(row) < len(pool.chosen):
            pool.chosen = row
        if meter.share > ONE_BY_ONE_SHARE / 2:
            return


def _seconds(meter: Meter) -> float:
    return 0.0 if meter.budget.seconds is None else meter.elapsed_s


def _priced_evaluations(meter: Meter) -> int:
    """Return the length of one priced search: short where the budget is short."""
    budget = meter.budget
    whole = 1000 * (budget.effort or 0) if budget.seconds is None else 600_000 * budget.seconds
    return max(1000, int(min(PRICED_EVALUATIONS, PRICED_SHARE * whole)))


def search_priced(
    tables: ShelfTables,
    demand: Demand,
    prices: NDArray[np.float64],
    seed: int,
    evaluations: int,
    start: Places = (),
) -> tuple[dict[Counts, Places], int]:
    """Search one shelf at given prices; return every setting passed that comes near the best, and the work spent."""
    work = ShelfWork(tables, replace(demand, value=prices), seed=seed)
    if start:
        work.start_from(start)
    passed: dict[Counts, tuple[float, Places]] = {}
    while (spent := work.evaluations) < evaluations:
        work.run(min(CHUNK, evaluations - spent), heat=HEAT_SHARE * work.value * (1.0 - spent / evaluations))
        for counts, places in (work.in_hand(), (work.counts(), tuple(work.best()))):
            if counts not in passed and places:
                passed[counts] = (float(np.dot(prices, counts)), places)
    top = max((worth for worth, _ in passed.values()), default=0.0)
    kept = {counts: places for counts, (worth, places) in passed.items() if worth >= LEAST_WORTH * top}
    return kept, work.evaluations


def _grow(
    pool: Pool,
    tables: ShelfTables,
    demand: Demand,
    wanted: Counts,
    seed: int,
    meter: Meter,
    crew: Executor,
    workers: int,
) -> None:
    """Search at ever new prices until the budget is nearly spent, choosing on the way and at the end."""
    running: set[Future[tuple[dict[Counts, Places], int]]] = set()
    rng = np.random.default_rng(seed)
    number = 0
    choose_at = 0.15
    evaluations = _priced_evaluations(meter)
    while meter.share < LAST_SHARE or running:
        bound, prices, times = worth_now(pool, wanted)
        if meter.share >= choose_at:
            choose(pool, wanted, prices, bound, min(CHOICE_SECONDS, _left(meter)))
            choose_at = meter.share + 0.12
        while len(running) < workers and meter.share < LAST_SHARE:
            start = _start(pool, times, rng)
            running.add(crew.submit(search_priced, tables, demand, prices, seed + 7919 * number, evaluations, start))
            number += 1
        done, running = wait(running, return_when=FIRST_COMPLETED)
        for future in done:
            found, spent = future.result()
            pool.add(found)
            pool.evaluations += spent
            meter.spend(spent)
    bound, prices, _ = worth_now(pool, wanted)
    choose(pool, wanted, prices, bound, _left(meter))


def _left(meter: Meter) -> float:
    """Return the seconds that may go into a choice; a fixed time where the budget is effort."""
    seconds = meter.budget.seconds
    return 10.0 if seconds is None else max(0.01, 0.96 * seconds - meter.elapsed_s - 0.02)


def _start(pool: Pool, times: Sequence[float], rng: np.random.Generator) -> Places:
    """Return a setting to begin a search from: often one of those in the fractional choice, else an empty shelf."""
    used = [counts for counts, n in zip(pool.places, times, strict=True) if n > 1e-6]
    if not used or rng.random() < 0.5:
        return ()
    return pool.places[used[int(rng.integers(len(used)))]]
