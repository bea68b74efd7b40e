"""The plan that counts as planners see and change it: shown, moved, locked, planned anew, all through the records."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from kilnpack.errors import ChangedMeanwhile, Finding, InputFaulty
from kilnpack.model.orders import hours_later
from kilnpack.model.plans import FiringState
from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.by_hand import Move, moved_by_hand
from kilnpack.planning.comparing import compared
from kilnpack.planning.filling import filled
from kilnpack.planning.promising import Asking
from kilnpack.records.events import told
from kilnpack.records.firings import firing_row, keep_plan, lock, plan_of
from kilnpack.records.standing_plan import change_plan, firing_heads, newest_plan, standing_plan
from kilnpack.records.states import RecordedState
from kilnpack.records.store import expect
from kilnpack.records.works_values import get_works
from kilnpack.search.budget import Budget
from kilnpack.workflow.asking import Wishes, asked_of
from kilnpack.workflow.energy import calibrations_in
from kilnpack.workflow.planning import check_load, plan_asked
from kilnpack.workflow.promising import promise_asked

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from sqlalchemy.orm import Session

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.plans import Firing, Plan
    from kilnpack.model.questions import FilledFiring, PlanComparison
    from kilnpack.model.works import Works
    from kilnpack.records.store import Records
    from kilnpack.records.tables_firings import PlanRow
    from kilnpack.search.listener import Listener
    from kilnpack.workflow.aside import Work

REPACK_EFFORT = 200
"""Effort for a load that is set in another kiln; about a second."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedMove:
    """A firing to be moved by so many hours, or into another kiln; `version` is the plan's that its editor saw."""

    plan: str
    version: int
    firing: str
    hours: float = 0.0
    kiln: str | None = None


def move_firing(records: Records, by: str, asked: AskedMove) -> Plan:
    """Move a firing of the newest plan, checked at once, and keep the plan as it is then.

    Raises
    ------
    InputFaulty
        The move breaks a rule, with every finding; the plan stays as it was.
    ChangedMeanwhile
        Another changed the plan since it was looked at, or kept a newer one.
    """
    with records.reading() as session:
        _expect_newest(session, asked.plan, asked.version)
        standing = standing_plan(session, asked.plan, get_works(session))
        whole = plan_of(session, asked.plan)
    firing = next((row for row in standing.plan.firings if row.code == asked.firing), None)
    if firing is None:
        raise InputFaulty([_fault("firing", asked.firing, f"a firing of {asked.plan} that is not over")])
    move = Move(
        firing=firing.code,
        load_start=hours_later(firing.load_start, asked.hours),
        kiln=asked.kiln or firing.kiln,
    )
    pack = _packed(firing.programme)
    moved, findings = moved_by_hand(standing.works, standing.plan, move, checker=check_load, pack=pack)
    if findings:
        raise InputFaulty(findings)
    plan = _whole(whole, moved)
    with records.writing(by) as session:
        row = _expect_newest(session, asked.plan, asked.version)
        change_plan(session, row, plan)
    return plan


def _packed(programme: str) -> Callable[[Works, Kiln, tuple[Lot, ...]], Load]:
    """Return what packs the ware of a firing anew for another kiln."""

    def pack(works: Works, kiln: Kiln, lots: tuple[Lot, ...]) -> Load:
        return pack_load(works, kiln, works.programme(programme), lots, budget=Budget(effort=REPACK_EFFORT), seed=0)

    return pack


def _whole(before: Plan, moved: Plan) -> Plan:
    """Return the moved plan with the firings that are over, each in the state it was kept in."""
    states = {row.code: row.state for row in before.firings}
    now = {row.code: replace(row, state=states[row.code]) for row in moved.firings}
    firings = tuple(sorted((now.get(row.code, row) for row in before.firings), key=lambda row: row.fire_start))
    return replace(moved, firings=firings)


def lock_firing(records: Records, by: str, code: str, version: int, *, locked: bool) -> None:
    """Lock a firing against planning anew, or free it; `code` is the one in the records.

    Raises
    ------
    InputFaulty
        It is begun, so that it stays anyhow.
    ChangedMeanwhile
        Another changed it since it was looked at.
    """
    with records.writing(by) as session:
        row = firing_row(session, code)
        expect(session, row, version)
        if row.state != RecordedState.PLANNED:
            raise InputFaulty([_fault(f"firing {code}", row.state, "a firing that nobody has begun")])
        lock(session, code, locked=locked)


@dataclass(frozen=True, slots=True, kw_only=True)
class Anew:
    """What a planner asks for when planning anew; moments as typed, on the works' clock."""

    seconds: float
    keep_locked: bool = True
    downs: tuple[tuple[str, str, str], ...] = ()
    urgent: tuple[str, ...] = ()
    seed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class BegunFrom:
    """The plan that counted when work was begun; None where none was kept."""

    code: str | None
    version: int | None


