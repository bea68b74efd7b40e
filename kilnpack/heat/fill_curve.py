"""What firing costs against how full the kiln is: the model run at several fills, and what a half-empty one wastes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.heat.calibration import UNCALIBRATED, Calibration
from kilnpack.heat.contents import WARE
from kilnpack.heat.firing import fire
from kilnpack.heat.prices import bill
from kilnpack.heat.reactions import chemistry_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme
    from kilnpack.model.settings import WorksSettings

FILLS = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2)
HALF = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class FillPoint:
    """Cost at one fill, a share of the kiln's usual ware; per kilogram of ware. kWh are as billed."""

    fill_share: float
    kwh: float
    money: float
    kwh_per_kg: float
    money_per_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FillCurve:
    """The curve of one kiln and programme; `wasted_*` is what two half loads take more than one usual load."""

    kiln: str
    programme: str
    points: tuple[FillPoint, ...]
    marginal_kwh_per_kg: float
    wasted_kwh: float
    wasted_money: float
    range_share: float


def fill_curve(
    settings: WorksSettings,
    kiln: Kiln,
    programme: Programme,
    furniture_kg: Mapping[str, float],
    fixed_kg: Mapping[str, float],
    *,
    calibration: Calibration = UNCALIBRATED,
    fills: Sequence[float] = FILLS,
) -> FillCurve:
    """Run the model at several fills, from a cold kiln.

    Parameters
    ----------
    furniture_kg
        Shelves, posts and supports by material at the usual fill; as much less as there is less ware.
    fixed_kg
        What is heated whatever stands in the kiln, such as the deck of a car.
    fills
        Shares of the kiln's usual ware.
    """
    takes = chemistry_of(settings, programme.stage)

    def point(fill: float) -> FillPoint:
        ware_kg = kiln.usual_ware_kg * fill
        furniture = dict(fixed_kg)
        for material, kg in furniture_kg.items():
            furniture[material] = furniture.get(material, 0.0) + kg * fill
        balance = fire(kiln, programme, {WARE: ware_kg}, furniture, takes, calibration=calibration)
        charged = bill(balance, kiln.energy)
        return FillPoint(
            fill_share=fill,
            kwh=charged.billed_kwh,
            money=charged.money,
            kwh_per_kg=charged.billed_kwh / ware_kg,
            money_per_kg=charged.money / ware_kg,
        )

    usual, half = point(1.0), point(HALF)
    more = point(1.01)
    return FillCurve(
        kiln=kiln.code,
        programme=programme.code,
        points=tuple(point(fill) for fill in fills),
        marginal_kwh_per_kg=(more.kwh - usual.kwh) / (0.01 * kiln.usual_ware_kg),
        wasted_kwh=2.0 * half.kwh - usual.kwh,
        wasted_money=2.0 * half.money - usual.money,
        range_share=calibration.range_share(kiln.energy.kind, programme.peak_degc),
    )
