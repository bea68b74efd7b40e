"""Plans from works to firings: optimal where theory or search tells the optimum, sound everywhere."""

from __future__ import annotations

import contextlib
import itertools
import math
import random
import signal
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilnpack.model.orders import Lot, LotKind, Mould, OrderLine, Shift, Supply, WorkCalendar
from kilnpack.model.pieces import ProductSet, SetItem, Stage
from kilnpack.model.plans import HandWorkKind, LateReason, Plan, PlanGoals
from kilnpack.model.settings import WorksSettings
from kilnpack.planning.firings import Packed
from kilnpack.planning.furniture_stock import SHELF
from kilnpack.planning.outcomes import cannot_beat
from kilnpack.planning.packs import EstimatedPack
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.planning.planner import FIRST_DUE, first_due_plan, plan_firings
from kilnpack.planning.policies import Policy, PolicyKind
from kilnpack.planning.run import run
from kilnpack.planning.shop import Shop
from kilnpack.planning.told import Word
from kilnpack.search.budget import Budget
from tests.planning.small import (
    NO_HANDS,
    NOW,
    WEEKDAYS,
    Counting,
    EvenShare,
    furniture,
    kiln,
    line,
    product,
    programme,
    works,
)

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.works import Works
    from kilnpack.search.listener import Progress

B, G, D = Stage.BISCUIT, Stage.GLOST, Stage.DECORATION
LITTLE = Budget(effort=1)


def plan(given_works: Works, room: int = 4, **more: object) -> Plan:
    """Plan with the counting packer."""
    packer = more.pop("packer", Counting(room_pieces=room))
    options = {"budget": LITTLE, "seed": 1, "estimate": EvenShare(room)} | more
    return plan_firings(given_works, packer=packer, **options)  # type: ignore[arg-type]


def day_lots(draw: random.Random, count: int) -> Works:
    """One kiln that fires one day, lots of one piece ready on whole days, each for a line of its own."""
    lines = tuple(
        line(f"L{k}", "MUG", 1, draw.randint(0, 6), priority_factor=draw.choice([1.0, 2.0])) for k in range(count)
    )
    lots = tuple(
        Lot(code=f"W{k}", product="MUG", step=0, pieces=1, order_line=f"L{k}",
            ready_at=NOW + timedelta(days=draw.choice([0, 0, 1, 2, 3])))
        for k in range(count)
    )  # fmt: skip
    return works(lines=lines, lots=lots)


def best_day_goals(given: Works, room: int) -> tuple[float, int, float]:
    """Try every parting of the lots into ordered firings of at most `room`; return the best goals of the plan."""
    ready = [(lot.ready_at - NOW).days if lot.ready_at else 0 for lot in given.lots]
    due = [(row.due - NOW.date()).days + 1 for row in given.lines]
    weight = [row.priority_factor for row in given.lines]
    best = (math.inf, 0, 0.0)

    def go_on(left: tuple[int, ...], free: int, late: float, count: int, finish: float) -> None:
        nonlocal best
        if not left:
            best = min(best, (late, count, finish))
            return
        for size in range(1, min(room, len(left)) + 1):
            for inside in itertools.combinations(left, size):
                end = max(free, *(ready[n] for n in inside)) + 1
                more = sum(weight[n] * max(0, end - due[n]) for n in inside)
                rest = tuple(n for n in left if n not in inside)
                go_on(rest, end, late + more, count + 1, finish + end * size)

    go_on(tuple(range(len(ready))), 0, 0.0, 0, 0.0)
    return best


@pytest.mark.parametrize(("count", "room", "cases"), [(4, 2, 10), (5, 3, 6), (6, 2, 4)])
def test_one_kiln_with_due_dates_equals_exhaustive_search(count: int, room: int, cases: int) -> None:
    """Lots with ready days, due days and weights in one kiln: late days and firings equal trying everything."""
    draw = random.Random(count)
    for _ in range(cases):
        small = day_lots(draw, count)
        found = plan(small, room)
        late, firings, finish = best_day_goals(small, room)
        assert (found.goals.weighted_late_days, found.goals.firings) == (late, firings)
        assert found.goals.mean_finish_h == pytest.approx(24.0 * finish / count)
        assert audit_plan(small, found) == ()


