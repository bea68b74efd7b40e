"""Bounds that no plan goes under, and what would save a late line."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import time

import pytest

from kilnpack.model.furniture import ShelfLot
from kilnpack.model.geometry import Disc, RoundedPolygon
from kilnpack.model.orders import Lot, LotKind, Mould, Shift, Supply, WorkCalendar
from kilnpack.model.plans import LateReason
from kilnpack.planning.bounds import least_firings, outline_mm2, piece_need, pieces_to_fire
from kilnpack.planning.clock import NEVER_H, Clock
from kilnpack.planning.furniture_stock import stock_of, times_furniture
from kilnpack.planning.soonest import Soonest, fewest_pieces, most_good
from kilnpack.search.budget import Budget
from tests.planning.small import NO_HANDS, WEEKDAYS, furniture, kiln, line, product, programme, works
from tests.planning.test_planner import B, G, plan


def test_pieces_are_counted_as_few_as_they_can_be() -> None:
    """20 ordered, 5 delivered, 4 bound past the biscuit: 11 more; a share of 0.9 twice asks for 12, and 13 before that.

    12 is the least of which ceil(0.9 n) >= 11; 13 the least of which ceil(0.9 n) >= 12.
    """
    small = works(
        programmes=(programme("B", B), programme("G", G)), kilns=(kiln("K", "B", "G"),),
        products=(product("MUG", "B", "G", stages=(B, G), scrap_share=0.1),),
        lines=(line("O1", "MUG", 20, 9, delivered_pieces=5),),
        lots=(Lot(code="L", product="MUG", step=2, pieces=4, order_line="O1"),
              Lot(code="S", product="MUG", step=0, pieces=9, kind=LotKind.SAMPLE)),
    )  # fmt: skip
    assert pieces_to_fire(small) == {("MUG", "B"): 13, ("MUG", "G"): 12}
    assert (most_good(small.products[0], 0, 13), most_good(small.products[0], 0, 12)) == (11, 10)
    assert fewest_pieces(small.products[0], 0, 11) == 13
    free = replace(small, lots=(Lot(code="F", product="MUG", step=1, pieces=1),))
    assert pieces_to_fire(free)["MUG", "B"] == fewest_pieces(small.products[0], 0, 15) - 2 * 2 // 2 * 2
    lost = replace(small, products=(product("MUG", "B", "G", stages=(B, G), scrap_share=1.0),))
    assert pieces_to_fire(lost) == {("MUG", "B"): 0, ("MUG", "G"): 0}


def test_what_a_cup_asks_for_is_its_cone_and_its_foot() -> None:
    """The cup of the small works at decoration: a frustum 30 to 40 mm over 80 mm, foot 28 mm, all 1 % larger.

    Bodies keep 6 mm, so 3 mm are added to every radius: pi 80.8 (33.3^2 + 33.3 43.4 + 43.4^2) / 3 mm3; the column over
    the foot has radius 31.28 mm and stands 80.8 high under 13 mm of headroom on a shelf of 15 mm.
    """
    small = works()
    need = piece_need(small, small.products[0], 0, small.kilns, small.programmes[0])
    room = math.pi * 80.8 / 3.0 * (33.3**2 + 33.3 * 43.4 + 43.4**2) / 1e6
    assert need.room_dm3 == pytest.approx(room)
    assert need.shelf_dm2 == pytest.approx(math.pi * 31.28**2 / 1e4)
    assert need.column_dm3 == pytest.approx(math.pi * 31.28**2 * (80.8 + 28.0) / 1e6)
    square = RoundedPolygon(corners_mm=((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)), round_mm=1.0)
    assert outline_mm2((Disc(r_mm=1.0), square), 1.0) == pytest.approx(100.0 + 40.0 * 2.0 + math.pi * 4.0)


def test_shelves_bound_the_firings() -> None:
    """Two shelves of 25 dm2 hold at most 162 feet of 0.3074 dm2: 163 cups need two firings, for want of shelves."""
    small = works(furniture=furniture(2), lines=(line("O1", "MUG", 163, 9),))
    bound = least_firings(small, {"D": 3})[0]
    assert (bound.programme, bound.least_firings, bound.planned_firings, bound.binds) == ("D", 2, 3, "shelves")
    fewer = replace(small, lines=(line("O1", "MUG", 162, 9),))
    assert least_firings(fewer, {})[0].least_firings == 1
    assert least_firings(replace(small, lines=()), {}) == ()
    assert least_firings(replace(small, lines=()), {"D": 1})[0].least_firings == 0
    bare = replace(small, kilns=())
    assert least_firings(bare, {})[0].binds == "a kiln"


def test_the_soonest_finish_is_the_chain_in_working_hours() -> None:
    """Ready Monday at 0: lit Monday 7, 24 h to Tuesday 7, rest 24 h, lit Wednesday 7, out Thursday 7 (79 h).

    With the ware still to be cast it is dry at the end of Monday's shift, lit Tuesday 7, and out Friday 7 (103 h).
    """
    shifts = WorkCalendar(shifts=WEEKDAYS, unattended_firing=True)
    small = works(
        calendar=shifts, programmes=(programme("B", B), programme("G", G)), kilns=(kiln("K", "B", "G"),),
        products=(product("MUG", "B", "G", stages=(B, G), rest_h=24.0),), lines=(line("O1", "MUG", 3, 9),),
        lots=(Lot(code="L", product="MUG", step=0, pieces=3),),
    )  # fmt: skip
    clock = Clock(small.calendar, small.now)
    assert Soonest(small, clock).line_h(small.lines[0]) == pytest.approx(79.0)
    cast = replace(small, lots=())
    assert Soonest(cast, clock).line_h(small.lines[0]) == pytest.approx(103.0)
    slow = replace(cast, supply=Supply(moulds=(Mould(shape="CUP", moulds_pieces=1, casts_per_day=1.0),)))
    assert Soonest(slow, clock).line_h(small.lines[0]) == pytest.approx(8 * 24.0 + 7.0)
    never = replace(cast, supply=Supply(moulds=(Mould(shape="CUP", moulds_pieces=0, casts_per_day=1.0),)))
    assert Soonest(never, clock).line_h(small.lines[0]) == NEVER_H
    later = replace(small.lines[0], not_before=small.lines[0].due)
    assert Soonest(small, clock).line_h(later) == pytest.approx(9 * 24.0)


def late_works(reason: LateReason) -> object:
    """A works whose one late line is late for one reason alone."""
    two = (line("O1", "MUG", 4, 1), line("O2", "MUG", 4, 0))
    ready = tuple(Lot(code=f"L{k}", product="MUG", step=0, pieces=4, order_line=f"O{k}") for k in (1, 2))
    if reason is LateReason.KILN:
        return works(lines=(replace(two[0], due=two[1].due), two[1]), lots=ready)
    if reason is LateReason.FURNITURE:
        return works(
            lines=(replace(two[0], due=two[1].due), two[1]), lots=ready, furniture=furniture(1),
            kilns=(kiln("K", "D"), kiln("K2", "D")),
        )  # fmt: skip
    if reason is LateReason.CREW:
        hands = replace(NO_HANDS, glazed_handling_s=9000.0)
        shifts = (Shift(weekday=0, start=time(0), end=time(4), crew_people=1),
                  Shift(weekday=2, start=time(0), end=time(12), crew_people=1))  # fmt: skip
        return works(
            settings=hands, lines=(line("O1", "MUG", 4, 2),), lots=ready[:1],
            calendar=WorkCalendar(shifts=shifts, unattended_firing=True),
        )  # fmt: skip
    if reason is LateReason.SUPPLY:
        mould = Mould(shape="CUP", moulds_pieces=1, casts_per_day=1.0)
        return works(lines=(line("O1", "MUG", 4, 3),), supply=Supply(moulds=(mould,)))
    rest_h, cool_h = (60.0, 1.0) if reason is LateReason.REST else (1.0, 60.0)
    cart = (kiln("KB", "B"), kiln("KG", "G"))
    return works(
        kilns=cart, programmes=(programme("B", B, hours=1.0, cool_h=cool_h), programme("G", G, hours=1.0, cool_h=1.0)),
        products=(product("MUG", "B", "G", stages=(B, G), rest_h=rest_h),),
        lines=(line("O1", "MUG", 4, 2 if reason is LateReason.REST else 3),), lots=ready[:1],
        calendar=WorkCalendar(
            shifts=(Shift(weekday=0, start=time(0), end=time(0), crew_people=1),
                    *(Shift(weekday=day, start=time(20), end=time(21), crew_people=1) for day in (1, 2, 3, 4))),
            unattended_firing=True,
        ),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("reason", "remedy"),
    [
        (LateReason.KILN, "a second K"),
        (LateReason.FURNITURE, "twice the furniture"),
        (LateReason.CREW, "hands round the clock"),
        (LateReason.SUPPLY, "twice the moulds"),
        (LateReason.REST, "no rests"),
        (LateReason.COOLING, "half the hours of cooling"),
    ],
)
def test_a_late_line_has_its_reason_and_what_would_save_it(reason: LateReason, remedy: str) -> None:
    """One planted case for each reason: it is named, and more of that very thing is named to save the line."""
    small = late_works(reason)
    found = plan(small, budget=Budget(effort=20))  # type: ignore[arg-type]
    late = next(row for row in found.outcomes if row.late_days)
    assert late.reason is reason
    assert remedy in late.remedy
    assert late.soonest is not None
    assert all(not row.remedy for row in found.outcomes if not row.late_days)


def test_a_line_that_nothing_saves_is_told_another_day() -> None:
    """Ordered far too late: no one thing saves it, a later due day does."""
    small = works(lines=(line("O1", "MUG", 40, -20),), lots=(Lot(code="L", product="MUG", step=0, pieces=40),))
    late = plan(small, budget=Budget(effort=20)).outcomes[0]
    assert late.reason is LateReason.TOO_LATE_WHEN_ORDERED
    assert f"a due day {late.late_days} days later" in late.remedy
    assert "would leave it" in late.remedy


def test_twice_the_furniture_is_twice_of_each() -> None:
    """Shelves, condemned ones too, posts and stubs are doubled."""
    one = furniture(6)
    shelf = replace(one.shelves[0], lots=(ShelfLot(count_pieces=6, condemned_pieces=2),))
    one = replace(one, shelves=(shelf,))
    stock, double = stock_of(works(furniture=one)), stock_of(works(furniture=times_furniture(one, 2)))
    assert {key: 2 * count for key, count in stock.items()} == dict(double)
    assert double["shelf", "S"] == 8
