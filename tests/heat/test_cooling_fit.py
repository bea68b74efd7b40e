"""Fitting cooling air to recorded coolings."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.calibration import with_air
from kilnpack.heat.cooling import cooling_hours
from kilnpack.heat.cooling_fit import RecordedCooling, fit_cooling
from kilnpack.heat.firing import fire
from kilnpack.heat.reactions import Chemistry
from kilnpack.model.kilns import AirBand, Cooling, CoolingWay

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme


@pytest.fixture(scope="module")
def blown(kiln: Kiln) -> Kiln:
    """Return the worked kiln with 200 Nm3/h of cooling air."""
    return replace(kiln, cooling=Cooling(way=CoolingWay.FORCED, bands=(AirBand(above_degc=0.0, air_nm3_h=200.0),)))


def recorded(kiln: Kiln, glost: Programme, kilograms: float, *factors: float) -> RecordedCooling:
    """Return a cooling read at 4, 8 and 14 h, each reading off by its factor of the excess over the room."""
    contents = {"porcelain": kilograms, "mullite": 200.0}
    start = fire(kiln, glost, {"porcelain": kilograms}, {"mullite": 200.0}, Chemistry()).end
    curve = dict(cooling_hours(kiln, start, contents, -273.0, within_h=15.0).curve)
    readings = tuple(
        (hour, 20.0 + factor * (curve[hour] - 20.0)) for hour, factor in zip((4.0, 8.0, 14.0), factors, strict=True)
    )
    return RecordedCooling(start=start, contents_kg=contents, readings=readings)


def test_air_that_made_the_coolings_is_found(blown: Kiln, glost: Programme) -> None:
    """Coolings made with 1.6 times the stated air: the factor is in its range, the left-out error small."""
    rows = [recorded(with_air(blown, 1.6), glost, kg, 1.0, 1.0, 1.0) for kg in (60.0, 180.0, 300.0)]
    found = fit_cooling(blown, rows)
    assert found.air_factor == pytest.approx(1.6, rel=0.02)
    assert found.low < 1.6 < found.high
    assert found.error_k < 5.0
    assert found.plain_k > 40.0
    assert (found.left_out_k or 99.0) < 8.0
    assert found.coolings == 3


def test_one_cooling_has_a_wide_range_and_nothing_left_out(blown: Kiln, glost: Programme) -> None:
    """Three readings that contradict each other: the range holds 1 and no error is told of what was left out."""
    found = fit_cooling(blown, [recorded(blown, glost, 180.0, 0.8, 1.0, 1.25)])
    assert found.left_out_k is None
    assert found.low < 1.0 < found.high
    assert found.high / found.low > 1.15


def test_air_of_a_sealed_kiln_is_its_leak(kiln: Kiln) -> None:
    """Where no band blows the factor goes on the leak."""
    assert with_air(kiln, 3.0).energy.leak_air_nm3_h == pytest.approx(3.0 * kiln.energy.leak_air_nm3_h)


def test_no_cooling_is_refused(kiln: Kiln) -> None:
    """Nothing fits nothing."""
    with pytest.raises(ValueError, match="recorded cooling"):
        fit_cooling(kiln, [])
