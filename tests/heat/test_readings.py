"""Fitting a kiln to its meter: factors that made the readings are found again, as far as a prior lets them."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.heat.calibration import Calibration
from kilnpack.heat.firing import fire
from kilnpack.heat.fitting import NOISE_SHARE, fit_logs
from kilnpack.heat.reactions import Chemistry
from kilnpack.heat.readings import FLUE, LEAK, LINING, PRIORS, Reading, calibrate, fit_kiln
from kilnpack.model.kilns import EnergyKind
from kilnpack.model.programmes import Segment

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme

GLOST = Chemistry(melting_kj_kg=80.0)
FURNITURE = {"silicon carbide": 200.0}


def readings(kiln: Kiln, glost: Programme, truth: Calibration) -> list[Reading]:
    """Return six readings made with known factors: two peaks, three loads."""
    cooler = replace(glost, segments=(Segment(to_degc=980.0, rate_k_h=80.0, lambda_factor=1.3),))
    cases = ((glost, 180.0), (cooler, 180.0), (glost, 30.0), (cooler, 30.0), (glost, 400.0), (cooler, 400.0))
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


def gas_of(kiln: Kiln) -> Kiln:
    """Return the kiln fired with natural gas."""
    return replace(kiln, energy=replace(kiln.energy, kind=EnergyKind.NATURAL_GAS))


@pytest.mark.source("own-calculation", "mean of a normal prior and one normal reading, in logarithms")
def test_one_reading_is_the_mean_of_prior_and_reading() -> None:
    """One factor on all of one reading: its logarithm is ln(1.2) / (1 + (noise / prior)^2) to first order.

    With noise 0.03 and prior 0.25 the weight is 0.9858: 1.2 becomes about 1.197; the deviation is about the noise.
    """
    metered = np.array([1.2])
    fit = fit_logs(lambda logs: np.exp(logs[:1]), metered, np.array([0.25]))
    assert fit.logs[0] == pytest.approx(log(1.2) / (1.0 + (fit.noise_share / 0.25) ** 2), rel=5e-3)
    assert fit.noise_share == pytest.approx(NOISE_SHARE * (4 / 5) ** 0.5, rel=0.02)
    assert fit.deviations[0] == pytest.approx((fit.noise_share**-2 + 0.25**-2) ** -0.5, rel=5e-3)


def test_two_factors_of_an_electric_kiln(kiln: Kiln, glost: Programme) -> None:
    """Lining and leak air that made the readings lie in their ranges; every reading is met, also when left out."""
    found = fit_kiln(kiln, readings(kiln, glost, Calibration(lining_factor=1.12, leak_air_nm3_h=5.0)))
    assert found.calibration.lining_factor == pytest.approx(1.12, rel=0.03)
    for factor, truth in zip(found.factors, (1.12, 2.5), strict=True):
        assert factor.fitted
        assert factor.low < truth < factor.high
    assert [factor.name for factor in found.factors] == [LINING, LEAK]
    assert found.calibration.readings == 6
    assert found.calibration.scatter_share < 0.005
    assert max(abs(share or 0.0) for share in found.left_out_share) < 0.02
    assert min(found.plain_share) < -0.05
    assert (found.calibration.low_peak_degc, found.calibration.high_peak_degc) == (980.0, 1400.0)


def test_two_factors_of_a_gas_kiln(kiln: Kiln, glost: Programme) -> None:
    """Lining and flue that made the readings are found to 3 %, closer than the prior knew them."""
    gas = gas_of(kiln)
    found = fit_kiln(gas, readings(gas, glost, Calibration(lining_factor=0.9, flue_factor=1.2)))
    assert found.calibration.lining_factor == pytest.approx(0.9, rel=0.03)
    assert found.calibration.flue_factor == pytest.approx(1.2, rel=0.03)
    assert {factor.name for factor in found.factors} == {FLUE, LINING}


def test_one_reading_bears_one_factor(kiln: Kiln, glost: Programme) -> None:
    """One reading fits the lining of an electric kiln, the flue of a gas kiln, and says that the rest is as stated."""
    electric = fit_kiln(kiln, readings(kiln, glost, Calibration(lining_factor=1.1))[:1])
    assert electric.calibration.lining_factor == pytest.approx(1.1, rel=5e-3)
    assert electric.calibration.leak_air_nm3_h is None
    assert electric.calibration.left_out_share is None
    assert "leak air cannot be told from lining" in electric.words[0]
    assert not electric.factors[1].fitted
    assert electric.factors[1].high == pytest.approx(exp(2.0 * PRIORS[LEAK]))
    gas = gas_of(kiln)
    flue = calibrate(gas, readings(gas, glost, Calibration(flue_factor=0.9))[:1])
    assert flue.flue_factor == pytest.approx(0.9, rel=5e-3)
    assert flue.lining_factor == 1.0


def test_like_readings_bear_one_factor(kiln: Kiln, glost: Programme) -> None:
    """Three readings of one firing cannot tell two factors apart; what they differ by widens the range.

    Off by -5, 0 and 5 %, each is foretold by the mean of the others: misses of about 7.9, 0 and 7.1 %.
    """
    base = readings(kiln, glost, Calibration())[0]
    rows = [replace(base, metered_kwh=base.metered_kwh * factor) for factor in (0.95, 1.0, 1.05)]
    found = fit_kiln(kiln, rows)
    assert found.calibration.leak_air_nm3_h is None
    assert found.calibration.scatter_share == pytest.approx(0.041, abs=0.005)
    assert found.calibration.left_out_share == pytest.approx(0.061, abs=0.006)
    twice = 2.0 * (found.calibration.left_out_share or 0.0)
    assert found.calibration.range_share(EnergyKind.ELECTRIC) == pytest.approx(twice)


def test_contradicting_readings_never_make_a_factor_negative(kiln: Kiln, glost: Programme) -> None:
    """Readings that would want a negative leak leave it small, and its range says that little was learnt."""
    rows = [
        replace(row, metered_kwh=row.metered_kwh * factor)
        for row, factor in zip(readings(kiln, glost, Calibration()), (0.8, 1.1, 0.8, 1.1, 0.8, 1.1), strict=True)
    ]
    found = fit_kiln(kiln, rows)
    assert (found.calibration.leak_air_nm3_h or 0.0) > 0.0
    assert any("learnt little" in words or "pull together" in words for words in found.words)


def test_a_reading_far_off_is_said(kiln: Kiln, glost: Programme) -> None:
    """Twice the energy is no matter of a factor: it is followed, and the user is told to look at what was stated."""
    row = readings(kiln, glost, Calibration())[0]
    found = fit_kiln(kiln, [replace(row, metered_kwh=2.0 * row.metered_kwh)])
    assert "reading 1 is missed by more than 15%" in found.words[0]
    assert found.errors_share[0] > -0.15


def test_a_peak_nobody_metered_has_a_wider_range() -> None:
    """Inside the metered peaks the range is twice the scatter, 50 K beyond them half the uncalibrated one."""
    found = Calibration(readings=6, scatter_share=0.02, low_peak_degc=980.0, high_peak_degc=1200.0)
    assert found.range_share(EnergyKind.NATURAL_GAS, 1100.0) == pytest.approx(0.05)
    assert found.range_share(EnergyKind.NATURAL_GAS, 1250.0) == pytest.approx(0.05)
    assert found.range_share(EnergyKind.NATURAL_GAS, 1400.0) == pytest.approx(0.125)


@given(st.floats(0.8, 1.25), st.floats(0.4, 2.5))
def test_exact_readings_are_met_whatever_made_them(first: float, second: float) -> None:
    """Four exact readings of two factors: each is foretold within a third of the noise."""
    parts = np.array([[10.0, 1.0], [8.0, 3.0], [6.0, 6.0], [2.0, 9.0]])
    metered = parts @ np.array([first, second])
    fit = fit_logs(lambda logs: parts @ np.exp(logs), metered, np.array([0.2, 1.0]))
    assert np.abs(fit.errors).max() < NOISE_SHARE / 3.0


def test_no_reading_is_refused(kiln: Kiln, glost: Programme) -> None:
    """No reading, or one of nothing, fits nothing."""
    with pytest.raises(ValueError, match="over 0 kWh"):
        calibrate(kiln, [])
    row = replace(readings(kiln, glost, Calibration())[0], metered_kwh=0.0)
    with pytest.raises(ValueError, match="over 0 kWh"):
        calibrate(kiln, [row])
