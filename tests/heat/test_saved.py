"""Results of this room are saved as JSON and read back as they were."""

from __future__ import annotations

import json
from datetime import datetime
from typing import TYPE_CHECKING, Any

import pytest

from kilnpack.codec import decode, encode
from kilnpack.heat.calibration import Calibration
from kilnpack.heat.cones import Cone, ConeAnswer, cone_at, published_series
from kilnpack.heat.cooling import CoolingForecast, cooling_hours
from kilnpack.heat.lining import LiningState, lining_of
from kilnpack.heat.reactions import Chemistry
from kilnpack.heat.readings import Reading
from kilnpack.heat.report import EnergyReport, LitLoad, energy_report

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works


@pytest.fixture(scope="module")
def results(works: Works, load: Load, kiln: Kiln, glost: Programme) -> dict[type, Any]:
    """Return one value of each type that leaves this room."""
    lit = LitLoad(load=load, lit_at=datetime(2026, 2, 2, 6, 0))
    cold = lining_of(kiln).cold
    warm = LiningState(chamber_degc=300.0, cells_degc=cold.cells_degc)
    reading = Reading(
        programme=glost, ware_kg={"porcelain": 1.0}, furniture_kg={}, chemistry=Chemistry(), metered_kwh=600.0
    )
    return {
        EnergyReport: energy_report(works, [lit]),
        LitLoad: lit,
        CoolingForecast: cooling_hours(kiln, warm, {"mullite": 100.0}, 50.0, within_h=2.0),
        Calibration: Calibration(lining_factor=1.1, readings=2),
        ConeAnswer: cone_at(glost),
        Cone: published_series()[0],
        Reading: reading,
    }


@pytest.mark.parametrize("kind", [EnergyReport, LitLoad, CoolingForecast, Calibration, ConeAnswer, Cone, Reading])
def test_value_is_saved_and_read_back(results: dict[type, Any], kind: type) -> None:
    """What is written as JSON is read back equal, without a fault."""
    value = results[kind]
    text = json.dumps(encode(value, kind))
    back, faults = decode(json.loads(text), kind)
    assert faults == []
    assert back == value
