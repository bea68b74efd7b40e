"""Energy of a row of firings: warm starts handed on, sums by product and order line, figures with honest digits."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime  # noqa: TC003 - types of fields are read at run time to save them
from math import floor, fsum, log10
from typing import TYPE_CHECKING

from kilnpack.heat.calibration import UNCALIBRATED, Calibration
from kilnpack.heat.load_energy import LoadEnergy, lining_after, load_energy
from kilnpack.heat.per_piece import GoodPiece, LineShare, by_order_line, good_piece
from kilnpack.model.loads import Load  # noqa: TC001 - types of fields are read at run time to save them
from kilnpack.model.orders import hours_between
from kilnpack.model.settings import ShareRule  # noqa: TC001 - types of fields are read at run time to save them

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.heat.lining import LiningState
    from kilnpack.heat.sharing import EnergyShare
    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works

NOT_IN_IT = "dryers, fans, pilots, afterburners, compressed air"
TWO_DIGITS_BELOW = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LitLoad:
    """A load and when its fire is lit."""

    load: Load
    lit_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthEnergy:
    """What the firings lit in one month take; `demand_money` is what the month's highest peak of each kiln costs."""

    month: str
    firings: int
    ware_kg: float
    kwh: float
    money: float
    co2_kg: float
    demand_money: float
    billed_kwh: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Handling:
    """Cost of one firing beside its energy: hands by pieces; shelves (hands, cleaning, wear) by shares of energy."""

    by_pieces_money: float
    by_energy_money: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyReport:
    """Energy, money and carbon of a row of firings.

    `firings` are in the order of the loads given, `products` and `order_lines` in order of their codes; kWh of gas are
    net. `unshared_kwh` is what loads without a carrying lot took. `range_share` is the widest of the firings.
    """

    rule: ShareRule
    firings: tuple[LoadEnergy, ...]
    products: tuple[GoodPiece, ...]
    order_lines: tuple[LineShare, ...]
    months: tuple[MonthEnergy, ...]
    total_kwh: float
    money: float
    co2_kg: float
    unshared_kwh: float
    range_share: float
    readings: int
    not_in_it: str = NOT_IN_IT

    @property
    def billed_kwh(self) -> float:
        """Energy of all firings as the bills count it, kWh."""
        return fsum(fired.bill.billed_kwh for fired in self.firings)


def energy_report(
    works: Works,
    lit: Sequence[LitLoad],
    *,
    lots: Sequence[Lot] | None = None,
    calibrations: Mapping[str, Calibration] | None = None,
    rule: ShareRule | None = None,
) -> EnergyReport:
    """Fire loads one after the other and sum up what they take.

    Parameters
    ----------
    works
        Where the codes of the loads are looked up.
    lit
        Loads with the moment each is lit, in any order. The first one of a kiln starts cold, the next ones with the
        lining as the one before left it, its load inside until then.
    lots
        Lots the loads name; None are those of the works.
    calibrations
        Factors by the code of the kiln.
    rule
        How the energy that no single lot causes is shared; None takes the works' settings.

    Raises
    ------
    InputFaulty
        The lining or air of a kiln does not let its heat be computed.
    """
    factors = {} if calibrations is None else calibrations
    chosen = works.settings.share_rule if rule is None else rule
    found: dict[int, LoadEnergy] = {}
    before: dict[str, tuple[datetime, LoadEnergy]] = {}
    for number in sorted(range(len(lit)), key=lambda i: lit[i].lit_at):
        one = lit[number]
        code = one.load.kiln
        found[number] = load_energy(
            works,
            one.load,
            lots=lots,
            start=_start(works, one, before.get(code)),
            start_h=one.lit_at.hour + one.lit_at.minute / 60.0,
            calibration=factors.get(code, UNCALIBRATED),
            rule=chosen,
        )
        before[code] = (one.lit_at, found[number])
    return _summed(works, lit, tuple(found[number] for number in range(len(lit))), chosen)


