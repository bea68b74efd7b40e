"""Improve a load in rounds: every worker starts from the best load so far with a seed of its own.

Small changes and column generation take turns, or run side by side where there are two workers or more.
"""

from __future__ import annotations

import math
import os
import time
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from kilnpack.packing.clusters import clustered
from kilnpack.packing.columns_master import Pool
from kilnpack.packing.crew import (
    FIRST_FILLS,
    Bench,
    Packed,
    Round,
    Trace,
    Worked,
    bench_for,
    by_columns,
    improve,
    packed,
    prepare,
    sent,
    unpacked,
    work_round,
    worked,
)
from kilnpack.packing.improve import Tuning
from kilnpack.packing.rebuild import first_load
from kilnpack.packing.state import LoadState
from kilnpack.search.budget import Budget, Meter
from kilnpack.search.cluster import beside
from kilnpack.search.listener import Listener, Progress, Silent
from kilnpack.search.seeds import split, stream

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from kilnpack.packing.problem import LoadProblem

__all__ = ["Packed", "Round", "pack_together", "packed", "prepare", "sent", "unpacked", "work_round"]

ROUNDS = 8
"""Times that workers compare their loads within one budget."""

HASTY_S = 3.0
"""For less than this the first load is built with fewer fills and looks back over each stack less often."""
HASTY_FILLS = 8
HASTY_LOOKS = 2
USUAL_LOOKS = 4
RUSHED_S = 0.6
"""For less than this it looks at each stack once: whoever plans many loads in little time asks what fits at all."""
SHORTEST_ROUND_S = 2.0
SHORTEST_TOGETHER_S = 4.0
"""For less than this, a second process is not worth its start."""

WAITING_S = 0.4
"""What this process improves alone between two looks whether the others are ready."""

KEPT_SHARE = 0.97
"""Part of a round that is worked; the rest is for the way there and back."""
LEAST_KEPT_SHARE = 0.97
"""Tiers are not bound together at first where that costs more than this leaves."""

PHASES = ((False, 0.2), (True, 0.5), (False, 0.6), (True, 0.9), (False, 1.0))
"""One worker alone: whether columns are generated, and until which part of the budget."""

LEAST_COLUMNS_SHARE = 0.25
"""Part of a round that is left to generating columns, however long earlier rounds took over their time."""

COLUMNS_LEAST_S = 4.0
COLUMNS_LEAST_EFFORT = 400
"""For less than this, columns are not generated."""


def pack_together(
    problem: LoadProblem,
    *,
    budget: Budget,
    seed: int,
    workers: int = 1,
    tuning: Tuning | None = None,
    listener: Listener | None = None,
    start: Packed | None = None,
) -> Packed:
    """Return the best load found within the budget; with effort it repeats exactly.

    With more workers it repeats too, and is the same on processes of this machine and on a cluster (`search.cluster`).
    The listener, or Ctrl-C, ends the search early with the best so far.
    """
    meter = budget.start()
    tuning = tuning or Tuning()
    listener = listener or Silent()
    if workers <= 1 or (budget.seconds is not None and budget.seconds < SHORTEST_TOGETHER_S):
        return _alone(problem, meter, seed, tuning, listener, start)
    with beside(workers - 1) as pool:
        token = f"{os.getpid()}-{time.monotonic_ns()}"
        known = sent(problem)
        ready = [pool.submit(prepare, known, token) for _ in range(workers - 1)]
        crew = _Crew(_bench(problem, FIRST_FILLS, meter, listener), known, pool, workers, token)
        best = start or _first(crew.bench, seed, tuning)
        live = _Live(listener, meter, best.value)
        live.tell("first load")
        while budget.seconds is not None and not live.stopped and not all(future.done() for future in ready):
            span, part = (meter.share, meter.share), _at_most(meter, WAITING_S)
            best = improve(crew.bench, best, stream(seed, 5, round(best.value)), tuning, span, part, live)
            meter.is_cut = part.is_cut
            if meter.is_up:
                break
        return _rounds(crew, meter, best, seed, tuning, live)


@dataclass(slots=True)
class _Crew:
    """All who work on one search: this process with its bench, and processes besides it."""

    bench: Bench
    known: bytes
    """The problem, as it is sent."""
    pool: Executor
    workers: int
    token: str
    columns: Pool = field(default_factory=Pool)
    over_s: float = 0.0
    """Most that a round has taken over its time: a programme once begun is solved to its end."""


