"""The ware that came out of a firing: graded, its losses placed, its lots moved on.

Good pieces go on to the next firing of their route, refires wait for the same firing again as a lot of their own,
seconds and scrap leave the backlog. Pieces of a lot that were not in the firing stay where they are.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sqlalchemy import select

from kilnpack.errors import Finding
from kilnpack.model.orders import LotKind, hours_later, in_zone
from kilnpack.model.pieces import Stage
from kilnpack.records.firings import fired_pieces, firing_row, load_fired, move_on
from kilnpack.records.lots import history, join, new_code, record_code, set_lot
from kilnpack.records.states import Grade, RecordedState
from kilnpack.records.tables_firings import InspectionRow
from kilnpack.records.tables_works import LotRow
from kilnpack.records.values import refuse
from kilnpack.records.works_values import get_works, lot_of
from kilnpack.words import listed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from sqlalchemy.orm import Session

    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works
    from kilnpack.records.tables_firings import FiringRow

_OUT = (RecordedState.COOLING, RecordedState.UNLOADED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspected:
    """Pieces of a lot with one grade.

    Parameters
    ----------
    cause
        What ailed them, in the works' own words; every grade but the first wants one.
    stack, tier, place
        Where they stood, as far as it was noted.
    file, row
        Where it was written, for findings.
    """

    lot: str
    grade: Grade
    pieces: int
    cause: str = ""
    stack: str | None = None
    tier: int | None = None
    place: int | None = None
    file: str = "command"
    row: int | None = None

    def fault(self, field: str, found: object, wanted: str) -> Finding:
        """Return a finding on this line."""
        return Finding(file=self.file, row=self.row, field=field, found=str(found), wanted=wanted)


def inspect(session: Session, firing: str, out: Sequence[Inspected], *, at: datetime | None = None) -> FiringRow:
    """Keep what came out of a firing, and move its lots on.

    Parameters
    ----------
    out
        Every piece that stood in the firing, once.
    at
        When it was unloaded, by the works' clock where it says no offset; None takes no moment, so that what follows
        counts as ready.

    Raises
    ------
    InputFaulty
        The firing has not cooled or was inspected already, or the pieces do not add up; nothing is kept.
    """
    row = firing_row(session, firing)
    works = get_works(session)
    at = at if at is None or at.tzinfo is None else in_zone(at, works.calendar.time_zone).replace(tzinfo=None)
    out = [replace(one, lot=record_code(one.lot)) for one in out]
    kept = {lot.code: lot for lot in session.scalars(select(LotRow).where(LotRow.code.in_([one.lot for one in out])))}
    kinds = {code: lot.kind for code, lot in kept.items()}
    refuse((*_state_faults(row), *faults_of(row, out, kinds)))
    for one in out:
        session.add(inspection_row(session, works, row, kept[one.lot], one, kinds[one.lot]))
    by_lot: dict[str, Counter[Grade]] = defaultdict(Counter)
    for one in out:
        by_lot[one.lot][one.grade] += one.pieces
    for code, grades in by_lot.items():
        _move(session, works, row, kept[code], grades, at)
    return move_on(session, firing, RecordedState.INSPECTED)


def _state_faults(row: FiringRow) -> Iterator[Finding]:
    if row.state not in _OUT:
        wanted = "a firing that has been fired and not been inspected yet"
        yield Finding(file="command", row=None, field="firing", found=f"{row.code}, {row.state}", wanted=wanted)


def faults_of(row: FiringRow, out: Sequence[Inspected], kinds: dict[str, str]) -> Iterator[Finding]:
    """Yield what is amiss with an inspection; `kinds` are those of the lots as they were fired."""
    fired = fired_pieces(row)
    places = {
        (stack.place, tier.number, fill.place, record_code(fill.lot)): fill.pieces
        for stack in load_fired(row).stacks
        for tier in stack.tiers
        for fill in tier.fills
    }
    for one in out:
        yield from _line_faults(one, fired, places, kinds)
    counted: Counter[str] = Counter()
    for one in out:
        counted[one.lot] += one.pieces
    for lot, pieces in fired.items():
        if counted[lot] != pieces:
            wanted = f"{pieces}, as many as stood in {row.code}"
            yield Finding(file=out[0].file if out else "command", row=None, field=f"pieces of {lot}",
                          found=str(counted[lot]), wanted=wanted)  # fmt: skip


def _line_faults(
    one: Inspected,
    fired: dict[str, int],
    places: dict[tuple[str, int, int, str], int],
    kinds: dict[str, str],
) -> Iterator[Finding]:
    kind = kinds.get(one.lot)
    if one.lot not in fired or kind is None:
        yield one.fault("lot", one.lot, f"a lot of the firing: {listed(fired)}")
        return
    if one.pieces < 1:
        yield one.fault("pieces", one.pieces, "1 or more")
    if one.grade is not Grade.FIRST and not one.cause.strip():
        yield one.fault("cause", "", f"what ailed the pieces graded {one.grade.value}")
    if one.grade is Grade.REFIRE and kind == LotKind.REFIRE:
        yield one.fault("grade", one.grade.value, "second or scrap: a piece is refired once at most (rule T9)")
    if one.tier is not None and one.stack is None:
        yield one.fault("stack", "", "the stack of the tier")
    if one.place is not None and one.tier is None:
        yield one.fault("tier", "", "the tier of the place")
    given = (one.stack, one.tier, one.place)
    room = sum(
        pieces
        for (stack, tier, place, code), pieces in places.items()
        if code == one.lot and all(want in (None, is_) for want, is_ in zip(given, (stack, tier, place), strict=True))
    )
    if one.pieces > room:
        where = " ".join(str(part) for part in given if part is not None) or "the firing"
        yield one.fault("pieces", one.pieces, f"at most {room}, as many of {one.lot} as stood at {where}")


def inspection_row(
    session: Session, works: Works, firing: FiringRow, lot: LotRow, one: Inspected, kind: str
) -> InspectionRow:
    """Return the row of one line of an inspection; `kind` is the lot's as it was fired."""
    return InspectionRow(
        firing=firing.code, lot=one.lot, product=lot.product, shape=works.product(lot.product).shape,
        stage=firing.stage, lot_kind=kind, grade=one.grade.value, pieces=one.pieces, cause=one.cause.strip(),
        stack=one.stack, tier=one.tier, place=one.place, at=session.info["at"], by=session.info["by"],
    )  # fmt: skip