@pytest.mark.source("common-practice", "a usual cycle: biscuit 16 h, a day's rest, glost 23 h and 10 h cooling")
def test_the_usual_cycle_takes_its_hours() -> None:
    """Hands take no time: fire 16 + cool 12, rest 24, glaze drying 24, fire 23 + cool 10 = 109 h from ready to done."""
    usual = works(
        kilns=(kiln("KB", "B"), kiln("KG", "G")),
        programmes=(programme("B", B, hours=16.0), programme("G", G, hours=23.0, cool_h=10.0)),
        products=(product("MUG", "B", "G", stages=(B, G), rest_h=24.0),),
        lines=(line("O1", "MUG", 4, 30),),
        lots=(Lot(code="L1", product="MUG", step=0, pieces=4, order_line="O1"),),
    )
    dried = replace(usual.products[0].route[1], ready_after_h=24.0)
    usual = replace(usual, products=(replace(usual.products[0], route=(usual.products[0].route[0], dried)),))
    found = plan(usual)
    assert found.outcomes[0].finish == datetime(2026, 3, 6, 13, tzinfo=found.made.tzinfo)
    assert [firing.programme for firing in found.firings] == ["B", "G"]
    assert audit_plan(usual, found) == ()


@pytest.mark.source("common-practice", "the car is drawn so that the next batch fires while this one cools outside")
def test_the_next_car_fires_while_the_first_cools_outside() -> None:
    """Two cars: fire 23 h and cool 10 h each; the second is lit at the draw of the first, 33 h in."""
    cars = works(
        kilns=(kiln("KG", "G", cars=2, draw_degc=250.0),),
        programmes=(programme("G", G, hours=23.0, cool_h=10.0, outside_h=14.0),),
        products=(product("MUG", "G", stages=(G,)),),
        lines=(line("O1", "MUG", 8, 30),),
        lots=(Lot(code="L1", product="MUG", step=0, pieces=8, order_line="O1"),),
    )
    first, second = plan(cars).firings
    assert second.fire_start == first.draw == first.cool_end == first.fire_start + timedelta(hours=33)
    assert first.unload_end == first.draw + timedelta(hours=14)
    assert {first.car, second.car} == {"KG-1", "KG-2"}
    one_car = replace(cars, kilns=(kiln("KG", "G", cars=1, draw_degc=250.0),))
    first, second = plan(one_car).firings
    assert second.load_start >= first.unload_end
    in_kiln = replace(cars, kilns=(kiln("KG", "G", cars=2),))
    assert plan(in_kiln).firings[0].draw == plan(in_kiln).firings[0].fire_end + timedelta(hours=24)


def test_heavier_loads_cool_longer_and_lighter_ones_not_shorter() -> None:
    """Recorded for 1 kg; 4 cups of 0.29 kg with a shelf, 3 posts and 3 stubs (8 + 1.2 + 0.3 kg) are 10.66 kg."""
    base = works(lines=(line("O1", "MUG", 4, 30),), lots=(Lot(code="L1", product="MUG", step=0, pieces=4),))
    heavy = replace(base, programmes=(programme("D", D, recorded_kg=1.0),))
    light, stretched = plan(base).firings[0], plan(heavy).firings[0]
    assert light.ware_kg == pytest.approx(1.16)
    assert (light.cool_end - light.fire_end).total_seconds() == 12 * 3600
    assert (stretched.cool_end - stretched.fire_end).total_seconds() == pytest.approx(12 * 3600 * 10.66, abs=2)


