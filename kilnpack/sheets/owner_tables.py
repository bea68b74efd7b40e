"""Tables and sentences of the owner's page as text, every figure with no more digits than its range allows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.sheets.owner_values import mixed_range
from kilnpack.sheets.ranges import plain_range, shared_range, span, told
from kilnpack.sheets.words import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from kilnpack.heat.changes import Change
    from kilnpack.sheets.owner_values import OwnerRows, ProductCost

PRODUCT_HEADINGS = (
    "product", "name", "good pieces", "kWh a good piece: its share", "at usual fill", "one more piece",
    "energy costs", "with hands and wear", "CO₂ kg", "price", "cost share of price",
)  # fmt: skip
DEAR_HEADINGS = ("product", "costs", "at usual fill", "why")
LINE_HEADINGS = ("order line", "kWh", "cost", "CO₂ kg")
MONTH_HEADINGS = ("month", "firings", "ware kg", "kWh", "energy costs", "CO₂ kg", "kWh a kg ware", "demand charge")
FIRING_HEADINGS = (
    "firing", "kiln", "programme", "pieces", "ware kg", "fill", "furniture kg", "kWh", "cost", "CO₂ kg",
    "kWh a kg ware",
)  # fmt: skip
CHANGE_HEADINGS = ("what", "saves", "range", "kWh", "how it was reckoned")
FILL_HEADINGS = (
    "kiln", "programme", "kWh a kg, usual fill", "half empty", "one more kg", "two half loads cost more by",
)  # fmt: skip
FURNITURE_HEADINGS = ("shelf", "name", "sound", "firings seen", "tiers in this plan", "firings after it")
WORDY = (DEAR_HEADINGS[-1], CHANGE_HEADINGS[-1])
"""Last columns that hold words."""
MOST_DEAR = 10
MOST_CHANGES = 12


def summary(rows: OwnerRows) -> list[str]:
    """Energy, money and CO2 of all firings, and what they come to for a good piece."""
    kwh = sum(row.energy_kwh for row in rows.firings)
    money = sum(step.money for step in rows.steps)
    good = sum(row.good_pieces for row in rows.products)
    co2_kg = sum(row.co2_kg for row in rows.firings)
    share, money_share = rows.range_share, shared_range(rows.steps)
    about = "about " if share > 0 else ""
    between = f" ({span(kwh, share)})" if share > 0 else ""
    firings = counted(len(rows.firings), "firing", "firings")
    all_money, all_co2 = told(money, money_share), told(co2_kg, share, decimals=0)
    energy = f"{about}{told(kwh, share, decimals=0)} kWh{between}"
    lines = [f"{firings}: {energy}, {all_money} {rows.currency}, {all_co2} kg CO₂"]
    whole = [row for row in rows.products if not row.without]
    if good and len(whole) == len(rows.products):
        lines.append(
            f"{good:,.0f} good pieces expected: {told(kwh / good, share)} kWh and "
            f"{told(money / good, money_share)} {rows.currency} each"
        )
    if share > 0:
        fitted = f"fitted to {counted(rows.readings, 'meter reading', 'meter readings')}"
        basis = fitted if rows.readings else "not yet fitted to the works' own meter (0 readings)"
        lines.append(f"Energy is {basis}: it may be off by {share:.0%} either way, and so may money and CO₂")
        lines.append("Figures are rounded as that range allows; the steps are added up before they are rounded")
    return lines


PRODUCT_ORDERS: dict[str, tuple[str, Callable[[ProductCost], tuple[float, str]]]] = {
    "in all": ("costs most in all first", lambda row: (-row.money_per_good * row.good_pieces, row.product)),
    "a piece": ("dearest piece first", lambda row: (-row.all_money_per_good, row.product)),
    "energy": ("most energy a piece first", lambda row: (-row.kwh_per_good, row.product)),
    "share": (
        "largest cost share of the price first",
        lambda row: (-row.all_money_per_good / row.price_money if row.price_money > 0 else 0.0, row.product),
    ),
    "pieces": ("most pieces first", lambda row: (-row.good_pieces, row.product)),
    "code": ("by code", lambda row: (0.0, row.product)),
}
"""Orders of the table of products: words, and what is compared."""


def products(rows: OwnerRows, order: str = "in all") -> list[list[str]]:
    """Every product in one of `PRODUCT_ORDERS`, usually the one that costs most in all first."""
    share = rows.range_share
    ordered = sorted(rows.products, key=PRODUCT_ORDERS[order][1])
    return [
        [
            row.product,
            f"{row.name} (without {row.without})" if row.without else row.name,
            f"{row.good_pieces:,.0f}",
            told(row.kwh_per_good, share),
            told(row.usual_kwh_per_good, share),
            told(row.marginal_kwh_per_good, share),
            told(row.money_per_good, share),
            told(row.all_money_per_good, _range(rows, row)),
            told(row.co2_kg_per_good, share),
            f"{row.price_money:.2f}",
            f"{told(100 * row.all_money_per_good / row.price_money, _range(rows, row), decimals=0)} %"
            if row.price_money > 0
            else "–",
        ]
        for row in ordered
    ]


def dearest(rows: OwnerRows) -> list[list[str]]:
    """The dearest products by what a good piece costs, and why."""
    ordered = sorted(rows.products, key=lambda row: (-row.all_money_per_good, row.product))
    return [
        [f"{row.product} {row.name}", _cost(rows, row), told(_usual_money(row), _range(rows, row)), row.why]
        for row in ordered[:MOST_DEAR]
    ]


def _cost(rows: OwnerRows, row: ProductCost) -> str:
    money, share = row.all_money_per_good, _range(rows, row)
    return f"{told(money, share)} ({span(money, share)})" if share > 0 else told(money, share)


def _range(rows: OwnerRows, row: ProductCost) -> float:
    return mixed_range(row.money_per_good, row.handling_money_per_good, rows.range_share)


def _usual_money(row: ProductCost) -> float:
    return row.usual_money_per_good + row.handling_money_per_good


def lines(rows: OwnerRows) -> list[list[str]]:
    """Order lines, the largest first; their cost is energy, hands and wear."""
    share = rows.range_share
    ordered = sorted(rows.order_lines, key=lambda row: (-row.kwh, row.line))
    return [
        [
            row.line or "stock",
            told(row.kwh, share, decimals=0),
            told(row.money + row.handling_money, mixed_range(row.money, row.handling_money, share)),
            told(row.co2_kg, share, decimals=0),
        ]
        for row in ordered
    ]


def months(rows: OwnerRows) -> list[list[str]]:
    """Every month in which a fire was lit."""
    share = rows.range_share
    return [
        [
            row.month,
            str(row.firings),
            f"{row.ware_kg:,.0f}",
            told(row.kwh, share, decimals=0),
            told(row.money, share),
            told(row.co2_kg, share, decimals=0),
            told(row.kwh / row.ware_kg, share, decimals=1) if row.ware_kg > 0 else "–",
            told(row.demand_money, share) if row.demand_money > 0 else "–",
        ]
        for row in rows.months
    ]


def firings(rows: OwnerRows) -> list[list[str]]:
    """Every firing in the order of the plan."""
    share = rows.range_share
    return [
        [
            row.firing,
            row.kiln,
            row.programme,
            f"{row.pieces:,d}",
            f"{row.ware_kg:,.0f}",
            f"{row.fill_share:.0%}",
            f"{row.furniture_kg:,.0f}",
            told(row.energy_kwh, share, decimals=0),
            told(row.money, share),
            told(row.co2_kg, share, decimals=0),
            told(row.energy_kwh / row.ware_kg, share, decimals=1) if row.ware_kg > 0 else "–",
        ]
        for row in rows.firings
    ]


def change_rows(rows: OwnerRows) -> list[list[str]]:
    """What to change first: the saving of the plan's firings, with the range that the model allows."""
    return [_change(rows.currency, row) for row in rows.changes[:MOST_CHANGES]]


