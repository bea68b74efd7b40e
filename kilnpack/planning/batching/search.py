"""Search for good batches: dispatching, then annealing in rounds on every worker, then what both found goes on.

The last part of the time is for the best solution so far: one worker anneals it again from a lower temperature, the
others solve parts of it exactly (`neighbourhood`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.planning.batching import anneal_kernel, state
from kilnpack.planning.batching.dispatch import dispatched
from kilnpack.planning.batching.neighbourhood import improved
from kilnpack.planning.batching.problem import cost_of
from kilnpack.search.budget import Budget
from kilnpack.search.executor import InPlace
from kilnpack.search.seeds import split

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Executor
    from typing import Any

    from kilnpack.planning.batching.problem import Batches, BatchProblem
    from kilnpack.search.budget import Meter

SHARES = (0.30, 0.06, 0.30, 0.14, 0.10, 0.05, 0.05)
"""How often each kind of move is tried, in the order of `anneal_kernel.KINDS`."""
TOTALS = np.append(np.cumsum(SHARES)[:-1], 1.0)
HOT, WARM, COLD = 0.5, 0.1, 0.005
"""Temperature at the beginning of a round, of one that goes on from the best, and at the end of both.

The first two in times of what running a batch costs, or of half a late job where that is more; the last one in times
of what running a batch costs.
"""
ROUND_MOVES = 2000
"""Moves of a round for every pair of jobs."""
CHUNK_MOVES = 20_000
MOST_STEPS, LEAST_STEP_MOVES = 40, 250
"""Temperatures of one annealing by moves, and the fewest moves at each."""
LAST_SHARE = 0.15
"""Share of the budget that goes to the best solution of all workers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One annealing: temperatures in units of cost."""

    hot: float
    cold: float


def solve(
    problem: BatchProblem, *, budget: Budget, seed: int, pool: Executor | None = None, workers: int = 1
) -> Batches:
    """Return the best batches found.

    Parameters
    ----------
    problem
        What is to be fired.
    budget
        Seconds, or thousands of moves for each worker.
    seed
        With an effort budget the answer repeats.
    pool
        Where the workers run; without one they run here, one after the other.
    workers
        How many searches run beside each other.

    Raises
    ------
    NoWindow
        No order was found in which every batch has a window.
    """
    meter = budget.start()
    pool = pool or InPlace()
    best = dispatched(problem)
    for number, (share, tail) in enumerate(((1.0 - LAST_SHARE, False), (1.0, True))):
        part = _part(budget, meter, share, tail=tail)
        seeds = split(seed + number, workers)
        asked = [
            pool.submit(_searched, problem, best, budget=part, seed=one, warm=tail, exact=tail and k > 0)
            for k, one in enumerate(seeds)
        ]
        best = min((one.result() for one in asked), key=lambda row: row[0])[1]
    cost_of(problem, best)
    return best


def _part(budget: Budget, meter: Meter, share: float, *, tail: bool) -> Budget:
    """Return the budget of one part of the search: in seconds up to a share of all."""
    if budget.seconds is not None:
        return Budget(seconds=max(0.0, share * budget.seconds - meter.elapsed_s))
    part = LAST_SHARE if tail else 1.0 - LAST_SHARE
    return Budget(effort=int(part * (budget.effort or 0)))


def _searched(
    problem: BatchProblem, start: Batches, *, budget: Budget, seed: int, warm: bool, exact: bool
) -> tuple[int, Batches]:
    """Run one worker's part and return the cost, in the kernel's counting, and the batches."""
    if exact:
        return improved(problem, start, budget=budget, seed=seed)
    return annealed(problem, start, budget=budget, seed=seed, warm=warm)


def annealed(
    problem: BatchProblem, start: Batches, *, budget: Budget, seed: int, warm: bool = False
) -> tuple[int, Batches]:
    """Anneal in rounds until the budget is spent; return the least cost and its batches.

    Every second round begins from the best at a lower temperature; `warm` begins with such a one.
    """
    meter = budget.start()
    arrays = state.given(problem)
    hold = float(np.mean([job.least_ticks for job in problem.jobs]))
    run = max(1.0, problem.weights.run * hold)
    unit = max(run, 0.5 * problem.weights.late)
    best_cost, best = state.hand_of(problem, arrays, start, seed).best_cost, start
    number = int(warm)
    while not meter.is_up:
        hand = state.hand_of(problem, arrays, best if number % 2 else start, seed + number)
        heat = Round(hot=unit * (WARM if number % 2 else HOT), cold=run * COLD)
        _run_round(arrays, hand, heat, _progress(problem, meter))
        if hand.best_cost < best_cost:
            best_cost, best = hand.best_cost, hand.best()
        number += 1
    return best_cost, best


def annealed_once(problem: BatchProblem, start: Batches, *, heat: Round, moves: int, seed: int) -> Batches:
    """Anneal once by so many moves and return the best batches; the same seed gives the same."""
    arrays = state.given(problem)
    hand = state.hand_of(problem, arrays, start, seed)
    steps = max(1, min(MOST_STEPS, moves // LEAST_STEP_MOVES))
    for step in range(steps):
        _chunk(arrays, hand, heat, step / max(1, steps - 1), moves // steps)
    return hand.best()


def _progress(problem: BatchProblem, meter: Meter) -> Callable[[int], float]:
    """Return how far a round is, 0 to 1, by its moves; a round that would not end in time goes by what is left."""
    moves = ROUND_MOVES * len(problem.jobs) ** 2
    begun = meter.share

    def share(done: int) -> float:
        meter.spend(CHUNK_MOVES)
        spent = (meter.share - begun) / (1.0 - begun) if begun < 1.0 else 1.0
        if done <= 0 or spent <= 0.0:
            return max(spent, done / moves)
        rounds_left = max(1, round(done / spent / moves))
        return min(1.0, spent * rounds_left)

    return share


def _run_round(arrays: tuple[Any, ...], hand: state.Hand, heat: Round, progress: Callable[[int], float]) -> None:
    """Anneal from hot to cold."""
    done, share = 0, 0.0
    while share < 1.0:
        _chunk(arrays, hand, heat, share, CHUNK_MOVES)
        done += CHUNK_MOVES
        share = progress(done)


def _chunk(arrays: tuple[Any, ...], hand: state.Hand, heat: Round, share: float, moves: int) -> None:
    """Try moves at the temperature of a share of a round."""
    temperature = heat.hot * (heat.cold / heat.hot) ** share
    anneal_kernel.anneal(np.int64(moves), temperature, TOTALS, *arrays, *hand.arrays)
