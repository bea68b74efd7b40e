"""The plan that counts: the newest one kept, its firings as far as they are, and changed in place by a planner."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sqlalchemy import select

from kilnpack.codec import VERSION
from kilnpack.model.orders import in_zone
from kilnpack.model.plans import FiringState, Plan
from kilnpack.records.firings import fired_pieces, keep_load, lots_of, plan_of
from kilnpack.records.lots import record_code
from kilnpack.records.states import LoadKind, RecordedState
from kilnpack.records.tables_firings import FiringRow, PlanRow
from kilnpack.records.values import of_command, plain_of, refuse

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import datetime

    from sqlalchemy.orm import Session

    from kilnpack.errors import Finding
    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.plans import Firing, LotPart
    from kilnpack.model.works import Works

_OVER = (RecordedState.UNLOADED, RecordedState.INSPECTED)
_IN_A_KILN = (RecordedState.LOADING, RecordedState.FIRING, RecordedState.COOLING)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanHead:
    """What tells one state of a kept plan from another, and when it was kept."""

    code: str
    version: int
    made: datetime
    kept_at: datetime
    firing_count: int
    open_lines: int
    weighted_late_days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringHead:
    """How far a firing of a plan is: its code in the records, whether it is locked, and the version an editor saw."""

    code: str
    state: RecordedState
    locked: bool
    version: int


def plan_heads(session: Session, most: int = 20) -> tuple[PlanHead, ...]:
    """Return the plans kept last, the newest first, without their values."""
    chosen = select(
        PlanRow.code, PlanRow.version, PlanRow.made, PlanRow.kept_at, PlanRow.firing_count, PlanRow.open_lines,
        PlanRow.weighted_late_days,
    )  # fmt: skip
    rows = session.execute(chosen.order_by(PlanRow.id.desc()).limit(most))
    return tuple(PlanHead(**row._asdict()) for row in rows)


def newest_plan(session: Session) -> PlanRow | None:
    """Return the plan kept last, None where none was kept yet."""
    return session.scalars(select(PlanRow).order_by(PlanRow.id.desc()).limit(1)).first()


def firing_heads(session: Session, plan: str) -> dict[str, FiringHead]:
    """Return how far the firings of a plan are, by their code in it."""
    chosen = select(FiringRow.in_plan, FiringRow.code, FiringRow.state, FiringRow.locked, FiringRow.version)
    rows = session.execute(chosen.where(FiringRow.plan == plan).order_by(FiringRow.id))
    return {
        row.in_plan: FiringHead(
            code=row.code, state=RecordedState(row.state), locked=row.locked, version=row.version
        )
        for row in rows
    }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A plan as far as it is.

    `plan` lacks the firings that are over; the others are started, locked or planned as the records know, not as they
    were when the plan was made. `works` lacks the ware that stands in kilns or waits to be inspected, and its lots
    bear the codes that the plan gives them. `waiting` are firings nobody began though their time has come.
    """

    plan: Plan
    works: Works
    waiting: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


def standing_plan(session: Session, code: str, works: Works) -> Standing:
    """Return a kept plan as far as it is.

    Parameters
    ----------
    code
        Of the plan.
    works
        The works as the records have it, its `now` the moment to plan from.

    Raises
    ------
    InputFaulty
        There is no such plan.
    """
    plan = plan_of(session, code)
    rows = {row.in_plan: row for row in session.scalars(select(FiringRow).where(FiringRow.plan == code))}
    now = in_zone(works.now, works.calendar.time_zone)
    firings, waiting, remarks, out = [], [], [], dict[str, int]()
    for firing in plan.firings:
        row = rows.get(firing.code)
        if row is None or row.state == RecordedState.GIVEN_UP:
            continue
        state, due = RecordedState(row.state), firing.load_start < now
        if (state in _IN_A_KILN and due) or state is RecordedState.UNLOADED:
            _add(out, row)
        if state in _OVER:
            remarks += _told(row)
            continue
        if due and state is RecordedState.PLANNED:
            waiting.append(firing.code)
            remarks.append(f"{row.code} was to be loaded {firing.load_start:%a %d %b %H:%M}, and nobody began it")
        firings.append(replace(firing, state=_state(state, due=due, locked=row.locked)))
    works = _renamed(_without(works, out), firings)
    return Standing(
        plan=replace(plan, firings=tuple(firings)), works=works, waiting=tuple(waiting), remarks=tuple(remarks)
    )


def _told(row: FiringRow) -> list[str]:
    if row.state != RecordedState.UNLOADED:
        return []
    return [f"{row.code} is unloaded and not inspected: nothing of its ware is counted on"]


