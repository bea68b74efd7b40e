"""One firing: the worked case, balances, warm starts, gas and air, calibration factors."""

from __future__ import annotations

from dataclasses import replace
from math import fsum
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilnpack.errors import InputFaulty
from kilnpack.heat.calibration import Calibration
from kilnpack.heat.firing import empty_kwh, fire, kwh_per_kg
from kilnpack.heat.materials import enthalpy_kj_kg
from kilnpack.heat.reactions import Chemistry, chemistry_j_kg, chemistry_of
from kilnpack.model.geometry import Disc
from kilnpack.model.kilns import EnergyKind, Kiln, LiningLayer
from kilnpack.model.pieces import Stage
from kilnpack.model.programmes import Atmosphere, Programme, Segment
from kilnpack.model.settings import WorksSettings

if TYPE_CHECKING:
    from kilnpack.heat.balance import HeatBalance

WARE = {"porcelain": 180.0}
FURNITURE = {"silicon carbide": 200.0, "mullite": 60.0}
GLOST = Chemistry(melting_kj_kg=80.0)


def gas(kiln: Kiln, *, air_in_degc: float = 20.0) -> Kiln:
    """Return the kiln burning natural gas."""
    return replace(kiln, energy=replace(kiln.energy, kind=EnergyKind.NATURAL_GAS, air_in_degc=air_in_degc))


def worked(kiln: Kiln, programme: Programme) -> HeatBalance:
    """Return the worked case."""
    return fire(kiln, programme, WARE, FURNITURE, GLOST)


@pytest.mark.source("own-calculation", "worked case, electric: 772 kWh and its parts")
def test_worked_case_electric(kiln: Kiln, glost: Programme) -> None:
    """180 kg of ware and 260 kg of furniture to 1400 degC in 23 h take 772 kWh, 574 of them without a load."""
    found = worked(kiln, glost)
    assert found.total_kwh == pytest.approx(772.0, rel=0.005)
    assert found.ware_kwh == pytest.approx(79.5, rel=0.005)
    assert found.chemistry_kwh == pytest.approx(4.0, rel=0.005)
    assert found.furniture_kwh == pytest.approx(114.5, rel=0.005)
    assert found.lining_kwh == pytest.approx(528.8, rel=0.005)
    assert found.walls_kwh == pytest.approx(29.2, rel=0.01)
    assert found.air_kwh == pytest.approx(16.3, rel=0.01)
    assert found.shell_degc == pytest.approx(50.0, abs=1.0)
    assert found.total_kwh / 180.0 == pytest.approx(4.29, rel=0.005)
    assert empty_kwh(kiln, glost) == pytest.approx(574.0, rel=0.005)


@pytest.mark.source("own-calculation", "worked case, methane: 1608 kWh, 852 of them through the flue")
def test_worked_case_gas(kiln: Kiln, glost: Programme) -> None:
    """The same with methane at air ratios 1.5, 0.95 and 1.02 takes 1608 kWh net."""
    found = worked(gas(kiln), glost)
    assert found.total_kwh == pytest.approx(1608.0, rel=0.005)
    assert found.flue_kwh == pytest.approx(852.0, rel=0.005)
    assert found.air_kwh == 0.0
    assert (found.basis, worked(kiln, glost).basis) == ("net calorific value", "electric")


@pytest.mark.source("own-calculation", "sensitivity: air ratio 2.0 below 1000 degC +18 %, air at 400 degC -26 %")
def test_air_moves_the_gas(kiln: Kiln, glost: Programme) -> None:
    """Too much air costs 18 %, air preheated to 400 degC saves 26 %."""
    base = worked(gas(kiln), glost).total_kwh
    airy = replace(glost, segments=(*(replace(s, lambda_factor=2.0) for s in glost.segments[:2]), *glost.segments[2:]))
    assert worked(gas(kiln), airy).total_kwh / base == pytest.approx(1.18, abs=0.01)
    assert worked(gas(kiln, air_in_degc=400.0), glost).total_kwh / base == pytest.approx(0.74, abs=0.01)


@pytest.mark.source("ecg-8", "china and porcelain 7.4-23.7 kWh/kg over all firings, a wide survey")
def test_gas_lies_in_the_survey(kiln: Kiln, glost: Programme) -> None:
    """One glost firing in gas stays under the survey's upper end for all firings of the ware."""
    assert 23.65 / 4.0 < worked(gas(kiln), glost).total_kwh / 180.0 < 23.65


def test_parts_sum_to_the_total(kiln: Kiln, glost: Programme) -> None:
    """The parts are the total, the hours are the total, and the heat equation loses nothing."""
    for one in (kiln, gas(kiln)):
        found = worked(one, glost)
        assert fsum(found.parts_kwh.values()) == found.total_kwh
        assert fsum(found.hourly_kwh) == pytest.approx(found.total_kwh, rel=1e-12)
        assert len(found.hourly_kwh) == 23
        assert found.residual_share <= 1e-9
        assert found.low_kwh < found.total_kwh < found.high_kwh


