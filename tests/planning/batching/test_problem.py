"""Guards the plain reading of the batching rules by a case worked by hand, and dispatching by its rules."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kilnpack.planning.batching.dispatch import dispatched
from kilnpack.planning.batching.problem import NoWindow, cost_of, goes_together, timed
from tests.planning.batching.cases import drawn, job, worked


@pytest.mark.source("lackner-2023", "section 2: rules and goal")
def test_times_and_costs_of_a_case_worked_by_hand() -> None:
    """Earliest starts with set-up, windows, release; costs of running, lateness and set-ups.

    First batch {0, 1}: set-up 0->0 takes 1, the window opens at 1, so 2 at the soonest; ready at 3; lasts 5, ends at 8,
    in time: 50 + 2 * 1 + 0 = 52. Then {2}: set-up 0->1 takes 2, begins at 10, lasts 6, ends at 16: 60 + 4 + 20 = 84.
    Then {3}: set-up 1->1 takes 0, 16 + 7 > 20, so it begins at 30 and ends at 37: 70 + 0 + 5 = 75.
    """
    batches = timed(worked(), (((0, 1), (2,), (3,)),))
    assert [(one.start_ticks, one.end_ticks, one.cost) for one in batches] == [(3, 8, 52), (10, 16, 84), (30, 37, 75)]


def test_a_late_job_counts_once_whatever_its_delay() -> None:
    """{2} first ends at 1 + 2 + 6 = 9; {0, 1} then at 9 + 3 + 5 = 17, both late; {3} begins 2 after 30, ends at 39."""
    batches = timed(worked(), (((2,), (0, 1), (3,)),))
    assert [one.end_ticks for one in batches] == [9, 17, 39]
    assert batches[1].cost == 50 + 200 + 2 * 3 + 5 * 6


def test_ticks_late_and_waited_and_batches_cost() -> None:
    """Done at 8, due at 5 and 9: 4 * 3 late, (1 + 2) * 8 waited, 7 a batch, 10 * 5 run, 100 once, 2 set-up."""
    jobs = (job(ready=3, due=5, late_cost=4, wait_cost=1), job(due=9, late_cost=50, wait_cost=2))
    problem = replace(worked(), jobs=jobs, weights=replace(worked().weights, batch=7))
    assert cost_of(problem, (((0, 1),),)) == 12 + 24 + 7 + 50 + 100 + 2


def test_a_batch_without_a_window_is_said() -> None:
    """A window that is too short for set-up and batch together holds nothing."""
    problem = worked()
    kiln = replace(problem.kilns[0], windows_ticks=((1, 6), (30, 35)))
    with pytest.raises(NoWindow, match="kiln 0 has no window"):
        timed(replace(problem, kilns=(kiln,)), (((0, 1),),))


def test_what_may_share_a_batch() -> None:
    """One family, the kiln's room, the kilns allowed, and no job longer than another bears."""
    problem = worked()
    assert goes_together(problem, (0, 1), 0)
    assert not goes_together(problem, (1, 2), 0)
    assert not goes_together(replace(problem, jobs=(job(size=2), job())), (0, 1), 0)
    assert not goes_together(replace(problem, jobs=(job(kilns=()), job())), (0, 1), 0)
    assert not goes_together(replace(problem, jobs=(job(least=9, most=9), job(least=1, most=8))), (0, 1), 0)


@pytest.mark.parametrize("seed", range(30))
def test_dispatching_follows_the_rules(seed: int) -> None:
    """Every job once, batches that may be, every one with a window."""
    problem = drawn(seed, jobs=12, kilns=3, families=3)
    batches = dispatched(problem)
    assert sorted(j for row in batches for jobs in row for j in jobs) == list(range(12))
    assert all(goes_together(problem, jobs, m) for m, row in enumerate(batches) for jobs in row)
    assert cost_of(problem, batches) > 0


def test_dispatching_fills_the_first_batch_with_what_may_join() -> None:
    """A job joins where it is ready, no longer, and has room: the third would prolong, the fourth is not ready."""
    jobs = (job(due=5), job(due=9, least=3), job(due=10, least=6), job(due=11, ready=2))
    kiln = replace(worked().kilns[0], capacity=9, windows_ticks=((0, 60),))
    problem = replace(worked(), jobs=jobs, kilns=(kiln,))
    assert dispatched(problem) == (((0, 1), (2, 3)),)


def test_dispatching_says_which_job_has_no_window() -> None:
    """A job that is longer than any window."""
    problem = replace(worked(), jobs=(job(least=40),))
    with pytest.raises(NoWindow, match="job 0"):
        dispatched(problem)
