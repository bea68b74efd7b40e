"""A firing moved by hand: what follows from it, and what it may not do."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import Finding
from kilnpack.model.plans import Down, FiringState
from kilnpack.planning.by_hand import Move, moved_by_hand
from kilnpack.planning.plan_audit import audit_plan
from tests.planning.lanes import lane_plan, lane_works
from tests.planning.small import Counting

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works
    from kilnpack.search.budget import Budget

HOUR = timedelta(hours=1)


def nothing(works: Works, load: Load) -> tuple[Finding, ...]:
    """A checker that finds nothing."""
    return ()


def never(works: Works, kiln: Kiln, lots: tuple[Lot, ...]) -> Load:
    """A packer that must not be asked."""
    raise AssertionError("packed without need")


def moved(
    code: str, hours: float = 0.0, kiln: str | None = None, plan: Plan | None = None
) -> tuple[Plan, tuple[Finding, ...]]:  # fmt: skip
    """Move a firing of the plan."""
    plan = plan or lane_plan()
    firing = plan.firing(code)
    move = Move(firing=code, load_start=firing.load_start + hours * HOUR, kiln=kiln or firing.kiln)
    return moved_by_hand(lane_works(), plan, move, checker=nothing, pack=never)


def last_of(kiln: str) -> str:
    """The last firing of a kiln in the plan."""
    return max((row for row in lane_plan().firings if row.kiln == kiln), key=lambda row: row.load_start).code


def test_a_later_firing_delays_its_line_and_the_plan_holds() -> None:
    """Guards what follows: one day later, every moment of the firing and the finish of its line are a day later."""
    code = last_of("K2")
    was = lane_plan().firing(code)
    plan, findings = moved(code, 24.0)
    now = plan.firing(code)
    assert findings == ()
    assert audit_plan(lane_works(), plan) == ()
    assert now.load_start - was.load_start == timedelta(days=1)
    assert now.unload_end - was.unload_end == timedelta(days=1)
    finish = {row.line: row.finish for row in plan.outcomes}
    before = {row.line: row.finish for row in lane_plan().outcomes}
    assert finish["1-1"] == now.unload_end != before["1-1"]
    assert finish["2-1"] == before["2-1"]
    assert [row for row in plan.firings if row.code != code] == [r for r in lane_plan().firings if r.code != code]
    assert any(code in row and "moved by hand" in row for row in plan.remarks)


def test_a_moved_firing_leaves_the_energy_of_the_plan_as_it_was() -> None:
    """Guards comparing: the energy of the plan before stands until it is planned anew, not another estimate of it."""
    was = lane_plan()
    plan, _ = moved(last_of("K2"), 24.0, plan=replace(was, goals=replace(was.goals, energy_kwh=321.0)))
    assert plan.goals.energy_kwh == 321.0


def test_there_and_back_gives_the_plan_before() -> None:
    """Guards against drift: a day later and a day sooner is no move, but for what the plan says of it."""
    code = last_of("K2")
    plan, findings = moved(code, 24.0)
    assert findings == ()
    back, findings = moved(code, -24.0, plan=plan)
    assert findings == ()
    assert back.firings == lane_plan().firings
    assert [row.finish for row in back.outcomes] == [row.finish for row in lane_plan().outcomes]


@pytest.mark.parametrize(
    ("code", "hours", "kiln", "field", "found"),
    [
        ("F1", 1.0, None, "F3", "not there when it is loaded"),
        ("F1", 1.0, None, "F2 kiln W", "in use by F1"),
        ("F3", -5.0, None, "F3 2-1@2", "not there when it is loaded"),
        ("F11", 0.0, "K2", "F12 kiln K2", "in use by F11"),
        ("F1", -24.0, None, "F1 load_start", "01 Mar"),
        ("F1", -1.0, None, "F1 load_start", "02 Mar 06:00"),
        ("F3", 0.0, "W", "F3 kiln", "W"),
        ("F3", 0.0, "nowhere", "F3 kiln", "nowhere"),
    ],
)
def test_a_move_that_breaks_a_rule_says_which(
    code: str, hours: float, kiln: str | None, field: str, found: str
) -> None:
    """Guards the rules, each broken on purpose: ware not there, kiln in use, before the plan, no hands, wrong kiln."""
    _, findings = moved(code, hours, kiln)
    assert any(one.field.startswith(field) and found in one.found for one in findings), findings


def test_a_kiln_that_is_down_takes_no_firing() -> None:
    """Guards down times: a firing is not moved into a stretch in which its kiln is down."""
    code = last_of("K2")
    firing = lane_plan().firing(code)
    down = Down(kiln="K2", start=firing.load_start + 30 * HOUR, end=firing.load_start + 60 * HOUR)
    plan = replace(lane_plan(), downs=(down,))
    _, findings = moved(code, 48.0, plan=plan)
    assert any("down" in one.found for one in findings)


@pytest.mark.parametrize("state", [FiringState.LOCKED, FiringState.STARTED])
def test_what_is_locked_or_begun_stays(state: FiringState) -> None:
    """Guards locks: a locked or begun firing is not moved, whatever is asked for."""
    plan = lane_plan()
    firings = tuple(replace(row, state=state) if row.code == "F12" else row for row in plan.firings)
    after, findings = moved("F12", 24.0, plan=replace(plan, firings=firings))
    assert [(one.field, one.found) for one in findings] == [("F12 state", state.value)]
    assert after.firing("F12").load_start == plan.firing("F12").load_start


def test_a_car_that_is_free_carries_a_moved_load() -> None:
    """Guards cars: moved to where its own car is away, a load goes on the other one."""
    code = last_of("W")
    plan, findings = moved(code, -24.0)
    own = lane_plan().firing(code).car
    others = {row.car: row for row in lane_plan().firings if row.kiln == "W" and row.code != code}
    assert set(others) == {"W-1", "W-2"}
    if not findings:
        assert plan.firing(code).car != own or audit_plan(lane_works(), plan) == ()
    assert plan.firing(code).load.car == plan.firing(code).car


def test_another_kiln_takes_the_load_as_it_is_or_packed_anew() -> None:
    """Guards the other kiln: the load is kept where the checker allows it, packed anew where not, refused in part."""
    code = last_of("K2")
    plan, findings = moved(code, 24.0, "K1")
    assert findings == ()
    assert plan.firing(code).load.kiln == plan.firing(code).kiln == "K1"
    firing = lane_plan().firing(code)
    move = Move(firing=code, load_start=firing.load_start + 24 * HOUR, kiln="K1")
    asked: list[str] = []

    def stands_not(works: Works, load: Load) -> tuple[Finding, ...]:
        asked.append(load.kiln)
        return (Finding(file="load", row=None, field="R", found="x", wanted="y"),) if len(asked) == 1 else ()

    def pack(room: int) -> tuple[Plan, tuple[Finding, ...]]:
        asked.clear()
        packer = Counting(room_pieces=room)

        def packed(works: Works, kiln: Kiln, lots: tuple[Lot, ...]) -> Load:
            budget: Budget = None  # type: ignore[assignment]
            return packer(works, kiln, works.programme(firing.programme), lots, budget=budget, seed=0)

        return moved_by_hand(lane_works(), lane_plan(), move, checker=stands_not, pack=packed)

    anew, findings = pack(4)
    assert findings == ()
    assert anew.firing(code).load.pieces == firing.load.pieces
    _, findings = pack(3)
    assert [one.found for one in findings] == ["3 of its 4 pieces go in"]


def test_a_fault_that_was_there_before_does_not_hold_a_move_up() -> None:
    """Guards a works that went on: what the plan broke before the move is not said of the move."""
    late = replace(lane_works(), now=datetime(2026, 3, 2, 12))
    plan = lane_plan()
    assert audit_plan(late, plan)
    code = last_of("K2")
    firing = plan.firing(code)
    move = Move(firing=code, load_start=firing.load_start + 24 * HOUR, kiln=firing.kiln)
    _, findings = moved_by_hand(late, plan, move, checker=nothing, pack=never)
    assert not [one for one in findings if one.field.startswith("F1 load_start")]
