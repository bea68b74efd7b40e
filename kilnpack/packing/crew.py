"""One worker's part of the search: its tables, and one round of changes or of column generation."""

from __future__ import annotations

import pickle
from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from kilnpack.packing.clusters import Clusters
from kilnpack.packing.columns import generate
from kilnpack.packing.columns_pricing import Care
from kilnpack.packing.few_settings import FewImprover
from kilnpack.packing.filler import Filler
from kilnpack.packing.improve import Improver
from kilnpack.packing.rebuild import Estimates
from kilnpack.packing.state import LoadState, TierState
from kilnpack.search.seeds import stream

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from kilnpack.packing.columns_master import Pool
    from kilnpack.packing.problem import LoadProblem
    from kilnpack.packing.walk import Tuning
    from kilnpack.search.budget import Budget, Meter
    from kilnpack.search.listener import Listener, Progress

FIRST_FILLS = 24


@dataclass(frozen=True, slots=True)
class Packed:
    """A load as plain data that travels between processes."""

    bottoms: tuple[int, ...]
    stacks: tuple[tuple[TierState, ...], ...]
    value: float
    labels: tuple[tuple[int, ...], ...] | None = None
    """Tiers of one number are set alike; None where every tier is set on its own."""
    linear_value: float | None = None
    """Worth of the last column programme in fractions, None where there was none. It is not a bound."""


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


def sent(problem: LoadProblem) -> bytes:
    """Return a problem as it is sent to worker processes.

    It is pickled once and at once: the pool would do it in a thread of its own while this process goes on working with
    the problem, whose site notes down what it is asked.
    """
    return pickle.dumps(problem)


def prepare(problem: bytes, token: str) -> bool:
    """Build the tables in a worker process ahead of its first round."""
    _kept.clear()
    _kept[token] = bench_for(pickle.loads(problem))
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One worker's share of a round.

    Attributes
    ----------
    span
        Part of the whole budget the round begins and ends at.
    pool
        Settings and structures known so far, where the round generates columns; else None.
    seen
        Loads that the pool does not know yet.
    """

    start: Packed
    budget: Budget
    span: tuple[float, float]
    seed: int
    tuning: Tuning
    pool: Pool | None = None
    seen: tuple[Packed, ...] = ()


@dataclass(frozen=True, slots=True)
class Worked:
    """What a round came to: its best load, the way there as (seconds, worth), and the pool as it grew."""

    plan: Packed
    trace: tuple[tuple[float, float], ...]
    pool: Pool | None = None


@dataclass(slots=True)
class Trace:
    """Notes the worth over time; tells another listener where there is one."""

    listener: Listener | None = None
    points: list[tuple[float, float]] = field(default_factory=list)

    def heard(self, progress: Progress) -> bool:
        """Take note of a better load."""
        if not self.points or progress.value > self.points[-1][1]:
            self.points.append((progress.elapsed_s, progress.value))
        return self.listener is None or self.listener.heard(progress)


def work_round(problem: bytes, task: Round, token: str) -> Worked:
    """Improve a load for one round in a worker process and return the best.

    With an effort, the round learns its estimates anew: its result does not depend on what else the worker has done.
    """
    if token not in _kept:
        prepare(problem, token)
    bench = _kept[token]
    if task.budget.effort is not None:
        bench = Bench(bench.problem, bench.filler, Estimates(bench.filler, fills=bench.estimates.fills))
    return worked(bench, task, task.budget.start(), Trace())


def worked(bench: Bench, task: Round, meter: Meter, trace: Trace) -> Worked:
    """Improve a load for one round in this process and return the best."""
    if task.pool is None:
        plan = improve(bench, task.start, stream(task.seed, 2), task.tuning, task.span, meter, trace)
        return Worked(plan, tuple(trace.points))
    plan, pool = by_columns(bench, task, meter, trace)
    return Worked(plan, (*trace.points, (meter.elapsed_s, plan.value)), pool)


def improve(
    bench: Bench,
    start: Packed,
    rng: np.random.Generator,
    tuning: Tuning,
    span: tuple[float, float],
    meter: Meter,
    listener: Listener,
) -> Packed:
    """Improve a load by small changes."""
    state = unpacked(bench.problem, start)
    if start.labels is None:
        return packed(Improver(state, bench.estimates, rng, tuning, span=span).run(meter, listener))
    clusters = Clusters(state, [list(row) for row in start.labels])
    most = bench.problem.settings_most or tuning.bound_settings
    improver = FewImprover(clusters, bench.filler, rng, tuning, most=most, span=span)
    improver.run(meter, listener)
    return packed(improver.best.state, improver.best.labels)


def by_columns(bench: Bench, task: Round, meter: Meter, listener: Listener) -> tuple[Packed, Pool]:
    """Improve a load by column generation; return the better load and the pool as it grew."""
    tuning = task.tuning
    care = Care(
        rng=stream(task.seed, 6),
        polish_evaluations=tuning.polish_evaluations // 4,
        turn_step_deg=tuning.turn_step_deg,
    )
    state = unpacked(bench.problem, task.start)
    seen = [unpacked(bench.problem, plan) for plan in task.seen]
    got = generate(state, bench.filler, seen, care=care, meter=meter, listener=listener, pool=task.pool)
    plan = task.start
    if got.best is not state:
        labels = None if bench.problem.settings_most is None else alike(got.best)
        # An empty tier that had to stay is a cluster of its own; a limit that breaks is not worth the gain.
        if labels is None or len({one for row in labels for one in row}) <= (bench.problem.settings_most or 0):
            plan = packed(got.best, labels)
    return Packed(plan.bottoms, plan.stacks, plan.value, plan.labels, got.linear_value), got.pool


def alike(state: LoadState) -> list[list[int]]:
    """Return the tiers of a load by number, one for all that are set alike on shelves of one kind and room."""
    known: dict[object, int] = defaultdict(lambda: len(known))
    rows = []
    for stack, tiers in enumerate(state.stacks):
        shelf = state.problem.shelves[state.problem.stacks[stack].shelf].code
        row = []
        for base_mm, tier in zip(state.bases_mm(stack), tiers, strict=False):
            room = state.room(stack, base_mm, tier.column)
            row.append(known[shelf, room and (room.outline, room.posts), tier.filled.spots])
        rows.append(row)
    return rows
