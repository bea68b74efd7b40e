"""Linear and whole-number programmes, solved through OR-Tools: the one place that sets their limits and reads status.

A programme is plain arrays, so that whoever builds one needs nothing of the solver. Linear programmes give duals; for
whole numbers HiGHS gives the best solution within the limit and the bound it has proved.
"""

from __future__ import annotations

import math
import os
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

WHOLE_GAP = 1e-6
"""Relative gap at which a whole-number solution counts as best."""


@dataclass(slots=True)
class Programme:
    """Maximise a sum of variables within rows; built up one variable or row at a time."""

    gains: list[float] = field(default_factory=list)
    tops: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    row_low: list[float] = field(default_factory=list)
    row_high: list[float] = field(default_factory=list)
    _rows: list[int] = field(default_factory=list)
    _columns: list[int] = field(default_factory=list)
    _factors: list[float] = field(default_factory=list)

    def variable(self, gain: float, *, top: float = math.inf, whole: bool = False) -> int:
        """Add a variable from 0 to `top` and return its number."""
        self.gains.append(gain)
        self.tops.append(top)
        self.whole.append(whole)
        return len(self.gains) - 1

    def row(self, terms: Mapping[int, float], *, low: float = -math.inf, high: float = math.inf) -> int:
        """Add a row low <= sum of factor x variable <= high and return its number."""
        number = len(self.row_low)
        self.row_low.append(low)
        self.row_high.append(high)
        for variable, factor in terms.items():
            self.term(number, variable, factor)
        return number

    def term(self, row: int, variable: int, factor: float) -> None:
        """Put a variable into a row; each only once."""
        self._rows.append(row)
        self._columns.append(variable)
        self._factors.append(factor)

    @property
    def entries(self) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
        """Rows, variables and factors, by row and then by variable."""
        rows, columns = np.array(self._rows, np.int64), np.array(self._columns, np.int64)
        order = np.lexsort((columns, rows))
        return rows[order], columns[order], np.array(self._factors, np.float64)[order]


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """What a solver found.

    Attributes
    ----------
    value
        Worth of the solution.
    bound
        What no solution can be worth more than, as proved by the solver.
    values, duals
        By variable, and by row (only of a linear programme; a dual is what one more of `high` would bring).
    """

    value: float
    bound: float
    values: NDArray[np.float64]
    duals: NDArray[np.float64]


def solve_linear(programme: Programme) -> Solved | None:
    """Return the best solution with all variables free to be fractions; None where there is none."""
    from ortools.math_opt.python import mathopt

    model, variables, rows = _model(programme, whole=False)
    result = mathopt.solve(model, mathopt.SolverType.GLOP)
    if result.termination.reason != mathopt.TerminationReason.OPTIMAL:
        return None
    value = float(result.objective_value())
    return Solved(
        value=value,
        bound=value,
        values=np.array(result.variable_values(variables)),
        duals=np.array(result.dual_values(rows)),
    )


def solve_whole(
    programme: Programme,
    *,
    seconds: float | None = None,
    nodes: int | None = None,
    hint: Sequence[float] | None = None,
    gap: float = WHOLE_GAP,
) -> Solved | None:
    """Return the best solution found within the limits with the bound proved; None where none was found.

    Parameters
    ----------
    nodes
        Most nodes of the search tree: with it, and without seconds, the result repeats.
    hint
        A solution to begin from, by variable.
    """
    from ortools.math_opt.python import mathopt

    model, variables, _ = _model(programme, whole=True)
    hints = [] if hint is None else [mathopt.SolutionHint(variable_values=dict(zip(variables, hint, strict=True)))]
    params = mathopt.SolveParameters(
        time_limit=None if seconds is None else timedelta(seconds=seconds),
        node_limit=nodes,
        relative_gap_tolerance=gap,
    )
    with _quiet():
        result = mathopt.solve(
            model,
            mathopt.SolverType.HIGHS,
            params=params,
            model_params=mathopt.ModelSolveParameters(solution_hints=hints),
        )
    if not result.has_primal_feasible_solution():
        return None
    return Solved(
        value=float(result.objective_value()),
        bound=float(result.best_objective_bound()),
        values=np.array(result.variable_values(variables)),
        duals=np.zeros(0),
    )


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep what the solver's own code prints, whatever it is told, off the standard output."""
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _model(programme: Programme, *, whole: bool):  # type: ignore[no-untyped-def]
    """Return the solver's model with its variables and rows."""
    from ortools.math_opt import model_pb2
    from ortools.math_opt.python import mathopt

    count, height = len(programme.gains), len(programme.row_low)
    said = model_pb2.ModelProto()
    said.variables.ids.extend(range(count))
    said.variables.lower_bounds.extend([0.0] * count)
    said.variables.upper_bounds.extend(programme.tops)
    said.variables.integers.extend(programme.whole if whole else [False] * count)
    said.objective.maximize = True
    paying = np.flatnonzero(programme.gains)
    said.objective.linear_coefficients.ids.extend(paying.tolist())
    said.objective.linear_coefficients.values.extend(np.array(programme.gains)[paying].tolist())
    said.linear_constraints.ids.extend(range(height))
    said.linear_constraints.lower_bounds.extend(programme.row_low)
    said.linear_constraints.upper_bounds.extend(programme.row_high)
    rows, columns, factors = programme.entries
    said.linear_constraint_matrix.row_ids.extend(rows.tolist())
    said.linear_constraint_matrix.column_ids.extend(columns.tolist())
    said.linear_constraint_matrix.coefficients.extend(factors.tolist())
    model = mathopt.Model.from_model_proto(said)
    return model, list(model.variables()), list(model.linear_constraints())