def planning_work(session: Session, folder: Path, anew: Anew) -> tuple[Work, BegunFrom]:
    """Return the work of planning anew from the plan that counts, to be done aside.

    Raises
    ------
    InputFaulty
        What is asked for cannot be, with every fault.
    """
    works = get_works(session)
    calibrations, said = calibrations_in(folder, works)
    wishes = Wishes(down=tuple(" ".join(down) for down in anew.downs), urgent=anew.urgent)
    asked = asked_of(works, wishes)
    row = newest_plan(session)
    remarks: tuple[str, ...] = ()
    if row is not None:
        standing = standing_plan(session, row.code, works)
        works, remarks = standing.works, standing.remarks
        firings = (one for one in standing.plan.firings if one.code not in standing.waiting)
        kept = firings if anew.keep_locked else (_freed(session, row.code, one) for one in firings)
        asked = replace(asked, before=replace(standing.plan, firings=tuple(kept)))
    work = partial(
        plan_asked,
        works,
        asked,
        budget=Budget(seconds=anew.seconds),
        seed=anew.seed,
        calibrations=calibrations,
        remarks=(*remarks, *said),
    )
    return work, BegunFrom(code=row.code if row else None, version=row.version if row else None)


def _freed(session: Session, plan: str, firing: Firing) -> Firing:
    """Return a firing that nobody began as one that may move."""
    head = firing_heads(session, plan)[firing.code]
    return replace(firing, state=FiringState.PLANNED) if head.state is RecordedState.PLANNED else firing


def keep_planned(records: Records, by: str, plan: Plan, begun: BegunFrom) -> str:
    """Keep a plan that was made aside; returns its code.

    Raises
    ------
    ChangedMeanwhile
        The plan that it was to follow is not the one that counts any more.
    """
    with records.writing(by) as session:
        row = newest_plan(session)
        if row is not None and begun.code is None:
            raise _newer(row, "none")
        if begun.code is not None and begun.version is not None:
            _expect_newest(session, begun.code, begun.version)
        return keep_plan(session, plan).code


def promising_work(session: Session, item: str, quantity: int, seconds: float) -> Work:
    """Return the work of finding a date that may be promised beside the plan that counts.

    Raises
    ------
    InputFaulty
        No works was taken in yet.
    """
    works, before = _as_it_is(session)
    asking = Asking(item=item, quantity_pieces=quantity, before=before)
    return partial(promise_asked, works, asking, budget=Budget(seconds=seconds))


def filling_work(session: Session, firing: str, seconds: float) -> Work:
    """Return the work of finding what would fill a firing of the plan that counts.

    Raises
    ------
    InputFaulty
        There is no such firing, or it is begun.
    """
    works, plan = _as_it_is(session)
    found = next((row for row in plan.firings if row.code == firing), None) if plan is not None else None
    if plan is None or found is None or found.state is FiringState.STARTED:
        raise InputFaulty([_fault("firing", firing, "a firing of the plan that is not begun")])
    return partial(filled_aside, works, plan, firing, budget=Budget(seconds=seconds))


def filled_aside(works: Works, plan: Plan, firing: str, *, budget: Budget, listener: Listener) -> FilledFiring:
    """Return what would fill a firing; nobody hears of it meanwhile."""
    del listener
    return filled(works, plan, plan.firing(firing), budget=budget, seed=0, packer=pack_load, checker=check_load)


def _as_it_is(session: Session) -> tuple[Works, Plan | None]:
    """Return works and plan as far as the plan is; no plan where none was kept."""
    works, row = get_works(session), newest_plan(session)
    if row is None:
        return works, None
    standing = standing_plan(session, row.code, works)
    return standing.works, standing.plan


def compare_kept(session: Session, before: str, after: str) -> PlanComparison:
    """Return what differs between two kept plans.

    Raises
    ------
    InputFaulty
        One of them is not there.
    """
    return compared(plan_of(session, before), plan_of(session, after))


def _expect_newest(session: Session, code: str, version: int) -> PlanRow:
    """Return the plan that counts, which must be the one its editor saw."""
    row = newest_plan(session)
    if row is None:
        raise InputFaulty([_fault("plan", code, "a plan that was kept")])
    if row.code != code:
        raise _newer(row, code)
    expect(session, row, version)
    return row


def _newer(row: PlanRow, seen: str) -> ChangedMeanwhile:
    return ChangedMeanwhile(f"plan {seen}", row.changed_by, told(row.kept_at), f"{row.code} was kept")


def _fault(field: str, found: str, wanted: str) -> Finding:
    return Finding(file="form", row=None, field=field, found=found, wanted=wanted)