def _move(  # one lot at a time, so that every change of it has one line of history
    session: Session, works: Works, firing: FiringRow, row: LotRow, grades: Counter[Grade], at: datetime | None
) -> None:
    """Move the good pieces of a lot on, set refires apart, and let seconds and scrap go."""
    lot = lot_of(row)
    fired = sum(grades.values())
    first, refire = grades[Grade.FIRST], grades[Grade.REFIRE]
    words = ", ".join(f"{count} {grade.value}" for grade, count in grades.items() if count)
    history(session, row, "inspected", firing=firing.code, pieces=fired, note=words)
    rest = lot.pieces - fired
    moved = next_lot(works, firing, lot, first, at)
    goes_on_as = firing.becomes.get(lot.code)
    if goes_on_as is None and rest <= 0 and first:
        set_lot(session, row, moved, position=row.position, what="moved on", firing=firing.code)
    else:
        _leave(session, row, rest, firing)
        if first:
            moved = replace(moved, code=goes_on_as or new_code(session, f"{lot.code}-f"))
            join(session, moved, what="moved on", firing=firing.code, came_from=lot.code)
    if refire:
        set_apart(session, firing, lot, refire, at)


def set_apart(session: Session, firing: FiringRow, lot: Lot, pieces: int, at: datetime | None) -> None:
    """Let pieces of a lot wait for the same firing again, as a lot of their own."""
    again = replace(
        lot, code=new_code(session, f"{lot.code}-r"), pieces=pieces, kind=LotKind.REFIRE, ready_at=at, glazed=True
    )
    join(session, again, what="sorted out", firing=firing.code, came_from=lot.code)


def _leave(session: Session, row: LotRow, rest: int, firing: FiringRow) -> None:
    """Leave to a lot what was not in the firing."""
    if rest > 0:
        row.pieces = rest
        history(session, row, "split", firing=firing.code)
    else:
        row.position = None
        history(session, row, "left the backlog", firing=firing.code)


def next_lot(works: Works, firing: FiringRow, lot: Lot, pieces: int, at: datetime | None) -> Lot:
    """Return the good pieces as they wait for the next firing of their route."""
    route = works.product(lot.product).route
    done = route[lot.step] if lot.step < len(route) else None
    following = route[lot.step + 1] if lot.step + 1 < len(route) else None
    rest_h = done.rest_after_h if done else 0.0
    glazed = not (firing.stage == Stage.BISCUIT and following is not None and following.stage is Stage.GLOST)
    return replace(
        lot,
        step=min(lot.step + 1, len(route)),
        pieces=pieces,
        ready_at=hours_later(at, rest_h) if at else None,
        glazed=glazed,
        kind=LotKind.NORMAL if lot.kind is LotKind.REFIRE else lot.kind,
    )