@dataclass(slots=True)
class _Live:
    """Tells the listener of a search what is heard within a part of it; the worth it tells never falls."""

    listener: Listener
    meter: Meter
    value: float
    stopped: bool = False

    def heard(self, progress: Progress) -> bool:
        """Pass on what is heard, by the clock and the budget of the whole search; return whether to go on."""
        self.value = max(self.value, progress.value)
        return self.tell(progress.step, progress.linear_value)

    def tell(self, step: str, linear_value: float | None = None, at_s: float | None = None) -> bool:
        """Tell the best worth, as found just now or at a time before; return whether to go on."""
        elapsed_s = self.meter.elapsed_s if at_s is None else at_s
        progress = Progress(
            step=step, value=self.value, share=self.meter.share, elapsed_s=elapsed_s, linear_value=linear_value
        )
        self.stopped = not self.listener.heard(progress) or self.stopped
        return not self.stopped


def _at_most(meter: Meter, seconds: float) -> Meter:
    """Return a meter for so many seconds, or for what is left of another."""
    left_s = (meter.budget.seconds or 0.0) - meter.elapsed_s
    return Budget(seconds=max(0.0, min(seconds, left_s))).start()


def _bench(problem: LoadProblem, fills: int, meter: Meter, listener: Listener) -> Bench:
    """Build the tables of a problem and tell it; tables of pairs of ware come when they are asked for."""
    bench = bench_for(problem, fills=fills)
    listener.heard(Progress(step="tables", value=0.0, share=meter.share, elapsed_s=meter.elapsed_s, said="none yet"))
    return bench


def _first(bench: Bench, seed: int, tuning: Tuning, *, seconds: float | None = None) -> Packed:
    state = LoadState(bench.problem)
    hasty = seconds is not None and seconds < HASTY_S
    fills, looks = (HASTY_FILLS, HASTY_LOOKS) if hasty else (FIRST_FILLS, USUAL_LOOKS)
    looks = 1 if seconds is not None and seconds < RUSHED_S else looks
    first_load(state, bench.estimates, fills=fills, rng=stream(seed, 1), rounds=looks)
    most = bench.problem.settings_most
    if most is None and tuning.bound_share <= 0.0:
        return packed(state)
    clusters = clustered(state, bench.filler, most=most or tuning.bound_settings, fills=fills, rng=stream(seed, 3))
    if most is None and clusters.value < LEAST_KEPT_SHARE * state.value:
        return packed(state)
    return packed(clusters.state, clusters.labels)


def _alone(
    problem: LoadProblem, meter: Meter, seed: int, tuning: Tuning, listener: Listener, start: Packed | None
) -> Packed:
    hasty = meter.budget.seconds is not None and meter.budget.seconds < HASTY_S
    bench = _bench(problem, HASTY_FILLS if hasty else FIRST_FILLS, meter, listener)
    best = start or _first(bench, seed, tuning, seconds=meter.budget.seconds)
    meter.spend(100 * bench.filler.fills)
    listener.heard(Progress(step="first load", value=best.value, share=meter.share, elapsed_s=meter.elapsed_s))
    hears = _Going(listener)
    if not _long_enough(meter.budget, tuning):
        if best.labels is not None and problem.settings_most is None:
            part = Meter(_part(meter.budget, tuning.bound_share), meter.spent, meter.begun_s)
            best = improve(bench, best, stream(seed, 4), tuning, (0.0, tuning.bound_share), part, hears)
            meter.spent, meter.is_cut = part.spent, part.is_cut
            best = replace(best, labels=None)
        return improve(bench, best, stream(seed, 2), tuning, (0.0, 1.0), meter, hears)
    return _phases(bench, best, meter, seed, tuning, hears)


@dataclass(slots=True)
class _Going:
    """Passes progress on and remembers whether the listener wanted to stop; the worth it tells never falls."""

    listener: Listener
    stopped: bool = False

    def heard(self, progress: Progress) -> bool:
        """Return whether to go on."""
        self.stopped = self.stopped or not self.listener.heard(progress)
        return not self.stopped


def _long_enough(budget: Budget, tuning: Tuning) -> bool:
    """Return whether there is enough time to generate columns."""
    if not tuning.columns:
        return False
    if budget.seconds is not None:
        return budget.seconds >= COLUMNS_LEAST_S
    return (budget.effort or 0) >= COLUMNS_LEAST_EFFORT