def test_waits_for_more_ware_when_nothing_gets_late() -> None:
    """Two half loads, the second ready a day later and both due in ten days: one firing, lit when both are there."""
    lots = tuple(
        Lot(code=f"W{k}", product="MUG", step=0, pieces=2, order_line=f"O{k}", ready_at=NOW + timedelta(days=k))
        for k in range(2)
    )
    patient = works(lines=(line("O0", "MUG", 2, 10), line("O1", "MUG", 2, 10)), lots=lots)
    assert len(plan(patient).firings) == 1
    hurried = replace(patient, lines=(line("O0", "MUG", 2, 0), line("O1", "MUG", 2, 10)))
    assert len(plan(hurried).firings) == 2
    assert plan(hurried).goals.weighted_late_days == 0


def test_start_quantities_cover_losses() -> None:
    """40 ordered, yields 0.95 and 0.9: 40 / 0.855 = 46.8, so 47 are cast and at least 40 come out."""
    losses = works(
        kilns=(kiln("K", "B", "G"),),
        programmes=(programme("B", B), programme("G", G)),
        products=(product("MUG", "B", "G", stages=(B, G), scrap_share=0.05),),
        lines=(line("O1", "MUG", 40, 60),),
        supply=Supply(moulds=(Mould(shape="CUP", moulds_pieces=10, casts_per_day=1.0),), drying_places_pieces=25),
    )
    glost = replace(losses.products[0].route[1], scrap_share=0.06, second_share=0.04)
    losses = replace(losses, products=(replace(losses.products[0], route=(losses.products[0].route[0], glost)),))
    found = plan(losses, room=30)
    casts = [work for work in found.hand_work if work.kind is HandWorkKind.CAST]
    assert [work.pieces for work in casts] == [10, 10, 10, 10, 7]
    assert found.outcomes[0].open_pieces == 0
    assert sum(part.good_pieces for firing in found.firings for part in firing.parts if part.step == 1) >= 40
    assert audit_plan(losses, found) == ()


def test_stock_goes_first_to_its_line_then_to_the_first_due() -> None:
    """Finished free stock of 5 serves the line due first; bound ware stays with its line; nothing is cast twice."""
    stock = works(
        lines=(line("O1", "MUG", 4, 20), line("O2", "MUG", 4, 5)),
        lots=(
            Lot(code="S1", product="MUG", step=1, pieces=5),
            Lot(code="S2", product="MUG", step=1, pieces=2, order_line="O1"),
        ),
    )
    found = plan(stock)
    assert found.outcomes[1].finish == found.made
    assert sum(work.pieces for work in found.hand_work) == 1
    assert audit_plan(stock, found) == ()


def test_sets_are_complete_together_and_parts_are_delivered() -> None:
    """A set of two mugs and a bowl counts when all three are there; a line without part delivery leaves at once."""
    sets = works(
        products=(product("MUG", "D", stages=(D,)), product("BOWL", "D", stages=(D,))),
        sets=(ProductSet(code="SET", name="set", items=(SetItem(product="MUG", count_pieces=2),
                                                         SetItem(product="BOWL", count_pieces=1))),),
        lines=(line("O1", "SET", 2, 30), line("O2", "MUG", 5, 30, part_delivery=False)),
        lots=(
            Lot(code="M", product="MUG", step=0, pieces=4, order_line="O1"),
            Lot(code="N", product="BOWL", step=1, pieces=1, order_line="O1"),
            Lot(code="Q", product="BOWL", step=0, pieces=1, order_line="O1", ready_at=NOW + timedelta(days=6)),
            Lot(code="R", product="MUG", step=0, pieces=5, order_line="O2"),
        ),
    )  # fmt: skip
    found = plan(sets)
    first, second = found.outcomes
    assert [row.pieces for row in first.deliveries] == [1, 1]
    assert first.finish is not None
    assert first.finish > found.made + timedelta(days=6)
    assert [row.pieces for row in second.deliveries] == [5]
    assert audit_plan(sets, found) == ()


