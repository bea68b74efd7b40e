"""One kiln, jobs that may share a firing: which firings, in which order.

Sets
    jobs, each with a size (share of a full kiln), a length, a family (only one family fits a firing), the moment it
    is ready, a due moment and a weight.
Rules
    a firing holds jobs of one family whose sizes add up to at most 1; it begins when the kiln is free and the last of
    its jobs is ready; it lasts as long as its longest job; the next begins when it has ended.
Goals, in order
    weighted lateness, number of firings, sum of the finishing times.

Up to `EXACT_JOBS` jobs the best sequence is found exactly; beyond that by local search over the order in which jobs
are handed to a list decoder.

References
----------
`brucker-1998`: scheduling a batching machine; the class of problem, and longest first into full firings for the last
finish.
"""

from __future__ import annotations

from dataclasses import dataclass
from operator import itemgetter
from typing import TYPE_CHECKING, TypeAlias

from kilnpack.search.seeds import stream

if TYPE_CHECKING:
    from collections.abc import Sequence

EXACT_JOBS = 8
FULL = 1.0 + 1e-9
SAME_H = 1e-7
LOCAL_MOVES = 150

Goals: TypeAlias = tuple[float, int, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Ware that goes into one firing as a whole; `size_share` is what it takes of a full kiln. Hours count from 0."""

    code: str
    size_share: float
    length_h: float
    ready_h: float = 0.0
    due_h: float = float("inf")
    weight: float = 1.0
    family: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """A firing: numbers of its jobs, when it begins and when it ends."""

    jobs: tuple[int, ...]
    start_h: float
    end_h: float


def goals(jobs: Sequence[Job], batches: Sequence[Batch]) -> Goals:
    """Return weighted lateness (h), number of firings and sum of finishing times (h) of a sequence."""
    late = finish = 0.0
    for batch in batches:
        for number in batch.jobs:
            late += jobs[number].weight * max(0.0, batch.end_h - jobs[number].due_h)
            finish += batch.end_h
    return late, len(batches), finish


def better(one: Goals, other: Goals) -> bool:
    """Whether one row of goals comes before another; differences under `SAME_H` are none."""
    if abs(one[0] - other[0]) > SAME_H:
        return one[0] < other[0]
    return one[1] < other[1] or (one[1] == other[1] and one[2] < other[2] - SAME_H)


def longest_first(jobs: Sequence[Job], *, free_h: float = 0.0) -> tuple[Batch, ...]:
    """Fill firings with the longest jobs first.

    For unit sizes, one family and jobs that are all ready this ends soonest (Bartholdi's rule, see `brucker-1998`).
    """
    order = sorted(range(len(jobs)), key=lambda n: (-jobs[n].length_h, n))
    return decode(jobs, order, free_h=free_h)


def first_due_first(jobs: Sequence[Job], *, free_h: float = 0.0) -> tuple[Batch, ...]:
    """Hand jobs over in order of their due moments."""
    return decode(jobs, sorted(range(len(jobs)), key=lambda n: (jobs[n].due_h, jobs[n].ready_h, n)), free_h=free_h)


def decode(jobs: Sequence[Job], order: Sequence[int], *, free_h: float = 0.0) -> tuple[Batch, ...]:
    """Turn an order of jobs into firings: the first job opens one, later ones join if they fit and are ready then."""
    left, batches, free = list(order), [], free_h
    while left:
        first = jobs[left[0]]
        start = max(free, first.ready_h)
        room, inside, rest = FULL, [], []
        for number in left:
            job = jobs[number]
            if job.family == first.family and job.size_share <= room and job.ready_h <= start:
                inside.append(number)
                room -= job.size_share
            else:
                rest.append(number)
        if not inside:
            inside, rest = left[:1], left[1:]
        free = start + max(jobs[n].length_h for n in inside)
        batches.append(Batch(jobs=tuple(inside), start_h=start, end_h=free))
        left = rest
    return tuple(batches)


def best_sequence(
    jobs: Sequence[Job], *, free_h: float = 0.0, seed: int = 0, moves: int = LOCAL_MOVES
) -> tuple[Batch, ...]:
    """Return the best firings found; the best there are for up to `EXACT_JOBS` jobs that each fit the kiln."""
    if not jobs:
        return ()
    if len(jobs) <= EXACT_JOBS and all(job.size_share <= FULL for job in jobs):
        return _exact(jobs, free_h)
    return _local(jobs, free_h, seed, moves)


@dataclass(frozen=True, slots=True)
class _State:
    """A way to have fired a set of jobs."""

    end_h: float
    late: float
    count: int
    finish: float
    before: _State | None
    batch: Batch | None

    def beats(self, other: _State) -> bool:
        """Whether nothing that follows can make the other one the better: all goals are regular."""
        if self.end_h > other.end_h + SAME_H or self.late > other.late + SAME_H:
            return False
        return self.count <= other.count and self.finish <= other.finish + SAME_H


def _exact(jobs: Sequence[Job], free_h: float) -> tuple[Batch, ...]:
    """Dynamic programme over sets of fired jobs, keeping every way no other one beats."""
    whole = (1 << len(jobs)) - 1
    fronts: dict[int, list[_State]] = {0: [_State(free_h, 0.0, 0, 0.0, None, None)]}
    possible = _possible_batches(jobs)
    for done in range(whole):
        for inside, (ready_h, length_h, numbers) in possible.items():
            if inside & done:
                continue
            front = fronts.setdefault(done | inside, [])
            for state in fronts.get(done, ()):
                _keep(front, _after(jobs, state, ready_h, length_h, numbers))
    last = min(fronts[whole], key=lambda state: (round(state.late / SAME_H), state.count, state.finish))
    return _read_back(last)


def _possible_batches(jobs: Sequence[Job]) -> dict[int, tuple[float, float, tuple[int, ...]]]:
    """Return every set of jobs that fits one firing, as bits -> ready, length, numbers."""
    found: dict[int, tuple[float, float, tuple[int, ...]]] = {}
    for bits in range(1, 1 << len(jobs)):
        numbers = tuple(n for n in range(len(jobs)) if bits >> n & 1)
        inside = [jobs[n] for n in numbers]
        if sum(job.size_share for job in inside) <= FULL and len({job.family for job in inside}) == 1:
            found[bits] = (max(job.ready_h for job in inside), max(job.length_h for job in inside), numbers)
    return found


def _after(jobs: Sequence[Job], state: _State, ready_h: float, length_h: float, numbers: tuple[int, ...]) -> _State:
    start = max(state.end_h, ready_h)
    end = start + length_h
    late = sum(jobs[n].weight * max(0.0, end - jobs[n].due_h) for n in numbers)
    batch = Batch(jobs=numbers, start_h=start, end_h=end)
    return _State(end, state.late + late, state.count + 1, state.finish + end * len(numbers), state, batch)


def _keep(front: list[_State], state: _State) -> None:
    """Add a state to a front unless one there beats it; drop those it beats."""
    if any(other.beats(state) for other in front):
        return
    front[:] = [other for other in front if not state.beats(other)]
    front.append(state)


def _read_back(last: _State) -> tuple[Batch, ...]:
    batches, state = [], last
    while state.batch is not None and state.before is not None:
        batches.append(state.batch)
        state = state.before
    return tuple(reversed(batches))


def _local(jobs: Sequence[Job], free_h: float, seed: int, moves: int) -> tuple[Batch, ...]:
    """Move and swap jobs in the order handed to the decoder, from several starts, keeping what is not worse."""
    draw = stream(seed, len(jobs))
    keys = (
        lambda n: (jobs[n].due_h, jobs[n].ready_h, n),
        lambda n: (jobs[n].ready_h, jobs[n].due_h, n),
        lambda n: (jobs[n].family, jobs[n].due_h, n),
    )
    starts = [sorted(range(len(jobs)), key=key) for key in keys]
    rated = [(goals(jobs, decode(jobs, order, free_h=free_h)), order) for order in starts]
    best, order = min(rated, key=itemgetter(0))
    for _ in range(moves):
        i, j = (int(k) for k in draw.integers(0, len(jobs), 2))
        trial = list(order)
        trial.insert(j, trial.pop(i))
        found = goals(jobs, decode(jobs, trial, free_h=free_h))
        if not better(best, found):
            best, order = found, trial
    return decode(jobs, order, free_h=free_h)