def _start(works: Works, lit: LitLoad, before: tuple[datetime, LoadEnergy] | None) -> LiningState | None:
    if before is None:
        return None
    lit_before, fired = before
    idle_h = hours_between(lit_before, lit.lit_at) - fired.balance.fire_h
    return lining_after(works.kiln(lit.load.kiln), fired, max(0.0, idle_h))


def with_handling(works: Works, report: EnergyReport, handling: Sequence[Handling]) -> EnergyReport:
    """Return the report with other cost shared out beside the energy, firing by firing in its order."""
    firings = tuple(_handled(fired, one) for fired, one in zip(report.firings, handling, strict=True))
    shares = [share for fired in firings for share in fired.shares.shares]
    return replace(
        report,
        firings=firings,
        products=tuple(good_piece(works.product(one.product), shares, one.range_share) for one in report.products),
        order_lines=by_order_line(shares),
    )


def _handled(fired: LoadEnergy, handling: Handling) -> LoadEnergy:
    rows = fired.shares.shares
    pieces, joules = sum(row.pieces for row in rows), sum(row.energy_j for row in rows)
    shares = tuple(
        replace(
            row,
            handling_money=handling.by_pieces_money * row.pieces / pieces
            + (handling.by_energy_money * row.energy_j / joules if joules else 0.0),
        )
        for row in rows
    )
    return replace(fired, shares=replace(fired.shares, shares=shares))


def _months(lit: Sequence[LitLoad], firings: tuple[LoadEnergy, ...]) -> tuple[MonthEnergy, ...]:
    rows: dict[str, list[LoadEnergy]] = {}
    for one, fired in sorted(zip(lit, firings, strict=True), key=lambda row: row[0].lit_at):
        rows.setdefault(f"{one.lit_at:%Y-%m}", []).append(fired)
    return tuple(_month(month, found) for month, found in rows.items())


def _month(month: str, firings: list[LoadEnergy]) -> MonthEnergy:
    demand: dict[str, float] = {}
    for fired in firings:
        kiln = fired.balance.kiln
        demand[kiln] = max(demand.get(kiln, 0.0), fired.bill.demand_money)
    return MonthEnergy(
        month=month,
        firings=len(firings),
        ware_kg=fsum(kg for fired in firings for kg in fired.masses.ware_kg.values()),
        kwh=fsum(fired.balance.total_kwh for fired in firings),
        money=fsum(fired.bill.money for fired in firings),
        co2_kg=fsum(fired.bill.co2_kg for fired in firings),
        demand_money=fsum(demand.values()),
        billed_kwh=fsum(fired.bill.billed_kwh for fired in firings),
    )


def _summed(works: Works, lit: Sequence[LitLoad], firings: tuple[LoadEnergy, ...], rule: ShareRule) -> EnergyReport:
    shares: list[EnergyShare] = [share for fired in firings for share in fired.shares.shares]
    range_share = max((fired.balance.range_share for fired in firings), default=0.0)
    named = {share.product for share in shares}
    return EnergyReport(
        rule=rule,
        firings=firings,
        products=tuple(good_piece(works.product(code), shares, range_share) for code in sorted(named)),
        order_lines=by_order_line(shares),
        months=_months(lit, firings),
        total_kwh=fsum(fired.balance.total_kwh for fired in firings),
        money=fsum(fired.bill.money for fired in firings),
        co2_kg=fsum(fired.bill.co2_kg for fired in firings),
        unshared_kwh=fsum(fired.shares.unshared_kwh for fired in firings),
        range_share=range_share,
        readings=min((fired.balance.readings for fired in firings), default=0),
    )


def with_range(value: float, range_share: float) -> tuple[float, float, float]:
    """Return a figure with its low and high end, all with no more digits than the half width of the range allows.

    The half width keeps two digits where it begins with 1 or 2, else one: 772 +- 15 % is 660, 770, 890.
    """
    half = abs(value) * range_share
    if half <= 0.0:
        return value, value, value
    place = floor(log10(half))
    digits = -place + (1 if half / 10.0**place < TWO_DIGITS_BELOW else 0)
    low, middle, high = (round(at, digits) for at in (value - half, value, value + half))
    return low, middle, high