def test_samples_and_refires_are_lots_of_their_own() -> None:
    """A sample is fired but never delivered; a refire that comes out well joins its line; fillers start no firing."""
    own = works(
        lines=(line("O1", "MUG", 3, 30),),
        lots=(
            Lot(code="R", product="MUG", step=0, pieces=3, order_line="O1", kind=LotKind.REFIRE),
            Lot(code="S", product="MUG", step=0, pieces=1, kind=LotKind.SAMPLE, ready_at=NOW + timedelta(days=40)),
            Lot(code="F", product="MUG", step=0, pieces=9, kind=LotKind.FILLER, ready_at=NOW + timedelta(days=90)),
        ),
    )
    found = plan(own)
    assert [[part.lot for part in firing.parts] for firing in found.firings] == [["R"], ["S"]]
    assert found.outcomes[0].deliveries[0].pieces == 3
    assert audit_plan(own, found) == ()


def test_furniture_comes_back_only_when_cleaned() -> None:
    """One shelf for two kilns and an hour of cleaning: the second kiln loads when the shelf is back, not before."""
    shared = works(
        settings=replace(NO_HANDS, cleaning_h_per_shelf=1.0),
        kilns=(kiln("K1", "G"), kiln("K2", "G")),
        programmes=(programme("G", G),),
        products=(product("MUG", "G", stages=(G,)),),
        furniture=furniture(1),
        lines=(line("O1", "MUG", 8, 0),),
        lots=(Lot(code="L1", product="MUG", step=0, pieces=8, order_line="O1"),),
    )
    found = plan(shared)
    first, second = found.firings
    assert first.furniture_back == first.unload_end + timedelta(hours=1)
    assert second.load_start >= first.furniture_back
    assert audit_plan(shared, found) == ()


def test_a_night_firing_needs_leave_to_burn_unattended() -> None:
    """A 12 h fire fits no 9 h shift: without unattended firing the line stays open and the crew is the reason."""
    shifts = WorkCalendar(shifts=WEEKDAYS, unattended_firing=False)
    long_fire = works(
        calendar=shifts, lines=(line("O1", "MUG", 2, 9),), lots=(Lot(code="L", product="MUG", step=0, pieces=2),)
    )
    found = plan(long_fire)
    assert found.firings == ()
    assert found.outcomes[0].reason is LateReason.CREW
    assert audit_plan(long_fire, found) == ()
    short_fire = replace(long_fire, programmes=(programme("D", D, hours=6.0),))
    fired = plan(short_fire).firings[0]
    assert fired.fire_start.hour >= 7
    assert fired.fire_end.hour <= 16


def test_nobody_works_without_shifts() -> None:
    """Without shifts nothing is loaded; the plan is empty and says so by line."""
    idle = works(calendar=WorkCalendar(), lines=(line("O1", "MUG", 2, 9),),
                 lots=(Lot(code="L", product="MUG", step=0, pieces=2),))  # fmt: skip
    found = plan(idle)
    assert found.firings == ()
    assert found.goals.open_lines == 1
    assert found.outcomes[0].reason is LateReason.CREW


def test_reasons_of_late_lines() -> None:
    """Due before the firings alone allow it; a full kiln; moulds too slow; ware nothing holds."""
    base = works(lines=(line("O1", "MUG", 2, 9),), lots=(Lot(code="L", product="MUG", step=0, pieces=2),))
    overdue = plan(replace(base, lines=(line("O1", "MUG", 2, -3),)))
    assert overdue.outcomes[0].reason is LateReason.TOO_LATE_WHEN_ORDERED
    full = plan(replace(base, lines=(line("O1", "MUG", 40, 3),),
                        lots=(Lot(code="L", product="MUG", step=0, pieces=40),)))  # fmt: skip
    assert full.outcomes[0].reason is LateReason.KILN
    slow = Supply(moulds=(Mould(shape="CUP", moulds_pieces=1, casts_per_day=1.0),))
    late = plan(replace(base, lots=(), supply=slow, lines=(line("O1", "MUG", 9, 5),)))
    assert late.outcomes[0].reason is LateReason.SUPPLY
    stuck = plan(base, packer=Counting(room_pieces=0))
    assert stuck.outcomes[0].reason is LateReason.NO_ROOM
    assert stuck.outcomes[0].open_pieces == 2


