"""The plan that counts, through the records: as far as it is, changed in place, planned anew by the real planner."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import ChangedMeanwhile, InputFaulty
from kilnpack.model.plans import FiringState
from kilnpack.records.firings import firing_row, firing_rows, lock, move_on, plan_of
from kilnpack.records.inspection import inspect
from kilnpack.records.standing_plan import change_plan, newest_plan, standing_plan
from kilnpack.records.states import RecordedState
from kilnpack.records.works_values import get_works
from kilnpack.search.budget import Budget
from kilnpack.search.listener import Silent
from kilnpack.workflow import standing
from kilnpack.workflow.shown import moved_lines
from kilnpack.workflow.standing import (
    Anew,
    AskedMove,
    BegunFrom,
    keep_planned,
    lock_firing,
    move_firing,
    planning_work,
    promising_work,
)
from tests.planning.lanes import lane_plan
from tests.records.small import all_first
from tests.web.planned_place import planned_place_in

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.plans import Plan
    from kilnpack.records.standing_plan import Standing
    from kilnpack.web.place import Place

FIRST = "P1.F1"


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works with a plan of twelve firings, kept as P1."""
    return planned_place_in(tmp_path)


def on(place: Place, code: str, *states: RecordedState) -> None:
    """Let a firing go on from state to state."""
    with place.records.writing("Lena") as session:
        for state in states:
            move_on(session, code, state)


def standing_of(place: Place, hours: float = 0.0) -> Standing:
    """The plan as far as it is, looked at so many hours after it was made."""
    with place.records.reading() as session:
        works = get_works(session)
        return standing_plan(session, "P1", replace(works, now=works.now + timedelta(hours=hours)))


def pieces(found: Standing, lot: str) -> int:
    """The pieces of a lot on the shelves."""
    return sum(row.pieces for row in found.works.lots if row.code == lot)


def test_states_of_the_records_are_those_of_the_plan(place: Place) -> None:
    """Guards planning anew: locked, begun before its time and begun in time each say how they may be moved."""
    on(place, FIRST, RecordedState.LOADING)
    with place.records.writing("Piet") as session:
        lock(session, "P1.F4", locked=True)
    now = standing_of(place)
    states = {row.code: row.state for row in now.plan.firings}
    assert (states["F1"], states["F4"], states["F3"]) == (FiringState.LOCKED, FiringState.LOCKED, FiringState.PLANNED)
    assert pieces(now, "B") == 10
    later = standing_of(place, 8.0)
    assert later.plan.firing("F1").state is FiringState.STARTED
    assert pieces(later, "B") == 6
    assert later.waiting == ()


def test_a_firing_that_nobody_began_is_said(place: Place) -> None:
    """Guards a day that went otherwise: what should have been loaded and was not is named, to be planned anew."""
    found = standing_of(place, 8.0)
    assert found.waiting == ("F1",)
    assert "P1.F1 was to be loaded Mon 02 Mar 07:00, and nobody began it" in found.remarks


def test_ware_that_waits_to_be_inspected_is_not_counted_on(place: Place) -> None:
    """Guards the ware: unloaded it is in no lot; inspected it goes on under the code that the plan gives it."""
    on(place, FIRST, RecordedState.LOADING, RecordedState.FIRING, RecordedState.COOLING, RecordedState.UNLOADED)
    found = standing_of(place, 40.0)
    assert "F1" not in {row.code for row in found.plan.firings}
    assert "P1.F1 is unloaded and not inspected: nothing of its ware is counted on" in found.remarks
    assert pieces(found, "B") == 6
    with place.records.writing("Lena") as session:
        inspect(session, FIRST, all_first({"B": 4}))
    found = standing_of(place, 40.0)
    assert not [row for row in found.remarks if "inspected" in row]
    assert pieces(found, "2-1@2") == 4


def test_a_move_beside_a_firing_that_is_over_leaves_it_in_the_plan(place: Place) -> None:
    """Guards history: moved later, the plan still holds the firing that is over, as it was planned."""
    on(place, FIRST, RecordedState.LOADING, RecordedState.FIRING, RecordedState.COOLING, RecordedState.UNLOADED)
    with place.records.writing("Lena") as session:
        inspect(session, FIRST, all_first({"B": 4}))
        row = newest_plan(session)
        assert row is not None
        version = row.version
    last = max((one for one in lane_plan().firings if one.kiln == "K2"), key=lambda one: one.load_start)
    after = move_firing(
        place.records, "Piet", AskedMove(plan="P1", version=version, firing=last.code, hours=24.0)
    )  # fmt: skip
    assert after.firing("F1") == lane_plan().firing("F1")
    assert len(after.firings) == len(lane_plan().firings)
    assert "line 1-1: done" in moved_lines(lane_plan(), after, last.code)
    with pytest.raises(InputFaulty, match="not over"):
        move_firing(place.records, "Piet", AskedMove(plan="P1", version=version + 1, firing="F1", hours=24.0))


