"""An inspection put right afterwards: what was written before stays as history, lots and learnt figures follow.

Lots that came out of the firing gain or lose what was counted wrongly. Where they were fired again since, their number
cannot change any more; causes, places and the grades of what left the backlog still can.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sqlalchemy import or_, select

from kilnpack.model.orders import LotKind
from kilnpack.records.firings import firing_row
from kilnpack.records.inspection import Inspected, faults_of, inspection_row, next_lot, set_apart
from kilnpack.records.lots import history, join, new_code, next_position, record_code
from kilnpack.records.states import Grade, RecordedState
from kilnpack.records.tables_firings import InspectionRow
from kilnpack.records.tables_works import LotHistoryRow, LotRow
from kilnpack.records.values import of_command, refuse
from kilnpack.records.works_values import get_works, lot_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import datetime

    from sqlalchemy.orm import Session

    from kilnpack.errors import Finding
    from kilnpack.records.tables_firings import FiringRow

WHAT = {Grade.FIRST: "moved on", Grade.REFIRE: "sorted out"}
"""What the history of a lot says where it took up pieces of a grade."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """An inspection as it was until somebody corrected it."""

    lines: tuple[Inspected, ...]
    by: str
    at: datetime
    replaced_by: str
    replaced_at: datetime


def inspected_of(session: Session, firing: str) -> tuple[Inspected, ...]:
    """Return how a firing came out, as it counts now; nothing where it was not inspected yet."""
    return tuple(map(_line, _rows(session, firing)))


def corrections_of(session: Session, firing: str) -> tuple[Before, ...]:
    """Return what was corrected of a firing's inspection, the oldest first."""
    chosen = select(InspectionRow).where(InspectionRow.firing == firing, InspectionRow.replaced_at.is_not(None))
    found: dict[datetime, list[InspectionRow]] = defaultdict(list)
    for row in session.scalars(chosen.order_by(InspectionRow.id)):
        if row.replaced_at is not None:
            found[row.replaced_at].append(row)
    return tuple(
        Before(
            lines=tuple(map(_line, rows)), by=rows[0].by, at=rows[0].at, replaced_by=rows[0].replaced_by or "",
            replaced_at=when,
        )
        for when, rows in found.items()
    )  # fmt: skip


def correct(session: Session, firing: str, out: Sequence[Inspected]) -> FiringRow:
    """Keep another inspection in the place of the one that counts; one that says the same changes nothing.

    Parameters
    ----------
    out
        Every piece that stood in the firing, once.

    Raises
    ------
    InputFaulty
        The firing was not inspected yet, the pieces do not add up, or ware whose number would change was fired again
        or delivered; nothing is kept.
    """
    row = firing_row(session, firing)
    if row.state != RecordedState.INSPECTED:
        refuse([of_command("firing", f"{row.code}, {row.state}", "a firing that was inspected")])
    before = _rows(session, firing)
    kinds = {one.lot: one.lot_kind for one in before}
    out = [replace(one, lot=record_code(one.lot), cause=one.cause.strip()) for one in out]
    refuse(faults_of(row, out, kinds))
    if _said(map(_line, before)) == _said(out):
        return row
    lots = {lot.code: lot for lot in session.scalars(select(LotRow).where(LotRow.code.in_(list(kinds))))}
    was, now = _graded(map(_line, before)), _graded(out)
    refuse(fault for code in kinds for fault in _stuck(session, row, lots[code], was[code], now[code]))
    works, by, at = get_works(session), session.info["by"], session.info["at"]
    for old in before:
        old.replaced_at, old.replaced_by = at, by
    for one in out:
        session.add(inspection_row(session, works, row, lots[one.lot], one, kinds[one.lot]))
    row.corrected_at = at
    for code, lot in lots.items():
        if was[code] != now[code]:
            _follow(session, row, lot, was[code], now[code], LotKind(kinds[code]))
    session.flush()
    return row


def _rows(session: Session, firing: str) -> tuple[InspectionRow, ...]:
    chosen = select(InspectionRow).where(InspectionRow.firing == firing, InspectionRow.replaced_at.is_(None))
    return tuple(session.scalars(chosen.order_by(InspectionRow.id)))


