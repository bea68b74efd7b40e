"""From a plan to the folder people work from."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from pypdf import PdfReader

from kilnpack.model.orders import Lot, LotKind
from kilnpack.model.plans import (
    Firing,
    HandWork,
    HandWorkKind,
    LateReason,
    LineOutcome,
    LotPart,
    PartDelivery,
    Plan,
    PlanGoals,
)
from kilnpack.sheets.facts import Tightest
from kilnpack.sheets.from_plan import plan_rows, works_of_firing, write_plan
from kilnpack.sheets.plan_rows import Doing
from kilnpack.sheets.work_list import work_list, work_list_html
from tests.sheets.small_plan import MADE, at
from tests.sheets.small_works import LOAD, WORKS, round_load

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from kilnpack.model.loads import Load

MADE_LOT = Lot(code="L01-2", product="CUP-W", step=1, pieces=60, order_line="O1-1")


def renamed(load: Load) -> Load:
    """The load with lot L01 under the name a plan gave it on the way."""
    stacks = tuple(
        replace(
            stack,
            tiers=tuple(
                replace(
                    tier,
                    fills=tuple(replace(f, lot="L01-2" if f.lot == "L01" else f.lot) for f in tier.fills),
                )
                for tier in stack.tiers
            ),
        )
        for stack in load.stacks
    )
    return replace(load, stacks=stacks)


def part(product: str, pieces: int) -> LotPart:
    """Pieces of a product that go through a firing."""
    return LotPart(
        lot="L01-2",
        product=product,
        step=1,
        pieces=pieces,
        good_pieces=pieces,
        second_pieces=0,
        scrap_pieces=0,
        order_line=None,
        kind=LotKind.NORMAL,
        was_ready_at=MADE,
        becomes="L01-3",
        ready_at=at(4, 0),
    )


def firing(code: str, load: Load, car: str | None, hours: tuple[float, ...], back: datetime) -> Firing:
    """A firing from the hours of load, fire, end, draw and unload after the first midnight."""
    load_h, fire_h, end_h, draw_h, unload_h = hours
    return Firing(
        code=code,
        kiln=load.kiln,
        car=car,
        programme=load.programme,
        load=load,
        lots=(MADE_LOT,),
        parts=tuple(part(f"P{k}", 10 + k) for k in range(8)) if car else (part("CUP-W", 12),),
        ware_kg=38.0,
        furniture_kg=200.0,
        load_start=at(0, load_h),
        load_end=at(0, load_h + 2),
        fire_start=at(0, fire_h),
        fire_end=at(0, end_h),
        cool_end=at(0, draw_h),
        draw=at(0, draw_h if car else unload_h),
        cool_outside_end=at(0, unload_h),
        unload_start=at(0, unload_h),
        unload_end=at(0, unload_h + 1),
        cleaning_start=at(0, unload_h + 1),
        furniture_back=back,
    )


PLAN = Plan(
    works=WORKS.name,
    made=MADE,
    policy="due first",
    seed=1,
    firings=(
        firing("F1", round_load(), None, (8, 11, 25, 30, 33), at(0, 34)),
        firing("F2", renamed(LOAD), "CAR1", (9, 13, 20, 26, 32), at(0, 36)),
    ),
    hand_work=(
        HandWork(
            kind=HandWorkKind.GLAZE,
            lot="L01",
            product="CUP-W",
            pieces=40,
            start=at(0, 8),
            end=at(0, 10),
            order_line="O1-1",
        ),
        HandWork(kind=HandWorkKind.CAST, lot="L09", product="EGG-W", pieces=20, start=at(0, 9), end=at(0, 10)),
    ),
    outcomes=(
        LineOutcome(
            line="O1-1",
            order="O1",
            due=WORKS.lines[0].due,
            finish=at(1, 9),
            late_days=0,
            open_pieces=0,
            reason=LateReason.NOT_LATE,
            detail="",
            deliveries=(PartDelivery(at=at(1, 9), pieces=55),),
            firings=("F1", "F2"),
        ),
        LineOutcome(
            line="O3-3",
            order="O3",
            due=WORKS.lines[6].due,
            finish=None,
            late_days=3,
            open_pieces=7,
            reason=LateReason.SUPPLY,
            detail="two moulds give four a day",
            deliveries=(),
            firings=(),
        ),
    ),
    goals=PlanGoals(open_lines=1, weighted_late_days=3.0, firings=2, mean_finish_h=26.0),
    remarks=("stopped by hand",),
)


def test_kilns_and_cars_get_the_lanes_they_are_busy_in() -> None:
    """Guards the lanes: a kiln without cars does everything, a kiln with cars burns and cools, its car does all."""
    lanes: dict[str, list[Doing]] = {}
    for bar in plan_rows(WORKS, PLAN).bars:
        lanes.setdefault(bar.lane, []).append(bar.doing)
    assert lanes == {
        "Round top loader": [Doing.LOAD, Doing.FIRE, Doing.COOL, Doing.UNLOAD],
        "Glost shuttle": [Doing.FIRE, Doing.COOL],
        "Glost shuttle: CAR1": [Doing.LOAD, Doing.FIRE, Doing.COOL, Doing.COOL_OUTSIDE, Doing.UNLOAD],
    }


def test_rows_carry_ware_reason_and_remarks() -> None:
    """Guards the words: the six largest products named and the rest counted, reasons only where a line is late."""
    rows = plan_rows(WORKS, PLAN)
    assert rows.firings[1].ware == "17 × P7, 16 × P6, 15 × P5, 14 × P4, 13 × P3, 12 × P2, 21 others"
    assert [line.reason for line in rows.lines] == ["", "7 of 7 open; supply: two moulds give four a day"]
    assert rows.remarks == ("2 firings for 2 order lines: 1 late, 1 not done", "stopped by hand")
    assert rows.firings[0].draw is None
    assert rows.firings[0].cleaned is None
    assert rows.firings[1].cleaned == at(0, 36)


def test_drawing_cleaning_and_work_by_hand_are_on_the_work_list() -> None:
    """Guards the list on the wall against forgetting the car, the shelves, casting and glazing."""
    told = [(task.time, task.what, task.note) for task in work_list(plan_rows(WORKS, PLAN)).tasks]
    assert ("02:00", "draw car CAR1", "only when the thermometer allows it") in told
    assert ("09:00", "clean the shelves", "wipe wet, wear a mask") in told
    assert ("08:00", "glaze", "40 pieces of 1 product") in told
    assert ("09:00", "cast", "20 pieces of 1 product") in told


def test_hand_work_of_one_kind_and_time_is_one_block() -> None:
    """Guards the list against a line for every lot: pieces add up by product, order lines stand beside them."""
    rows = plan_rows(WORKS, PLAN)
    glaze = next(row for row in rows.hand_work if row.what == "glaze")
    more = (
        replace(glaze, pieces=5, order_line=""),
        replace(glaze, pieces=7, product="EGG-W", end=glaze.end + timedelta(hours=2)),
    )
    work = work_list(replace(rows, hand_work=(*rows.hand_work, *more)))
    blocks = [task for task in work.tasks if task.what == "glaze"]
    assert [task.ware for task in blocks] == [(("CUP-W", "45", "O1-1, stock"), ("EGG-W", "7", "O1-1"))]
    assert blocks[0].note == "52 pieces of 2 products"
    assert blocks[0].until == (glaze.end + timedelta(hours=2)).strftime("%H:%M")
    page = work_list_html(work)
    assert page.count("<table>") == 2
    assert "<td>45</td><td>O1-1, stock</td>" in page


def test_every_firing_gets_its_loading_sheet_with_the_lots_the_plan_made(tmp_path: Path) -> None:
    """Guards the folder: sheets under the names the lists give, lots of the plan and of the works both known."""
    tight = Tightest(gap_mm=9.0, gap_where="A1")
    folder = write_plan(WORKS, PLAN, tmp_path, tightest={"F2": tight})
    rows = plan_rows(WORKS, PLAN)
    assert [path.pdf.stem for path in folder.sheets.values()] == [row.sheet for row in rows.firings]
    text = "".join(page.extract_text() for page in PdfReader(folder.sheets["F2"].pdf).pages)
    assert "lot L01-2" in text
    assert "tightest gap 9 mm: A1" in text
    assert folder.plan.workbook.is_file()
    assert [lot.code for lot in works_of_firing(WORKS, PLAN.firings[1]).lots][:2] == ["L01-2", "L01"]
