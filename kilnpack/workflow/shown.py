"""The plan that counts in words: what a page shows of it, of one firing, and of a move."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.planning.by_hand import BY_HAND
from kilnpack.planning.comparing import compared, line_words
from kilnpack.workflow.board import is_movable, state_words

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.plans import Firing, Plan
    from kilnpack.model.works import Works
    from kilnpack.records.standing_plan import FiringHead, PlanHead


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A kept plan as a page shows it: lines that left the backlog since are left out."""

    head: PlanHead
    plan: Plan
    works: Works


def of_backlog(plan: Plan, works: Works) -> Plan:
    """Leave the outcome of lines out that the works no longer knows."""
    known = {line.code for line in works.lines}
    return replace(plan, outcomes=tuple(row for row in plan.outcomes if row.line in known))


@dataclass(frozen=True, slots=True, kw_only=True)
class WareRow:
    """Pieces of a lot in a firing, and where the good ones go on to."""

    lot: str
    product: str
    pieces: int
    order_line: str
    becomes: str
    ready_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringFacts:
    """One firing of a plan as its page shows it; `kilns` are the others that fire its programme."""

    firing: Firing
    head: FiringHead | None
    state: str
    movable: bool
    kiln: str
    kilns: tuple[Kiln, ...]
    moments: tuple[tuple[str, datetime, datetime | None], ...]
    ware: tuple[WareRow, ...]
    moved: str


def firing_facts(shown: Shown, heads: Mapping[str, FiringHead], code: str) -> FiringFacts | None:
    """Return what is shown of a firing; None where the plan has none of that code."""
    firing = next((row for row in shown.plan.firings if row.code == code), None)
    if firing is None:
        return None
    works, head = shown.works, heads.get(code)
    draw = [("draw the car", firing.draw, None)] if firing.car else []
    return FiringFacts(
        firing=firing,
        head=head,
        state=state_words(head) or "planned",
        movable=is_movable(head),
        kiln=works.kiln(firing.kiln).name,
        kilns=tuple(row for row in works.kilns if firing.programme in row.programmes and row.code != firing.kiln),
        moments=(
            ("load", firing.load_start, firing.load_end),
            ("fire", firing.fire_start, firing.fire_end),
            ("cool in the kiln, as forecast", firing.fire_end, firing.cool_end),
            *draw,
            ("unload, once the thermometer allows", firing.unload_start, firing.unload_end),
            ("shelves back", firing.furniture_back, None),
        ),
        ware=tuple(
            WareRow(
                lot=part.lot,
                product=part.product,
                pieces=part.pieces,
                order_line=part.order_line or "",
                becomes=part.becomes,
                ready_at=part.ready_at,
            )
            for part in firing.parts
        ),
        moved=next((row for row in shown.plan.remarks if row.startswith(f"{code} {BY_HAND}")), ""),
    )


MOST_TOLD = 6
"""Lines told after a move; the rest is counted."""


def moved_lines(before: Plan, after: Plan, code: str) -> str:
    """Return in words where a firing lies now, and which order lines are done at another time for it."""
    firing = after.firing(code)
    found = [line_words(row) for row in compared(before, after).lines]
    more = [f"{len(found) - MOST_TOLD} more lines"] if len(found) > MOST_TOLD else []
    said = "; ".join([*found[:MOST_TOLD], *more]) or "no order line is done at another time"
    return f"{code} is loaded {firing.load_start:%a %d %b %H:%M} in {firing.kiln} now: {said}."
