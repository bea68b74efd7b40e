"""What a firing takes before its load is fired in the heat model: the empty kiln's energy and so much a kilogram.

It is for telling plans apart while they are made. Kilns count as cold when they are lit, furniture as of the commonest
material of the works' shelves; the energy that a plan is given in the end follows the linings from firing to firing.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from functools import lru_cache
from typing import TYPE_CHECKING

from kilnpack.errors import InputFaulty
from kilnpack.heat.calibration import UNCALIBRATED
from kilnpack.heat.contents import WARE, deck_kg, stored_material
from kilnpack.heat.firing import fire, kwh_per_kg
from kilnpack.heat.reactions import Chemistry, chemistry_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from kilnpack.heat.calibration import Calibration
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.planning.firings import Fired


@lru_cache(maxsize=512)
def firing_line(
    kiln: Kiln, programme: Programme, chemistry: Chemistry, shelf: str, calibration: Calibration
) -> tuple[float, float, float]:
    """Return what a firing takes with nothing set but the car's deck, kWh, and for a kg of ware and of furniture, kWh.

    Parameters
    ----------
    kiln, programme, calibration
        As for `kilnpack.heat.firing.fire`.
    chemistry
        Of the ware.
    shelf
        Material of the furniture, as in the heat tables.

    Raises
    ------
    InputFaulty
        The kiln states no lining or an unknown material, or its flame cannot reach the peak.
    """
    bare = fire(kiln, programme, {}, deck_kg(kiln), Chemistry(), calibration=calibration).total_kwh
    ware = kwh_per_kg(kiln, programme, WARE, chemistry, calibration=calibration)
    return bare, ware, kwh_per_kg(kiln, programme, shelf, calibration=calibration)


def shelf_material(works: Works) -> str:
    """Return the material of the most kilograms of shelves the works has, as in the heat tables."""
    kg: Counter[str] = Counter()
    for shelf in works.furniture.shelves:
        kg[stored_material(shelf.material)] += round(1000.0 * shelf.mass_kg * shelf.sound_pieces)
    return max(kg, key=lambda name: (kg[name], name)) if kg else stored_material("")


def bare_kwh(works: Works, kiln: Kiln, programme: Programme) -> float | None:
    """Return what a firing with nothing set takes, kWh; None where the heat of the kiln cannot be computed."""
    chemistry = chemistry_of(works.settings, programme.stage)
    try:
        return firing_line(kiln, programme, chemistry, shelf_material(works), UNCALIBRATED)[0]
    except InputFaulty:
        return None


def firings_kwh(works: Works, fired: Iterable[Fired], calibrations: Mapping[str, Calibration]) -> float | None:
    """Return about what firings take together, kWh; None where the heat of one of their kilns cannot be computed."""
    rows: dict[tuple[str, str], list[Fired]] = defaultdict(list)
    for one in fired:
        rows[one.kiln.code, one.programme.code].append(one)
    shelf, total = shelf_material(works), 0.0
    for some in rows.values():
        kiln, programme = some[0].kiln, some[0].programme
        chemistry = chemistry_of(works.settings, programme.stage)
        try:
            bare, ware, furniture = firing_line(
                kiln, programme, chemistry, shelf, calibrations.get(kiln.code, UNCALIBRATED)
            )
        except InputFaulty:
            return None
        total += len(some) * bare
        total += sum(ware * one.packed.ware_kg + furniture * one.packed.furniture_kg for one in some)
    return total
