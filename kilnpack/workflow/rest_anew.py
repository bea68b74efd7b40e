"""The rest of a recorded load planned anew: tiers that stand stay as they were set, the others are packed again.

Only ware that was planned for the firing goes in again: other ware is counted on by other firings of the plan.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from kilnpack.errors import Finding, InputFaulty
from kilnpack.planning.furniture_stock import furniture_of, stock_of, with_less
from kilnpack.records.firings import firing_row, firing_rows, keep_load, load_fired, loads_of, lots_of
from kilnpack.records.furniture import break_in_use
from kilnpack.records.standing_plan import refill
from kilnpack.records.states import LoadKind, RecordedState, TickKind
from kilnpack.records.store import expect
from kilnpack.records.ticks import pack_over, places_set, ticks_of
from kilnpack.rules.checker import audit
from kilnpack.sheets.order import tiers_in_order
from kilnpack.workflow.at_the_kiln import set_places, works_of_row
from kilnpack.workflow.reloading import packed_anew, tiers_kept

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy.orm import Session

    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.works import Works
    from kilnpack.records.store import Records
    from kilnpack.records.tables_firings import FiringRow
    from kilnpack.records.ticks import Tick
    from kilnpack.search.budget import Budget
    from kilnpack.search.listener import Listener
    from kilnpack.workflow.aside import Work
    from kilnpack.workflow.reloading import Broken

OPEN = (RecordedState.PLANNED, RecordedState.LOADING)
IN_USE = (RecordedState.LOADING, RecordedState.FIRING, RecordedState.COOLING)
FIELDS = {"--broken": "broken", "--from-tier": "from tier"}


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedRest:
    """What a loader asks for: `broken` is furniture that cannot be used, each as CODE:COUNT."""

    firing: str
    from_tier: str
    broken: tuple[str, ...]
    budget: Budget


@dataclass(frozen=True, slots=True, kw_only=True)
class BegunRest:
    """From what the rest is planned anew: versions of the loads, and the places that may not be set meanwhile."""

    firing: str
    versions: dict[str, int]
    stays: frozenset[tuple[str, int]]
    broken: tuple[Broken, ...]
    pieces: int


def open_tiers(works: Works, load: Load, done: frozenset[tuple[str, int, int]]) -> tuple[str, ...]:
    """Return the names of the tiers from which the rest may begin: none is set that comes after, in loading order."""
    touched = {(stack, tier) for stack, tier, _ in done}
    order = tiers_in_order(works, load)
    last = max((row.turn for row in order if (row.place.code, row.tier.number) in touched), default=0)
    return tuple(row.name for row in order if row.turn > last)


def furniture_codes(works: Works) -> tuple[str, ...]:
    """Return the codes of the furniture that may be named as broken."""
    return tuple(dict.fromkeys(code for _, code in stock_of(works)))


def rest_work(session: Session, asked: AskedRest) -> tuple[Work, BegunRest]:
    """Return the work of planning the rest of a load anew, to be done aside.

    Raises
    ------
    InputFaulty
        The firing is lit, a tier is set that would be packed again, or something broken is not known.
    """
    row = firing_row(session, asked.firing)
    if row.state not in OPEN:
        raise InputFaulty([_fault("firing", f"{row.code}, {row.state}", "a firing that is not lit yet")])
    works = _works_now(session, row)
    standing = load_fired(row)
    names = open_tiers(works, standing, set_places(session, row.code))
    if asked.from_tier not in names:
        wanted = f"a tier with none set in it or after it: {', '.join(names) or 'none is left'}"
        raise InputFaulty([_fault("from tier", asked.from_tier or "none", wanted)])
    unknown = [
        code for code, _, _ in (one.rpartition(":") for one in asked.broken) if code not in furniture_codes(works)
    ]
    if unknown:
        raise InputFaulty(
            [_fault("broken", code, "the code of furniture; ware is noted at its place") for code in unknown]
        )
    try:
        kept, missing = tiers_kept(works, standing, asked.broken, asked.from_tier)
    except InputFaulty as faulty:
        raise InputFaulty(
            replace(one, file="form", field=FIELDS.get(one.field, one.field)) for one in faulty.findings
        ) from faulty
    lots = _lots_left(row, loads_of(row)[LoadKind.PLANNED], kept, ticks_of(session, row.code))
    begun = BegunRest(
        firing=row.code,
        versions={load.kind: load.version for load in row.loads},
        stays=frozenset((stack.place, tier.number) for stack in kept.stacks for tier in stack.tiers),
        broken=tuple(missing),
        pieces=standing.pieces,
    )
    return partial(rest_aside, works, kept, lots, tuple(missing), budget=asked.budget), begun


def _works_now(session: Session, row: FiringRow) -> Works:
    """Return the works as it is for a firing: its lots, and no furniture that stands in another kiln."""
    works = works_of_row(session, row)
    others = (one for one in firing_rows(session, states=IN_USE) if one.id != row.id)
    taken = sum((furniture_of(works, load_fired(one)) for one in others), Counter[tuple[str, str]]())
    return with_less(works, taken)


def _lots_left(row: FiringRow, planned: Load, kept: Load, ticks: Sequence[Tick]) -> tuple[Lot, ...]:
    """Return the planned ware that does not stand yet and did not break."""
    left = planned.pieces_by_lot
    left.subtract(kept.pieces_by_lot)
    for tick in ticks:
        if tick.what is TickKind.BREAKAGE and tick.lot is not None:
            left[tick.lot] -= tick.pieces or 0
    lots = lots_of(row)
    return tuple(replace(lots[code], pieces=pieces) for code, pieces in left.items() if pieces > 0 and code in lots)


def rest_aside(
    works: Works, kept: Load, lots: Sequence[Lot], missing: Sequence[Broken], *, budget: Budget, listener: Listener
) -> Load:
    """Pack the rest and check the whole load.

    Raises
    ------
    InputFaulty
        The checker does not accept the load; nothing is kept then.
    """
    load = packed_anew(works, kept, lots, missing, budget=budget, seed=0, listener=listener)
    findings = audit(works, load).findings
    if findings:
        raise InputFaulty(findings)
    return load


def keep_rest(records: Records, by: str, load: Load, begun: BegunRest) -> int:
    """Let a load whose rest was planned anew count; returns how many pieces fewer the plan fires.

    Raises
    ------
    InputFaulty
        The firing was lit meanwhile, or a tier was set that is packed anew.
    ChangedMeanwhile
        The load was changed since the work was begun.
    """
    with records.writing(by) as session:
        row = firing_row(session, begun.firing)
        for seen in row.loads:
            expect(session, seen, begun.versions.get(seen.kind, 0))
        planned = loads_of(row)[LoadKind.PLANNED]
        done = places_set(ticks_of(session, row.code), planned)
        late = sorted({(stack, tier) for stack, tier, _ in done} - begun.stays)
        if late:
            wanted = "not set while the rest is planned anew; take it back first"
            raise InputFaulty([_fault("tier", f"{stack} {tier} is set", wanted) for stack, tier in late])
        was_changed = any(one.kind == LoadKind.AS_LOADED for one in row.loads)
        keep_load(session, row.code, load, LoadKind.PLANNED)
        pack_over(session, row.code, load.changed)
        if was_changed:
            keep_load(session, row.code, load, LoadKind.AS_LOADED)
        for one in begun.broken:
            break_in_use(session, one.code, one.count, cause="broken while loading", firing=row.code)
        return refill(session, row, load)


def _fault(field: str, found: str, wanted: str) -> Finding:
    return Finding(file="form", row=None, field=field, found=found, wanted=wanted)
