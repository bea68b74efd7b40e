"""From the energy of a row of firings to the rows of the owner's page. Money is told apart as the heat is."""

from __future__ import annotations

import re
from math import fsum, prod
from typing import TYPE_CHECKING

from kilnpack.heat.firing import FUEL_OF
from kilnpack.heat.prices import bill_factor
from kilnpack.sheets.dear_words import dear_words
from kilnpack.sheets.owner_values import (
    CostStep,
    FiringCost,
    KilnSplit,
    LineEnergy,
    MonthCost,
    OwnerRows,
    ProductCost,
)
from kilnpack.sheets.ranges import told

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.heat.changes import Change
    from kilnpack.heat.fill_curve import FillCurve
    from kilnpack.heat.load_energy import LoadEnergy
    from kilnpack.heat.per_piece import GoodPiece
    from kilnpack.heat.report import EnergyReport
    from kilnpack.model.pieces import Product
    from kilnpack.model.works import Works
    from kilnpack.sheets.owner_values import FurnitureUse, PlaceLoss

PARTS = (
    ("ware", "ware_kwh"),
    ("chemistry of the ware", "chemistry_kwh"),
    ("furniture", "furniture_kwh"),
    ("lining", "lining_kwh"),
    ("walls", "walls_kwh"),
    ("leak air", "air_kwh"),
    ("flue", "flue_kwh"),
    ("slow cooling", "cooling_kwh"),
)
"""Steps of the waterfall and the parts of the heat balance they stand for."""


def owner_rows(  # noqa: PLR0913 - each is a part of the page that may be left out
    works: Works,
    report: EnergyReport,
    firings: Sequence[str],
    *,
    title: str = "What firing costs",
    extra: Sequence[CostStep] = (),
    curves: Sequence[FillCurve] = (),
    changes: Sequence[Change] = (),
    furniture: Sequence[FurnitureUse] = (),
    losses: Sequence[PlaceLoss] = (),
    more_remarks: Sequence[str] = (),
) -> OwnerRows:
    """Return the rows of the owner's page.

    Parameters
    ----------
    report
        Energy of the firings, in the order of `firings`, their codes.
    extra
        Cost that is not energy, such as people; put after the energy in the waterfall.
    curves, changes
        Cost against fill, and what to change first.
    furniture, losses
        Shelves with their firings, and losses by place once they are recorded.
    """
    return OwnerRows(
        title=title,
        works=works.name,
        currency=works.settings.currency,
        made=works.now,
        steps=(*_steps(report), *extra),
        products=tuple(_product(works, report, row) for row in report.products),
        firings=firing_costs(works, report, firings),
        order_lines=tuple(
            LineEnergy(
                line=row.line or "",
                kwh=row.billed_kwh,
                money=row.money,
                co2_kg=row.co2_kg,
                handling_money=row.handling_money,
            )
            for row in report.order_lines
        ),
        months=tuple(
            MonthCost(
                month=row.month,
                firings=row.firings,
                ware_kg=row.ware_kg,
                kwh=row.billed_kwh,
                money=row.money,
                co2_kg=row.co2_kg,
                demand_money=row.demand_money,
            )
            for row in report.months
        ),
        splits=_splits(report),
        curves=tuple(curves),
        changes=tuple(changes),
        furniture=tuple(furniture),
        losses=tuple(losses),
        range_share=report.range_share,
        readings=report.readings,
        remarks=(*_all_remarks(works, report), *more_remarks),
    )


def firing_costs(works: Works, report: EnergyReport, firings: Sequence[str]) -> tuple[FiringCost, ...]:
    """Return what each firing takes; `firings` are their codes in the order of the report."""
    return tuple(_firing(works, code, fired) for code, fired in zip(firings, report.firings, strict=True))


def _all_remarks(works: Works, report: EnergyReport) -> tuple[str, ...]:
    unshared_kwh = told(
        fsum(fired.shares.unshared_kwh * fired.bill.factor for fired in report.firings), report.range_share
    )
    unshared = f"{unshared_kwh} kWh were taken by firings that carry no ware of an order or of stock"
    return (
        f"What a lot's own mass takes it carries itself; the rest is shared by {report.rule.value}",
        _basis(works, report),
        f"Not in it: {report.not_in_it}, demand charges, glaze and colours, hands outside loading and unloading, rent",
        "The price counts what the seconds bring that come beside each good piece",
        *((unshared,) if report.unshared_kwh > 0.5 else ()),
        *_remarks(report),
    )


