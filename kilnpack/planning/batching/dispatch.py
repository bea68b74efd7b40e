"""A first solution by dispatching: the kiln that can begin soonest takes the most urgent job and what goes with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.planning.batching.problem import NoWindow, goes_together, time_batch

if TYPE_CHECKING:
    from kilnpack.planning.batching.problem import Batches, BatchProblem, TimedBatch


def dispatched(problem: BatchProblem) -> Batches:
    """Return ordered batches for every kiln that follow the rules.

    Jobs are taken the first due first. Each opens a batch on the kiln that ends it soonest; waiting jobs that are
    ready by its start and no longer than it join, the first due first, then the longest.

    Raises
    ------
    NoWindow
        A job finds no window any more on the kilns that it may use.
    """
    rows: list[list[tuple[int, ...]]] = [[] for _ in problem.kilns]
    free = [(0, kiln.first_family) for kiln in problem.kilns]
    left = sorted(range(len(problem.jobs)), key=lambda j: (problem.jobs[j].due_ticks, problem.jobs[j].ready_ticks, j))
    while left:
        opened = _opened(problem, left[0], free)
        jobs = _joined(problem, left, opened)
        batch = time_batch(problem, opened.kiln, jobs, *free[opened.kiln])
        rows[batch.kiln].append(jobs)
        free[batch.kiln] = (batch.end_ticks, problem.jobs[jobs[0]].family)
        left = [j for j in left if j not in jobs]
    return tuple(tuple(row) for row in rows)


def _opened(problem: BatchProblem, job: int, free: list[tuple[int, int]]) -> TimedBatch:
    """Return a batch of one job on the kiln that ends it soonest."""
    found = []
    for kiln in sorted(problem.jobs[job].kilns):
        if problem.jobs[job].size <= problem.kilns[kiln].capacity:
            try:
                found.append(time_batch(problem, kiln, (job,), *free[kiln]))
            except NoWindow:
                continue
    if not found:
        raise NoWindow(f"job {job} finds no window on any kiln that it may use")
    return min(found, key=lambda batch: (batch.end_ticks, batch.kiln))


def _joined(problem: BatchProblem, left: list[int], opened: TimedBatch) -> tuple[int, ...]:
    """Return the jobs of an opened batch with those that may join without delaying or prolonging it."""
    jobs = opened.jobs
    hold = opened.end_ticks - opened.start_ticks
    for j in left[1:]:
        job = problem.jobs[j]
        fits = job.ready_ticks <= opened.start_ticks and job.least_ticks <= hold
        if fits and goes_together(problem, (*jobs, j), opened.kiln):
            jobs = (*jobs, j)
    return jobs