class _Stops:
    """Listens, and wants to stop after so many words on packing."""

    def __init__(self, after: int) -> None:
        self.left = after

    def heard(self, progress: Progress) -> bool:
        assert 0.0 <= progress.share <= 1.0
        self.left -= progress.step.startswith("packing")
        return self.left > 0


def busy_works() -> Works:
    """Twelve lines that take many firings."""
    return works(
        lines=tuple(line(f"O{k}", "MUG", 4, k) for k in range(12)),
        lots=tuple(Lot(code=f"L{k}", product="MUG", step=0, pieces=4, order_line=f"O{k}") for k in range(12)),
    )


def test_a_listener_or_an_interrupt_ends_with_the_best_so_far() -> None:
    """Stopped early, what was laid out is returned with a remark and stays sound; an interrupt does the same."""
    early = plan(busy_works(), listener=_Stops(5))
    assert 0 < len(early.firings) < 12
    assert "stopped early" in early.remarks[0]
    assert audit_plan(busy_works(), early) == ()

    class Interrupted(Counting):
        def __call__(self, *args: object, **more: object):  # type: ignore[no-untyped-def]
            if self.calls >= 3:
                raise KeyboardInterrupt
            return super().__call__(*args, **more)  # type: ignore[arg-type]

    cut = plan(busy_works(), packer=Interrupted(room_pieces=4))
    assert len(cut.firings) == 3
    assert cut.goals.open_lines == 9


def test_an_interrupt_that_the_packer_swallows_still_ends_the_plan() -> None:
    """A packer that ends its load at Ctrl-C returns a load: the plan keeps it and ends there."""

    class Swallows(Counting):
        def __call__(self, *args: object, **more: object):  # type: ignore[no-untyped-def]
            if self.calls == 2:
                with contextlib.suppress(KeyboardInterrupt):
                    signal.raise_signal(signal.SIGINT)
            return super().__call__(*args, **more)  # type: ignore[arg-type]

    before = signal.getsignal(signal.SIGINT)
    cut = plan(busy_works(), packer=Swallows(room_pieces=4))
    assert len(cut.firings) == 3
    assert signal.getsignal(signal.SIGINT) is before
    with ThreadPoolExecutor(1) as elsewhere:
        assert len(elsewhere.submit(plan, busy_works()).result().firings) == 12


def test_a_refused_load_is_not_fired() -> None:
    """A load the checker finds fault with is left out, with a remark that says what was found."""
    from kilnpack.errors import Finding

    def refuses(checked: Works, load: object) -> tuple[Finding, ...]:
        del checked, load
        return (Finding(file="load", row=None, field="F6", found="a crooked post", wanted="posts over posts"),)

    found = plan(busy_works(), checker=refuses)
    assert found.firings == ()
    assert any("crooked" in remark for remark in found.remarks)


def test_loads_are_remembered_by_content() -> None:
    """The same lots with the same furniture are packed once, however many policies ask for them."""
    packer = Counting(room_pieces=4)
    found = plan(busy_works(), packer=packer)
    assert packer.calls <= 2 * len(found.firings)


def test_under_the_least_ware_is_remarked() -> None:
    """A nearly empty kiln fires differently: the plan says which firings are under the least ware mass."""
    base = works(lines=(line("O1", "MUG", 1, 9),), lots=(Lot(code="L", product="MUG", step=0, pieces=1),))
    found = plan(replace(base, kilns=(replace(base.kilns[0], least_ware_kg=5.0),)))
    assert found.remarks == ("F1: 0.3 kg of ware is under the least of 5 kg",)


