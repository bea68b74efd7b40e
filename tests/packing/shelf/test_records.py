"""Guards the strength of the engine: published circle packings are reached, small ones here, more by the benchmark."""

from __future__ import annotations

import pytest

from benchmarks.records import main, smallest_room
from kilnpack.shared_tables import table


@pytest.mark.source("circle-records", "equal circles in a square, N = 5, 10, 13")
@pytest.mark.parametrize("n", [5, 10, 13])
def test_equal_circles_in_a_square(n: int) -> None:
    """Guards against loose packings of plates: within 0.1 % of the record."""
    published = {int(row["circles"]): float(row["side_for_unit_radius"]) for row in table("equal_in_square")}[n]
    ours = smallest_room([1.0] * n, is_square=True, effort=60, seed=1)
    assert published * 0.9999 <= ours <= published * 1.001


@pytest.mark.source("circle-records", "equal circles in a circle, N = 7, 12, 19")
@pytest.mark.parametrize("n", [7, 12, 19])
def test_equal_circles_in_a_circle(n: int) -> None:
    """Guards the same on a round shelf."""
    published = {
        int(row["circles"]): float(row["container_radius_for_unit_radius"]) for row in table("equal_in_circle")
    }[n]
    ours = smallest_room([1.0] * n, is_square=False, effort=60, seed=1)
    assert published * 0.9999 <= ours <= published * 1.001


@pytest.mark.source("circle-records", "circles of radius 1 to 10 in a circle")
def test_circles_of_many_sizes_in_a_circle() -> None:
    """Guards mixed ware: radii 1, 2, ..., 10 within 1 % of the record."""
    published = {int(row["circles"]): float(row["container_radius"]) for row in table("radius_i_in_circle")}[10]
    ours = smallest_room([float(i) for i in range(1, 11)], is_square=False, effort=800, seed=1)
    assert published * 0.9999 <= ours <= published * 1.01


def test_the_table_is_printed_and_judged(capsys: pytest.CaptureFixture[str]) -> None:
    """Guards the benchmark itself: two circles in a square and in a circle, within their bars."""
    assert main(["--most", "2", "--effort", "100"]) == 0
    assert capsys.readouterr().out.count("%") == 4
