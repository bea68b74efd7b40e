"""Choose among known settings: the least number of shelves that hold every body.

Sets
    settings j, each holding a[i, j] bodies of kind i; kinds i with demand d[i]
Variables
    n[j] >= 0, how often setting j is set (whole in `fewest`)
Rules
    hold all: sum over j of a[i, j] n[j] >= d[i]; a setting with a body too many is set without it
Objective
    least sum of n[j]
"""

from __future__ import annotations

import math
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

Counts = tuple[int, ...]


def worth_of_kinds(held: Sequence[Counts], demand: Sequence[int]) -> tuple[float, NDArray[np.float64], list[float]]:
    """Return the least number of shelves in fractions, what one body of each kind is worth, and how often each is set.

    The worths are the duals of `hold all`: a setting whose bodies are worth more than 1 would save shelves.

    Raises
    ------
    ValueError
        If some kind stands in no setting.
    """
    from ortools.math_opt.python import mathopt

    model, times = _model(held, demand, is_whole=False)
    result = mathopt.solve(model, mathopt.SolverType.GLOP)
    if result.termination.reason != mathopt.TerminationReason.OPTIMAL:
        raise ValueError("a kind of body stands in no setting")
    duals = result.dual_values(list(model.linear_constraints()))
    return float(result.objective_value()), np.maximum(np.array(duals), 0.0), list(result.variable_values(times))


def fewest(
    held: Sequence[Counts], demand: Sequence[int], *, seconds: float, hint: Sequence[int] = ()
) -> list[int] | None:
    """Return how often each setting is set so that the fewest shelves hold all; None if nothing was found in time."""
    from ortools.math_opt.python import mathopt

    model, times = _model(held, demand, is_whole=True)
    hints = [mathopt.SolutionHint(variable_values=dict(zip(times, map(float, hint), strict=False)))] if hint else []
    result = mathopt.solve(
        model,
        mathopt.SolverType.HIGHS,
        params=mathopt.SolveParameters(time_limit=timedelta(seconds=seconds)),
        model_params=mathopt.ModelSolveParameters(solution_hints=hints),
    )
    if not result.has_primal_feasible_solution():
        return None
    return [round(value) for value in result.variable_values(times)]


def _model(held: Sequence[Counts], demand: Sequence[int], *, is_whole: bool):  # type: ignore[no-untyped-def]
    from ortools.math_opt.python import mathopt

    model = mathopt.Model()
    top = float(sum(demand))
    times = [
        model.add_integer_variable(lb=0.0, ub=top) if is_whole else model.add_variable(lb=0.0, ub=math.inf)
        for _ in held
    ]
    for kind, wanted in enumerate(demand):
        model.add_linear_constraint(
            mathopt.fast_sum(counts[kind] * n for counts, n in zip(held, times, strict=True) if counts[kind]) >= wanted
        )
    model.minimize(mathopt.fast_sum(times))
    return model, times