def _change(currency: str, row: Change) -> list[str]:
    low, middle, high = plain_range(row.low_money, row.money, row.high_money)
    kwh = plain_range(row.low_kwh, row.kwh, row.high_kwh)[1] if row.kwh else "–"
    return [row.name, f"{middle} {currency}", f"{low} to {high}", kwh, row.how]


def fill_rows(rows: OwnerRows) -> list[list[str]]:
    """What half-empty firings cost."""
    found = []
    for curve in rows.curves:
        usual = next(point for point in curve.points if point.fill_share == 1.0)
        half = next(point for point in curve.points if point.fill_share == 0.5)
        share = curve.range_share
        found.append(
            [
                curve.kiln,
                curve.programme,
                told(usual.kwh_per_kg, share),
                told(half.kwh_per_kg, share),
                told(curve.marginal_kwh_per_kg, share),
                f"{told(curve.wasted_money, share)} {rows.currency} ({span(curve.wasted_money, share)})",
            ]
        )
    return found


def furniture(rows: OwnerRows) -> list[list[str]]:
    """Shelves with the firings they have seen and will have seen."""
    return [
        [
            row.shelf,
            row.name,
            str(row.stock_pieces),
            f"{row.seen_firings:.0f}",
            f"{row.tiers:,d}",
            f"{row.after_firings:.1f}",
        ]
        for row in rows.furniture
    ]


def blocks(rows: OwnerRows) -> list[tuple[str, str, Sequence[str], list[list[str]], int]]:
    """Return heading, a sentence under it, headings, rows and number of text columns of every table that has rows."""
    found: list[tuple[str, str, Sequence[str], list[list[str]], int]] = [
        (
            "What to change first",
            "The plan's firings run again with one thing changed; each alone, they do not add up.",
            CHANGE_HEADINGS,
            change_rows(rows),
            1,
        ),
        (
            "What a half-empty firing costs",
            "From a cold kiln, furniture growing with the ware. One more kg is what ware added to a fired kiln takes.",
            FILL_HEADINGS,
            fill_rows(rows),
            2,
        ),
        (
            "The ten dearest products, and why",
            "Energy, hands and wear of a good piece; at usual fill the kilns hold their usual mass of ware.",
            DEAR_HEADINGS,
            dearest(rows),
            1,
        ),
        ("By product, dearest in all first", "", PRODUCT_HEADINGS, products(rows), 2),
        (
            "By month",
            "By the day each fire is lit. The demand charge is in no other figure.",
            MONTH_HEADINGS,
            months(rows),
            1,
        ),
        ("By order line, largest first", "Cost is energy, hands and wear.", LINE_HEADINGS, lines(rows), 1),
        ("Firings of the shelves", "", FURNITURE_HEADINGS, furniture(rows), 2),
        ("By firing", "Fill is the ware in per cent of the kiln's usual.", FIRING_HEADINGS, firings(rows), 3),
    ]
    return [block for block in found if block[3]]
