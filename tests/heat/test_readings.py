"""Fitting a kiln to its meter: factors that made the readings are found again."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.calibration import Calibration
from kilnpack.heat.firing import fire
from kilnpack.heat.reactions import Chemistry
from kilnpack.heat.readings import Reading, calibrate
from kilnpack.model.kilns import EnergyKind
from kilnpack.model.programmes import Segment

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme

GLOST = Chemistry(melting_kj_kg=80.0)
FURNITURE = {"silicon carbide": 200.0}


def readings(kiln: Kiln, glost: Programme, truth: Calibration) -> list[Reading]:
    """Return three readings made with known factors: two peaks, two loads."""
    cooler = replace(glost, segments=(Segment(to_degc=980.0, rate_k_h=80.0, lambda_factor=1.3),))
    cases = ((glost, 180.0), (cooler, 180.0), (glost, 60.0))
    return [
        Reading(
            programme=one,
            ware_kg={"porcelain": kg},
            furniture_kg=FURNITURE,
            chemistry=GLOST,
            metered_kwh=fire(kiln, one, {"porcelain": kg}, FURNITURE, GLOST, calibration=truth).total_kwh,
        )
        for one, kg in cases
    ]


def test_two_factors_of_an_electric_kiln(kiln: Kiln, glost: Programme) -> None:
    """Lining and leak air that made three readings are found, with no scatter."""
    rows = readings(kiln, glost, Calibration(lining_factor=1.12, leak_air_nm3_h=5.0))
    rows[2] = replace(rows[2], furniture_kg={}, metered_kwh=_without_furniture(kiln, glost, 1.12, 5.0))
    found = calibrate(kiln, rows)
    assert found.lining_factor == pytest.approx(1.12, rel=1e-6)
    assert found.leak_air_nm3_h == pytest.approx(5.0, rel=1e-6)
    assert found.readings == 3
    assert found.scatter_share < 1e-9


def _without_furniture(kiln: Kiln, glost: Programme, lining: float, leak: float) -> float:
    truth = Calibration(lining_factor=lining, leak_air_nm3_h=leak)
    return fire(kiln, glost, {"porcelain": 60.0}, {}, GLOST, calibration=truth).total_kwh


def test_two_factors_of_a_gas_kiln(kiln: Kiln, glost: Programme) -> None:
    """Lining and flue that made three readings are found."""
    gas = replace(kiln, energy=replace(kiln.energy, kind=EnergyKind.NATURAL_GAS))
    found = calibrate(gas, readings(gas, glost, Calibration(lining_factor=0.9, flue_factor=1.2)))
    assert found.lining_factor == pytest.approx(0.9, rel=1e-6)
    assert found.flue_factor == pytest.approx(1.2, rel=1e-6)


def test_one_reading_bears_one_factor(kiln: Kiln, glost: Programme) -> None:
    """One reading fits the lining of an electric kiln, the flue of a gas kiln, and leaves the rest as stated."""
    electric = calibrate(kiln, readings(kiln, glost, Calibration(lining_factor=1.2))[:1])
    assert electric.lining_factor == pytest.approx(1.2, rel=1e-6)
    assert electric.leak_air_nm3_h is None
    gas = replace(kiln, energy=replace(kiln.energy, kind=EnergyKind.NATURAL_GAS))
    flue = calibrate(gas, readings(gas, glost, Calibration(flue_factor=0.8))[:1])
    assert flue.flue_factor == pytest.approx(0.8, rel=1e-6)
    assert flue.lining_factor == 1.0


def test_like_readings_bear_one_factor(kiln: Kiln, glost: Programme) -> None:
    """Three readings of one firing cannot tell two factors apart; their scatter widens the range."""
    base = readings(kiln, glost, Calibration())[0]
    rows = [replace(base, metered_kwh=base.metered_kwh * factor) for factor in (0.95, 1.0, 1.05)]
    found = calibrate(kiln, rows)
    assert found.leak_air_nm3_h is None
    assert found.scatter_share == pytest.approx(0.041, abs=0.005)
    assert found.range_share(EnergyKind.ELECTRIC) == pytest.approx(2.0 * found.scatter_share)


def test_nonsense_second_factor_is_dropped(kiln: Kiln, glost: Programme) -> None:
    """Readings that would want a negative leak are fitted by the lining alone."""
    rows = readings(kiln, glost, Calibration())
    rows = [
        replace(row, metered_kwh=row.metered_kwh * factor) for row, factor in zip(rows, (0.8, 1.1, 0.8), strict=True)
    ]
    assert calibrate(kiln, rows).leak_air_nm3_h is None


def test_no_reading_is_refused(kiln: Kiln, glost: Programme) -> None:
    """No reading, or one of nothing, fits nothing."""
    with pytest.raises(ValueError, match="over 0 kWh"):
        calibrate(kiln, [])
    row = replace(readings(kiln, glost, Calibration())[0], metered_kwh=0.0)
    with pytest.raises(ValueError, match="over 0 kWh"):
        calibrate(kiln, [row])
