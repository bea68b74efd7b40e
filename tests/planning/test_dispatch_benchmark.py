"""The benchmark of dispatching runs every policy on a works and keeps first due first beside the others."""

from __future__ import annotations

from benchmarks.dispatch import estimated_table
from kilnpack.planning.planner import FIRST_DUE, POLICIES
from tests.planning.test_audit import shop


def test_every_policy_has_a_row() -> None:
    """With estimated loads; the first row is first due first served, and each finishes all lines."""
    rows = estimated_table(shop(), seed=1)
    assert [name for name, _, _ in rows] == [policy.name for policy in (FIRST_DUE, *POLICIES)]
    assert {goals.open_lines for _, goals, _ in rows} == {0}
