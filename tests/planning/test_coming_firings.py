"""The benchmark of looking ahead searches what a run looks ahead at, and its ways of searching keep what they found."""

from __future__ import annotations

from pathlib import Path

from benchmarks.coming_firings import LEAST_JOBS, annealing, costs, exact_after, goals_with, looks_of
from benchmarks.plan_scale_works import larger_works
from kilnpack.planning.planner import POLICIES
from kilnpack.works_folder import read_works

DEMO = Path(__file__).parents[2] / "demo_orders" / "porcelain_works"


def test_exact_parts_after_annealing_never_cost_more() -> None:
    """Guards the benchmark's columns: looks ahead are those of a run, and exact parts begin from what was annealed."""
    works = larger_works(read_works(DEMO), lines=20, seed=1)
    looks = looks_of(works, POLICIES[0])[:3]
    assert looks
    assert all(len(problem.jobs) >= LEAST_JOBS for problem, _, _ in looks)
    plain = costs(looks, annealing(1))
    assert 0.0 < costs(looks, exact_after(0.05)) <= plain
    assert goals_with(works, POLICIES[0], annealing(1)).firings > 0
