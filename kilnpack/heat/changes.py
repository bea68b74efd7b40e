"""What to change first: the firings of a plan run again with one thing changed, and what that would save.

Firings of one kiln and programme are run as one mean firing from a cold kiln, times their number. A change is run at
the fitted lining and at both ends of its range, so that the saving has a range of its own; money is at the mean price
the firings paid. Savings do not add up: each is reckoned alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, fsum
from typing import TYPE_CHECKING

from kilnpack.heat.calibration import UNCALIBRATED, Calibration
from kilnpack.heat.contents import deck_kg, shelves_kg
from kilnpack.heat.firing import FUEL_OF, fire
from kilnpack.heat.prices import bill, bill_factor
from kilnpack.heat.reactions import chemistry_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from kilnpack.heat.load_energy import LoadEnergy
    from kilnpack.heat.report import EnergyReport, LitLoad
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works

THINNER_SHARE = 0.2
"""How much lighter the shelves of the question are."""
PREHEATED_DEGC = 300.0
LEAN_RATIO, TRIM_RATIO = 1.25, 1.15
"""Air ratios above the first are trimmed to the second where the gas oxidises."""
FULL_SHARE = 0.97
LEAST_RANGE_SHARE = 0.2
"""A difference of two runs is never told closer than this: nobody metered the change (own proposal)."""
LEAST_MONEY_SHARE = 0.002
"""Savings under this share of what all firings cost are not worth a line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanFiring:
    """The firings of one kiln and programme: their number, mean masses, and money and energy in all."""

    kiln: Kiln
    programme: Programme
    count: int
    ware_kg: dict[str, float]
    furniture_kg: dict[str, float]
    shelves_kg: dict[str, float]
    """What of the furniture is shelves, by material."""
    kwh: float
    money: float
    wait_kwh: float = 0.0
    """What all of them would take less, each lit as soon as the load before is out."""
    hour_money: float = 0.0
    """What all of them would cost less, each lit at the cheapest hour of the day."""

    @property
    def money_per_kwh(self) -> float:
        """Mean price paid, by the kWh of the heat balance."""
        return self.money / self.kwh if self.kwh > 0.0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change in words, with what it would save over the firings given: middle and both ends; kWh as billed."""

    name: str
    how: str
    kwh: float
    low_kwh: float
    high_kwh: float
    money: float
    low_money: float
    high_money: float


def mean_firings(
    works: Works,
    lit: Sequence[LitLoad],
    report: EnergyReport,
    prompt: EnergyReport | None = None,
) -> tuple[MeanFiring, ...]:
    """Return the mean firing of every kiln and programme.

    Parameters
    ----------
    lit, report
        The firings, in one order.
    prompt
        The same firings, each lit as soon as the load before is out; None asks nothing of it.
    """
    groups: dict[tuple[str, str], list[int]] = {}
    for number, fired in enumerate(report.firings):
        groups.setdefault((fired.balance.kiln, fired.balance.programme), []).append(number)
    return tuple(
        _mean(works, [lit[k].load for k in numbers], [report.firings[k] for k in numbers],
              [prompt.firings[k] for k in numbers] if prompt else None)
        for _, numbers in sorted(groups.items())
    )  # fmt: skip


def _mean(
    works: Works,
    loads: list[Load],
    firings: list[LoadEnergy],
    prompt: list[LoadEnergy] | None,
) -> MeanFiring:
    kiln = works.kiln(firings[0].balance.kiln)
    money = fsum(fired.bill.money for fired in firings)
    cheapest = fsum(
        min(bill(fired.balance, kiln.energy, start_h=float(hour)).money for hour in range(24)) for fired in firings
    )
    return MeanFiring(
        kiln=kiln,
        programme=works.programme(firings[0].balance.programme),
        count=len(firings),
        ware_kg=_mean_kg([fired.masses.ware_kg for fired in firings]),
        furniture_kg=_mean_kg([fired.masses.furniture_kg for fired in firings]),
        shelves_kg=_mean_kg([shelves_kg(works, load) for load in loads]),
        kwh=fsum(fired.balance.total_kwh for fired in firings),
        money=money,
        wait_kwh=fsum(
            fired.balance.total_kwh - sooner.balance.total_kwh
            for fired, sooner in zip(firings, prompt or firings, strict=True)
        ),
        hour_money=money - cheapest,
    )


def _mean_kg(rows: list[dict[str, float]]) -> dict[str, float]:
    materials = dict.fromkeys(material for row in rows for material in row)
    return {material: fsum(row.get(material, 0.0) for row in rows) / len(rows) for material in materials}


def changes(
    works: Works,
    firings: Sequence[MeanFiring],
    calibrations: Mapping[str, Calibration] | None = None,
    *,
    least_share: float = LEAST_MONEY_SHARE,
    thinner_share: float = THINNER_SHARE,
) -> tuple[Change, ...]:
    """Return the changes that would save something, the greatest saving of money first.

    Parameters
    ----------
    firings
        See `mean_firings`.
    calibrations
        Factors by the code of the kiln.
    least_share
        Savings under this share of what all firings cost are left out.
    thinner_share
        How much lighter the shelves of the question are.
    """
    factors = calibrations or {}
    all_money = fsum(one.money for one in firings)
    found = [
        change
        for one in firings
        for change in _of_firing(works, one, factors.get(one.kiln.code, UNCALIBRATED), thinner_share)
        if change.money >= least_share * all_money and change.money > 0.0
    ]
    return tuple(sorted(found, key=lambda change: -change.money))


def _of_firing(works: Works, one: MeanFiring, calibration: Calibration, thinner_share: float) -> Iterator[Change]:
    where = f"{one.kiln.code} {one.programme.code}"
    for name, how, saved in _questions(works, one, thinner_share):
        found = [saved(each) for each in _ends(one, calibration)]
        share = max(LEAST_RANGE_SHARE, calibration.range_share(one.kiln.energy.kind, one.programme.peak_degc))
        yield _change(one, f"{name}: {where}", how, found, share)
    if one.wait_kwh > 0.0 and one.kiln.cars:
        how = f"all {one.count} firings run again, each lit when the car before is drawn: a warmer lining"
        share = 2.0 * max(LEAST_RANGE_SHARE, calibration.range_share(one.kiln.energy.kind))
        yield _change(one, f"one more car: {where}", how, [one.wait_kwh], share)
    if one.hour_money > 0.0 and one.kiln.energy.night_price_money_per_kwh is not None:
        share = calibration.range_share(one.kiln.energy.kind, one.programme.peak_degc)
        yield Change(
            name=f"light at the cheapest hour: {where}",
            how="the same energy in the night tariff, as far as each firing fits into it",
            kwh=0.0,
            low_kwh=0.0,
            high_kwh=0.0,
            money=one.hour_money,
            low_money=one.hour_money * (1.0 - share),
            high_money=one.hour_money * (1.0 + share),
        )


def _ends(one: MeanFiring, calibration: Calibration) -> list[Calibration]:
    """Return the calibration as fitted, and with the lining at both ends of its range."""
    share = calibration.range_share(one.kiln.energy.kind, one.programme.peak_degc)
    return [
        replace(calibration, lining_factor=calibration.lining_factor * factor)
        for factor in (1.0, 1.0 - share, 1.0 + share)
    ]


def _change(one: MeanFiring, name: str, how: str, found: list[float], share: float) -> Change:
    """Widen what was found at both ends of the lining by what the energy as a whole may be off."""
    low, high = min(found) * (1.0 - share), max(found) * (1.0 + share)
    price, factor = one.money_per_kwh, bill_factor(one.kiln.energy)
    return Change(
        name=name,
        how=how,
        kwh=found[0] * factor,
        low_kwh=low * factor,
        high_kwh=high * factor,
        money=found[0] * price,
        low_money=low * price,
        high_money=high * price,
    )


def _questions(
    works: Works, one: MeanFiring, thinner_share: float
) -> Iterator[tuple[str, str, Callable[[Calibration], float]]]:
    """Yield name, way and the saving over all firings as a function of the calibration."""
    takes = chemistry_of(works.settings, one.programme.stage)

    def total(
        calibration: Calibration,
        kiln: Kiln = one.kiln,
        programme: Programme = one.programme,
        furniture_kg: Mapping[str, float] = one.furniture_kg,
    ) -> float:
        return one.count * fire(kiln, programme, one.ware_kg, furniture_kg, takes, calibration=calibration).total_kwh

    lighter = {
        material: kg - thinner_share * one.shelves_kg.get(material, 0.0) for material, kg in one.furniture_kg.items()
    }
    yield (
        f"shelves {thinner_share:.0%} lighter",
        "the same loads with lighter shelves; the room they would give is not counted; their strength must allow it",
        lambda calibration: total(calibration) - total(calibration, furniture_kg=lighter),
    )
    ware_kg = fsum(one.ware_kg.values())
    fill = ware_kg / one.kiln.usual_ware_kg
    if 0.0 < fill < FULL_SHARE:
        fewer = _fewer(one.count, fill)
        yield (
            "fuller firings",
            f"{one.count} firings at {fill:.0%} of the usual ware joined into {fewer}; dates may not allow it",
            lambda calibration: total(calibration) - _fuller_kwh(works, one, fill, calibration),
        )
    if one.kiln.energy.kind in FUEL_OF:
        warm = replace(one.kiln, energy=replace(one.kiln.energy, air_in_degc=PREHEATED_DEGC))
        if one.kiln.energy.air_in_degc < PREHEATED_DEGC:
            yield (
                f"air for burning at {PREHEATED_DEGC:.0f} °C",
                "heat of the flue given back to the air; burners and controls must be made for it",
                lambda calibration: total(calibration) - total(calibration, kiln=warm),
            )
        trimmed = _trimmed(one.programme)
        if trimmed != one.programme:
            yield (
                f"air ratio at most {TRIM_RATIO:g} in oxidation",
                "less air where the gas oxidises; a measured flue gas and a licensed practitioner come first",
                lambda calibration: total(calibration) - total(calibration, programme=trimmed),
            )


def _trimmed(programme: Programme) -> Programme:
    segments = tuple(
        replace(segment, lambda_factor=TRIM_RATIO)
        if segment.lambda_factor is not None and segment.lambda_factor > LEAN_RATIO
        else segment
        for segment in programme.segments
    )
    return replace(programme, segments=segments)


def _fewer(count: int, fill: float) -> int:
    """Return how many usual loads hold the ware of so many firings."""
    return max(1, ceil(count * fill - 1e-9))


def _fuller_kwh(works: Works, one: MeanFiring, fill: float, calibration: Calibration) -> float:
    """Return the energy of the same ware in fewer firings, whole ones, furniture growing with the ware but the deck."""
    count = _fewer(one.count, fill)
    grown = one.count / count
    deck = deck_kg(one.kiln)
    furniture = {
        material: deck.get(material, 0.0) + (kg - deck.get(material, 0.0)) * grown
        for material, kg in one.furniture_kg.items()
    }
    ware = {material: kg * grown for material, kg in one.ware_kg.items()}
    takes = chemistry_of(works.settings, one.programme.stage)
    return count * fire(one.kiln, one.programme, ware, furniture, takes, calibration=calibration).total_kwh