def test_little_ware_waits_for_more_when_no_line_gets_late() -> None:
    """A firing under the least ware mass waits for later ware; it goes small only where waiting would make it late."""
    lots = (
        Lot(code="A", product="MUG", step=0, pieces=1, order_line="O1"),
        Lot(code="B", product="MUG", step=0, pieces=2, order_line="O2", ready_at=NOW + timedelta(days=9)),
    )
    base = works(lines=(line("O1", "MUG", 1, 60), line("O2", "MUG", 2, 60)), lots=lots)
    base = replace(base, kilns=(replace(base.kilns[0], least_ware_kg=0.6),))
    assert [firing.load.pieces for firing in plan(base).firings] == [3]
    soon = replace(base, lines=(replace(base.lines[0], due=date(2026, 3, 4)), base.lines[1]))
    found = plan(soon)
    assert [firing.load.pieces for firing in found.firings] == [1, 2]
    assert found.outcomes[0].late_days == 0
    assert audit_plan(soon, found) == ()


def test_surplus_of_an_order_starts_no_firing() -> None:
    """Pieces beyond what an order still wants, once ware further on fills it, are not fired on their own."""
    mug = product("MUG", "B", "D", stages=(Stage.BISCUIT, Stage.DECORATION))
    lots = (
        Lot(code="A", product="MUG", step=1, pieces=4, order_line="O1"),
        Lot(code="B", product="MUG", step=0, pieces=2, order_line="O1"),
    )
    base = works(
        lines=(line("O1", "MUG", 4, 60),),
        lots=lots,
        products=(mug,),
        programmes=(programme("B", Stage.BISCUIT), programme("D", Stage.DECORATION)),
        kilns=(kiln("K", "B", "D"),),
    )
    assert [firing.programme for firing in plan(base).firings] == ["D"]
    more = replace(base, lines=(replace(base.lines[0], quantity_pieces=5),))
    assert sorted(firing.programme for firing in plan(more).firings) == ["B", "D", "D"]


def test_a_run_that_cannot_be_better_is_given_up() -> None:
    """Against a plan without lateness in one firing, two firings or a missed due day are enough to give up."""
    shop = Shop(busy_works())
    good = PlanGoals(open_lines=0, weighted_late_days=0.0, firings=1, mean_finish_h=10.0)
    assert not cannot_beat(shop, good)
    found = run(busy_works(), FIRST_DUE, EstimatedPack(EvenShare(4)), EvenShare(4), seed=1)
    assert cannot_beat(found.shop, good)
    assert not cannot_beat(found.shop, replace(good, firings=99))
    overdue = replace(busy_works(), lines=tuple(replace(row, due=date(2026, 2, 20)) for row in busy_works().lines))
    late = run(overdue, FIRST_DUE, EstimatedPack(EvenShare(4)), EvenShare(4), seed=1)
    assert cannot_beat(late.shop, replace(good, firings=99))
    assert not cannot_beat(found.shop, replace(good, weighted_late_days=99.0, firings=99))
    assert not cannot_beat(found.shop, replace(good, open_lines=1))


def test_seconds_budget_plans_too() -> None:
    """With a budget in seconds the same works is planned whole."""
    found = plan(busy_works(), budget=Budget(seconds=0.5))
    assert found.goals.open_lines == 0


def test_without_an_estimate_area_and_height_steer_the_plan() -> None:
    """The estimate is learnt from the first load that leaves ware out; every lot is fired all the same."""
    given = works(
        lines=tuple(line(f"O{k}", "MUG", 9, k) for k in range(4)),
        lots=tuple(Lot(code=f"L{k}", product="MUG", step=0, pieces=9, order_line=f"O{k}") for k in range(4)),
    )
    found = plan(given, estimate=None, packer=Counting(room_pieces=6, per_tier_pieces=6))
    assert len(found.firings) == 6
    assert audit_plan(given, found) == ()


