"""What plans are told apart by: lateness, then energy, firings, an early finish, whole sets and lines kept together."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.calibration import Calibration
from kilnpack.heat.contents import load_masses
from kilnpack.heat.load_energy import load_energy
from kilnpack.model.orders import Lot
from kilnpack.model.pieces import ProductSet, SetItem, Stage
from kilnpack.model.plans import Plan, PlanGoals, energy_step
from kilnpack.model.settings import GOAL_ORDER, PlanGoal
from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.firing_energy import firings_kwh
from kilnpack.planning.interrupts import Interrupts
from kilnpack.planning.outcomes import cannot_beat, goals_of, outcomes_of, tight_days
from kilnpack.planning.packs import EstimatedPack
from kilnpack.planning.planner import FIRST_DUE, plan_firings
from kilnpack.planning.planning_call import planning_of
from kilnpack.planning.run import Run, run
from kilnpack.search.budget import Budget
from kilnpack.search.listener import Silent
from kilnpack.works_folder import read_works
from tests.planning.small import NO_HANDS, NOW, Counting, EvenShare, line, product, works

if TYPE_CHECKING:
    from kilnpack.model.works import Works

DEMO = Path(__file__).parents[2] / "demo_orders" / "porcelain_works"
SOME = PlanGoals(open_lines=0, weighted_late_days=1.0, firings=4, mean_finish_h=30.0, energy_kwh=1000.0)


def ran(given: Works, room: int = 4) -> Run:
    """Run first due first served with estimated loads."""
    return run(given, FIRST_DUE, EstimatedPack(EvenShare(room)), EvenShare(room), seed=1)


def goals(found: Run) -> PlanGoals:
    """Return what a run is judged by."""
    return goals_of(found, outcomes_of(found, {n: f"F{n}" for n in range(len(found.shop.fired))}))


def test_lateness_comes_first_and_the_rest_in_the_works_own_order() -> None:
    """Guards the order: no energy buys a late day, and of equally late plans the first goal that differs decides."""
    worse_by = {
        PlanGoal.ENERGY: replace(SOME, energy_kwh=1100.0), PlanGoal.FIRINGS: replace(SOME, firings=5),
        PlanGoal.FINISH: replace(SOME, mean_finish_h=40.0), PlanGoal.SETS: replace(SOME, set_wait_days=1.0),
        PlanGoal.SPLITS: replace(SOME, split_lines=1),
    }  # fmt: skip
    later = replace(SOME, weighted_late_days=1.5)
    for one in worse_by.values():
        assert SOME.order < one.order < later.order
    for first, then in pairwise(GOAL_ORDER):
        assert worse_by[then].order < worse_by[first].order
        turned = {goal: replace(one, then=(then, first)) for goal, one in worse_by.items()}
        assert turned[first].order < turned[then].order
    assert replace(SOME, then=()).order == replace(worse_by[PlanGoal.ENERGY], then=()).order


def test_energies_closer_than_any_forecast_count_as_the_same() -> None:
    """Guards later goals: a tenth of a percent of energy must not decide before the number of firings is looked at."""
    assert energy_step(None) == energy_step(0.0) == 0.0
    steps = [energy_step(1000.0 * 1.001**k) for k in range(1000)]
    assert steps == sorted(steps)
    assert len(set(steps)) == pytest.approx(1000 * 0.001 / 0.00995, abs=3)


def test_energy_of_a_firing_is_about_that_of_its_load_in_the_heat_model() -> None:
    """Guards the planner's energy against the model's own balance of one packed load of a cold kiln, fitted or not."""
    demo = read_works(DEMO)
    for code, programme, fitted in (("E1", "BISC", Calibration()), ("D1", "COL860", Calibration(lining_factor=1.4))):
        steps = [
            (row.code, n) for row in demo.products for n, one in enumerate(row.route) if one.programme == programme
        ]
        lots = tuple(Lot(code=f"W{k}", product=item, step=n, pieces=30) for k, (item, n) in enumerate(steps[:4]))
        given = replace(demo, lots=lots)
        kiln = given.kiln(code)
        load = pack_load(given, kiln, given.programme(programme), lots, budget=Budget(effort=1), seed=1)
        masses = load_masses(given, load)
        packed = SimpleNamespace(ware_kg=sum(masses.ware_kg.values()), furniture_kg=sum(masses.furniture_kg.values()))
        fired = SimpleNamespace(kiln=kiln, programme=given.programme(programme), packed=packed)
        found = firings_kwh(given, [fired, fired], {code: fitted})  # type: ignore[list-item]
        assert found is not None
        wanted = load_energy(given, load, calibration=fitted).balance.total_kwh
        assert load.pieces > 0
        assert found / 2 == pytest.approx(wanted, rel=0.03)


def test_a_kiln_without_a_lining_leaves_energy_out() -> None:
    """Guards plans of kilns whose heat cannot be computed: energy is not known, and other goals decide."""
    assert goals(ran(works(lines=(line("O", "MUG", 4, 9),)))).energy_kwh is None


def set_works() -> Works:
    """A set of two products; one is ready at once, the other two days later; both fill the kiln alone."""
    products = (
        product("MUG", "D", stages=(Stage.DECORATION,)), product("JUG", "D", stages=(Stage.DECORATION,)),
    )  # fmt: skip
    lots = (
        Lot(code="A", product="MUG", step=0, pieces=4, order_line="O"),
        Lot(code="B", product="JUG", step=0, pieces=2, order_line="O", ready_at=NOW + timedelta(days=2)),
    )
    items = (SetItem(product="MUG", count_pieces=2), SetItem(product="JUG", count_pieces=1))
    return works(
        products=products, sets=(ProductSet(code="SET", name="SET", items=items),), lots=lots,
        lines=(line("O", "SET", 2, 9),),
    )  # fmt: skip


def test_sets_that_wait_for_their_parts_and_lines_in_several_firings_are_counted() -> None:
    """Guards both counts on a plan done by hand: the mugs wait two days for the jugs; ten mugs take three firings."""
    found = goals(ran(set_works()))
    assert (found.firings, found.split_lines) == (2, 0)
    assert found.set_wait_days == pytest.approx(2.0)
    lot = Lot(code="A", product="MUG", step=0, pieces=10, order_line="O")
    split = goals(ran(works(lines=(line("O", "MUG", 10, 9), line("P", "MUG", 1, 9)), lots=(lot,))))
    assert split.split_lines == 1
    assert split.set_wait_days == 0.0


def test_weights_turn_goals_into_late_days() -> None:
    """Guards the works' weights: each adds its goal times its late days, and nothing where it is 0."""
    settings = replace(NO_HANDS, firing_days=0.5, set_waiting_days=2.0, split_line_days=3.0)
    plain = goals(ran(set_works()))
    assert plain.weighed_days == 0.0
    weighed = goals(ran(replace(set_works(), settings=settings)))
    assert weighed.weighed_days == pytest.approx(0.5 * 2 + 2.0 * 2.0)
    assert weighed.late == pytest.approx(plain.late + 5.0)


