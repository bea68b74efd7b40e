"""The benchmark of dispatching runs every policy on a works and keeps first due first beside the others."""

from __future__ import annotations

from benchmarks.dispatch import estimated_table, furniture_table
from kilnpack.planning.planner import FIRST_DUE, POLICIES
from tests.planning.small import Counting
from tests.planning.test_audit import shop


def test_every_policy_has_a_row() -> None:
    """With estimated loads; the first row is first due first served, and each finishes all lines."""
    rows = estimated_table(shop(), seed=1)
    assert [name for name, _, _ in rows] == [policy.name for policy in (FIRST_DUE, *POLICIES)]
    assert {goals.open_lines for _, goals, _ in rows} == {0}


def test_waiting_for_furniture_has_a_row_for_every_share() -> None:
    """Guards the table: a works with shelves for many loads plans the same whatever furniture is asked for."""
    rows = furniture_table(shop(), (0.0, 0.8), seconds=0.1, seed=1, packer=Counting(room_pieces=6))
    assert [row[0] for row in rows] == [0.0, 0.8]
    assert rows[0][1:] == rows[1][1:]
    assert rows[0][2] > 0