def test_ware_that_no_kiln_takes_stays_open() -> None:
    """A product whose programme no kiln fires is never done; stock of another line's colour is no help."""
    alone = works(
        programmes=(programme("D", D), programme("X", D)),
        products=(product("MUG", "D", stages=(D,)), product("ODD", "X", stages=(D,))),
        lines=(line("O1", "ODD", 2, 9), line("O2", "MUG", 2, 9)),
        lots=(Lot(code="L", product="MUG", step=0, pieces=2),),
    )
    found = plan(alone)
    assert [row.open_pieces for row in found.outcomes] == [2, 0]
    assert found.outcomes[0].reason is LateReason.NO_ROOM
    assert "holds" in found.outcomes[0].detail


def random_works(seed: int) -> Works:
    """Three kilns, two routes, stock at every stage, and hands, glazing, moulds and shelves that bind."""
    draw = random.Random(seed)
    zone = draw.choice(["UTC", "Europe/Vienna", "America/New_York"])
    start = draw.choice([NOW, datetime(2026, 3, 26, 9, 30), datetime(2026, 10, 22, 5, 0)])
    shifts = draw.choice([WEEKDAYS, (*WEEKDAYS, Shift(weekday=5, start=WEEKDAYS[0].start, end=WEEKDAYS[0].end,
                                                      crew_people=1))])  # fmt: skip
    routes = (product("MUG", "B", "G", stages=(B, G), rest_h=24.0, dry_h=24.0, scrap_share=0.06),
              product("ROSE", "B", "G", "D8", "D7", stages=(B, G, D, D), rest_h=12.0, scrap_share=0.03))  # fmt: skip
    lines = tuple(
        line(f"O{k}", draw.choice(["MUG", "ROSE", "SET"]), draw.randint(1, 25), draw.randint(5, 30),
             part_delivery=draw.random() < 0.7, priority_factor=draw.choice([1.0, 3.0]),
             not_before=draw.choice([None, date(2026, 3, 20)]), delivered_pieces=draw.choice([0, 0, 1]))
        for k in range(draw.randint(1, 7))
    )  # fmt: skip
    lots = tuple(_random_lot(draw, k, lines, start) for k in range(draw.randint(0, 6)))
    lots = tuple(
        lot if lot.order_line is None or _line_wants(lines, lot) else replace(lot, order_line=None) for lot in lots
    )
    return works(
        now=start,
        settings=WorksSettings(),
        calendar=WorkCalendar(time_zone=zone, shifts=shifts, holidays=(date(2026, 3, 9),), unattended_firing=True),
        supply=Supply(
            moulds=(Mould(shape="CUP", moulds_pieces=draw.randint(5, 30), casts_per_day=draw.choice([0.5, 1.0, 2.5])),),
            drying_places_pieces=draw.choice([None, 40]),
            glazing_pieces_per_hour=draw.choice([None, 6.0, 40.0]),
        ),
        kilns=(kiln("KB", "B"), kiln("KG", "G", cars=draw.randint(1, 2), draw_degc=draw.choice([None, 250.0])),
               kiln("KD", "D8", "D7")),
        programmes=(programme("B", B, hours=16.0), programme("G", G, hours=23.0, cool_h=10.0, outside_h=9.0,
                                                             recorded_kg=40.0), programme("D8", D), programme("D7", D)),
        products=routes,
        sets=(ProductSet(code="SET", name="set", items=(SetItem(product="MUG", count_pieces=2),
                                                         SetItem(product="ROSE", count_pieces=1))),),
        furniture=furniture(draw.choice([6, 9, 40])),
        lines=lines,
        lots=lots,
    )  # fmt: skip


def _random_lot(draw: random.Random, number: int, lines: tuple[OrderLine, ...], start: datetime) -> Lot:
    code = draw.choice(["MUG", "ROSE"])
    step = draw.randint(0, 2 if code == "MUG" else 4)
    return Lot(
        code=f"W{number}",
        product=code,
        step=step,
        pieces=draw.randint(1, 30),
        order_line=draw.choice([None, None, *(row.code for row in lines)]),
        kind=draw.choice([LotKind.NORMAL] * 5 + [LotKind.SAMPLE, LotKind.REFIRE, LotKind.FILLER]),
        ready_at=draw.choice([None, start + timedelta(hours=draw.randint(0, 90))]),
        glazed=step != 1 or draw.random() < 0.5,
    )


