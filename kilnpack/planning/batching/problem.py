"""The batching problem: what is fired, on what, and what it costs.

Sets
    jobs, kilns, families (only jobs of one family share a batch).
Rules
    a job goes into exactly one batch; a batch is on one kiln that all its jobs may use, holds no more than the kiln
    does, begins once all its jobs are ready, and lasts as long as the longest least time of its jobs, which must not
    be longer than any of its jobs bears; before it comes the set-up from the family before; set-up and batch lie one
    after the other in one window of the kiln; batches of a kiln do not overlap.
Goal
    weights times: the sum of the times of all batches, their number, the number of late jobs, set-up times, set-up
    costs; and for every job what it costs to be late, each tick that it is late, and each tick until it is done.

Times are whole ticks. For a given order of batches on a kiln each is best begun as early as can be, since no cost
falls by waiting; so a solution is nothing but the ordered batches of every kiln.

References
----------
`lackner-2023`: the problem and its published instances; costs of batches, of ticks late and of ticks waited are ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

Batches: TypeAlias = tuple[tuple[tuple[int, ...], ...], ...]
"""By kiln: its batches in order, each the numbers of its jobs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchJob:
    """What is fired as a whole: where it may go, when, for how long, and how much room it takes.

    `late_cost` counts each tick after the due one, `wait_cost` each tick until the job is done.
    """

    kilns: frozenset[int]
    ready_ticks: int
    due_ticks: int
    least_ticks: int
    most_ticks: int
    size: int
    family: int
    late_cost: int = 0
    wait_cost: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchKiln:
    """A kiln: what it holds, the family it is set up for at first, and the windows (begin, end) it can be used in."""

    capacity: int
    first_family: int
    windows_ticks: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchWeights:
    """What a tick of a batch, a late job, a tick of set-up, a unit of set-up cost and a batch count in the goal."""

    run: int
    late: int
    setup_time: int
    setup_cost: int
    batch: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchProblem:
    """All of it. Set-ups are given from family (row) to family (column)."""

    jobs: tuple[BatchJob, ...]
    kilns: tuple[BatchKiln, ...]
    setup_ticks: tuple[tuple[int, ...], ...]
    setup_costs: tuple[tuple[int, ...], ...]
    weights: BatchWeights
    horizon_ticks: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedBatch:
    """A batch with its times and what it costs; its set-up lies directly before it."""

    kiln: int
    jobs: tuple[int, ...]
    start_ticks: int
    end_ticks: int
    cost: int


class NoWindow(Exception):
    """A batch finds no window after the one before it."""


def timed(problem: BatchProblem, batches: Batches) -> tuple[TimedBatch, ...]:
    """Begin every batch as early as its jobs, its set-up and the windows allow.

    This plain reading of the rules is what the compiled search is tested against.

    Raises
    ------
    NoWindow
        A batch fits in no window after the one before it.
    """
    found = []
    for number, row in enumerate(batches):
        kiln = problem.kilns[number]
        free, family = 0, kiln.first_family
        for jobs in row:
            batch = time_batch(problem, number, jobs, free, family)
            found.append(batch)
            free, family = batch.end_ticks, problem.jobs[jobs[0]].family
    return tuple(found)


def time_batch(problem: BatchProblem, number: int, jobs: tuple[int, ...], free: int, before: int) -> TimedBatch:
    """Time one batch on a kiln that is free from a tick on and was last used for a family."""
    inside = [problem.jobs[j] for j in jobs]
    setup = problem.setup_ticks[before][inside[0].family]
    hold = max(job.least_ticks for job in inside)
    ready = max(job.ready_ticks for job in inside)
    for begin, end in problem.kilns[number].windows_ticks:
        start = max(free + setup, begin + setup, ready)
        if start + hold <= end:
            break
    else:
        raise NoWindow(f"kiln {number} has no window for a batch of {hold} ticks after {free}")
    weights, ends = problem.weights, start + hold
    cost = weights.batch + weights.run * hold + weights.late * sum(ends > job.due_ticks for job in inside)
    cost += sum(job.late_cost * max(0, ends - job.due_ticks) + job.wait_cost * ends for job in inside)
    cost += weights.setup_time * setup + weights.setup_cost * problem.setup_costs[before][inside[0].family]
    return TimedBatch(kiln=number, jobs=jobs, start_ticks=start, end_ticks=ends, cost=cost)


def cost_of(problem: BatchProblem, batches: Batches) -> int:
    """Return what the goal comes to."""
    return sum(batch.cost for batch in timed(problem, batches))


def goes_together(problem: BatchProblem, jobs: tuple[int, ...], kiln: int) -> bool:
    """Whether jobs may share a batch on a kiln."""
    inside = [problem.jobs[j] for j in jobs]
    return (
        len({job.family for job in inside}) == 1
        and all(kiln in job.kilns for job in inside)
        and sum(job.size for job in inside) <= problem.kilns[kiln].capacity
        and max(job.least_ticks for job in inside) <= min(job.most_ticks for job in inside)
    )
