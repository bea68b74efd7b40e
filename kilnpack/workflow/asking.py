"""What a planner asks for at the command line, looked up in the works and the plan before."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.orders import in_zone
from kilnpack.model.plans import Down, Plan
from kilnpack.planning.settle import Asked
from kilnpack.words import nearest
from kilnpack.workflow.saved_plans import saved_plan

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from kilnpack.model.works import Works


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """The options as they were typed: the file of the plan before, firings to lock, kilns down, urgent lines.

    `down` holds kiln and two moments with spaces between.
    """

    before: Path | None = None
    lock: tuple[str, ...] = ()
    down: tuple[str, ...] = ()
    urgent: tuple[str, ...] = ()


def asked_of(works: Works, wishes: Wishes) -> Asked:
    """Return what is asked for.

    Raises
    ------
    InputFaulty
        With a finding for every code that is not known and every moment that is none.
    """
    before = saved_plan(wishes.before) if wishes.before is not None else None
    faults = [*_lock_faults(before, wishes), *_line_faults(works, wishes.urgent)]
    downs = []
    for words in wishes.down:
        kiln, start, end = (*words.rsplit(" ", 2), "", "")[:3]
        found = list(_down_faults(works, kiln, start, end))
        faults += found
        if not found:
            downs.append(Down(kiln=kiln, start=_moment(works, start), end=_moment(works, end)))
    if before is not None and before.works != works.name:
        faults.append(_fault("--from", before.works, f"a plan of {works.name}"))
    if faults:
        raise InputFaulty(faults)
    return Asked(before=before, locked=wishes.lock, downs=tuple(downs), urgent=wishes.urgent)


def _lock_faults(before: Plan | None, wishes: Wishes) -> Iterator[Finding]:
    if before is None:
        if wishes.lock:
            yield _fault("--lock", ", ".join(wishes.lock), "a plan to lock firings of: give --from PLAN.json")
        return
    codes = [row.code for row in before.firings]
    for code in wishes.lock:
        if code not in codes:
            yield _fault("--lock", code, _one_of(code, codes, "a firing of the plan before"))


def _line_faults(works: Works, urgent: Iterable[str]) -> Iterator[Finding]:
    codes = [row.code for row in works.lines]
    for code in urgent:
        if code not in codes:
            yield _fault("--urgent", code, _one_of(code, codes, "an order line of the works"))


def _down_faults(works: Works, kiln: str, start: str, end: str) -> Iterator[Finding]:
    codes = [row.code for row in works.kilns]
    if kiln not in codes:
        yield _fault("--down", kiln, _one_of(kiln, codes, "a kiln of the works"))
    moments = []
    for text in (start, end):
        try:
            moments.append(_moment(works, text))
        except ValueError:
            yield _fault("--down", text, "a moment such as 2026-12-03T07:00")
    if len(moments) == 2 and moments[0] >= moments[1]:
        yield _fault("--down", f"{start} to {end}", "an end after the start")


def _moment(works: Works, text: str) -> datetime:
    return in_zone(datetime.fromisoformat(text), works.calendar.time_zone)


def _one_of(code: str, codes: list[str], what: str) -> str:
    near = nearest(code, codes)
    return f"{what}{near}" if near else what


def _fault(field: str, found: str, wanted: str) -> Finding:
    return Finding(file="command", row=None, field=field, found=found, wanted=wanted)
