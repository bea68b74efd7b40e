"""Small batching problems of our own, and the best there is of them by trying everything."""

from __future__ import annotations

from itertools import permutations, product
from typing import TYPE_CHECKING

from kilnpack.planning.batching.problem import (
    BatchJob,
    BatchKiln,
    BatchProblem,
    BatchWeights,
    NoWindow,
    cost_of,
    goes_together,
)
from kilnpack.search.seeds import stream

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.planning.batching.problem import Batches


def job(*, kilns: tuple[int, ...] = (0,), ready: int = 0, due: int = 99, least: int = 5, **more: int) -> BatchJob:
    """Return a job; `most`, `size` and `family` may be given too."""
    return BatchJob(
        kilns=frozenset(kilns),
        ready_ticks=ready,
        due_ticks=due,
        least_ticks=least,
        most_ticks=more.get("most", 50),
        size=more.get("size", 1),
        family=more.get("family", 0),
        late_cost=more.get("late_cost", 0),
        wait_cost=more.get("wait_cost", 0),
    )


def worked() -> BatchProblem:
    """Return the case worked by hand in `test_problem`: one kiln of 2, two families, a break from 20 to 30."""
    return BatchProblem(
        jobs=(
            job(ready=3, due=10, least=5),
            job(ready=0, due=9, least=4),
            job(ready=0, due=20, least=6, family=1),
            job(ready=0, due=40, least=7, most=7, family=1),
        ),
        kilns=(BatchKiln(capacity=2, first_family=0, windows_ticks=((1, 20), (30, 60))),),
        setup_ticks=((1, 2), (3, 0)),
        setup_costs=((0, 4), (6, 1)),
        weights=BatchWeights(run=10, late=100, setup_time=2, setup_cost=5),
        horizon_ticks=60,
    )


def drawn(seed: int, *, jobs: int, kilns: int = 2, families: int = 2) -> BatchProblem:
    """Return a random problem with breaks, in which there is time enough for every job alone."""
    draw = stream(seed, 99)

    def whole(low: int, high: int) -> int:
        return int(draw.integers(low, high + 1))

    span = 14 * jobs
    rows = []
    for _ in range(jobs):
        least = whole(1, 9)
        may = {whole(0, kilns - 1), whole(0, kilns - 1)}
        rows.append(
            job(
                kilns=tuple(may), ready=whole(0, 15), due=whole(8, 40), least=least, most=least + whole(0, 6),
                size=whole(1, 4), family=whole(0, families - 1), late_cost=whole(0, 3) * (seed % 2),
                wait_cost=whole(0, 1) * (seed % 2),
            )
        )  # fmt: skip
    table = [[whole(0, 3) for _ in range(families)] for _ in range(families)]
    return BatchProblem(
        jobs=tuple(rows),
        kilns=tuple(
            BatchKiln(
                capacity=whole(4, 8),
                first_family=whole(0, families - 1),
                windows_ticks=((whole(0, 4), 18), (24, 24 + span)),
            )
            for _ in range(kilns)
        ),
        setup_ticks=tuple(map(tuple, table)),
        setup_costs=tuple(tuple(whole(0, 5) for _ in range(families)) for _ in range(families)),
        weights=BatchWeights(
            run=whole(1, 4), late=whole(1, 60), setup_time=whole(0, 2), setup_cost=whole(0, 3), batch=whole(0, 9)
        ),
        horizon_ticks=24 + span,
    )


def partings(numbers: tuple[int, ...]) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Yield every way to part some jobs into batches."""
    if not numbers:
        yield ()
        return
    first, rest = numbers[0], numbers[1:]
    for parting in partings(rest):
        yield ((first,), *parting)
        for at, batch in enumerate(parting):
            yield (*parting[:at], (first, *batch), *parting[at + 1 :])


def all_solutions(problem: BatchProblem) -> Iterator[Batches]:
    """Yield every solution: every parting into batches, on every kiln, in every order."""
    kilns = range(len(problem.kilns))
    for parting in partings(tuple(range(len(problem.jobs)))):
        for places in product(kilns, repeat=len(parting)):
            if all(goes_together(problem, batch, m) for batch, m in zip(parting, places, strict=True)):
                rows = [[batch for batch, place in zip(parting, places, strict=True) if place == m] for m in kilns]
                yield from product(*(permutations(row) for row in rows))


def least_cost(problem: BatchProblem) -> int:
    """Return the least cost of all solutions."""

    def cost(batches: Batches) -> float:
        try:
            return cost_of(problem, batches)
        except NoWindow:
            return float("inf")

    return int(min(cost(batches) for batches in all_solutions(problem)))