def _basis(works: Works, report: EnergyReport) -> str:
    """What the kWh of the page are, kiln by kiln."""
    kilns = [works.kiln(code) for code in sorted({fired.balance.kiln for fired in report.firings})]
    words = [
        f"{kiln.code} by the {kiln.energy.basis} calorific value"
        + (f" ({bill_factor(kiln.energy):.2f} times net)" if bill_factor(kiln.energy) > 1.0 else "")
        for kiln in kilns
        if kiln.energy.kind in FUEL_OF
    ]
    return f"kWh are as billed: electric energy, gas of {', '.join(words)}" if words else "kWh are electric energy"


def _remarks(report: EnergyReport) -> tuple[str, ...]:
    """Remarks of the balances, each once for a kiln and programme, whatever its figures."""
    told: dict[tuple[str, str, str], str] = {}
    for fired in report.firings:
        balance = fired.balance
        for remark in balance.remarks:
            key = (balance.kiln, balance.programme, re.sub(r"[\d.,]+", "", remark))
            told.setdefault(key, f"{balance.kiln}, {balance.programme}: {remark}")
    return tuple(told.values())


def _steps(report: EnergyReport) -> tuple[CostStep, ...]:
    """Every bill told apart in proportion to the parts of its heat; parts that are nothing are left out."""
    steps = []
    for name, field in PARTS:
        money = fsum(
            fired.bill.money * getattr(fired.balance, field) / fired.balance.total_kwh
            for fired in report.firings
            if fired.balance.total_kwh > 0
        )
        if money:
            steps.append(CostStep(name=name, money=money, range_share=report.range_share))
    return tuple(steps)


def _splits(report: EnergyReport) -> tuple[KilnSplit, ...]:
    """Where the energy of each kiln went, parts that are nothing anywhere left out."""
    kilns = sorted({fired.balance.kiln for fired in report.firings})
    table = {
        kiln: [
            fsum(getattr(one.balance, field) for one in report.firings if one.balance.kiln == kiln)
            for _, field in PARTS
        ]
        for kiln in kilns
    }
    used = [k for k in range(len(PARTS)) if any(rows[k] > 0.0 for rows in table.values())]
    return tuple(KilnSplit(kiln=kiln, parts=tuple((PARTS[k][0], table[kiln][k]) for k in used)) for kiln in kilns)


def _firing(works: Works, code: str, fired: LoadEnergy) -> FiringCost:
    ware_kg = fsum(fired.masses.ware_kg.values())
    return FiringCost(
        firing=code,
        kiln=fired.balance.kiln,
        programme=fired.balance.programme,
        pieces=sum(share.pieces for share in fired.shares.shares),
        ware_kg=ware_kg,
        furniture_kg=fsum(fired.masses.furniture_kg.values()),
        energy_kwh=fired.bill.billed_kwh,
        money=fired.bill.money,
        co2_kg=fired.bill.co2_kg,
        fill_share=ware_kg / works.kiln(fired.balance.kiln).usual_ware_kg,
    )


def _product(works: Works, report: EnergyReport, piece: GoodPiece) -> ProductCost:
    product = works.product(piece.product)
    without = ", ".join(product.route[step].programme for step in piece.missing)
    return ProductCost(
        product=product.code,
        name=product.name,
        good_pieces=_good_pieces(works, report, piece.product),
        kwh_per_good=piece.billed_kwh,
        money_per_good=piece.money,
        co2_kg_per_good=piece.co2_kg,
        price_money=_takings_money(product),
        marginal_kwh_per_good=piece.marginal_billed_kwh,
        usual_kwh_per_good=piece.usual_billed_kwh,
        marginal_money_per_good=piece.marginal_money,
        usual_money_per_good=piece.usual_money,
        handling_money_per_good=piece.handling_money,
        why=dear_words(product, piece, report.products),
        without=without,
    )


def _takings_money(product: Product) -> float:
    """Return what is taken for each good piece: its price, and what the seconds that come beside it bring."""
    firsts, seconds = 1.0, 0.0
    for step in product.route:
        seconds += firsts * step.second_share
        firsts *= 1.0 - step.scrap_share - step.second_share
    return product.price_money + (product.second_price_money * seconds / firsts if firsts > 0 else 0.0)


def _good_pieces(works: Works, report: EnergyReport, code: str) -> float:
    """Good pieces to be expected of those in the furthest firing of their route that the report holds."""
    shares = [share for fired in report.firings for share in fired.shares.shares if share.product == code]
    last = max((share.step for share in shares), default=0)
    yields = [1.0 - step.scrap_share - step.second_share for step in works.product(code).route[last:]]
    return sum(share.pieces for share in shares if share.step == last) * prod(yields)
