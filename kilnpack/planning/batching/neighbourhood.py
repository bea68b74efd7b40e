"""Parts of a solution solved anew by constraint programming, everything else staying where it is.

Sets
    jobs of some batches that follow one another, on one or more kilns; places for batches in order on each kiln, one
    more than there are.
Variables
    job in place; place used; family of a place (of an empty one that of the place before); change of family; window,
    begin and length of a place; job late, and the end of a job.
Rules
    those of `problem`; the part begins where the batches before it end; what follows on a kiln begins when it did.
Goal
    that of `problem` for the part, with the set-up cost of the batch that follows.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from kilnpack.planning.batching.problem import NoWindow, cost_of, timed
from kilnpack.search.seeds import stream

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np

    from kilnpack.planning.batching.problem import Batches, BatchProblem, TimedBatch
    from kilnpack.search.budget import Budget

PART_JOBS = 25
PART_EFFORT = 2.0
"""Deterministic seconds that the solver may spend on one part."""
LEAST_S = 1.0
"""No part is begun with less time than this, and half of it is kept for building and reading back a model."""
PART_MOVES = 2_000_000
"""Moves of annealing that one part counts as, where effort is counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """The batches of a kiln from `begin` to before `end` are solved anew."""

    kiln: int
    begin: int
    end: int


@dataclass(slots=True)
class _Row:
    """The places of one kiln in the model."""

    cut: Cut
    free: int
    family: int
    follower: tuple[int, int, int] | None
    """Of the batch that follows: when it begins, the begin of its window, its family."""
    used: list[Any] = field(default_factory=list)
    of: list[list[Any]] = field(default_factory=list)
    jobs: list[dict[int, Any]] = field(default_factory=list)
    start: list[Any] = field(default_factory=list)
    end: list[Any] = field(default_factory=list)


def improved(problem: BatchProblem, start: Batches, *, budget: Budget, seed: int) -> tuple[int, Batches]:
    """Solve one part after the other until the budget is spent; return the cost and the batches."""
    meter = budget.start()
    draw = stream(seed, 7)
    best, cost = start, cost_of(problem, start)
    while not meter.is_up and (budget.seconds is None or budget.seconds - meter.elapsed_s > LEAST_S):
        cuts = drawn_part(problem, best, draw)
        limit_s = None if budget.seconds is None else budget.seconds - meter.elapsed_s - LEAST_S / 2
        best, proven = resolved(problem, best, cuts, seed=int(draw.integers(1 << 30)), seconds=limit_s)
        meter.spend(PART_MOVES)
        cost = cost_of(problem, best)
        if proven and sum(cut.end - cut.begin for cut in cuts) == sum(map(len, best)):
            break
    return cost, best


def drawn_part(problem: BatchProblem, batches: Batches, draw: np.random.Generator) -> tuple[Cut, ...]:
    """Draw a moment and some kilns and return the batches about it on them, about `PART_JOBS` jobs.

    The batches of a kiln that are nearest in time to the moment drawn come first.
    """
    rows: list[list[TimedBatch]] = [[] for _ in problem.kilns]
    for batch in timed(problem, batches):
        rows[batch.kiln].append(batch)
    filled = [m for m, row in enumerate(rows) if row]
    first = filled[int(draw.integers(len(filled)))]
    moment = rows[first][int(draw.integers(len(rows[first])))].start_ticks
    others = [m for m in range(len(rows)) if m != first]
    kilns = [first, *(int(m) for m in draw.permutation(others)[: int(draw.integers(1, len(rows) + 1))])]
    nearest = sorted((abs(batch.start_ticks - moment), m, at) for m in kilns for at, batch in enumerate(rows[m]))
    chosen: dict[int, list[int]] = {m: [] for m in kilns}
    count = 0
    for _, m, at in nearest:
        count += len(rows[m][at].jobs)
        if count > PART_JOBS and chosen[first]:
            break
        chosen[m].append(at)
    return tuple(
        Cut(kiln=m, begin=min(ats), end=max(ats) + 1) if ats else Cut(kiln=m, begin=0, end=0)
        for m, ats in chosen.items()
        if ats or not rows[m]
    )


