"""The benchmark of growth: its exponent, its table, and that a varied works has the size asked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchmarks.growth import Point, exponent, grouped, table
from benchmarks.growth_works import one_firing, with_lines, with_products
from kilnpack.works_folder import read_works

WORKS = Path(__file__).parents[2] / "demo_orders" / "porcelain_works"


def points(power: float, over: str = "types") -> list[Point]:
    """Return points that grow with a power of their size, over a start-up that no size changes."""
    sizes = (10, 20, 40, 80, 160)
    return [Point(stage="a", over=over, size=n, cpu_s=1e-3 * n**power, peak_mb=50.0 + n) for n in sizes]


@pytest.mark.parametrize("power", [0.0, 1.0, 2.0])
def test_the_exponent_is_the_slope_of_the_logarithms(power: float) -> None:
    """Guards the fit: a power law has its own exponent."""
    assert exponent(points(power)) == pytest.approx(power)


def test_the_table_has_a_row_for_every_stage_and_what_was_varied() -> None:
    """Guards the table of the document: sizes in order, one exponent a row."""
    rows = [*reversed(points(1.0)), *points(2.0, over="height")]
    assert [one.size for one in grouped(rows)["a", "types"]] == [10, 20, 40, 80, 160]
    lines = table(rows).splitlines()
    assert len(lines) == 4
    assert "| 1.0 | 60 to 210 |" in lines[2]
    assert "height of the kiln" in lines[3]


def test_a_varied_works_has_the_size_asked_for() -> None:
    """Guards that one thing is varied at a time: types, pieces, height, products, lines."""
    works = read_works(WORKS)
    given = one_firing(works, kiln="E1", programme="BISC", types=60, pieces=600, height=2)
    assert len({lot.product for lot in given.lots}) == 60
    assert sum(lot.pieces for lot in given.lots) == 600
    assert given.kiln.usable_height_mm == 2 * works.kiln("E1").usable_height_mm
    assert len({given.works.shape(given.works.product(lot.product).shape).parts for lot in given.lots}) == 60
    assert len(with_products(works, types=7).products) == len(works.products) + 7
    larger = with_lines(works, lines=9, times=3, seed=1)
    assert len(larger.lines) == 9
    usual = with_lines(works, lines=9, times=1, seed=1)
    assert [line.quantity_pieces for line in larger.lines] == [3 * line.quantity_pieces for line in usual.lines]