def _line(row: InspectionRow) -> Inspected:
    return Inspected(
        lot=row.lot, grade=Grade(row.grade), pieces=row.pieces, cause=row.cause, stack=row.stack, tier=row.tier,
        place=row.place, file="records",
    )  # fmt: skip


def _said(lines: Iterable[Inspected]) -> Counter[tuple[object, ...]]:
    """Return how many pieces are said to be what; where a piece of first grade stood is nobody's question."""
    found: Counter[tuple[object, ...]] = Counter()
    for one in lines:
        where = () if one.grade is Grade.FIRST else (one.cause, one.stack, one.tier, one.place)
        found[one.lot, one.grade, *where] += one.pieces
    return found


def _graded(lines: Iterable[Inspected]) -> dict[str, Counter[Grade]]:
    found: dict[str, Counter[Grade]] = defaultdict(Counter)
    for one in lines:
        found[one.lot][one.grade] += one.pieces
    return found


def _taken_up(session: Session, firing: FiringRow, lot: str, grade: Grade) -> tuple[LotRow, int] | None:
    """Return the lot that took up the pieces of a grade, with the entry of its history that says so."""
    becomes = firing.becomes.get(lot)
    codes = [LotRow.came_from == lot]
    if grade is Grade.FIRST:
        codes += [LotRow.code.in_([code for code in (lot, becomes) if code])]
    chosen = (
        select(LotRow, LotHistoryRow.id)
        .join(LotHistoryRow, LotHistoryRow.lot == LotRow.code)
        .where(LotHistoryRow.firing == firing.code, LotHistoryRow.what == WHAT[grade], or_(*codes))
        .order_by(LotHistoryRow.id.desc())
    )
    found = session.execute(chosen).first()
    return None if found is None else (found[0], found[1])


def _stuck(
    session: Session, firing: FiringRow, lot: LotRow, was: Counter[Grade], now: Counter[Grade]
) -> Iterator[Finding]:
    """Yield what keeps the number of a grade as it is: the ware was fired again, or is not there any more."""
    for grade in WHAT:
        more = now[grade] - was[grade]
        found = _taken_up(session, firing, lot.code, grade) if more else None
        if found is None:
            continue
        row, since = found
        again = select(LotHistoryRow.firing).where(
            LotHistoryRow.lot == row.code, LotHistoryRow.what == "fired", LotHistoryRow.id > since
        )
        fired = session.scalars(again).first()
        if fired is not None:
            wanted = f"{was[grade]}: lot {row.code} was fired again in {fired}"
        elif row.pieces + more < 0:
            wanted = f"{was[grade] - row.pieces} or more: {row.pieces} pieces of lot {row.code} are left"
        else:
            continue
        yield of_command(f"{grade.value} of {lot.code}", str(now[grade]), wanted)


def _follow(
    session: Session, firing: FiringRow, row: LotRow, was: Counter[Grade], now: Counter[Grade], kind: LotKind
) -> None:
    """Bring the lots that came out of a firing to the corrected numbers, and note it in the history of the lot."""
    note = f"{_words(was)} was written; {_words(now)} counts"
    step = session.scalars(
        select(LotHistoryRow.step).where(
            LotHistoryRow.lot == row.code, LotHistoryRow.firing == firing.code, LotHistoryRow.what == "inspected"
        )
    ).one()
    lot = replace(lot_of(row), step=step, kind=kind)
    for grade, what in WHAT.items():
        more = now[grade] - was[grade]
        found = _taken_up(session, firing, row.code, grade) if more else None
        if found is not None:
            taken = found[0]
            taken.pieces += more
            if not taken.pieces:
                taken.position = None
            elif taken.position is None:
                taken.position = next_position(session)
            history(session, taken, "corrected", firing=firing.code, note=note)
        elif more and grade is Grade.FIRST:
            moved = next_lot(get_works(session), firing, lot, more, None)
            moved = replace(moved, code=firing.becomes.get(lot.code) or new_code(session, f"{lot.code}-f"))
            join(session, moved, what=what, firing=firing.code, came_from=lot.code)
        elif more:
            set_apart(session, firing, lot, more, None)
    history(session, row, "inspection corrected", firing=firing.code, pieces=now.total(), note=note)


def _words(grades: Counter[Grade]) -> str:
    return ", ".join(f"{grades[grade]} {grade.value}" for grade in Grade if grades[grade])
