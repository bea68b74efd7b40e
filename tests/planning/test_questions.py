"""Questions planners ask: what fills a firing, what one more brings, how much is waiting, what lateness costs."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest

from kilnpack.model.furniture import PostType
from kilnpack.model.geometry import TurnedPart
from kilnpack.model.orders import Lot, Shift, WorkCalendar
from kilnpack.model.questions import Change
from kilnpack.planning.comparing import change_words, compared, line_words
from kilnpack.planning.filling import filled, ready_beside
from kilnpack.planning.height_classes import backlog_by_height
from kilnpack.planning.more_of import one_more
from kilnpack.planning.packs import taken_of
from kilnpack.planning.trading import best_ways, mean_kwh, points_of, ways
from tests.planning.small import NOW, WEEKDAYS, Counting, furniture, kiln, line, product, programme, shape, works
from tests.planning.test_planner import LITTLE, B, D, G, plan


def test_ware_that_later_firings_take_could_come_forward() -> None:
    """A firing of two with room for four: two cups planned for the next one fit in, nothing is left for the second."""
    small = works(
        lines=(line("O1", "MUG", 2, 1), line("O2", "MUG", 2, 9)),
        lots=(Lot(code="L1", product="MUG", step=0, pieces=2, order_line="O1"),
              Lot(code="L2", product="MUG", step=0, pieces=2, order_line="O2")),
    )  # fmt: skip
    before = plan(small, 2)
    first = before.firings[0]
    assert [(lot.code, lot.pieces) for lot in ready_beside(small, before, first)] == [("L2", 2)]
    assert ready_beside(small, before, before.firings[1]) == ()
    packer = Counting(room_pieces=4)
    found = filled(small, before, first, budget=LITTLE, seed=1, packer=packer, checker=None)
    assert [(row.lot, row.pieces, row.from_firing) for row in found.added] == [("L2", 2, "F2")]
    assert found.load is not None
    assert taken_of(found.load) == {"L1": 2, "L2": 2}
    assert found.ware_after_kg == pytest.approx(2 * found.ware_before_kg)
    full = filled(small, before, first, budget=LITTLE, seed=1, packer=Counting(room_pieces=2), checker=None)
    assert (full.added, full.load, full.offered_pieces) == ((), None, 2)
    refused = filled(small, before, first, budget=LITTLE, seed=1, packer=packer, checker=lambda _, load: (load,))
    assert refused.load is None


def test_a_lot_that_is_partly_in_the_firing_is_offered_for_the_rest() -> None:
    """Six cups of one lot, two a firing: the other four are ready beside the first firing, also after a biscuit."""
    small = works(
        programmes=(programme("B", B), programme("G", G)), kilns=(kiln("KB", "B"), kiln("KG", "G")),
        products=(product("MUG", "B", "G", stages=(B, G)),), lines=(line("O1", "MUG", 6, 30),),
        lots=(Lot(code="L1", product="MUG", step=0, pieces=6, order_line="O1"),),
    )  # fmt: skip
    before = plan(small, 2)
    first = next(row for row in before.firings if row.programme == "B")
    assert [(lot.code, lot.pieces) for lot in ready_beside(small, before, first)] == [("L1", 4)]
    found = filled(small, before, first, budget=LITTLE, seed=1, packer=Counting(room_pieces=6), checker=None)
    assert [(row.lot, row.pieces) for row in found.added] == [("L1", 4)]
    last = [row for row in before.firings if row.programme == "G"][-1]
    assert ready_beside(small, before, last) == ()


def test_the_backlog_is_counted_in_shelves_by_posts() -> None:
    """A cup 80.8 mm high on 82.8 mm across, 3 mm of placing: 6 mm gap, so 89.8^2 mm2 of 500^2: 31 cups fill a shelf.

    Its 80.8 mm and 13 mm of headroom less 2 mm of allowance fit under a post of 100 mm; a tall one fits under none.
    """
    parts = (TurnedPart(profile_mm=((0.0, 30.0), (200.0, 40.0))),)
    tall = replace(shape("TALL"), parts=parts)
    small = works(
        shapes=(shape(), tall),
        products=(product("MUG", "D", stages=(D,)), product("JUG", "D", stages=(D,), shape_code="TALL")),
        lines=(line("O1", "MUG", 62, 9), line("O2", "JUG", 5, 9)),
        lots=(Lot(code="L", product="MUG", step=0, pieces=31),),
    )
    cup, jug = backlog_by_height(small).classes
    assert (cup.programme, cup.shelf, cup.posts, cup.room_mm) == ("D", "S", "P", 100.0)
    assert (cup.pieces, cup.ready_pieces) == (62, 31)
    covers = (2 * 40.4 + 9.0) ** 2
    assert cup.all_shelves == pytest.approx(62 * covers / 500.0**2)
    assert cup.ready_shelves == pytest.approx(cup.all_shelves / 2)
    assert (jug.posts, jug.room_mm, jug.pieces) == (None, None, 5)
    assert backlog_by_height(replace(small, kilns=())).classes == ()


def test_one_more_of_each_thing_is_tried() -> None:
    """A second kiln with cars of its own, a car, a shift as long as the last up to midnight, a box of each post."""
    post = PostType(code="Q", nominal_mm=50.0, height_mm=50.0, side_mm=40.0, material="mullite", mass_kg=0.2,
                    top_degc=1450.0, count_pieces=3)  # fmt: skip
    stock = furniture(6)
    night = Shift(weekday=5, start=time(20), end=time(4), crew_people=1)
    small = works(
        kilns=(kiln("K", "D"), kiln("C", "D", cars=2)), furniture=replace(stock, posts=(*stock.posts, post)),
        calendar=WorkCalendar(shifts=(*WEEKDAYS, night)),
    )  # fmt: skip
    rows = {row.what: row.works for row in one_more(small, box_posts=10)}
    assert list(rows) == ["kiln K", "kiln C", "car C", "shift", "posts P", "posts Q"]
    assert [row.code for row in rows["kiln C"].kilns] == ["K", "C", "C twin"]
    assert {car.code for car in rows["kiln C"].kilns[2].cars}.isdisjoint({car.code for car in small.kilns[1].cars})
    assert len(rows["car C"].kilns[1].cars) == 3
    more = rows["shift"].calendar.shifts
    assert len(more) == len(small.calendar.shifts) + 5
    assert (more[-1].start, more[-1].end) == (time(16), time(0))
    assert [row.count_pieces for row in rows["posts Q"].furniture.posts] == [18, 13]
    noon = replace(small, calendar=WorkCalendar(shifts=(Shift(weekday=0, start=time(8), end=time(12), crew_people=1),)))
    assert next(row.works for row in one_more(noon) if row.what == "shift").calendar.shifts[-1].end == time(16)
    assert "shift" not in {row.what for row in one_more(replace(small, calendar=WorkCalendar()))}


def tight_works(count: int = 6) -> object:
    """Lots of one cup, one more ready each day and each due the day after: waiting for a fuller kiln costs days."""
    return works(
        lines=tuple(line(f"O{k}", "MUG", 1, k + 1) for k in range(count)),
        lots=tuple(
            Lot(code=f"L{k}", product="MUG", step=0, pieces=1, order_line=f"O{k}", ready_at=NOW + timedelta(days=k))
            for k in range(count)
        ),
    )


def test_the_dearer_a_kilowatt_hour_the_fuller_the_kiln() -> None:
    """Weights from none to much choose ways that ask for fuller kilns, and never more energy than before."""
    small = tight_works()
    chosen = best_ways(small, {("K", "D"): 100.0}, seed=1, weights=(0.0, 1000.0))  # type: ignore[arg-type]
    assert chosen[0.0].least_fill_share <= chosen[1000.0].least_fill_share
    assert chosen[1000.0].least_fill_share > 0.0
    assert len(ways()) == len({way.name for way in ways()})
    first = best_ways(small, {}, seed=1, weights=(0.0,), goes_on=lambda: False)  # type: ignore[arg-type]
    assert first[0.0] == ways()[0]


def test_points_of_the_curve_that_another_beats_are_told_apart() -> None:
    """Energy 100 late 5, energy 200 late 1, energy 200 late 5: the last one is beaten."""
    made = plan(works(lines=(line("O1", "MUG", 1, 9),), lots=(Lot(code="L", product="MUG", step=0, pieces=1),)))

    def one(kwh: float, late: float) -> object:
        goals = replace(made.goals, weighted_late_days=late)
        return replace(made, goals=goals, firings=(replace(made.firings[0], energy_kwh=kwh),))

    plans = [(1.0, one(100.0, 5.0)), (0.0, one(200.0, 1.0)), (2.0, one(200.0, 5.0))]
    points = points_of(plans)  # type: ignore[arg-type]
    assert [(row.energy_kwh, row.weighted_late_days, row.best) for row in points] == [
        (100.0, 5.0, True), (200.0, 1.0, True), (200.0, 5.0, False),
    ]  # fmt: skip
    assert mean_kwh(one(100.0, 5.0)) == {("K", "D"): 100.0}  # type: ignore[arg-type]
    assert mean_kwh(made) == {}


def test_a_comparison_says_what_went_and_what_came_later() -> None:
    """A line is taken off and one is late now: the firing is gone, the other moved, the line says when and why."""
    small = works(
        lines=(line("O1", "MUG", 4, 1), line("O2", "MUG", 4, 2)),
        lots=(Lot(code="L1", product="MUG", step=0, pieces=4, order_line="O1"),
              Lot(code="L2", product="MUG", step=0, pieces=4, order_line="O2")),
    )  # fmt: skip
    before = plan(small)
    fewer = replace(small, lines=small.lines[:1], lots=small.lots[:1])
    found = compared(before, plan(fewer))
    assert [(row.change, row.why) for row in found.firings] == [(Change.GONE, "line O2 is gone")]
    assert "gone: it was K" in change_words(found.firings[0])
    again = compared(plan(fewer), before)
    assert again.firings[0].change is Change.ADDED
    lost = replace(before, outcomes=tuple(replace(row, finish=None, open_pieces=4) for row in before.outcomes))
    never = compared(before, lost).lines
    assert all(row.sooner_h is None for row in never)
    assert "never now" in line_words(never[0])
    assert compared(lost, lost).lines == ()