def _line_wants(lines: tuple[OrderLine, ...], lot: Lot) -> bool:
    item = next(row.item for row in lines if row.code == lot.order_line)
    return item in {lot.product, "SET"}


@pytest.mark.long
@settings(max_examples=10)
@given(seed=st.integers(0, 10**6))
def test_no_plan_breaks_a_rule(seed: int) -> None:
    """Whatever the works, the independent check of the plan finds nothing, and first due first is never better."""
    small = random_works(seed)
    quick = (Policy(kind=PolicyKind.MOST_GAIN), Policy(kind=PolicyKind.LOOK_AHEAD, longest_wait_h=24.0))
    found = plan(small, 24, policies=quick)
    assert audit_plan(small, found) == ()
    assert found.goals.order <= plan(small, 24, policies=()).goals.order


@pytest.mark.long
def test_a_plan_repeats_with_effort_and_seed() -> None:
    """The same works, effort and seed give the same plan."""
    small = random_works(77)
    few = {"policies": (Policy(kind=PolicyKind.LOOK_AHEAD),), "budget": Budget(effort=200)}
    assert plan(small, 24, **few) == plan(small, 24, **few)
    assert FIRST_DUE.name == "first due first"


def test_first_due_first_packed_in_a_second_process_gives_the_same_plan() -> None:
    """With two processes the plan is what one process finds, and never worse than first due first served."""
    given = busy_works()
    alone, beside = plan(given), plan(given, workers=2)
    assert beside.goals == alone.goals
    assert beside.goals.order <= plan(given, policies=()).goals.order
    assert audit_plan(given, beside) == ()


def test_a_run_in_another_process_hears_to_stop_and_what_to_beat(tmp_path: Path) -> None:
    """What one process says to another arrives whole: goals to be beaten, or to stop."""
    word = Word(tmp_path / "word")
    assert not word.was_said
    assert word.goals() is None
    goals = PlanGoals(open_lines=0, weighted_late_days=1.5, firings=3, mean_finish_h=9.25)
    word.say(goals)
    assert word.goals() == goals
    given, budget = busy_works(), Budget(effort=1)
    none = replace(goals, weighted_late_days=0.0, firings=0)
    word.say(none)
    assert first_due_plan(given, budget, 1, Counting(room_pieces=4), None, word) is None
    word.say(None)
    stopped = first_due_plan(given, budget, 1, Counting(room_pieces=4), None, word)
    assert stopped is not None
    assert stopped.firings == ()
    assert "stopped early" in stopped.remarks[0]


def test_a_firing_waits_for_shelves_where_the_policy_asks_for_them() -> None:
    """Guards waiting for furniture: two kilns share shelves for one and a half loads; half loads take more firings."""
    shared = works(
        kilns=(kiln("K", "D"), kiln("L", "D")), furniture=furniture(shelves=3),
        lines=(line("O", "MUG", 16, 9),), lots=(Lot(code="A", product="MUG", step=0, pieces=16, order_line="O"),),
    )  # fmt: skip
    full = Packed(taken={"A": 4}, ware_kg=1.0, furniture_kg=1.0, shelves=2, furniture=Counter({(SHELF, "S"): 2}))
    pack = EstimatedPack(EvenShare(4), {("K", "D"): full, ("L", "D"): full})
    hasty = Policy(kind=PolicyKind.LOOK_AHEAD)
    waits = replace(hasty, least_furniture_share=0.8)
    assert len(run(shared, hasty, pack, EvenShare(4), seed=1).shop.fired) > 4
    found = run(shared, waits, pack, EvenShare(4), seed=1).shop.fired
    assert [sum(fired.packed.taken.values()) for fired in found] == [4, 4, 4, 4]
    assert "furniture for at least 80%" in waits.name
    assert EstimatedPack(EvenShare(4)).furniture_share(shared, shared.kilns[0], shared.programmes[0], Counter()) == 1.0
