"""Linear and whole-number programmes: known optima, duals, limits, programmes without a solution."""

from __future__ import annotations

import random
from itertools import product

import pytest

from kilnpack.search.linear import Programme, solve_linear, solve_whole


def knapsack(gains: list[float], sizes: list[float], room: float) -> Programme:
    """Return a knapsack of which every item may go in up to three times."""
    programme = Programme()
    items = [programme.variable(gain, top=3.0, whole=True) for gain in gains]
    programme.row(dict(zip(items, sizes, strict=True)), high=room)
    return programme


def test_linear_programme_gives_value_and_prices() -> None:
    """Guards the duals the column generation prices with: the room is worth the gain of what fills it last."""
    found = solve_linear(knapsack([6.0, 5.0], [2.0, 1.0], 5.0))
    assert found is not None
    assert found.value == pytest.approx(3 * 5.0 + 1 * 6.0)
    assert found.bound == found.value
    assert found.duals == pytest.approx([3.0])


def test_whole_numbers_are_those_of_enumeration() -> None:
    """Guards the whole-number solver: 20 small knapsacks reach the best of all choices, with a bound that holds."""
    rng = random.Random(5)
    for _ in range(20):
        gains = [round(rng.uniform(1, 9), 2) for _ in range(4)]
        sizes = [float(rng.randint(1, 6)) for _ in range(4)]
        best = max(
            sum(n * g for n, g in zip(counts, gains, strict=True))
            for counts in product(range(4), repeat=4)
            if sum(n * s for n, s in zip(counts, sizes, strict=True)) <= 11
        )
        found = solve_whole(knapsack(gains, sizes, 11.0), hint=[0.0] * 4)
        assert found is not None
        assert found.value == pytest.approx(best)
        assert found.bound >= best - 1e-6
        linear = solve_linear(knapsack(gains, sizes, 11.0))
        assert linear is not None
        assert linear.value >= found.value - 1e-6


def test_what_cannot_be_met_has_no_solution() -> None:
    """Guards the answer None: a row that no values meet."""
    programme = knapsack([1.0], [1.0], 5.0)
    programme.row({0: 1.0}, low=4.0)
    assert solve_linear(programme) is None
    assert solve_whole(programme, nodes=10, seconds=5.0) is None
