"""Instances of the published batch-scheduling benchmark (`lackner-2023`): reading, writing, checking, costing.

A data file of a constraint model: `name = value;` with numbers, `[...]` rows, `[| ... |]` tables and `{...}` sets.
Jobs, kilns and families are numbered from 1 there, from 0 here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.planning.batching.problem import BatchJob, BatchKiln, BatchProblem, BatchWeights, timed

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.planning.batching.problem import Batches

NUMBER = re.compile(r"-?\d+")
ENTRY = re.compile(r"(\w+)\s*=\s*([^;]*);")


@dataclass(frozen=True, slots=True, kw_only=True)
class Instance:
    """A problem and the whole number its cost is divided by."""

    name: str
    problem: BatchProblem
    norm: int


def read(path: Path) -> Instance:
    """Read one instance."""
    text = dict(ENTRY.findall(path.read_text(encoding="utf-8")))
    numbers = {name: [int(word) for word in NUMBER.findall(value)] for name, value in text.items()}
    one = {name: values[0] for name, values in numbers.items() if values}
    kilns = [
        frozenset(int(word) - 1 for word in NUMBER.findall(group))
        for group in re.findall(r"\{([^}]*)\}", text["eligible_machine"])
    ]
    columns = ("earliest_start", "latest_end", "min_time", "max_time", "size", "attribute")
    rows = zip(kilns, *(numbers[column] for column in columns), strict=True)
    problem = BatchProblem(
        jobs=tuple(
            BatchJob(
                kilns=may, ready_ticks=ready, due_ticks=due, least_ticks=least, most_ticks=most, size=size,
                family=family - 1,
            )
            for may, ready, due, least, most, size, family in rows
        ),
        kilns=_kilns(numbers, one),
        setup_ticks=_table(numbers["setup_times"], one["a"]),
        setup_costs=_table(numbers["setup_costs"], one["a"]),
        weights=BatchWeights(
            run=one["mult_factor_total_runtime"],
            late=one["mult_factor_finished_toolate"],
            setup_time=one["mult_factor_total_setuptimes"],
            setup_cost=one["mult_factor_total_setupcosts"],
        ),
        horizon_ticks=one["l"],
    )  # fmt: skip
    return Instance(name=path.stem, problem=problem, norm=one["upper_bound_integer_objective"])


def _table(numbers: list[int], width: int) -> tuple[tuple[int, ...], ...]:
    """Return the rows of a table from family to family, without the filler row at its end."""
    return tuple(tuple(numbers[i * width : (i + 1) * width]) for i in range(width))


def _kilns(numbers: dict[str, list[int]], one: dict[str, int]) -> tuple[BatchKiln, ...]:
    """Return the kilns with the windows that are not empty and end within the horizon."""
    count, horizon = one["s"], one["l"]
    found = []
    for m, (capacity, first) in enumerate(zip(numbers["max_cap"], numbers["initState"], strict=True)):
        part = slice(m * count, (m + 1) * count)
        pairs = zip(numbers["m_a_s"][part], numbers["m_a_e"][part], strict=True)
        windows = sorted((begin, min(end, horizon)) for begin, end in pairs if min(end, horizon) > begin)
        found.append(BatchKiln(capacity=capacity, first_family=first - 1, windows_ticks=tuple(windows)))
    return tuple(found)


def layout_of(problem: BatchProblem, batches: Batches) -> list[dict[str, object]]:
    """Return a solution as the benchmark writes it: kiln, start and jobs of every batch, numbered from 1."""
    return [
        {"machine": one.kiln + 1, "start": one.start_ticks, "jobs": [j + 1 for j in one.jobs]}
        for one in timed(problem, batches)
    ]
