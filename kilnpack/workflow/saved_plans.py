"""A saved plan that is used without an audit: refused where its parts cannot be told apart or put in order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.model.plans import Plan
from kilnpack.works_folder import load_value
from kilnpack.works_folder.cells import FIRST_YEAR, LAST_YEAR

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from pathlib import Path

    from kilnpack.model.plans import Firing

_MOMENTS = (
    "load_start", "load_end", "fire_start", "fire_end", "cool_end", "draw", "cool_outside_end", "unload_start",
    "unload_end", "cleaning_start", "furniture_back",
)  # fmt: skip


def saved_plan(path: Path) -> Plan:
    """Return a saved plan whose firings have codes of their own and whose moments can be put in order.

    Raises
    ------
    InputFaulty
        With every fault of the file.
    """
    plan = load_value(path, Plan)
    faults = [
        Finding(file=path.name, row=None, field=field, found=found, wanted=wanted)
        for field, found, wanted in (*_codes(plan), *_moments(plan))
    ]
    if faults:
        raise InputFaulty(faults)
    return plan


def _codes(plan: Plan) -> Iterator[tuple[str, str, str]]:
    """Yield codes of firings, and lines of outcomes, that are there already."""
    seen: set[tuple[str, str]] = set()
    firings = [("firings", row.code) for row in plan.firings]
    for what, code in (*firings, *(("outcomes", row.line) for row in plan.outcomes)):
        if (what, code) in seen:
            yield what, code, "a code of its own; it is there twice"
        seen.add((what, code))


def _moments(plan: Plan) -> Iterator[tuple[str, str, str]]:
    """Yield moments without an offset, or in no year that is planned for."""
    for field, moment in (("made", plan.made), *_said(plan)):
        if moment.tzinfo is None:
            yield field, moment.isoformat(), "a moment with its offset, such as 2026-12-01T07:30:00+01:00"
        elif not FIRST_YEAR <= moment.year <= LAST_YEAR:
            yield field, moment.isoformat(), f"a year from {FIRST_YEAR} to {LAST_YEAR}"


def _said(plan: Plan) -> Iterator[tuple[str, datetime]]:
    for firing in plan.firings:
        yield from _of_firing(firing)
    for work in plan.hand_work:
        yield from ((f"hand_work[{work.lot}].{name}", getattr(work, name)) for name in ("start", "end"))
    for down in plan.downs:
        yield from ((f"downs[{down.kiln}].{name}", getattr(down, name)) for name in ("start", "end"))
    for line in plan.outcomes:
        known = [
            ("finish", line.finish),
            ("soonest", line.soonest),
            *(("deliveries", row.at) for row in line.deliveries),
        ]
        yield from ((f"outcomes[{line.line}].{name}", moment) for name, moment in known if moment is not None)


def _of_firing(firing: Firing) -> Iterator[tuple[str, datetime]]:
    yield from ((f"firings[{firing.code}].{name}", getattr(firing, name)) for name in _MOMENTS)
    for part in firing.parts:
        for name in ("was_ready_at", "ready_at"):
            yield f"firings[{firing.code}].parts[{part.lot}].{name}", getattr(part, name)
