"""From the tables of a works to what the fits take: one basis of energy, furniture by material, starts, coolings."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.lining import lining_of
from kilnpack.heat.works_readings import furniture_of, meter_readings, net_kwh, recorded_coolings
from kilnpack.model.kilns import EnergyKind
from kilnpack.model.measured import CoolingReading, Measured, MeterReading

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.works import Works

DAY = date(2026, 1, 12)


def metered(**more: object) -> MeterReading:
    """Return one reading of the worked kiln."""
    row = MeterReading(fired_on=DAY, kiln="K1", programme="G", ware_kg=180.0, furniture_kg=200.0, metered_kwh=800.0)
    return replace(row, **more)  # type: ignore[arg-type]


def gas(kiln: Kiln, basis: str = "gross") -> Kiln:
    """Return the kiln fired with gas billed on a basis."""
    return replace(kiln, energy=replace(kiln.energy, kind=EnergyKind.NATURAL_GAS, basis=basis))


def test_energy_is_brought_to_the_net_basis(kiln: Kiln) -> None:
    """Electric as metered; gas billed gross over 1.11, billed net as it is; 100 m3 of 11.1 kWh are 1000 kWh net."""
    assert net_kwh(kiln, metered()) == 800.0
    assert net_kwh(gas(kiln), metered()) == pytest.approx(800.0 / 1.11, rel=0.002)
    assert net_kwh(gas(kiln, "net"), metered()) == 800.0
    cubic = metered(metered_kwh=None, metered_m3=100.0, gross_kwh_per_m3=11.1)
    assert net_kwh(gas(kiln, "net"), cubic) == pytest.approx(1000.0, rel=0.002)


def test_furniture_is_of_the_kilns_shelves_and_its_deck(works: Works, kiln: Kiln) -> None:
    """200 kg are silicon carbide like the shelves; the deck of 50 kg mullite brick is added."""
    assert furniture_of(works, kiln, 200.0) == {"silicon carbide": 200.0, "mullite": 50.0}
    assert furniture_of(works, replace(kiln, cars=()), 200.0) == {"silicon carbide": 200.0}


def test_a_reading_has_the_start_it_had(works: Works, kiln: Kiln) -> None:
    """Cold without a firing before; a day after one its lining is still warm, after a week less so."""
    rows = (metered(), metered(before="G", stood_h=24.0), metered(before="G", stood_h=168.0), metered(kiln="K9"))
    cold, day, week = meter_readings(replace(works, measured=Measured(meter=rows)), kiln)
    assert cold.start is None
    assert day.start is not None
    assert week.start is not None
    room = max(lining_of(kiln).cold.cells_degc)
    assert max(day.start.cells_degc) > max(week.start.cells_degc) > room + 5.0
    assert cold.chemistry.melting_kj_kg == works.settings.glost_melting_kj_kg


def test_rows_of_one_firing_are_one_cooling(works: Works, kiln: Kiln) -> None:
    """Three rows of one day are one cooling in order of time, another day is another."""
    row = CoolingReading(
        fired_on=DAY, kiln="K1", programme="G", ware_kg=180.0, furniture_kg=200.0, after_h=12.0, chamber_degc=300.0
    )
    rows = (row, replace(row, after_h=4.0, chamber_degc=800.0), replace(row, fired_on=date(2026, 1, 19)))
    first, second = recorded_coolings(replace(works, measured=Measured(coolings=rows)), kiln)
    assert first.readings == ((4.0, 800.0), (12.0, 300.0))
    assert second.readings == ((12.0, 300.0),)
    assert first.contents_kg == {"porcelain": 180.0, "silicon carbide": 200.0, "mullite": 50.0}
    assert first.start.chamber_degc == pytest.approx(1400.0, abs=1.0)