def _state(state: RecordedState, *, due: bool, locked: bool) -> FiringState:
    """Return how a firing may be moved: one that is begun stays as surely as one that is locked."""
    if state in _IN_A_KILN:
        return FiringState.STARTED if due else FiringState.LOCKED
    return FiringState.LOCKED if locked else FiringState.PLANNED


def _add(out: dict[str, int], row: FiringRow) -> None:
    for code, pieces in fired_pieces(row).items():
        out[code] = out.get(code, 0) + pieces


def _without(works: Works, out: dict[str, int]) -> Works:
    """Return the works without pieces that are not on its shelves now."""
    lots = (replace(lot, pieces=lot.pieces - min(lot.pieces, out.get(lot.code, 0))) for lot in works.lots)
    return replace(works, lots=tuple(lot for lot in lots if lot.pieces > 0))


def _renamed(works: Works, firings: Iterable[Firing]) -> Works:
    """Give lots that came out of a firing the codes under which the plan lets them go on."""
    planned = {record_code(part.lot): part.lot for firing in firings for part in firing.parts}
    lots = tuple(_of_plan(lot, planned) for lot in works.lots)
    return replace(works, lots=lots)


def _of_plan(lot: Lot, planned: dict[str, str]) -> Lot:
    return replace(lot, code=planned.get(lot.code, lot.code))


_PLACE = ("kiln", "car", "load_start", "load")


def change_plan(session: Session, row: PlanRow, plan: Plan) -> None:
    """Keep a plan in the place of the one it was made from: the same firings, at other times or in other kilns.

    Raises
    ------
    InputFaulty
        A firing that was moved is begun, or is not in the records.
    """
    rows = {one.in_plan: one for one in session.scalars(select(FiringRow).where(FiringRow.plan == row.code))}
    old = {firing.code: firing for firing in plan_of(session, row.code).firings}
    moved = [firing for firing in plan.firings if firing != old.get(firing.code)]
    refuse(list(_faults(row.code, rows, old, moved)))
    for firing in moved:
        kept = rows[firing.code]
        kept.kiln, kept.car = firing.kiln, firing.car
        kept.plan_load_start, kept.plan_fire_start = firing.load_start, firing.fire_start
        kept.plan_fire_end, kept.plan_unload_end = firing.fire_end, firing.unload_end
        kept.becomes = {record_code(part.lot): record_code(part.becomes) for part in firing.parts}
        if old[firing.code].load != firing.load:
            keep_load(session, kept.code, firing.load, LoadKind.PLANNED)
    row.open_lines, row.weighted_late_days = plan.goals.open_lines, plan.goals.weighted_late_days
    row.schema_version, row.value = VERSION, plain_of(plan)
    session.flush()


def refill(session: Session, row: FiringRow, load: Load) -> int:
    """Put a load that was packed anew at the kiln into the plan that holds its firing; it holds no more than before.

    What is expected of each lot shrinks with its pieces.

    Returns
    -------
    How many pieces fewer the plan fires now.
    """
    kept = session.scalars(select(PlanRow).where(PlanRow.code == row.plan)).first()
    if kept is None or row.plan is None:
        return 0
    plan = plan_of(session, row.plan)
    firing = next((one for one in plan.firings if one.code == row.in_plan), None)
    if firing is None:
        return 0
    pieces = load.pieces_by_lot
    parts = tuple(_shrunk(part, pieces[part.lot]) for part in firing.parts if pieces[part.lot])
    known = {lot.code for lot in firing.lots}
    swapped = tuple(lot for code, lot in lots_of(row).items() if code in pieces and code not in known)
    new = replace(firing, load=load, parts=parts, lots=(*firing.lots, *swapped))
    kept.schema_version = VERSION
    kept.value = plain_of(replace(plan, firings=tuple(new if one is firing else one for one in plan.firings)))
    session.flush()
    return firing.load.pieces - load.pieces


def _shrunk(part: LotPart, pieces: int) -> LotPart:
    good = min(pieces, round(part.good_pieces * pieces / part.pieces))
    second = min(pieces - good, round(part.second_pieces * pieces / part.pieces))
    return replace(part, pieces=pieces, good_pieces=good, second_pieces=second, scrap_pieces=pieces - good - second)


def _faults(
    plan: str, rows: dict[str | None, FiringRow], old: dict[str, Firing], moved: Iterable[Firing]
) -> Iterator[Finding]:  # fmt: skip
    for firing in moved:
        kept, was = rows.get(firing.code), old.get(firing.code)
        if kept is None or was is None:
            yield of_command("firing", firing.code, f"a firing of {plan}")
        elif kept.state != RecordedState.PLANNED and any(getattr(was, n) != getattr(firing, n) for n in _PLACE):
            yield of_command(f"firing {kept.code}", kept.state, "a firing that nobody has begun")
