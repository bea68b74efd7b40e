"""What to change first: each saving is that of the model run with and without, with a range of its own."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.calibration import UNCALIBRATED
from kilnpack.heat.changes import Change, changes, mean_firings
from kilnpack.heat.contents import shelves_kg
from kilnpack.heat.firing import fire
from kilnpack.heat.reactions import Chemistry
from kilnpack.heat.report import LitLoad, energy_report
from kilnpack.model.kilns import EnergyKind

if TYPE_CHECKING:
    from kilnpack.heat.changes import MeanFiring
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works

MONDAY = datetime(2026, 2, 2, 6, 30)
GLOST = Chemistry(melting_kj_kg=80.0)


def means(works: Works, load: Load, *after_h: float) -> tuple[MeanFiring, ...]:
    """Return the mean of firings lit so many hours after Monday morning, and each in turn 12 h sooner."""
    lit = [LitLoad(load=load, lit_at=MONDAY + timedelta(hours=hours)) for hours in after_h]
    sooner = [LitLoad(load=load, lit_at=MONDAY + timedelta(hours=hours - 12.0 * k)) for k, hours in enumerate(after_h)]
    return mean_firings(works, lit, energy_report(works, lit), energy_report(works, sooner))


def by_name(found: tuple[Change, ...]) -> dict[str, Change]:
    """Return changes by the first words of their name."""
    return {change.name.split(":")[0]: change for change in found}


def test_lighter_shelves_save_their_own_heat(works: Works, load: Load) -> None:
    """A fifth of 10 kg of shelves less: the model's energy of 2 kg of silicon carbide, in three firings."""
    (mean,) = means(works, load, 0.0, 300.0, 600.0)
    assert mean.count == 3
    assert shelves_kg(works, load) == mean.shelves_kg == {"silicon carbide": 10.0}
    found = by_name(changes(works, [mean], least_share=0.0))
    lighter = dict(mean.furniture_kg) | {"silicon carbide": mean.furniture_kg["silicon carbide"] - 2.0}
    kiln, glost = works.kilns[0], works.programmes[0]
    plain = fire(kiln, glost, mean.ware_kg, mean.furniture_kg, GLOST).total_kwh
    wanted = 3.0 * (plain - fire(kiln, glost, mean.ware_kg, lighter, GLOST).total_kwh)
    row = found["shelves 20% lighter"]
    assert row.kwh == pytest.approx(wanted)
    assert row.low_kwh < row.kwh < row.high_kwh
    assert row.money == pytest.approx(row.kwh * 0.2)


def test_fuller_firings_save_whole_firings(works: Works, load: Load) -> None:
    """Firings that together hold less than one usual load join into one: nearly all but one are saved."""
    (mean,) = means(works, load, 0.0, 300.0, 600.0, 900.0)
    row = by_name(changes(works, [mean]))["fuller firings"]
    assert "joined into 1" in row.how
    assert row.kwh == pytest.approx(0.75 * mean.kwh, rel=0.05)
    full = replace(mean, ware_kg={"porcelain": works.kilns[0].usual_ware_kg})
    assert "fuller firings" not in by_name(changes(works, [full]))


def test_a_car_more_saves_a_cold_lining(works: Works, load: Load) -> None:
    """Lit 12 h sooner each, the second firing starts warmer: what that saved is told, with a wider range."""
    (mean,) = means(works, load, 0.0, 60.0)
    row = by_name(changes(works, [mean]))["one more car"]
    assert mean.wait_kwh > 0.0
    assert row.kwh == pytest.approx(mean.wait_kwh)
    assert row.high_kwh == pytest.approx(1.4 * row.kwh)


def test_gas_may_be_trimmed_and_its_air_warmed(works: Works, load: Load) -> None:
    """Air at 300 degC and a ratio of 1.15 instead of 1.5 both save; a kiln that has them is not asked."""
    kiln = works.kilns[0]
    gas = replace(kiln, energy=replace(kiln.energy, kind=EnergyKind.NATURAL_GAS))
    fired = replace(works, kilns=(gas,))
    (mean,) = means(fired, load, 0.0)
    found = by_name(changes(fired, [mean]))
    assert found["air for burning at 300 °C"].kwh > 0.1 * mean.kwh
    assert found["air ratio at most 1.15 in oxidation"].kwh > 0.0
    segments = tuple(replace(one, lambda_factor=1.0) for one in mean.programme.segments)
    warm = replace(gas, energy=replace(gas.energy, air_in_degc=300.0))
    had = replace(mean, kiln=warm, programme=replace(mean.programme, segments=segments))
    assert not any("air" in name for name in by_name(changes(fired, [had])))


def test_night_saves_money_and_no_energy(works: Works, load: Load) -> None:
    """With a night tariff the cheapest hour is found; savings stand in order of money, small ones are left out."""
    kiln = works.kilns[0]
    cheap = replace(kiln, energy=replace(kiln.energy, night_price_money_per_kwh=0.05))
    night = replace(works, kilns=(cheap,))
    (mean,) = means(night, load, 0.0, 200.0)
    found = changes(night, [mean], {"K1": UNCALIBRATED})
    row = by_name(found)["light at the cheapest hour"]
    assert row.kwh == 0.0
    assert 0.0 < row.low_money < row.money < row.high_money
    assert [one.money for one in found] == sorted((one.money for one in found), reverse=True)
    assert "shelves 20% lighter" not in by_name(changes(night, [replace(mean, money=1e9)]))
