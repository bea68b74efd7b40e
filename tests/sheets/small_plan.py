"""An invented plan of a few firings, as plain rows."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from kilnpack.sheets.owner_values import CostStep, FiringCost, LineEnergy, OwnerRows, ProductCost
from kilnpack.sheets.plan_rows import Bar, Doing, FiringRow, LineRow, PlanRows

ZONE = ZoneInfo("Europe/Dublin")
MADE = datetime(2026, 11, 30, 7, 0, tzinfo=ZONE)


def at(day: int, hour: float) -> datetime:
    """A moment so many days and hours after midnight of the day the plan is made."""
    return datetime(2026, 11, 30, tzinfo=ZONE) + timedelta(days=day, hours=hour)


def firing(code: str, kiln: str, car: str, programme: str, starts: tuple[float, ...], **more: object) -> FiringRow:
    """A firing from the hours of load, fire, end of fire, cool, unload after the first midnight."""
    load, fire, fired, cooled, unload = starts
    return FiringRow(
        firing=code,
        kiln=kiln,
        car=car,
        programme=programme,
        stage="glost" if programme.startswith("G") else "biscuit",
        load_start=at(0, load),
        load_end=at(0, load + 2.5),
        fire_start=at(0, fire),
        fire_end=at(0, fired),
        cool_end=at(0, cooled),
        unload_start=at(0, unload),
        unload_end=at(0, unload + 1.5),
        pieces=int(str(more.get("pieces", 312))),
        ware_kg=88.4,
        ware=str(more.get("ware", "120 × CUP-W, 60 × SAU-W")),
        energy_kwh=640.0 if programme.startswith("G") else None,
        sheet=str(more.get("sheet", f"load-{code.lower()}")),
    )


FIRINGS = (
    firing("F1", "Biscuit kiln", "", "B960", (8, 11, 25, 41, 56), sheet=""),
    firing("F2", "Glost shuttle", "CAR1", "G1385", (9, 13, 33, 44, 80)),
    firing("F3", "Glost shuttle", "CAR2", "G1385", (33, 44.5, 64.5, 76, 105)),
)


def bars() -> tuple[Bar, ...]:
    """Lanes of kilns and cars."""
    rows = []
    for row in FIRINGS:
        lane = row.kiln
        rows += [
            Bar(lane=lane, doing=Doing.FIRE, start=row.fire_start, end=row.fire_end, firing=row.firing),
            Bar(lane=lane, doing=Doing.COOL, start=row.fire_end, end=row.cool_end, firing=row.firing),
        ]
        lane = row.car or row.kiln
        rows += [
            Bar(lane=lane, doing=Doing.LOAD, start=row.load_start, end=row.load_end, firing=row.firing),
            Bar(lane=lane, doing=Doing.UNLOAD, start=row.unload_start, end=row.unload_end, firing=row.firing),
        ]
        if row.car:
            outside = Bar(
                lane=lane, doing=Doing.COOL_OUTSIDE, start=row.cool_end, end=row.unload_start, firing=row.firing
            )
            rows.append(outside)
    return tuple(rows)


LINES = (
    LineRow(
        line="O1-1", order="O1", customer="Lantern Inn", item="CUP-W", quantity_pieces=55, due=date(2026, 12, 4),
        finish=at(4, 10.5), late_days=0.0, firings=("F1", "F3"),
    ),
    LineRow(
        line="O2-1", order="O2", customer="Harbour Tea Rooms", item="POT-W", quantity_pieces=12, due=date(2026, 12, 2),
        finish=at(4, 10.5), late_days=1.4, firings=("F3",), reason="both cars are busy until 3 December",
    ),
    LineRow(
        line="O3-1", order="O3", customer="Lantern Inn", item="OVA-W", quantity_pieces=7, due=date(2026, 12, 9),
        finish=None, late_days=0.0, firings=(), reason="no biscuit firing before the end of the plan",
    ),
)  # fmt: skip

PLAN = PlanRows(
    title="Plan of 30 November", works="Marsh Lane Porcelain", currency="EUR", made=MADE, firings=FIRINGS, bars=bars(),
    lines=LINES, remarks=("3 firings, 1 line late",),
)  # fmt: skip

OWNER = OwnerRows(
    title="What firing costs", works="Marsh Lane Porcelain", currency="EUR", made=MADE,
    steps=(
        CostStep(name="heat into ware", money=31.2, range_share=0.3),
        CostStep(name="heat into furniture", money=64.4, range_share=0.3),
        CostStep(name="lining and losses", money=41.0, range_share=0.3),
        CostStep(name="flue", money=55.5, range_share=0.3),
        CostStep(name="chemistry given back", money=-4.1, range_share=0.3), CostStep(name="people", money=220.0),
    ),
    products=(
        ProductCost(product="CUP-W", name="Reed cup, white", good_pieces=111.0, kwh_per_good=2.3, money_per_good=0.61,
                    co2_kg_per_good=0.5, price_money=12.0),
        ProductCost(product="POT-W", name="Heron teapot, white", good_pieces=11.0, kwh_per_good=21.3,
                    money_per_good=5.61, co2_kg_per_good=4.4, price_money=0.0),
    ),
    firings=(
        FiringCost(firing="F2", kiln="Glost shuttle", programme="G1385", pieces=312, ware_kg=88.4, furniture_kg=310.0,
                   energy_kwh=640.0, money=57.6, co2_kg=128.0),
        FiringCost(firing="F9", kiln="Glost shuttle", programme="G1385", pieces=0, ware_kg=0.0, furniture_kg=310.0,
                   energy_kwh=500.0, money=45.0, co2_kg=100.0),
    ),
    order_lines=(LineEnergy(line="O1-1", kwh=255.6), LineEnergy(line="", kwh=712.9)), range_share=0.3,
    remarks=("Prices of the works folder",),
)  # fmt: skip
