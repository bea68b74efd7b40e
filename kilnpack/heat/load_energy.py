"""The energy of one load: masses taken from the load, fired, billed and shared out."""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum
from typing import TYPE_CHECKING

from kilnpack.heat.balance import HeatBalance  # noqa: TC001 - types of fields are read at run time to save them
from kilnpack.heat.calibration import UNCALIBRATED, Calibration
from kilnpack.heat.contents import WARE, LoadMasses, load_masses, placed_lots
from kilnpack.heat.cooling import left_standing
from kilnpack.heat.firing import fire, kwh_per_kg
from kilnpack.heat.prices import Bill, bill
from kilnpack.heat.reactions import Chemistry, chemistry_of
from kilnpack.heat.sharing import EnergyShares, share_energy

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.heat.lining import LiningState
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.settings import ShareRule
    from kilnpack.model.works import Works


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadEnergy:
    """What one load takes, costs and emits, and who carries it."""

    masses: LoadMasses
    balance: HeatBalance
    bill: Bill
    shares: EnergyShares

    @property
    def kwh_per_kg_ware(self) -> float | None:
        """Energy per kilogram of ware, kWh/kg; None where there is no ware."""
        ware_kg = fsum(self.masses.ware_kg.values())
        return self.balance.total_kwh / ware_kg if ware_kg > 0.0 else None


def load_energy(
    works: Works,
    load: Load,
    *,
    lots: Iterable[Lot] | None = None,
    start: LiningState | None = None,
    start_h: float = 6.0,
    chemistry: Chemistry | None = None,
    calibration: Calibration = UNCALIBRATED,
    rule: ShareRule | None = None,
) -> LoadEnergy:
    """Fire a load and share its energy out.

    Parameters
    ----------
    works, load
        Codes of the load are looked up in the works.
    lots
        Lots the load's fills name; None are those of the works.
    start
        State of the lining left by the firing before (see `lining_after`); None is a cold kiln.
    start_h
        Hour of the day at which the fire is lit.
    chemistry
        Of the ware; None takes that of the works' settings for the stage.
    calibration
        Factors of the kiln.
    rule
        How the energy that no single lot causes is shared; None takes the works' settings.

    Raises
    ------
    InputFaulty
        The kiln's lining or air does not let its heat be computed.
    """
    kiln, programme = works.kiln(load.kiln), works.programme(load.programme)
    takes = chemistry_of(works.settings, load.stage) if chemistry is None else chemistry
    masses = load_masses(works, load)
    balance = fire(kiln, programme, masses.ware_kg, masses.furniture_kg, takes, start=start, calibration=calibration)
    charged = bill(balance, kiln.energy, start_h=start_h)
    shares = share_energy(
        balance,
        placed_lots(works, load, lots),
        kwh_per_kg(kiln, programme, WARE, takes, calibration=calibration),
        charged,
        rule=works.settings.share_rule if rule is None else rule,
        usual_ware_kg=kiln.usual_ware_kg,
    )
    return LoadEnergy(masses=masses, balance=balance, bill=charged, shares=shares)


def lining_after(kiln: Kiln, fired: LoadEnergy, idle_h: float) -> LiningState:
    """Return the state of the lining so many hours after a firing, its load still inside.

    A drawn car lets the chamber cool faster than this; the lining then starts the next firing cooler than said.
    """
    return left_standing(kiln, fired.balance.end, fired.masses.all_kg, idle_h)
