"""What moved from one plan to another, and what in the two plans explains it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.orders import hours_between
from kilnpack.model.plans import FiringState, LateReason
from kilnpack.model.questions import Change, FiringChange, LineChange, PlanComparison
from kilnpack.planning.matching import SAME_START_H, matched, seen_firing

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from kilnpack.model.plans import Firing, LineOutcome, Plan

SAME_FINISH_H = 1.0
"""A line done within so many hours of before counts as not moved."""


def compared(before: Plan, after: Plan) -> PlanComparison:
    """Return what differs between two plans of one works.

    Firings are the same where they are of one programme and share more than half of their ware. What was unloaded
    before the later plan begins is left out.
    """
    old = [row for row in before.firings if row.unload_end > after.made]
    new = [seen_firing(row, after.made) for row in after.firings]
    pairs = matched([seen_firing(row, after.made) for row in old], new)
    by_code = {row.code: row for row in old}
    changes: list[FiringChange] = []
    for firing in after.firings:
        was = by_code.pop(pairs[firing.code]) if firing.code in pairs else None
        changes += _changes(before, after, was, firing)
    for was in by_code.values():
        changes.append(_change(before, after, was, None, Change.GONE))
    return PlanComparison(
        works=after.works,
        made_before=before.made,
        made_after=after.made,
        same_firings=len(after.firings) - sum(1 for row in changes if row.change is not Change.GONE),
        firings=tuple(changes),
        lines=tuple(_lines(before, after)),
        goals_before=before.goals,
        goals_after=after.goals,
    )


def _changes(before: Plan, after: Plan, was: Firing | None, now: Firing) -> list[FiringChange]:
    """Return how a firing differs: moved, else refilled, else not at all."""
    if was is None:
        return [_change(before, after, None, now, Change.ADDED)]
    if was.kiln != now.kiln or abs(hours_between(was.load_start, now.load_start)) > SAME_START_H:
        return [_change(before, after, was, now, Change.MOVED)]
    if _ware(was) != _ware(now):
        return [_change(before, after, was, now, Change.REFILLED)]
    return []


def _ware(firing: Firing) -> dict[tuple[str, int, str | None], int]:
    return dict(seen_firing(firing, firing.load_start).ware)


def _change(before: Plan, after: Plan, was: Firing | None, now: Firing | None, change: Change) -> FiringChange:
    here = now or was
    assert here is not None
    return FiringChange(
        firing=here.code,
        was=was.code if was is not None else None,
        change=change,
        programme=here.programme,
        kiln_before=was.kiln if was is not None else None,
        kiln_after=now.kiln if now is not None else None,
        load_before=was.load_start if was is not None else None,
        load_after=now.load_start if now is not None else None,
        pieces_before=was.load.pieces if was is not None else 0,
        pieces_after=now.load.pieces if now is not None else 0,
        why="; ".join(_why(before, after, was, now)),
    )


def _why(before: Plan, after: Plan, was: Firing | None, now: Firing | None) -> Iterator[str]:
    """Give what in the two plans explains that a firing is not as it was."""
    if was is not None and (now is None or now.load_start != was.load_start or now.kiln != was.kiln):
        for down in after.downs:
            if down.kiln == was.kiln and down.start < was.unload_end and was.load_start < down.end:
                yield f"{down.kiln} is down {down.start:%Y-%m-%d %H:%M} to {down.end:%Y-%m-%d %H:%M}"
        for other in after.firings:
            if _takes_place(other, was, now):
                yield f"{other.code} has its time on {was.kiln}"
    if was is not None and now is not None and now.load.pieces < was.load.pieces:
        yield f"{was.load.pieces - now.load.pieces} pieces fewer"
    yield from _lines_in(before, after, was, now)


def _takes_place(other: Firing, was: Firing, now: Firing | None) -> bool:
    """Whether a firing of the later plan stands in the kiln when one was to be lit."""
    if now is not None and other.code == now.code:
        return False
    return other.kiln == was.kiln and other.fire_start < was.fire_end and was.fire_start < other.fire_end


def _lines_in(before: Plan, after: Plan, was: Firing | None, now: Firing | None) -> Iterator[str]:
    """Give lines in a firing that are new, gone, urgent now, or that it holds more or less of."""
    old_lines, new_lines = ({row.line for row in plan.outcomes} for plan in (before, after))
    here = {part.order_line for row in (was, now) if row is not None for part in row.parts} - {None}
    for line in sorted(str(code) for code in here):
        if line not in old_lines:
            yield f"line {line} is new"
        elif line not in new_lines:
            yield f"line {line} is gone"
        elif line in after.urgent and line not in before.urgent:
            yield f"line {line} is urgent now"


def _lines(before: Plan, after: Plan) -> Iterator[LineChange]:
    """Give the lines of both plans that are done at another moment, the most delayed first."""
    old = {row.line: row for row in before.outcomes}
    found = [row for new in after.outcomes if new.line in old for row in _line(old[new.line], new)]
    yield from sorted(found, key=lambda row: (row.sooner_h if row.sooner_h is not None else float("-inf"), row.line))


def _line(old: LineOutcome, new: LineOutcome) -> Iterator[LineChange]:
    sooner_h = None
    if old.finish is not None and new.finish is not None:
        sooner_h = hours_between(new.finish, old.finish)
        if abs(sooner_h) <= SAME_FINISH_H:
            return
    elif old.finish == new.finish:
        return
    later = sooner_h is None or sooner_h < 0
    told = new if later or old.reason is LateReason.NOT_LATE else old
    yield LineChange(
        line=new.line,
        finish_before=old.finish,
        finish_after=new.finish,
        sooner_h=sooner_h,
        late_days_before=old.late_days,
        late_days_after=new.late_days,
        reason=told.reason,
        why=told.detail,
    )


def moved_words(found: PlanComparison) -> tuple[str, ...]:
    """Return in words what moved: one line with the count, and one for every firing."""
    by: dict[Change, int] = {kind: sum(1 for row in found.firings if row.change is kind) for kind in Change}
    head = f"against the plan before: {found.same_firings} firings as they were, " + ", ".join(
        f"{count} {kind.value}" for kind, count in by.items()
    )
    return (head, *(change_words(row) for row in found.firings))


def change_words(row: FiringChange) -> str:
    """Return one change of a firing in words."""
    said = {
        Change.ADDED: f"{row.firing} added: {_at(row.kiln_after, row.load_after)}, {row.pieces_after} pieces",
        Change.GONE: f"{row.firing} gone: it was {_at(row.kiln_before, row.load_before)}",
        Change.MOVED: f"{row.firing} moved: {_at(row.kiln_before, row.load_before)} to "
        f"{_at(row.kiln_after, row.load_after)}",
        Change.REFILLED: f"{row.firing} filled otherwise: {row.pieces_before} to {row.pieces_after} pieces",
    }[row.change]
    was = f" (was {row.was})" if row.was not in {None, row.firing} else ""
    return f"{said}{was}{': ' if row.why else ''}{row.why}"


def _at(kiln: str | None, moment: datetime | None) -> str:
    return f"{kiln} {moment:%Y-%m-%d %H:%M}" if moment is not None else "nowhere"


def line_words(row: LineChange) -> str:
    """Return one change of a line in words."""
    before, after = (f"{at:%Y-%m-%d %H:%M}" if at else "never" for at in (row.finish_before, row.finish_after))
    reason = f": {row.reason.value}{': ' if row.why else ''}{row.why}" if row.reason is not LateReason.NOT_LATE else ""
    late = f", {row.late_days_after} days late" if row.late_days_after else ""
    return f"line {row.line}: done {before} before, {after} now{late}{reason}"


def stays_words(plan: Plan) -> tuple[str, ...]:
    """Return in words which firings of a plan must stay."""
    rows = [
        (state.value, ", ".join(row.code for row in plan.firings if row.state is state))
        for state in (FiringState.STARTED, FiringState.LOCKED)
    ]
    return tuple(f"{state}: {codes}" for state, codes in rows if codes)