def test_what_is_begun_meanwhile_is_not_changed_in_place(place: Place) -> None:
    """Guards the last look: a firing that was begun after the move was worked out refuses it, as does one unknown."""
    with place.records.reading() as session:
        plan = plan_of(session, "P1")
    on(place, FIRST, RecordedState.LOADING)
    later = replace(plan.firing("F1"), load_start=plan.firing("F1").load_start + timedelta(hours=1))
    moved = replace(plan, firings=(later, *(row for row in plan.firings if row.code != "F1")))
    with pytest.raises(InputFaulty, match="loading"):
        changed(place, moved)
    strange = replace(plan, firings=(*plan.firings, replace(plan.firings[0], code="F99")))
    with pytest.raises(InputFaulty, match="F99"):
        changed(place, strange)


def changed(place: Place, plan: Plan) -> None:
    """Put a plan in the place of the one that counts."""
    with place.records.writing("Piet") as session:
        row = newest_plan(session)
        assert row is not None
        change_plan(session, row, plan)


def test_planned_anew_a_locked_firing_stays_and_the_plan_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Guards all of it: what the real planner made is kept, a firing locked; planned anew it stays under its code."""
    monkeypatch.setattr(standing, "Budget", lambda **_: Budget(effort=2))
    place = planned_place_in(tmp_path, with_plan=False)
    first, begun = planned(place, Anew(seconds=1.0))
    assert begun == BegunFrom(code=None, version=None)
    assert keep_planned(place.records, "Piet", first, begun) == "P1"
    with place.records.reading() as session:
        version = firing_row(session, FIRST).version
    lock_firing(place.records, "Piet", FIRST, version, locked=True)
    second, begun = planned(place, Anew(seconds=1.0, urgent=("2-1",)))
    assert second.firing("F1").state is FiringState.LOCKED
    assert second.firing("F1").load == first.firing("F1").load
    assert second.urgent == ("2-1",)
    assert keep_planned(place.records, "Piet", second, begun) == "P2"
    with place.records.reading() as session:
        rows = {row.code: (row.plan, row.state) for row in firing_rows(session)}
    assert rows[FIRST] == ("P2", RecordedState.PLANNED)
    assert {row for code, row in rows.items() if code.startswith("P1.") and code != FIRST} == {
        ("P1", RecordedState.GIVEN_UP)
    }
    with pytest.raises(ChangedMeanwhile, match="P2 was kept"):
        keep_planned(place.records, "Olga", second, replace(begun, code="P1"))
    with pytest.raises(ChangedMeanwhile, match="plan none"):
        keep_planned(place.records, "Olga", second, BegunFrom(code=None, version=None))


def planned(place: Place, anew: Anew) -> tuple[Plan, BegunFrom]:
    """Plan anew by the real planner, here."""
    with place.records.reading() as session:
        work, begun = planning_work(session, place.folder, anew)
    plan: Plan = work(listener=Silent())
    return plan, begun


def test_freed_for_planning_a_lock_does_not_hold(place: Place) -> None:
    """Guards the option: where locks are not to hold, only what is begun stays."""
    on(place, FIRST, RecordedState.LOADING)
    with place.records.writing("Piet") as session:
        lock(session, "P1.F4", locked=True)
    with place.records.reading() as session:
        work, _ = planning_work(session, place.folder, Anew(seconds=1.0, keep_locked=False))
    before = work.args[1].before  # type: ignore[attr-defined]
    assert (before.firing("F4").state, before.firing("F1").state) == (FiringState.PLANNED, FiringState.LOCKED)


def test_a_date_is_promised_without_a_plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the first question: without a plan the whole backlog is planned beside what is asked for."""
    monkeypatch.setattr(standing, "Budget", lambda **_: Budget(effort=2))
    place = planned_place_in(tmp_path, with_plan=False)
    with place.records.reading() as session:
        asked = promising_work(session, "MUG", 2, 1.0)
    found = asked(listener=Silent())
    assert found.earliest >= found.soonest
