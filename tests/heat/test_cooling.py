"""How a kiln cools: the worked case, bands, and what is compared with records."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.cooling import CoolingForecast, cooling_finding, cooling_hours, in_kiln_degc, recorded_cool_h
from kilnpack.heat.firing import fire
from kilnpack.heat.lining import LiningState
from kilnpack.heat.reactions import Chemistry
from kilnpack.model.kilns import AirBand, Cooling, CoolingWay

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme

CONTENTS = {"porcelain": 180.0, "silicon carbide": 200.0, "mullite": 60.0}


@pytest.fixture(scope="module")
def fired(kiln: Kiln, glost: Programme) -> LiningState:
    """Return the worked kiln at the end of its soak."""
    furniture = {"silicon carbide": 200.0, "mullite": 60.0}
    return fire(kiln, glost, {"porcelain": 180.0}, furniture, Chemistry(melting_kj_kg=80.0)).end


def blown(kiln: Kiln, *bands: AirBand, way: CoolingWay = CoolingWay.FORCED) -> Kiln:
    """Return the kiln with its leak of 2 Nm3/h and these bands of cooling air."""
    return replace(kiln, cooling=Cooling(way=way, bands=bands))


@pytest.mark.source("own-calculation", "worked case with 440 kg and 2 Nm3/h: 1052 degC after 10 h")
def test_sealed_kiln_takes_days(kiln: Kiln, fired: LiningState) -> None:
    """Sealed, the worked kiln still has about 1052 degC after 10 h and is not at 100 degC in three days."""
    found = cooling_hours(kiln, fired, CONTENTS, 100.0, within_h=72.0)
    assert dict(found.curve)[10.0] == pytest.approx(1052.0, abs=15.0)
    assert found.hours_h is None
    assert found.within_h == 72.0
    assert found.curve[-1][0] == pytest.approx(72.0)


@pytest.mark.source("own-calculation", "worked case: 200 Nm3/h, 235 degC after 10 h, 100 after 21; 500, 100 after 9")
def test_forced_air_takes_hours(kiln: Kiln, fired: LiningState) -> None:
    """With 200 Nm3/h the kiln is at about 235 degC after 10 h and at 100 degC after 21 h, with 500 after 9 h."""
    slow = cooling_hours(blown(kiln, AirBand(above_degc=0.0, air_nm3_h=198.0)), fired, CONTENTS, 100.0)
    assert dict(slow.curve)[10.0] == pytest.approx(235.0, abs=15.0)
    assert slow.hours_h == pytest.approx(21.0, rel=0.1)
    fast = cooling_hours(blown(kiln, AirBand(above_degc=0.0, air_nm3_h=498.0)), fired, CONTENTS, 100.0)
    assert fast.hours_h == pytest.approx(9.0, rel=0.1)
    assert fast.end.chamber_degc <= 100.0
    assert max(fast.end.cells_degc) > 400.0


@pytest.mark.source("common-practice", "quartz and cristobalite are passed slowly")
def test_bands_hold_and_limit(kiln: Kiln, fired: LiningState) -> None:
    """Air flows only in its band, and the fall in a band stays under its limit."""
    banded = blown(
        kiln,
        AirBand(above_degc=150.0, air_nm3_h=400.0, greatest_k_h=40.0),
        AirBand(above_degc=600.0, air_nm3_h=400.0),
        AirBand(above_degc=1000.0, air_nm3_h=0.0),
        way=CoolingWay.DAMPER,
    )
    found = cooling_hours(banded, fired, CONTENTS, 160.0)
    curve = [point for point in found.curve if point[0] * 2 == int(point[0] * 2)]
    falls = {before: 2.0 * (before - after) for (_, before), (_, after) in itertools.pairwise(curve)}
    assert max(fall for degc, fall in falls.items() if degc < 590.0) == pytest.approx(40.0, abs=0.1)
    assert max(fall for degc, fall in falls.items() if 650.0 < degc < 950.0) > 100.0
    assert all(fall < 30.0 for degc, fall in falls.items() if 1010.0 < degc < 1100.0)


def test_more_mass_cools_longer(kiln: Kiln, fired: LiningState) -> None:
    """The load is coupled to the lining: twice the mass takes longer, no load at all is quickest."""
    windy = blown(kiln, AirBand(above_degc=0.0, air_nm3_h=300.0))
    hours = [
        cooling_hours(windy, fired, {name: kg * factor for name, kg in CONTENTS.items()}, 150.0).hours_h
        for factor in (0.0, 1.0, 2.0)
    ]
    assert None not in hours
    assert hours == sorted(hours, key=lambda value: value or 0.0)


def test_already_cool(kiln: Kiln, fired: LiningState) -> None:
    """A chamber at the wanted temperature needs no time; the forecast still states a curve."""
    found = cooling_hours(kiln, fired, CONTENTS, 1500.0)
    assert found.hours_h == 0.0
    assert found.curve[0] == (0.0, 1400.0)


@pytest.mark.source("common-practice", "a car is drawn hotter than ware is unloaded by hand")
def test_where_cooling_in_the_kiln_ends(kiln: Kiln) -> None:
    """A car is drawn at the works' limit; without a car, or without that limit, ware cools until it is unloaded."""
    drawn = replace(kiln, cooling=Cooling(draw_degc=250.0, unload_degc=80.0))
    assert in_kiln_degc(drawn) == 250.0
    assert in_kiln_degc(replace(drawn, cars=())) == 80.0
    assert in_kiln_degc(replace(drawn, cooling=Cooling(unload_degc=80.0))) == 80.0


@pytest.mark.source("common-practice", "recorded hours scale with the mass")
def test_record_scales_with_mass(glost: Programme) -> None:
    """20 h recorded at 440 kg are 10 h at 220 kg; without a recorded mass they stay 20 h."""
    assert recorded_cool_h(glost, 220.0) == 10.0
    assert recorded_cool_h(replace(glost, recorded_kg=0.0), 220.0) == 20.0


@pytest.mark.parametrize(("hours", "found"), [(14.0, False), (26.0, False), (13.9, True), (26.1, True), (None, True)])
def test_forecast_far_from_record_is_a_finding(glost: Programme, hours: float | None, found: bool) -> None:
    """Over 30 % between forecast and 20 h recorded is a finding, as is a temperature not reached."""
    end = LiningState(chamber_degc=100.0, cells_degc=())
    forecast = CoolingForecast(to_degc=100.0, hours_h=hours, within_h=240.0, curve=(), end=end)
    finding = cooling_finding(glost, forecast, 20.0)
    assert (finding is not None) is found
    if finding is not None:
        assert finding.file == "programme G"
        assert "20.0 h recorded" in finding.found
        assert ("over 240 h" in finding.found) is (hours is None)
