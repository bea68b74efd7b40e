"""One kiln and jobs that share firings: published rules and exhaustive search."""

from __future__ import annotations

import itertools
import math
import random

import pytest

from kilnpack.planning.batches import (
    FULL,
    Batch,
    Goals,
    Job,
    best_sequence,
    better,
    decode,
    first_due_first,
    goals,
    longest_first,
)


def every_sequence(jobs: list[Job], *, last_finish_only: bool = False) -> tuple[float, Goals]:
    """Try every way to part jobs into firings in every order; return the soonest last finish and the best goals."""
    best_finish, best_goals = math.inf, (math.inf, 0, 0.0)

    def go_on(left: tuple[int, ...], free_h: float, done: tuple[Batch, ...]) -> None:
        nonlocal best_finish, best_goals
        if not left:
            best_finish = min(best_finish, free_h)
            found = goals(jobs, done)
            best_goals = found if better(found, best_goals) else best_goals
            return
        if not last_finish_only and goals(jobs, done)[0] > best_goals[0] + 1e-6:
            return  # lateness only grows
        for count in range(1, len(left) + 1):
            for inside in itertools.combinations(left, count):
                if sum(jobs[n].size_share for n in inside) > FULL or len({jobs[n].family for n in inside}) > 1:
                    continue
                if last_finish_only and inside[0] != left[0]:
                    continue
                start = max(free_h, *(jobs[n].ready_h for n in inside))
                end = start + max(jobs[n].length_h for n in inside)
                rest = tuple(n for n in left if n not in inside)
                go_on(rest, end, (*done, Batch(jobs=inside, start_h=start, end_h=end)))

    go_on(tuple(range(len(jobs))), 0.0, ())
    return best_finish, best_goals


@pytest.mark.source("brucker-1998", "bounded model: longest first into full batches for the last finish")
def test_longest_first_into_full_firings_ends_soonest() -> None:
    """1,000 random cases: unit sizes, a firing as long as its longest job, no ready times.

    The last finish is then the sum of every b-th length in falling order, and no parting of the jobs ends sooner
    (small cases are compared with all of them; order does not matter, so the first open job is always placed next).
    """
    draw = random.Random(11)
    for _ in range(1000):
        room = draw.randint(1, 4)
        jobs = [
            Job(code=str(k), size_share=1.0 / room, length_h=float(draw.randint(1, 30)))
            for k in range(draw.randint(1, 7))
        ]
        lengths = sorted((job.length_h for job in jobs), reverse=True)
        found = longest_first(jobs)
        assert found[-1].end_h == pytest.approx(sum(lengths[::room]))
        assert found[-1].end_h == pytest.approx(every_sequence(jobs, last_finish_only=True)[0])


def drawn_jobs(draw: random.Random, count: int) -> list[Job]:
    """Jobs of two families with ready times, due times and weights."""
    return [
        Job(
            code=str(k),
            size_share=draw.choice([0.25, 0.34, 0.5, 1.0]),
            length_h=float(draw.randint(1, 9)),
            ready_h=float(draw.choice([0, 0, draw.randint(0, 20)])),
            due_h=float(draw.randint(3, 40)),
            weight=draw.choice([1.0, 2.0]),
            family=draw.choice("ab"),
        )
        for k in range(count)
    ]


@pytest.mark.parametrize(("count", "cases"), [(3, 60), (5, 40), (6, 12)])
def test_due_dates_equal_exhaustive_search(count: int, cases: int) -> None:
    """Weighted lateness, firings and finishing times of the exact core are those of trying everything."""
    draw = random.Random(count)
    for _ in range(cases):
        jobs = drawn_jobs(draw, count)
        found, wanted = goals(jobs, best_sequence(jobs)), every_sequence(jobs)[1]
        assert not better(found, wanted)
        assert not better(wanted, found)


def test_eight_jobs_equal_exhaustive_search() -> None:
    """The largest exact case: eight jobs of half a kiln, due one after the other."""
    draw = random.Random(8)
    jobs = [
        Job(code=str(k), size_share=0.5, length_h=float(draw.randint(1, 9)), due_h=float(draw.randint(3, 25)))
        for k in range(8)
    ]
    found, wanted = goals(jobs, best_sequence(jobs)), every_sequence(jobs)[1]
    assert not better(wanted, found)


def test_many_jobs_are_never_worse_than_first_due_first() -> None:
    """Local search starts from the first-due order and keeps only what is not worse; every job is fired once."""
    draw = random.Random(5)
    for seed in range(5):
        jobs = drawn_jobs(draw, 25)
        found = best_sequence(jobs, seed=seed)
        assert sorted(n for batch in found for n in batch.jobs) == list(range(25))
        assert not better(goals(jobs, first_due_first(jobs)), goals(jobs, found))
        assert found == best_sequence(jobs, seed=seed)


def test_a_job_that_waits_makes_its_firing_wait() -> None:
    """Two half jobs due late, one ready at 5: one firing from 5 on beats two, as nothing gets late by waiting."""
    jobs = [
        Job(code="a", size_share=0.5, length_h=2.0, due_h=50.0),
        Job(code="b", size_share=0.5, length_h=2.0, ready_h=5.0, due_h=50.0),
    ]
    assert best_sequence(jobs) == (Batch(jobs=(0, 1), start_h=5.0, end_h=7.0),)
    hurried = [Job(code="a", size_share=0.5, length_h=2.0, due_h=3.0), jobs[1]]
    assert len(best_sequence(hurried)) == 2


def test_a_job_larger_than_the_kiln_gets_a_firing_of_its_own() -> None:
    """The decoder never loops on a job that does not fit; nothing to fire is no firing."""
    jobs = [Job(code=str(k), size_share=1.5, length_h=2.0) for k in range(2)]
    assert [batch.jobs for batch in decode(jobs, [1, 0])] == [(1,), (0,)]
    assert len(best_sequence(jobs)) == 2
    assert best_sequence([]) == ()