def _phases(bench: Bench, best: Packed, meter: Meter, seed: int, tuning: Tuning, going: _Going) -> Packed:
    """Let small changes and column generation take turns."""
    pool, begun, linear = Pool(), meter.share, None
    seen: tuple[Packed, ...] = (best,)
    for number, (columns, until) in enumerate(PHASES):
        if going.stopped or meter.is_up:
            break
        part = Meter(_part(meter.budget, until), meter.spent, meter.begun_s)
        if part.is_up:
            continue
        if columns:
            task = Round(start=best, budget=part.budget, span=(begun, until), seed=seed + number, tuning=tuning,
                         pool=pool, seen=seen)  # fmt: skip
            best, pool = by_columns(bench, task, part, going)
            linear, seen = best.linear_value, ()
        else:
            best = improve(bench, best, stream(seed, 2, number), tuning, (begun, until), part, going)
            seen = (*seen, best)
        if bench.problem.settings_most is None and until >= tuning.bound_share:
            best = replace(best, labels=None)
        meter.spent, meter.is_cut, begun = part.spent, part.is_cut, until
    return replace(best, linear_value=linear)


def _part(budget: Budget, share: float) -> Budget:
    """Return a share of a budget, counted from its beginning."""
    if budget.seconds is not None:
        return Budget(seconds=budget.seconds * share)
    return Budget(effort=round((budget.effort or 0) * share))


def _rounds(crew: _Crew, meter: Meter, best: Packed, seed: int, tuning: Tuning, live: _Live) -> Packed:
    """Let all improve the best load, round after round; from the second on, one of them by columns."""
    number = 0
    linear = None
    seen: tuple[Packed, ...] = (best,)
    problem = crew.bench.problem
    while not meter.is_up and not live.stopped:
        if problem.settings_most is None and meter.share >= tuning.bound_share:
            best = replace(best, labels=None)
        own, *others = _tasks(crew, meter, best, seed + 1000 * number, tuning, seen if number else None)
        begun_s, part = meter.elapsed_s, own.budget.start()
        try:
            futures = [crew.pool.submit(work_round, crew.known, task, crew.token) for task in others]
            found = [worked(crew.bench, own, part, Trace(live))]
            found += [future.result() for future in futures]
            crew.over_s = max(crew.over_s, meter.elapsed_s - begun_s - (own.budget.seconds or math.inf))
            _tell(found[1:], begun_s, live)
        except KeyboardInterrupt:
            break
        meter.is_cut = part.is_cut
        for one in found:
            if one.pool is not None:
                crew.columns, linear, seen = one.pool, one.plan.linear_value, ()
        best = max([best, *(one.plan for one in found)], key=lambda plan: plan.value)
        seen = (*seen, *(one.plan for one in found if one.pool is None))
        meter.spend(1000 * sum(task.budget.effort or 0 for task in (own, *others)))
        number += 1
    return replace(best, linear_value=linear)


def _tasks(
    crew: _Crew, meter: Meter, best: Packed, seed: int, tuning: Tuning, seen: tuple[Packed, ...] | None
) -> list[Round]:
    """Return what each worker does in a round; with `seen`, the last generates columns."""
    seconds, share = meter.budget.seconds, meter.share
    if seconds is not None:
        left_s = seconds - meter.elapsed_s
        part = Budget(seconds=min(left_s, max(SHORTEST_ROUND_S, seconds / ROUNDS)) * KEPT_SHARE)
        end = min(1.0, share + (part.seconds or 0.0) / seconds)
    else:
        part = Budget(effort=max(1, (meter.budget.effort or 0) // (ROUNDS * crew.workers)))
        end = min(1.0, share + 1.0 / ROUNDS)
    tasks = [
        Round(start=best, budget=part, span=(share, end), seed=one, tuning=_own(tuning, k))
        for k, one in enumerate(split(seed, crew.workers))
    ]
    if seen is not None and _long_enough(meter.budget, tuning):
        if part.seconds is not None:
            part = Budget(seconds=max(part.seconds - crew.over_s, LEAST_COLUMNS_SHARE * part.seconds))
        tasks[-1] = replace(tasks[-1], budget=part, pool=crew.columns, seen=seen)
    return tasks


def _tell(found: list[Worked], begun_s: float, live: _Live) -> None:
    """Tell when the others found each load that was better than any told so far."""
    for elapsed_s, worth in sorted(point for one in found for point in one.trace):
        if worth > live.value:
            live.value = worth
            live.tell("improving the load", at_s=begun_s + elapsed_s)
    linear = next((one.plan.linear_value for one in found if one.pool is not None), None)
    live.tell("improving the load", linear)


def _own(tuning: Tuning, worker: int) -> Tuning:
    """Give every second worker a cooler search, so that they do not walk the same way."""
    return tuning if worker % 2 == 0 else replace(tuning, heat_share=tuning.heat_share / 2)