@settings(max_examples=40)
@given(
    peak=st.floats(200.0, 1450.0),
    rate=st.floats(30.0, 600.0),
    hold=st.floats(0.0, 4.0),
    fall=st.floats(0.0, 150.0),
    ware=st.floats(0.0, 400.0),
)
def test_energy_balances_whatever_the_programme(
    kiln: Kiln, peak: float, rate: float, hold: float, fall: float, ware: float
) -> None:
    """For any curve and load the heat put in is found again, to 1e-9, and no part of heating is negative."""
    segments = (
        Segment(to_degc=peak, rate_k_h=rate, hold_h=hold),
        Segment(to_degc=peak - fall, rate_k_h=80.0, hold_h=0.5),
    )
    one = Programme(
        code="P",
        name="p",
        stage=Stage.GLOST,
        segments=segments,
        atmosphere=Atmosphere.OXIDATION,
        recorded_fire_h=1.0,
        recorded_cool_h=1.0,
        recorded_kg=1.0,
    )
    found = fire(kiln, one, {"porcelain": ware}, {}, GLOST)
    assert found.residual_share <= 1e-9
    assert fsum(found.parts_kwh.values()) == pytest.approx(found.total_kwh, rel=1e-12)
    assert min(found.parts_kwh.values()) >= -1e-9


def test_load_adds_its_own_heat(kiln: Kiln, glost: Programme) -> None:
    """From a cold kiln the energy is E0 plus mass times heat: 1 kg of mullite to 1400 degC is its enthalpy."""
    more = kwh_per_kg(kiln, glost, "mullite")
    assert more == pytest.approx(enthalpy_kj_kg("mullite", 1400.0) / 3600.0, rel=1e-6)
    with_glaze = kwh_per_kg(kiln, glost, "porcelain", GLOST)
    assert with_glaze == pytest.approx((enthalpy_kj_kg("porcelain", 1400.0) + 80.0) / 3600.0, rel=1e-6)
    sum_of_parts = empty_kwh(kiln, glost) + 100.0 * with_glaze + 50.0 * more
    assert fire(kiln, glost, {"porcelain": 100.0}, {"mullite": 50.0}, GLOST).total_kwh == pytest.approx(sum_of_parts)


def test_warm_kiln_needs_visibly_less(kiln: Kiln, glost: Programme) -> None:
    """A lining kept warm from the firing before saves; its start is stated by the state alone."""
    cold = worked(kiln, glost)
    half = replace(cold.end, cells_degc=tuple(20.0 + (t - 20.0) / 2.0 for t in cold.end.cells_degc))
    warm = fire(kiln, glost, WARE, FURNITURE, GLOST, start=half)
    assert warm.total_kwh < 0.8 * cold.total_kwh
    assert warm.residual_share <= 1e-9


def test_warm_start_stays_within_solver_bounds(kiln: Kiln, glost: Programme) -> None:
    """Even straight after a firing the next one balances: the kiln coasts and draws no power at first."""
    hot = worked(kiln, glost).end
    found = fire(kiln, glost, WARE, FURNITURE, GLOST, start=hot)
    assert found.hourly_kwh[0] == 0.0
    assert found.residual_share <= 1e-9


def test_cooling_by_programme_is_a_part_of_its_own(kiln: Kiln, glost: Programme) -> None:
    """A slow fall after the peak costs what holds the kiln up; the parts up to the peak do not change."""
    slow = replace(glost, segments=(*glost.segments, Segment(to_degc=1300.0, rate_k_h=5.0, lambda_factor=1.1)))
    plain, found = worked(kiln, glost), worked(kiln, slow)
    assert found.cooling_kwh > 5.0
    assert found.lining_kwh == pytest.approx(plain.lining_kwh)
    assert found.fire_h == pytest.approx(43.0)
    fast = replace(glost, segments=(*glost.segments, Segment(to_degc=1000.0, rate_k_h=300.0)))
    assert worked(kiln, fast).cooling_kwh == 0.0


def test_calibration_scales_what_it_says(kiln: Kiln, glost: Programme) -> None:
    """The lining's factor multiplies lining and walls alone, the flue's all gas, and leak air replaces the stated."""
    plain = worked(kiln, glost)
    found = fire(kiln, glost, WARE, FURNITURE, GLOST, calibration=Calibration(lining_factor=1.1))
    assert found.lining_kwh + found.walls_kwh == pytest.approx(1.1 * (plain.lining_kwh + plain.walls_kwh))
    assert found.furniture_kwh == pytest.approx(plain.furniture_kwh)
    assert found.air_kwh == pytest.approx(plain.air_kwh)
    assert found.residual_share <= 1e-9
    tight = fire(kiln, glost, WARE, FURNITURE, GLOST, calibration=Calibration(leak_air_nm3_h=0.0))
    assert tight.total_kwh == pytest.approx(plain.total_kwh - plain.air_kwh)
    burnt = fire(gas(kiln), glost, WARE, FURNITURE, GLOST, calibration=Calibration(flue_factor=1.2))
    assert burnt.total_kwh == pytest.approx(1.2 * worked(gas(kiln), glost).total_kwh)