def resolved(
    problem: BatchProblem,
    batches: Batches,
    cuts: tuple[Cut, ...],
    *,
    seed: int,
    seconds: float | None = None,
    effort: float = PART_EFFORT,
) -> tuple[Batches, bool]:
    """Solve a part anew; return the better batches, or those given, and whether the part is proven best."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    rows = [_row(problem, batches, cut) for cut in cuts]
    jobs = [j for cut in cuts for batch in batches[cut.kiln][cut.begin : cut.end] for j in batch]
    late = {j: model.new_bool_var(f"late {j}") for j in jobs}
    costs = [problem.weights.late * late[j] for j in jobs]
    ends = {j: model.new_int_var(0, problem.horizon_ticks, f"end {j}") for j in jobs}
    costs += _delays(model, problem, ends)
    for row in rows:
        costs += _places(model, problem, row, late, ends)
    _each_once(model, rows, jobs)
    model.minimize(sum(costs))
    _hint(model, batches, rows)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = effort
    if seconds is not None:
        solver.parameters.max_time_in_seconds = max(0.01, seconds)
    status = solver.solve(model)
    if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return batches, False
    return _better(problem, batches, _read_back(solver, batches, rows)), status == cp_model.OPTIMAL


def _better(problem: BatchProblem, batches: Batches, found: Batches) -> Batches:
    """Return the one of two solutions that costs less."""
    try:
        return found if cost_of(problem, found) < cost_of(problem, batches) else batches
    except NoWindow:
        return batches


def _row(problem: BatchProblem, batches: Batches, cut: Cut) -> _Row:
    """Return what comes before and after a cut."""
    row = timed(problem, tuple(b if m == cut.kiln else () for m, b in enumerate(batches)))
    kiln = problem.kilns[cut.kiln]
    free, family = 0, kiln.first_family
    if cut.begin:
        free, family = row[cut.begin - 1].end_ticks, problem.jobs[row[cut.begin - 1].jobs[0]].family
    follower = None
    if cut.end < len(row):
        after = row[cut.end]
        opens = max(begin for begin, _ in kiln.windows_ticks if begin <= after.start_ticks)
        follower = (after.start_ticks, opens, problem.jobs[after.jobs[0]].family)
    return _Row(cut=cut, free=free, family=family, follower=follower)


def _places(model: Any, problem: BatchProblem, row: _Row, late: dict[int, Any], ends: dict[int, Any]) -> list[Any]:
    """Add the places of a kiln; return their costs."""
    costs: list[Any] = []
    for at in range(row.cut.end - row.cut.begin + 1):
        setup_ticks, setup_cost = _change(model, problem, row, at)
        row.jobs.append({})
        for j in late:
            if row.cut.kiln in problem.jobs[j].kilns:
                row.jobs[at][j] = model.new_bool_var(f"{j} in {row.cut.kiln}.{at}")
                model.add_implication(row.jobs[at][j], row.of[at][problem.jobs[j].family])
        _held(model, problem, row, at)
        hold = _times(model, problem, row, at, setup_ticks)
        for j, inside in row.jobs[at].items():
            job = problem.jobs[j]
            model.add(hold >= job.least_ticks).only_enforce_if(inside)
            model.add(hold <= job.most_ticks).only_enforce_if(inside)
            model.add(row.start[at] >= job.ready_ticks).only_enforce_if(inside)
            model.add(row.end[at] <= job.due_ticks).only_enforce_if([inside, late[j].negated()])
            model.add(ends[j] >= row.end[at]).only_enforce_if(inside)
        weights = problem.weights
        costs.append(
            weights.batch * row.used[at]
            + weights.run * hold
            + weights.setup_time * setup_ticks
            + weights.setup_cost * setup_cost
        )
    costs.append(problem.weights.setup_cost * _joint(model, problem, row))
    return costs


def _delays(model: Any, problem: BatchProblem, ends: dict[int, Any]) -> list[Any]:
    """Return what the ticks until jobs are done cost, and those after they are due."""
    costs = []
    for j, end in ends.items():
        job = problem.jobs[j]
        costs.append(job.wait_cost * end)
        if job.late_cost:
            over = model.new_int_var(0, problem.horizon_ticks, "over")
            model.add(over >= end - job.due_ticks)
            costs.append(job.late_cost * over)
    return costs


def _change(model: Any, problem: BatchProblem, row: _Row, at: int) -> tuple[Any, Any]:
    """Add use and family of a place; return time and cost of its set-up."""
    families = range(len(problem.setup_ticks))
    used = model.new_bool_var("used")
    of = [model.new_bool_var("family") for _ in families]
    model.add_exactly_one(of)
    if at:
        model.add_implication(used, row.used[at - 1])
    before = row.of[at - 1] if at else [1 if f == row.family else 0 for f in families]
    for f in families:
        model.add(of[f] == before[f]).only_enforce_if(used.negated())
    ticks, cost = [], []
    for f, g in ((f, g) for f in families for g in families):
        if not at and f != row.family:
            continue
        change = model.new_bool_var("change")
        model.add(change >= before[f] + of[g] + used - 2)
        ticks.append(problem.setup_ticks[f][g] * change)
        cost.append(problem.setup_costs[f][g] * change)
    row.used.append(used)
    row.of.append(of)
    return sum(ticks), sum(cost)


def _held(model: Any, problem: BatchProblem, row: _Row, at: int) -> None:
    """A place is used where jobs are in it, and holds no more than the kiln."""
    inside = row.jobs[at]
    model.add_bool_or(inside.values()).only_enforce_if(row.used[at])
    for var in inside.values():
        model.add_implication(var, row.used[at])
    room = problem.kilns[row.cut.kiln].capacity
    model.add(sum(problem.jobs[j].size * var for j, var in inside.items()) <= room)


def _times(model: Any, problem: BatchProblem, row: _Row, at: int, setup_ticks: Any) -> Any:
    """Add begin, end and window of a place; return its length."""
    horizon = problem.horizon_ticks
    start, end = (model.new_int_var(0, horizon, name) for name in ("start", "end"))
    hold = model.new_int_var(0, max(job.least_ticks for job in problem.jobs), "hold")
    model.add(end == start + hold)
    before = row.end[at - 1] if at else row.free
    model.add(start >= before + setup_ticks)
    model.add(hold == 0).only_enforce_if(row.used[at].negated())
    windows = [(model.new_bool_var("window"), pair) for pair in problem.kilns[row.cut.kiln].windows_ticks]
    model.add_exactly_one([*(var for var, _ in windows), row.used[at].negated()])
    for var, (opens, closes) in windows:
        model.add(start >= opens + setup_ticks).only_enforce_if(var)
        model.add(end <= closes).only_enforce_if(var)
    row.start.append(start)
    row.end.append(end)
    return hold


def _joint(model: Any, problem: BatchProblem, row: _Row) -> Any:
    """Let the batch that follows begin when it did; return the cost of its set-up."""
    if row.follower is None:
        return 0
    start, opens, family = row.follower
    costs = []
    for f, last in enumerate(row.of[-1]):
        ticks = problem.setup_ticks[f][family]
        if opens + ticks > start:
            model.add(last == 0)
        else:
            model.add(row.end[-1] + ticks <= start).only_enforce_if(last)
        costs.append(problem.setup_costs[f][family] * last)
    return sum(costs)


def _each_once(model: Any, rows: list[_Row], jobs: list[int]) -> None:
    """Every job of the part goes into one place."""
    for j in jobs:
        model.add_exactly_one([inside[j] for row in rows for inside in row.jobs if j in inside])


def _hint(model: Any, batches: Batches, rows: list[_Row]) -> None:
    """Hint the batches in hand."""
    for row in rows:
        for at, inside in enumerate(row.jobs):
            number = row.cut.begin + at
            here = batches[row.cut.kiln][number] if number < row.cut.end else ()
            for j, var in inside.items():
                model.add_hint(var, j in here)


def _read_back(solver: Any, batches: Batches, rows: list[_Row]) -> Batches:
    """Return the solution with the part as solved."""
    found = list(batches)
    for row in rows:
        solved = tuple(jobs for jobs in _filled(solver, row))
        old = batches[row.cut.kiln]
        found[row.cut.kiln] = old[: row.cut.begin] + solved + old[row.cut.end :]
    return tuple(found)


def _filled(solver: Any, row: _Row) -> Iterator[tuple[int, ...]]:
    """Yield the jobs of every place that is used."""
    for inside in row.jobs:
        jobs = tuple(sorted(j for j, var in inside.items() if solver.value(var)))
        if jobs:
            yield jobs
