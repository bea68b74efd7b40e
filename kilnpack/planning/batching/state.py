"""The arrays the annealing kernel works on: a problem once, and a solution in hand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from kilnpack.planning.batching import anneal_kernel as k
from kilnpack.planning.batching.problem import BatchJob, BatchKiln, BatchProblem, BatchWeights

if TYPE_CHECKING:
    from kilnpack.planning.batching.problem import Batches

MOST_KILNS = 62
"""Kilns are bits of one whole number."""


def given(problem: BatchProblem) -> tuple[Any, ...]:
    """Return the arrays of a problem in the order the kernel takes them: job ... block."""
    jobs = [
        (
            j.ready_ticks, j.due_ticks, j.least_ticks, j.most_ticks, j.size, j.family, sum(1 << m for m in j.kilns),
            j.late_cost, j.wait_cost,
        )
        for j in problem.jobs
    ]  # fmt: skip
    kilns = problem.kilns
    window = np.zeros((len(kilns), max(len(kiln.windows_ticks) for kiln in kilns), 2), dtype=np.int64)
    for m, kiln in enumerate(kilns):
        window[m, : len(kiln.windows_ticks)] = np.array(kiln.windows_ticks, dtype=np.int64).reshape(-1, 2)
    job = np.array(jobs, dtype=np.int64).reshape(-1, 9)
    near, rank, block = _kindred(job, len(problem.setup_ticks))
    return (
        job,
        np.array([(kiln.capacity, kiln.first_family, len(kiln.windows_ticks)) for kiln in kilns], dtype=np.int64),
        window,
        np.stack([np.array(problem.setup_ticks), np.array(problem.setup_costs)], axis=2).astype(np.int64),
        _weights(problem),
        near,
        rank,
        block,
    )


def _weights(problem: BatchProblem) -> Any:
    """Return the weights; a batch without a window costs more than anything else a batch could come to."""
    weights = problem.weights
    worst = weights.late * len(problem.jobs) + weights.run * max(job.least_ticks for job in problem.jobs)
    worst += max(map(max, problem.setup_costs)) * weights.setup_cost
    worst += sum((job.late_cost + job.wait_cost) * problem.horizon_ticks for job in problem.jobs) + weights.batch
    row = (weights.run, weights.late, weights.setup_time, weights.setup_cost, worst, weights.batch)
    return np.array(row, dtype=np.int64)


def _kindred(job: Any, families: int) -> tuple[Any, Any, Any]:
    """Return jobs by family in order of least, due and ready time, where each stands, and the families' blocks."""
    near = np.stack(
        [np.lexsort((np.arange(len(job)), job[:, key], job[:, k.FAMILY])) for key in (k.LEAST, k.DUE, k.READY)], axis=1
    ).astype(np.int64)
    rank = np.empty_like(near)
    for key in range(3):
        rank[near[:, key], key] = np.arange(len(job))
    ends = np.cumsum(np.bincount(job[:, k.FAMILY], minlength=families))
    return near, rank, np.stack([np.concatenate(([0], ends[:-1])), ends], axis=1).astype(np.int64)


@dataclass(slots=True)
class Hand:
    """A solution in hand and the best seen, as the kernel's arrays."""

    row: Any
    many: Any
    inside: Any
    fact: Any
    home: Any
    spare: Any
    kept: Any
    kept_fact: Any
    best_row: Any
    best_many: Any
    best_home: Any
    tally: Any

    @property
    def arrays(self) -> tuple[Any, ...]:
        """The arrays in the order the kernel takes them."""
        return (
            self.row, self.many, self.inside, self.fact, self.home, self.spare, self.kept, self.kept_fact,
            self.best_row, self.best_many, self.best_home, self.tally,
        )  # fmt: skip

    @property
    def best_cost(self) -> int:
        """The least cost so far."""
        return int(self.tally[3])

    def best(self) -> Batches:
        """Return the best solution seen."""
        jobs: dict[int, list[int]] = {}
        for j, b in enumerate(self.best_home):
            jobs.setdefault(int(b), []).append(j)
        return tuple(
            tuple(tuple(jobs[int(b)]) for b in self.best_row[m, : self.best_many[m]])
            for m in range(len(self.best_many))
        )


def hand_of(problem: BatchProblem, arrays: tuple[Any, ...], batches: Batches, seed: int) -> Hand:
    """Return a solution as the kernel's arrays.

    Parameters
    ----------
    problem
        The problem.
    arrays
        What `given` made of it.
    batches
        The solution to begin with.
    seed
        For the kernel's random numbers.
    """
    jobs, kilns = len(problem.jobs), len(problem.kilns)
    room = min(jobs, _most_jobs(problem))
    ints = np.int64
    hand = Hand(
        row=np.zeros((kilns, jobs + 1), dtype=ints),
        many=np.zeros(kilns, dtype=ints),
        inside=np.zeros((jobs + 1, room + 1), dtype=ints),
        fact=np.zeros((jobs + 1, k.FACTS), dtype=ints),
        home=np.zeros(jobs, dtype=ints),
        spare=np.zeros(jobs + 1, dtype=ints),
        kept=np.zeros((2, room + 1), dtype=ints),
        kept_fact=np.zeros((2, k.FACTS), dtype=ints),
        best_row=np.zeros((kilns, jobs + 1), dtype=ints),
        best_many=np.zeros(kilns, dtype=ints),
        best_home=np.zeros(jobs, dtype=ints),
        tally=np.zeros(k.TALLY, dtype=ints),
    )
    hand.tally[5] = (seed * 2654435761 + 88172645) % (2**32 - 1) + 1
    _fill(hand, arrays, batches)
    return hand


def _most_jobs(problem: BatchProblem) -> int:
    """Return how many jobs a batch can hold at most."""
    room, most = max(kiln.capacity for kiln in problem.kilns), 0
    for size in sorted(job.size for job in problem.jobs):
        room -= size
        most += room >= 0
    return max(1, most)


def _fill(hand: Hand, arrays: tuple[Any, ...], batches: Batches) -> None:
    """Lay a solution into the arrays and time it."""
    number = 0
    for m, kiln in enumerate(batches):
        hand.many[m] = len(kiln)
        for at, jobs in enumerate(kiln):
            hand.row[m, at] = number
            hand.inside[number, : len(jobs)] = jobs
            hand.home[list(jobs)] = number
            hand.fact[number, k.COUNT] = len(jobs)
            hand.fact[number, k.ON], hand.fact[number, k.AT] = m, at
            number += 1
    left = np.arange(len(hand.spare) - 1, number - 1, -1)
    hand.spare[: len(left)], hand.tally[7] = left, len(left)
    job, machine, window, setup, weight = arrays[:5]
    cost = k.settle(job, machine, window, setup, weight, hand.row, hand.many, hand.inside, hand.fact)
    hand.tally[2] = hand.tally[3] = cost
    hand.best_row[:], hand.best_many[:], hand.best_home[:] = hand.row, hand.many, hand.home


def tiny_problem() -> BatchProblem:
    """Return a problem of two jobs, to compile or load the kernels with."""
    job = BatchJob(kilns=frozenset({0}), ready_ticks=0, due_ticks=9, least_ticks=2, most_ticks=9, size=1, family=0)
    return BatchProblem(
        jobs=(job, job),
        kilns=(BatchKiln(capacity=2, first_family=0, windows_ticks=((0, 99),)),),
        setup_ticks=((0,),),
        setup_costs=((0,),),
        weights=BatchWeights(run=1, late=1, setup_time=0, setup_cost=0),
        horizon_ticks=99,
    )
