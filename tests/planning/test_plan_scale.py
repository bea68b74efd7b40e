"""Guards the benchmark of planning by size: the works it draws, and its rows with estimated loads."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from benchmarks import plan_scale
from benchmarks.plan_scale_works import larger_works
from kilnpack.works_folder import read_works

if TYPE_CHECKING:
    import pytest

WORKS = Path(__file__).parents[2] / "demo_orders" / "porcelain_works"


def test_a_longer_backlog_begins_with_the_shorter_one() -> None:
    """Six kilns of the folder's three, and lines that do not depend on how many follow."""
    works = read_works(WORKS)
    short, long = (larger_works(works, lines=lines, seed=1) for lines in (5, 12))
    assert long.lines[:5] == short.lines
    assert len({kiln.code for kiln in long.kilns}) == 2 * len(works.kilns)
    assert len({car.code for kiln in long.kilns for car in kiln.cars}) == sum(len(k.cars) for k in long.kilns)
    assert all(lot.order_line in {line.code for line in long.lines} for lot in long.lots)


def test_rows_with_estimated_loads(capsys: pytest.CaptureFixture[str]) -> None:
    """First due first served and the best of all policies, which is never later; every line is finished."""
    assert plan_scale.main(["--works", str(WORKS), "--lines", "12", "--estimate"]) == 0
    rows = capsys.readouterr().out.splitlines()[1:]
    first, best = plan_scale.rows_of(
        larger_works(read_works(WORKS), lines=12, seed=1), seconds=0, seed=1, estimate=True
    )
    assert [row[13:83].strip() for row in rows] == [first.name, best.name]
    assert (first.open_lines, best.open_lines) == (0, 0)
    assert (best.late_days, best.firings) <= (first.late_days, first.firings)
