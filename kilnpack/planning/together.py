"""The coming firings of kilns that fire the same programmes, laid out together.

Ware that is ready or known to come becomes jobs, kilns stand side by side, and the batching core (`batching`) anneals
over the ordered firings of them all. Goals, as one sum: weighted lateness of what the firings hold, the number of
firings, and how soon all of it is done.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.planning.batches import Batch
from kilnpack.planning.batching.dispatch import dispatched
from kilnpack.planning.batching.problem import BatchJob, BatchKiln, BatchProblem, BatchWeights, timed
from kilnpack.planning.batching.search import Round, annealed_once

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.planning.backlog import Ware
    from kilnpack.planning.batches import Job
    from kilnpack.planning.estimate import Estimate
    from kilnpack.planning.firings import KilnState
    from kilnpack.planning.shop import Shop

TICKS_PER_H = 20
SAME_TICK = 1e-3
FULL_SIZE = 10_000
"""Size of a full kiln."""
LATE_COST = 200
"""Cost of one tick that one job of weight 1 is late."""
WAIT_COST = 4
"""Cost of one tick until one job is done."""
FIRING_H = 24.0
"""Weighted hours of lateness of one job that a firing counts as."""
MOVES = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A kiln: when it can begin its next firing, what it fires, and when it is shut.

    `room_share` is what it holds, in full kilns of the one that is asked for.
    """

    free_h: float
    programmes: frozenset[str]
    room_share: float = 1.0
    closed_h: tuple[tuple[float, float], ...] = ()


def first_of_kiln(
    shop: Shop,
    state: KilnState,
    jobs: Sequence[Job],
    wares: Sequence[Ware],
    at_h: float,
    estimate: Estimate,
    *,
    seed: int,
) -> Batch | None:
    """Return the first of the coming firings of a kiln; None where kilns beside it take all that is to come.

    Parameters
    ----------
    shop, state, at_h
        Where everything is, the kiln, and now.
    jobs, wares
        Ware that is ready or known to come, in shares of this kiln.
    estimate
        What share of a kiln a piece takes.
    seed
        For the draws.
    """
    others = [one for one in shop.kilns if one is not state]
    kilns = [_beside(shop, state, one, wares, at_h, estimate) for one in (state, *others)]
    found = laid_out(jobs, [kiln for kiln in kilns if kiln is not None], seed=seed)[0]
    return found[0] if found else None


def _beside(
    shop: Shop, state: KilnState, one: KilnState, wares: Sequence[Ware], at_h: float, estimate: Estimate
) -> Beside | None:
    """Return a kiln as seen from the one asked for; None where it fires none of this ware."""
    shared = [ware for ware in wares if shop.programme_of(ware) in one.kiln.programmes]
    if not shared:
        return None
    programme = shop.programmes[shop.programme_of(shared[0])]
    here, there = (
        estimate.piece_share(each.kiln, programme, shared[0].product, shared[0].step) for each in (state, one)
    )
    return Beside(
        free_h=at_h if one is state else max(at_h, shop.earliest_load_h(one)),
        programmes=frozenset(one.kiln.programmes),
        room_share=here / there if there > 0 else 1.0,
        closed_h=tuple(one.closed_h),
    )


def laid_out(jobs: Sequence[Job], kilns: Sequence[Beside], *, seed: int, moves: int = MOVES) -> list[list[Batch]]:
    """Return the firings of every kiln in order.

    Parameters
    ----------
    jobs
        Ware, in shares of a full kiln of the first one.
    kilns
        The kiln that is asked for, then those beside it.
    seed
        For the draws.
    moves
        Moves that are tried.
    """
    families = {family: number for number, family in enumerate(sorted({job.family for job in jobs}))}
    begin_h = min(kiln.free_h for kiln in kilns)
    span_h = _enough_h(jobs, kilns, begin_h)
    problem = BatchProblem(
        jobs=tuple(_job(job, families[job.family], begin_h, span_h, kilns) for job in jobs),
        kilns=tuple(_kiln(kiln, begin_h, span_h) for kiln in kilns),
        setup_ticks=((0,) * len(families),) * len(families),
        setup_costs=((0,) * len(families),) * len(families),
        weights=BatchWeights(run=0, late=0, setup_time=0, setup_cost=0, batch=_ticks(FIRING_H) * LATE_COST),
        horizon_ticks=_ticks(2.0 * span_h),
    )
    heat = Round(hot=0.5 * problem.weights.batch, cold=2.0 * LATE_COST)
    batches = annealed_once(problem, dispatched(problem), heat=heat, moves=moves, seed=seed)
    found: list[list[Batch]] = [[] for _ in kilns]
    for one in timed(problem, batches):
        start_h, end_h = (begin_h + ticks / TICKS_PER_H for ticks in (one.start_ticks, one.end_ticks))
        found[one.kiln].append(Batch(jobs=one.jobs, start_h=start_h, end_h=end_h))
    return found


def _enough_h(jobs: Sequence[Job], kilns: Sequence[Beside], begin_h: float) -> float:
    """Return hours from the beginning after which every kiln is open and all ware is ready, with time for all of it."""
    hours = [kiln.free_h for kiln in kilns] + [job.ready_h for job in jobs]
    hours += [end_h for kiln in kilns for pair in kiln.closed_h for end_h in pair if end_h < math.inf]
    return max(hours) - begin_h + sum(job.length_h + 1.0 for job in jobs)


def _ticks(hours_h: float) -> int:
    return round(hours_h * TICKS_PER_H)


def _job(job: Job, family: int, begin_h: float, span_h: float, kilns: Sequence[Beside]) -> BatchJob:
    """Return ware as the core takes it; a due moment that has passed long ago counts from the beginning."""
    length = max(1, _ticks(job.length_h))
    horizon = _ticks(2.0 * span_h)
    size = min(FULL_SIZE, int(FULL_SIZE * job.size_share))
    return BatchJob(
        kilns=frozenset(
            m for m, kiln in enumerate(kilns) if job.family in kiln.programmes and size <= FULL_SIZE * kiln.room_share
        ),
        ready_ticks=max(0, math.ceil((job.ready_h - begin_h) * TICKS_PER_H - SAME_TICK)),
        due_ticks=_ticks(max(-2.0 * span_h, min(2.0 * span_h, job.due_h - begin_h))),
        least_ticks=length,
        most_ticks=horizon,
        size=size,
        family=family,
        late_cost=round(LATE_COST * job.weight),
        wait_cost=WAIT_COST,
    )


def _kiln(kiln: Beside, begin_h: float, span_h: float) -> BatchKiln:
    """Return a kiln with the windows in which it is not shut; one shut for good counts as open after all the rest."""
    windows, opens = [], kiln.free_h
    for start_h, end_h in sorted(kiln.closed_h):
        if end_h > opens:
            windows.append((opens, start_h))
            opens = min(end_h, begin_h + span_h)
    windows.append((opens, begin_h + 2.0 * span_h))
    ticks = (tuple(max(0, _ticks(hour_h - begin_h)) for hour_h in pair) for pair in windows)
    return BatchKiln(
        capacity=round(FULL_SIZE * kiln.room_share),
        first_family=0,
        windows_ticks=tuple((begin, end) for begin, end in ticks if end > begin),
    )
