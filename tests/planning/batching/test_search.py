"""Guards the search over batches: its counting, its answers against trying everything, and its repeating."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from kilnpack.planning.batching import anneal_kernel, state
from kilnpack.planning.batching.dispatch import dispatched
from kilnpack.planning.batching.neighbourhood import Cut, drawn_part, improved, resolved
from kilnpack.planning.batching.problem import NoWindow, cost_of, goes_together
from kilnpack.planning.batching.search import SHARES, annealed, solve
from kilnpack.search.budget import Budget
from kilnpack.search.executor import executor
from kilnpack.search.seeds import stream
from kilnpack.shapes.warm import kernel_modules, warm
from tests.planning.batching.cases import drawn, job, least_cost, worked

if TYPE_CHECKING:
    from kilnpack.planning.batching.problem import Batches, BatchProblem


def whole(problem: BatchProblem, batches: Batches) -> tuple[Cut, ...]:
    """Return all batches as one part."""
    return tuple(Cut(kiln=m, begin=0, end=len(row)) for m, row in enumerate(batches)) if problem.jobs else ()


@pytest.mark.kernel
@pytest.mark.parametrize(("seed", "kilns", "families"), [(1, 1, 1), (2, 2, 2), (3, 3, 2), (4, 2, 4), (5, 4, 3)])
def test_the_kernel_keeps_count(seed: int, kilns: int, families: int) -> None:
    """After every chunk of hot moves the cost in hand and the best equal the plain reading of the rules."""
    problem = drawn(seed, jobs=15, kilns=kilns, families=families)
    arrays = state.given(problem)
    hand = state.hand_of(problem, arrays, dispatched(problem), seed)
    totals = np.cumsum(SHARES)
    for _ in range(25):
        anneal_kernel.anneal(np.int64(60), 90.0, totals, *arrays, *hand.arrays)
        in_hand = replace(hand, best_row=hand.row, best_many=hand.many, best_home=hand.home).best()
        for batches, cost in ((in_hand, hand.tally[2]), (hand.best(), hand.best_cost)):
            assert cost_of(problem, batches) == cost
            assert sorted(j for row in batches for jobs in row for j in jobs) == list(range(15))
            assert all(goes_together(problem, jobs, m) for m, row in enumerate(batches) for jobs in row)
    assert hand.tally[1] > 100


def test_warming_up_finds_the_kernels() -> None:
    """Set-up compiles these kernels with the others."""
    assert warm([name for name in kernel_modules() if "batching" in name]) == (anneal_kernel.__name__,)


@pytest.mark.kernel
def test_the_kernel_times_the_worked_case() -> None:
    """52 + 84 + 75, as worked by hand in `test_problem`."""
    problem = worked()
    assert state.hand_of(problem, state.given(problem), (((0, 1), (2,), (3,)),), 1).best_cost == 211


@pytest.mark.kernel
def test_the_kernel_charges_a_batch_without_a_window() -> None:
    """A row that runs past the last window costs more than any that does not, so that annealing leaves it."""
    problem = replace(worked(), kilns=(replace(worked().kilns[0], windows_ticks=((1, 20),)),))
    arrays = state.given(problem)
    hand = state.hand_of(problem, arrays, (((0,), (1,), (2,), (3,)),), 1)
    over = hand.best_cost
    anneal_kernel.anneal(np.int64(2000), 20.0, np.cumsum(SHARES), *arrays, *hand.arrays)
    assert cost_of(problem, hand.best()) == hand.best_cost < over


@pytest.mark.parametrize("seed", range(12))
def test_small_cases_equal_trying_everything(seed: int) -> None:
    """Annealing finds the least cost of all solutions; a part that is the whole is proven least."""
    problem = drawn(seed, jobs=5, kilns=1 + seed % 2, families=1 + seed % 3)
    best = least_cost(problem)
    start = dispatched(problem)
    cost, batches = annealed(problem, start, budget=Budget(effort=40), seed=seed)
    assert cost == cost_of(problem, batches) == best
    solved, proven = resolved(problem, start, whole(problem, start), seed=1)
    assert proven
    assert cost_of(problem, solved) == best


@pytest.mark.parametrize("seed", range(4))
def test_a_part_keeps_what_is_round_it(seed: int) -> None:
    """Solving a part anew never costs more and leaves the batches outside where and when they were."""
    problem = drawn(seed + 50, jobs=30, kilns=3, families=2)
    start = dispatched(problem)
    cuts = drawn_part(problem, start, stream(seed, 1))
    solved, _ = resolved(problem, start, cuts, seed=1, effort=0.1)
    assert cost_of(problem, solved) <= cost_of(problem, start)
    changed = {cut.kiln: cut for cut in cuts}
    for m, row in enumerate(start):
        cut = changed.get(m, Cut(kiln=m, begin=0, end=0))
        assert solved[m][: cut.begin] == row[: cut.begin]
        assert solved[m][len(solved[m]) - len(row) + cut.end :] == row[cut.end :]


def test_parts_end_with_a_proof() -> None:
    """Where the part is the whole and proven best, no further part is solved."""
    problem = drawn(7, jobs=5, kilns=2)
    cost, batches = improved(problem, dispatched(problem), budget=Budget(effort=10**9), seed=1)
    assert cost == cost_of(problem, batches) == least_cost(problem)


@pytest.mark.long
def test_a_search_repeats_with_its_seed() -> None:
    """Two workers, here or in other processes, give the same batches."""
    problem = drawn(3, jobs=12, kilns=2, families=3)
    here = solve(problem, budget=Budget(effort=30), seed=5, workers=2)
    with executor(2) as pool:
        there = solve(problem, budget=Budget(effort=30), seed=5, pool=pool, workers=2)
    assert here == there
    assert cost_of(problem, here) < cost_of(problem, dispatched(problem))


def test_without_any_time_the_answer_is_the_dispatched_one() -> None:
    """A budget of nothing still gives batches that follow the rules."""
    problem = drawn(4, jobs=10)
    assert solve(problem, budget=Budget(seconds=0.0), seed=1, workers=2) == dispatched(problem)


def test_a_problem_without_an_answer_is_said() -> None:
    """Two jobs that no window holds one after the other."""
    kiln = replace(worked().kilns[0], capacity=1, windows_ticks=((0, 9),))
    problem = replace(worked(), jobs=(job(), job()), kilns=(kiln,))
    with pytest.raises(NoWindow):
        solve(problem, budget=Budget(effort=1), seed=1)
