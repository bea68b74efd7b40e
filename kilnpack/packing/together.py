"""Improve a load in rounds: every worker starts from the best load so far with a seed of its own."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.packing.few_settings import Clusters, FewImprover, clustered
from kilnpack.packing.filler import Filler
from kilnpack.packing.improve import Improver, Tuning
from kilnpack.packing.rebuild import Estimates, first_load
from kilnpack.packing.state import LoadState, TierState
from kilnpack.search.budget import Budget, Meter
from kilnpack.search.executor import executor
from kilnpack.search.listener import Listener, Progress, Silent
from kilnpack.search.seeds import split, stream

if TYPE_CHECKING:
    from collections.abc import Sequence
    from concurrent.futures import Executor

    import numpy as np

    from kilnpack.packing.problem import LoadProblem

ROUNDS = 8
"""Times that workers compare their loads within one budget."""

FIRST_FILLS = 24
HASTY_S = 3.0
"""For less than this the first load is built with fewer fills and looks back over each stack less often."""
HASTY_FILLS = 8
HASTY_LOOKS = 2
USUAL_LOOKS = 4
SHORTEST_ROUND_S = 1.0
SHORTEST_TOGETHER_S = 4.0
"""For less than this, a second process is not worth its start."""

WAITING = Budget(seconds=0.4)
"""What one improves alone between two looks whether the others are ready."""

KEPT_SHARE = 0.97
"""Part of a round that is worked; the rest is for the way there and back."""
LEAST_KEPT_SHARE = 0.97
"""Tiers are not bound together at first where that costs more than this leaves."""


@dataclass(frozen=True, slots=True)
class Packed:
    """A load as plain data that travels between processes."""

    bottoms: tuple[int, ...]
    stacks: tuple[tuple[TierState, ...], ...]
    value: float
    labels: tuple[tuple[int, ...], ...] | None = None
    """Tiers of one number are set alike; None where every tier is set on its own."""


def packed(state: LoadState, labels: Sequence[Sequence[int]] | None = None) -> Packed:
    """Return a state as plain data."""
    rows = None if labels is None else tuple(tuple(row) for row in labels)
    return Packed(tuple(state.bottoms), tuple(tuple(tiers) for tiers in state.stacks), state.value, rows)


def unpacked(problem: LoadProblem, plan: Packed) -> LoadState:
    """Return the state that plain data stand for."""
    state = LoadState(problem)
    state.bottoms = list(plan.bottoms)
    for stack, tiers in enumerate(plan.stacks):
        for at, tier in enumerate(tiers):
            state.insert(stack, at, tier)
    return state


@dataclass(slots=True)
class Bench:
    """Tables and estimates of one problem, kept between rounds."""

    problem: LoadProblem
    filler: Filler
    estimates: Estimates


def bench_for(problem: LoadProblem, *, fills: int = FIRST_FILLS) -> Bench:
    """Build the tables of a problem."""
    filler = Filler(problem)
    return Bench(problem, filler, Estimates(filler, fills=fills))


_kept: dict[str, Bench] = {}
"""The bench of this worker process, by the token of the search it works for."""


def prepare(problem: LoadProblem, token: str) -> bool:
    """Build the tables in a worker process ahead of its first round."""
    _kept.clear()
    _kept[token] = bench_for(problem)
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One worker's share of a round."""

    start: Packed
    budget: Budget
    span: tuple[float, float]
    """Part of the whole budget the round begins and ends at."""
    seed: int
    tuning: Tuning


def work_round(problem: LoadProblem, task: Round, token: str) -> Packed:
    """Improve a load for one round in a worker process and return the best."""
    if token not in _kept:
        prepare(problem, token)
    meter = task.budget.start()
    return _improve(_kept[token], task.start, stream(task.seed, 2), task.tuning, task.span, meter, Silent())


