"""From the tables of what a works measured to readings the fits take."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from kilnpack.heat.contents import WARE, deck_kg, stored_material
from kilnpack.heat.cooling import left_standing
from kilnpack.heat.cooling_fit import RecordedCooling
from kilnpack.heat.firing import FUEL_OF, fire
from kilnpack.heat.fuels import gross_over_net
from kilnpack.heat.prices import bill_factor
from kilnpack.heat.reactions import chemistry_of
from kilnpack.heat.readings import Reading

if TYPE_CHECKING:
    from kilnpack.heat.lining import LiningState
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.measured import CoolingReading, MeterReading
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works


def meter_readings(works: Works, kiln: Kiln) -> tuple[Reading, ...]:
    """Return the metered firings of a kiln, energy as net calorific value, each with the start it had."""
    return tuple(_reading(works, kiln, row) for row in works.measured.meter if row.kiln == kiln.code)


def _reading(works: Works, kiln: Kiln, row: MeterReading) -> Reading:
    programme = works.programme(row.programme)
    ware_kg, furniture_kg = {WARE: row.ware_kg}, furniture_of(works, kiln, row.furniture_kg)
    return Reading(
        programme=programme,
        ware_kg=ware_kg,
        furniture_kg=furniture_kg,
        chemistry=chemistry_of(works.settings, programme.stage),
        metered_kwh=net_kwh(kiln, row),
        start=None if row.before is None else _start(works, kiln, row, ware_kg | furniture_kg),
    )


def _start(works: Works, kiln: Kiln, row: MeterReading, contents_kg: dict[str, float]) -> LiningState:
    """Return the lining as the firing before left it, taken to have held the same, from cold."""
    before = _fired(works, kiln, works.programme(row.before or row.programme), row.ware_kg, row.furniture_kg)
    return left_standing(kiln, before, contents_kg, row.stood_h or 0.0)


def _fired(works: Works, kiln: Kiln, programme: Programme, ware_kg: float, furniture_kg: float) -> LiningState:
    takes = chemistry_of(works.settings, programme.stage)
    return fire(kiln, programme, {WARE: ware_kg}, furniture_of(works, kiln, furniture_kg), takes).end


def net_kwh(kiln: Kiln, row: MeterReading) -> float:
    """Return a reading in kWh of the heat balance: electric, or gas as net calorific value."""
    if row.metered_kwh is not None:
        return row.metered_kwh / bill_factor(kiln.energy)
    gross_kwh = (row.metered_m3 or 0.0) * (row.gross_kwh_per_m3 or 0.0)
    return gross_kwh / gross_over_net(FUEL_OF[kiln.energy.kind])


def furniture_of(works: Works, kiln: Kiln, furniture_kg: float) -> dict[str, float]:
    """Return weighed furniture by material: that of the kiln's first shelf, and the deck of its first car beside."""
    shelves = {shelf.code: shelf.material for shelf in works.furniture.shelves}
    found = {stored_material(shelves.get(kiln.places[0].shelf, "")): furniture_kg}
    for material, kg in deck_kg(kiln).items():
        found[material] = found.get(material, 0.0) + kg
    return found


def recorded_coolings(works: Works, kiln: Kiln) -> tuple[RecordedCooling, ...]:
    """Return the recorded coolings of a kiln, each from the state its firing ended in."""
    rows = sorted((row for row in works.measured.coolings if row.kiln == kiln.code), key=_cooling_key)
    return tuple(_cooling(works, kiln, list(group)) for _, group in groupby(rows, key=_cooling_key))


def _cooling_key(row: CoolingReading) -> tuple[object, ...]:
    return row.fired_on, row.programme, row.ware_kg, row.furniture_kg


def _cooling(works: Works, kiln: Kiln, rows: list[CoolingReading]) -> RecordedCooling:
    first = rows[0]
    furniture = furniture_of(works, kiln, first.furniture_kg)
    return RecordedCooling(
        start=_fired(works, kiln, works.programme(first.programme), first.ware_kg, first.furniture_kg),
        contents_kg={WARE: first.ware_kg, **furniture},
        readings=tuple(sorted((row.after_h, row.chamber_degc) for row in rows)),
    )