def test_energy_weighs_too() -> None:
    """Guards `mwh_days`: the demonstration works' plan weighs what its MWh come to."""
    demo = read_works(DEMO)
    given = replace(demo, lines=demo.lines[:3], settings=replace(demo.settings, mwh_days=2.0))
    found = goals(run(given, FIRST_DUE, EstimatedPack(EvenShare(40)), EvenShare(40), seed=1))
    assert found.energy_kwh is not None
    assert found.weighed_days == pytest.approx(2.0 * found.energy_kwh / 1000.0)


def planned(order: tuple[PlanGoal, ...], **weights: float) -> Plan:
    """Plan two lots, the second ready in 20 h, for a works with goals of its own."""
    lots = (
        Lot(code="A", product="MUG", step=0, pieces=2, order_line="O1"),
        Lot(code="B", product="MUG", step=0, pieces=2, order_line="O2", ready_at=NOW + timedelta(hours=20)),
    )
    given = works(
        lines=(line("O1", "MUG", 2, 0, priority_factor=0.1), line("O2", "MUG", 2, 9)), lots=lots,
        settings=replace(NO_HANDS, goal_order=order, **weights),  # type: ignore[arg-type]
    )  # fmt: skip
    return plan_firings(given, budget=Budget(effort=3), seed=1, packer=Counting(room_pieces=4), estimate=EvenShare(4))


