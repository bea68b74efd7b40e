"""A packed load fired, billed and shared out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.calibration import Calibration
from kilnpack.heat.firing import fire
from kilnpack.heat.load_energy import lining_after, load_energy
from kilnpack.heat.reactions import Chemistry
from kilnpack.model.settings import ShareRule

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works


def test_load_is_fired_and_shared(works: Works, load: Load) -> None:
    """The load's own masses are fired; samples and fillers carry nothing; the shares are the firing."""
    found = load_energy(works, load)
    kiln, programme = works.kiln("K1"), works.programme("G")
    furniture = {"silicon carbide": 10.0, "mullite": 52.7}
    plain = fire(kiln, programme, {"porcelain": 7 * 0.24}, furniture, Chemistry(melting_kj_kg=80.0))
    assert found.balance.total_kwh == pytest.approx(plain.total_kwh)
    assert [share.lot for share in found.shares.shares] == ["L1", "L2"]
    assert sum(share.energy_j for share in found.shares.shares) == found.shares.total_j
    assert found.bill.money == pytest.approx(0.2 * plain.total_kwh)
    assert found.kwh_per_kg_ware == pytest.approx(plain.total_kwh / (7 * 0.24))
    assert found.shares.rule is ShareRule.VOLUME


def test_next_firing_starts_warm(works: Works, load: Load) -> None:
    """The lining left to itself for a day still saves; the longer it stands, the less."""
    cold = load_energy(works, load)
    kiln = works.kiln("K1")
    totals = [
        load_energy(works, load, start=lining_after(kiln, cold, hours)).balance.total_kwh for hours in (24.0, 96.0)
    ]
    assert totals[0] < totals[1] < cold.balance.total_kwh


def test_settings_are_passed_on(works: Works, load: Load) -> None:
    """Chemistry, calibration and rule reach the firing."""
    plain = load_energy(works, load)
    damp = load_energy(works, load, chemistry=Chemistry(free_water_share=0.5))
    assert damp.balance.chemistry_kwh > plain.balance.chemistry_kwh
    leaky = load_energy(works, load, calibration=Calibration(leak_air_nm3_h=20.0, readings=3))
    assert leaky.balance.air_kwh > plain.balance.air_kwh
    assert leaky.shares.readings == 3
    assert load_energy(works, load, rule=ShareRule.MASS).shares.rule is ShareRule.MASS


def test_empty_load_has_no_energy_per_kilogram(works: Works, load: Load) -> None:
    """Furniture alone may be fired; nothing is then said per kilogram of ware, and nobody carries it."""
    empty = replace(load, stacks=())
    found = load_energy(works, empty)
    assert found.kwh_per_kg_ware is None
    assert found.shares.unshared_j == found.shares.total_j