def _improve(
    bench: Bench,
    start: Packed,
    rng: np.random.Generator,
    tuning: Tuning,
    span: tuple[float, float],
    meter: Meter,
    listener: Listener,
) -> Packed:
    state = unpacked(bench.problem, start)
    if start.labels is None:
        return packed(Improver(state, bench.estimates, rng, tuning, span=span).run(meter, listener))
    clusters = Clusters(state, [list(row) for row in start.labels])
    most = bench.problem.settings_most or tuning.bound_settings
    improver = FewImprover(clusters, bench.filler, rng, tuning, most=most, span=span)
    improver.run(meter, listener)
    return packed(improver.best.state, improver.best.labels)


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
    """Return the best load found within the budget; with effort and one worker it repeats exactly.

    The listener, or Ctrl-C, ends the search early with the best so far.
    """
    meter = budget.start()
    tuning = tuning or Tuning()
    listener = listener or Silent()
    if workers <= 1 or (budget.seconds is not None and budget.seconds < SHORTEST_TOGETHER_S):
        return _alone(problem, meter, seed, tuning, listener, start)
    with executor(workers) as pool:
        crew = _Crew(problem, pool, workers, f"{os.getpid()}-{time.monotonic_ns()}")
        ready = [pool.submit(prepare, problem, crew.token) for _ in range(workers)]
        bench = bench_for(problem)
        best = start or _first(bench, seed, tuning)
        listener.heard(Progress(step="first load", value=best.value, share=meter.share, elapsed_s=meter.elapsed_s))
        while budget.seconds is not None and not meter.is_up and not all(future.done() for future in ready):
            span = (meter.share, meter.share)
            best = _improve(bench, best, stream(seed, 5, round(best.value)), tuning, span, WAITING.start(), Silent())
        return _rounds(crew, meter, best, seed, tuning, listener)


@dataclass(frozen=True, slots=True)
class _Crew:
    """The workers of one search."""

    problem: LoadProblem
    pool: Executor
    workers: int
    token: str


def _first(bench: Bench, seed: int, tuning: Tuning, *, hasty: bool = False) -> Packed:
    state = LoadState(bench.problem)
    fills, looks = (HASTY_FILLS, HASTY_LOOKS) if hasty else (FIRST_FILLS, USUAL_LOOKS)
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
    bench = bench_for(problem, fills=HASTY_FILLS if hasty else FIRST_FILLS)
    best = start or _first(bench, seed, tuning, hasty=hasty)
    meter.spend(100 * bench.filler.fills)
    listener.heard(Progress(step="first load", value=best.value, share=meter.share, elapsed_s=meter.elapsed_s))
    if best.labels is not None and problem.settings_most is None:
        part = Meter(_part(budget=meter.budget, share=tuning.bound_share), meter.spent, meter.begun_s)
        best = _improve(bench, best, stream(seed, 4), tuning, (0.0, tuning.bound_share), part, listener)
        meter.spent = part.spent
        best = replace(best, labels=None)
    return _improve(bench, best, stream(seed, 2), tuning, (0.0, 1.0), meter, listener)


def _part(budget: Budget, share: float) -> Budget:
    """Return a share of a budget, counted from its beginning."""
    if budget.seconds is not None:
        return Budget(seconds=budget.seconds * share)
    return Budget(effort=round((budget.effort or 0) * share))


def _rounds(crew: _Crew, meter: Meter, best: Packed, seed: int, tuning: Tuning, listener: Listener) -> Packed:
    problem, workers = crew.problem, crew.workers
    number = 0
    seconds = meter.budget.seconds
    while not meter.is_up:
        share = meter.share
        if problem.settings_most is None and share >= tuning.bound_share:
            best = replace(best, labels=None)
        if seconds is not None:
            left_s = seconds - meter.elapsed_s
            part = Budget(seconds=min(left_s, max(SHORTEST_ROUND_S, seconds / ROUNDS)) * KEPT_SHARE)
            end = min(1.0, share + (part.seconds or 0.0) / seconds)
        else:
            part = Budget(effort=max(1, (meter.budget.effort or 0) // (ROUNDS * workers)))
            end = min(1.0, share + 1.0 / ROUNDS)
        tasks = [
            Round(start=best, budget=part, span=(share, end), seed=one, tuning=_own(tuning, k))
            for k, one in enumerate(split(seed + 1000 * number, workers))
        ]
        try:
            futures = [crew.pool.submit(work_round, problem, task, crew.token) for task in tasks]
            found = [future.result() for future in futures]
        except KeyboardInterrupt:
            break
        best = max([best, *found], key=lambda plan: plan.value)
        meter.spend(1000 * (part.effort or 0) * workers)
        number += 1
        progress = Progress(step="improving the load", value=best.value, share=meter.share, elapsed_s=meter.elapsed_s)
        if not listener.heard(progress):
            break
    return best


def _own(tuning: Tuning, worker: int) -> Tuning:
    """Give every second worker a cooler search, so that they do not walk the same way."""
    return tuning if worker % 2 == 0 else replace(tuning, heat_share=tuning.heat_share / 2)