def test_the_plan_follows_the_works_own_goals() -> None:
    """Guards that goals and weights choose: a firing saved is worth a late day only to the works that says so."""
    assert len(planned(GOAL_ORDER).firings) == 2
    assert len(planned(GOAL_ORDER, firing_days=1.0).firings) == 1


def test_a_run_is_given_up_by_the_goal_that_comes_first() -> None:
    """Guards giving up early: only a goal that can but grow and comes first may end a run that is not later."""
    shop = ran(works(lines=(line("O", "MUG", 9, 9),))).shop
    best = PlanGoals(open_lines=0, weighted_late_days=0.0, firings=2, mean_finish_h=1.0)
    assert len(shop.fired) == 3
    assert cannot_beat(shop, best)
    assert not cannot_beat(shop, replace(best, then=(PlanGoal.FINISH, PlanGoal.FIRINGS)))
    assert not cannot_beat(shop, replace(best, firings=3))
    dear = works(lines=(line("O", "MUG", 9, 9),), settings=replace(NO_HANDS, firing_days=1.0))
    assert cannot_beat(ran(dear).shop, replace(best, firings=9, weighed_days=2.5))
    assert not cannot_beat(ran(dear).shop, replace(best, firings=9, weighed_days=3.5))


def test_seconds_go_where_a_firing_takes_most_energy() -> None:
    """Guards the share of each load: the glost firing gets more than the decoration firing, all together the same."""
    demo = read_works(DEMO)
    planning = planning_of(demo, Budget(seconds=100.0), 1, Silent(), EvenShare(), Interrupts(), pack_load, None)
    rows = [("G1", "GLOST")] * 3 + [("D1", "COL860")] * 5 + [("E1", "BISC")] * 2
    fired = [SimpleNamespace(kiln=demo.kiln(kiln), programme=demo.programme(code), kept=None) for kiln, code in rows]
    planning.expect(fired)  # type: ignore[arg-type]
    planning.run_ends_s = 20.0
    seconds = [planning.load_budget(demo.kiln(kiln), demo.programme(code)).seconds or 0.0 for kiln, code in rows]
    assert seconds[0] > 2.0 > seconds[3]
    assert sum(seconds) == pytest.approx(20.0, rel=0.05)
    bare = works()
    planning = planning_of(bare, Budget(seconds=100.0), 1, Silent(), EvenShare(), Interrupts(), pack_load, None)
    planning.expect([SimpleNamespace(kiln=bare.kilns[0], programme=bare.programmes[0], kept=None)])  # type: ignore[list-item]
    assert planning.worth == {}


def test_goals_in_words_name_what_counts() -> None:
    """Guards what planners read: energy, sets, split lines and moved firings are said where there are any."""
    assert SOME.said == "1 weighted late days, 4 firings of about 1,000 kWh, mean finish 30 h"
    more = replace(SOME, open_lines=2, energy_kwh=None, set_wait_days=1.25, split_lines=3, moved_firings=1)
    assert more.said == (
        "2 lines not done, 1 weighted late days, 4 firings, mean finish 30 h, sets wait 1.2 days for their parts, "
        "3 lines in several firings of a programme, 1 firings moved"
    )


def test_lines_with_little_in_hand_count_where_loads_are_only_estimated() -> None:
    """Guards the choice of what is packed: days nearer than 96 h to the due day add up by priority, 4 a line."""
    given = works(
        lines=(line("O1", "MUG", 4, 0), line("O2", "MUG", 4, 2, priority_factor=2.0), line("O3", "MUG", 4, 99)),
        lots=tuple(Lot(code=f"L{k}", product="MUG", step=0, pieces=4, order_line=f"O{k}") for k in (1, 2, 3)),
    )
    found = ran(given)
    outcomes = outcomes_of(found, {n: f"F{n}" for n in range(len(found.shop.fired))})
    ends = {row.line: found.shop.clock.hour(row.finish) for row in outcomes if row.finish is not None}
    assert ends == pytest.approx({"O1": 24.0, "O2": 48.0, "O3": 72.0})
    assert tight_days(found.shop, outcomes) == pytest.approx(4.0 + 2.0 * 3.0)
