"""Plans, firings and their loads: kept, moved on from state to state, and read back."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from sqlalchemy import select
from sqlalchemy.orm import defer, selectinload

from kilnpack.codec import VERSION
from kilnpack.errors import InputFaulty
from kilnpack.model.loads import Load
from kilnpack.model.orders import Lot
from kilnpack.model.plans import FiringState, Plan
from kilnpack.records.furniture import count_firing
from kilnpack.records.lots import history, lot_row, next_position, record_code, set_lot, take_from, whole_of
from kilnpack.records.states import LoadKind, RecordedState
from kilnpack.records.tables_firings import FiringRow, LoadRow, PlanRow
from kilnpack.records.values import of_command, plain_of, refuse, value_of
from kilnpack.words import listed

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from sqlalchemy.orm import Session

    from kilnpack.model.plans import Firing
    from kilnpack.records.tables_works import LotRow

_MOMENT_OF = {
    RecordedState.LOADING: "loading_at",
    RecordedState.FIRING: "lit_at",
    RecordedState.COOLING: "fired_at",
    RecordedState.UNLOADED: "unloaded_at",
    RecordedState.INSPECTED: "inspected_at",
}
_OPEN = (RecordedState.PLANNED, RecordedState.LOADING)
"""States in which a load may still change."""
_UNDER_WAY = (*_OPEN, RecordedState.FIRING, RecordedState.COOLING)


def keep_plan(session: Session, plan: Plan, code: str | None = None) -> PlanRow:
    """Keep a plan with all its firings and their planned loads.

    Firings of earlier plans that nobody has begun or locked are given up: the newest plan is the one that counts.

    Parameters
    ----------
    code
        Code of the plan; None takes the next free one, P1, P2 and so on.

    Raises
    ------
    InputFaulty
        The code is taken.
    """
    taken = set(session.scalars(select(PlanRow.code)))
    code = code or next(free for free in (f"P{number}" for number in range(1, len(taken) + 2)) if free not in taken)
    refuse([of_command("plan", code, "a code that no plan has yet")] if code in taken else [])
    staying = {id(_row_that_stays(session, firing)) for firing in plan.firings}
    for older in firing_rows(session, states=[RecordedState.PLANNED]):
        if older.plan is not None and not older.locked and id(older) not in staying:
            older.state = RecordedState.GIVEN_UP.value
    row = PlanRow(
        code=code, made=plan.made, kept_at=session.info["at"], policy=plan.policy, seed=plan.seed,
        firing_count=len(plan.firings), open_lines=plan.goals.open_lines,
        weighted_late_days=plan.goals.weighted_late_days, schema_version=VERSION, value=plain_of(plan),
    )  # fmt: skip
    session.add(row)
    session.flush()
    for firing in plan.firings:
        _keep_planned(session, code, firing)
    session.flush()
    return row


def _row_that_stays(session: Session, firing: Firing) -> FiringRow | None:
    """Return the firing of an earlier plan that this one is, None where it is new.

    The planner says which firings stay; the one meant has the same load in the same kiln.
    """
    if firing.state is FiringState.PLANNED:
        return None
    value = plain_of(firing.load)
    rows = firing_rows(session, states=_UNDER_WAY, kiln=firing.kiln)
    return next(
        (row for row in rows if any(one.kind == LoadKind.PLANNED and one.value == value for one in row.loads)), None
    )


def _keep_planned(session: Session, plan: str, firing: Firing) -> None:
    stays = _row_that_stays(session, firing)
    row = stays or _firing_row(f"{plan}.{firing.code}", firing.load, firing.lots)
    row.locked = row.locked or firing.state is FiringState.LOCKED
    row.becomes = {record_code(part.lot): record_code(part.becomes) for part in firing.parts}
    row.plan, row.in_plan, row.kiln, row.car = plan, firing.code, firing.kiln, firing.car
    row.plan_load_start, row.plan_fire_start = firing.load_start, firing.fire_start
    row.plan_fire_end, row.plan_unload_end = firing.fire_end, firing.unload_end
    if stays is None:
        session.add(row)
        session.flush()
        _keep_load(session, row, firing.load, LoadKind.PLANNED)


def _firing_row(code: str, load: Load, lots: Iterable[Lot]) -> FiringRow:
    return FiringRow(
        code=code, kiln=load.kiln, car=load.car, programme=load.programme, stage=load.stage.value,
        state=RecordedState.PLANNED.value, lots={lot.code: plain_of(lot) for lot in lots}, becomes={}, locked=False,
    )  # fmt: skip


def keep_firing(session: Session, code: str, load: Load, lots: Sequence[Lot]) -> FiringRow:
    """Keep a firing that no plan holds, with its planned load.

    Parameters
    ----------
    lots
        Those that were ready for it; the load's fills name some of them.

    Raises
    ------
    InputFaulty
        The code is taken, or a fill names a lot that is not among those given.
    """
    used = {fill.lot for stack in load.stacks for tier in stack.tiers for fill in tier.fills}
    known = {lot.code: lot for lot in lots}
    faults = [of_command("load", f"lot {lot}", "lots of the works") for lot in sorted(used - known.keys())]
    if session.scalars(select(FiringRow).where(FiringRow.code == code)).first() is not None:
        faults.append(of_command("firing", code, "a code that no firing has yet"))
    refuse(faults)
    row = _firing_row(code, load, lots)
    session.add(row)
    session.flush()
    _keep_load(session, row, load, LoadKind.PLANNED)
    return row


def _keep_load(session: Session, row: FiringRow, load: Load, kind: LoadKind) -> LoadRow:
    tiers = sum(len(stack.tiers) for stack in load.stacks)
    kept = next((one for one in row.loads if one.kind == kind), None)
    if kept is None:
        kept = LoadRow(firing=row.code, kind=kind.value)
        row.loads.append(kept)
    kept.pieces, kept.tiers, kept.schema_version, kept.value = load.pieces, tiers, VERSION, plain_of(load)
    session.flush()
    return kept


def firing_row(session: Session, code: str) -> FiringRow:
    """Return the row of a firing.

    Raises
    ------
    InputFaulty
        There is none of that code.
    """
    row = session.scalars(select(FiringRow).where(FiringRow.code == code)).first()
    if row is None:
        known = session.scalars(select(FiringRow.code).order_by(FiringRow.id.desc()).limit(12))
        raise InputFaulty([of_command("firing", code, f"a firing of the records: {listed(known)}")])
    return row


def firing_rows(
    session: Session, *, states: Iterable[RecordedState] = (), kiln: str | None = None, in_short: bool = False
) -> tuple[FiringRow, ...]:
    """Return the firings in a row of states (all, where none is named), oldest first.

    Parameters
    ----------
    in_short
        For lists: loads and lots themselves are read only where somebody asks for them after all.
    """
    chosen = select(FiringRow).order_by(FiringRow.id)
    if in_short:
        chosen = chosen.options(defer(FiringRow.lots), selectinload(FiringRow.loads).defer(LoadRow.value))
    wanted = [state.value for state in states]
    if wanted:
        chosen = chosen.where(FiringRow.state.in_(wanted))
    if kiln is not None:
        chosen = chosen.where(FiringRow.kiln == kiln)
    return tuple(session.scalars(chosen))


def keep_load(session: Session, code: str, load: Load, kind: LoadKind) -> LoadRow:
    """Keep the load of a firing that is not lit yet: a new plan of the rest, or what was really set.

    Raises
    ------
    InputFaulty
        The load is for another kiln or programme, or the firing is lit.
    """
    row = firing_row(session, code)
    faults = [
        of_command("load", f"{what} {found}", f"{wanted}, as firing {code}")
        for what, found, wanted in (
            ("kiln", load.kiln, row.kiln),
            ("programme", load.programme, row.programme),
        )
        if found != wanted
    ]
    if kind is LoadKind.PLANNED and row.state not in _OPEN:
        faults.append(of_command("firing", row.state, "a firing that is not lit yet"))
    refuse(faults)
    return _keep_load(session, row, load, kind)


def loads_of(row: FiringRow) -> dict[LoadKind, Load]:
    """Return the loads of a firing: the one planned, and the one as loaded where it was kept."""
    return {
        LoadKind(one.kind): value_of(one.value, Load, version=one.schema_version, where=f"load of {row.code}")
        for one in row.loads
    }


def load_fired(row: FiringRow) -> Load:
    """Return the load as loaded, or as planned where nothing else was noted."""
    loads = loads_of(row)
    return loads.get(LoadKind.AS_LOADED) or loads[LoadKind.PLANNED]


def lots_of(row: FiringRow) -> dict[str, Lot]:
    """Return the lots that were ready for a firing, by code."""
    return {
        code: value_of(plain, Lot, version=VERSION, where=f"lot {code} of {row.code}")
        for code, plain in row.lots.items()
    }


def plan_of(session: Session, code: str) -> Plan:
    """Return a plan.

    Raises
    ------
    InputFaulty
        There is none of that code.
    """
    row = session.scalars(select(PlanRow).where(PlanRow.code == code)).first()
    if row is None:
        raise InputFaulty([of_command("plan", code, f"a plan: {listed(session.scalars(select(PlanRow.code)))}")])
    return value_of(row.value, Plan, version=row.schema_version, where=f"plan {code}")


def move_on(session: Session, code: str, state: RecordedState, *, at: datetime | None = None) -> FiringRow:
    """Move a firing on: loading, lit, cooling, unloaded; or give it up while it is not lit.

    Parameters
    ----------
    at
        When it happened; None is now.

    Raises
    ------
    InputFaulty
        It is in a state from which it cannot get there.
    """
    row = firing_row(session, code)
    order = list(RecordedState)
    here, there = order.index(RecordedState(row.state)), order.index(state)
    unlit = row.state in _OPEN
    allowed = unlit if state is RecordedState.GIVEN_UP else row.state != RecordedState.GIVEN_UP and there > here
    if not allowed:
        wanted = f"a state after {row.state}" if row.state != RecordedState.GIVEN_UP else "a firing that goes on"
        refuse([of_command("state", state.value, wanted)])
    row.state = state.value
    if state in _MOMENT_OF:
        setattr(row, _MOMENT_OF[state], at or session.info["at"])
    if unlit and state not in (*_OPEN, RecordedState.GIVEN_UP):
        _lit(session, row)
    session.flush()
    return row


def _lit(session: Session, row: FiringRow) -> None:
    """Keep what stands in a firing that is lit, count its furniture, and note its lots."""
    load = load_fired(row)
    _keep_load(session, row, load, LoadKind.AS_LOADED)
    count_firing(session, load)
    known = {record_code(code): lot for code, lot in lots_of(row).items()}
    for code, pieces in fired_pieces(row).items():
        lot = lot_row(session, code)
        if lot is None:
            lot = _new_lot(session, row, replace(known[code], code=code, pieces=pieces, ready_at=None))
        elif lot.pieces < pieces or lot.position is None:
            history(session, lot, "counted", firing=row.code, pieces=pieces, note=f"{lot.pieces} were known")
            lot.pieces = pieces
            lot.position = next_position(session) if lot.position is None else lot.position
        history(session, lot, "fired", firing=row.code, pieces=pieces)


def _new_lot(session: Session, firing: FiringRow, lot: Lot) -> LotRow:
    """Make a lot that only the plan knew: split from another, or cast since."""
    whole = whole_of(session, lot)
    if whole is not None:
        take_from(session, whole, lot.pieces, what="split", firing=firing.code, note=f"{lot.code} taken out")
    return set_lot(
        session, None, lot, position=next_position(session), what="split" if whole else "made", firing=firing.code,
        came_from=whole.code if whole else None,
    )  # fmt: skip


def fired_pieces(row: FiringRow) -> dict[str, int]:
    """Return how many pieces of each lot stood in a firing, by the lot's code in the records."""
    pieces: dict[str, int] = {}
    for lot, count in load_fired(row).pieces_by_lot.items():
        pieces[record_code(lot)] = pieces.get(record_code(lot), 0) + count
    return pieces


def lock(session: Session, code: str, *, locked: bool) -> FiringRow:
    """Lock a firing against re-planning, or free it."""
    row = firing_row(session, code)
    row.locked = locked
    session.flush()
    return row