def test_ranges_narrow_with_readings(kiln: Kiln, glost: Programme) -> None:
    """Uncalibrated +-15 % electric and +-25 % gas; readings narrow it, scatter widens it, never under 5 %."""
    assert worked(kiln, glost).range_share == 0.15
    assert worked(gas(kiln), glost).range_share == 0.25
    electric = EnergyKind.ELECTRIC
    assert Calibration(readings=2).range_share(electric) == 0.075
    assert Calibration(readings=5, scatter_share=0.04).range_share(electric) == 0.08
    assert Calibration(readings=5, scatter_share=0.001).range_share(electric) == 0.05
    assert Calibration(readings=5, scatter_share=0.3).range_share(electric) == 0.15


def test_too_weak_a_kiln_is_remarked(kiln: Kiln, glost: Programme) -> None:
    """Where the programme asks for more power than is connected, the balance says so."""
    weak = replace(kiln, energy=replace(kiln.energy, connected_kw=20.0))
    assert "20 kW" in worked(weak, glost).remarks[0]
    assert worked(kiln, glost).remarks == ()


def test_flame_that_cannot_reach_the_peak_is_a_finding(kiln: Kiln, glost: Programme) -> None:
    """At an air ratio of 3 nothing of the flame is left at 1400 degC; the finding names ratio and temperature."""
    airy = replace(glost, segments=tuple(replace(s, lambda_factor=3.0) for s in glost.segments))
    with pytest.raises(InputFaulty) as fault:
        worked(gas(kiln), airy)
    assert "3 at 1400 degC" in str(fault.value)


def test_usual_air_ratio_is_the_kilns(kiln: Kiln, glost: Programme) -> None:
    """A segment that states no air ratio burns at the kiln's."""
    plain = replace(glost, segments=tuple(replace(s, lambda_factor=None) for s in glost.segments))
    stated = replace(glost, segments=tuple(replace(s, lambda_factor=1.1) for s in glost.segments))
    assert worked(gas(kiln), plain).total_kwh == pytest.approx(worked(gas(kiln), stated).total_kwh)


def test_every_fault_of_a_lining_is_found(kiln: Kiln, glost: Programme) -> None:
    """No lining is one finding; unknown materials and thicknesses are found all at once."""
    with pytest.raises(InputFaulty) as none:
        worked(replace(kiln, lining=()), glost)
    assert len(none.value.findings) == 1
    odd = (LiningLayer(material="straw", thickness_mm=100.0), LiningLayer(material="mud", thickness_mm=0.0))
    with pytest.raises(InputFaulty) as many:
        worked(replace(kiln, lining=odd), glost)
    assert [finding.found for finding in many.value.findings] == ["straw", "mud", "mud 0 mm"]


def test_thicker_hot_face_takes_more(kiln: Kiln, glost: Programme) -> None:
    """A lining with more heavy brick stores more; a round chamber of the same volume stores less than a square one."""
    heavy = replace(kiln, lining=(LiningLayer(material="insulating brick 1540", thickness_mm=200.0), *kiln.lining[1:]))
    assert worked(heavy, glost).lining_kwh > worked(kiln, glost).lining_kwh
    round_one = replace(kiln, chamber=Disc(x_mm=0.0, y_mm=0.0, r_mm=1150.0 / 3.14159265**0.5))
    assert worked(round_one, glost).lining_kwh < worked(kiln, glost).lining_kwh


@pytest.mark.source("own-calculation", "shared/chemistry.csv: 584 kJ/kg kaolinite, 2592 kJ/kg water")
def test_chemistry_is_taken_on_the_way() -> None:
    """Biscuit ware of half kaolin with 1 % water takes 0.5 x 584 + 0.01 x 2592 = 317.9 kJ/kg by 980 degC."""
    from kilnpack.heat.materials import GRID_DEGC

    takes = chemistry_j_kg(chemistry_of(WorksSettings(), Stage.BISCUIT))
    at = {degc: takes[GRID_DEGC.tolist().index(degc)] for degc in (20.0, 200.0, 980.0)}
    assert at[20.0] == 0.0
    assert at[200.0] == pytest.approx(25920.0)
    assert at[980.0] == pytest.approx(317920.0)
    assert chemistry_j_kg(chemistry_of(WorksSettings(), Stage.DECORATION)).max() == 0.0
    assert chemistry_j_kg(chemistry_of(WorksSettings(), Stage.GLOST))[-1] == pytest.approx(80000.0)
