"""A firing moved by hand: laid at another time or into another kiln, and everything that follows worked out again.

Only the firing that is moved gets new times; the others stay where they are. What the move means for the ware of later
firings and for the order lines follows, and every rule of the plan is checked. Nothing is mended on the way: a move
that breaks a rule comes back with its findings, and the caller keeps the plan before.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.model.orders import hours_between
from kilnpack.model.plans import FiringState
from kilnpack.planning.cycle import has_cars
from kilnpack.planning.furniture_stock import furniture_of
from kilnpack.planning.given import Given, urgent_works
from kilnpack.planning.packs import furniture_kg, packed_of, taken_of, ware_kg
from kilnpack.planning.plan_audit import TIME_CHECKS, audit_plan, works_of
from kilnpack.planning.plan_time_audit import plan_finding
from kilnpack.planning.plan_values import plan_of
from kilnpack.planning.policies import Policy, PolicyKind
from kilnpack.planning.run import Run
from kilnpack.planning.shop import Shop
from kilnpack.planning.timing import cycle_of_packed, timed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import datetime

    from kilnpack.errors import Finding
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.plans import Firing, LineOutcome, Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.firings import Fired
    from kilnpack.planning.packs import Checker

SAME_H = 1.0 / 60.0
BY_HAND = "moved by hand"


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """Where a firing is to go: when its loading begins at the earliest, and which kiln it burns in."""

    firing: str
    load_start: datetime
    kiln: str


def moved_by_hand(
    works: Works,
    plan: Plan,
    move: Move,
    *,
    checker: Checker,
    pack: Callable[[Works, Kiln, tuple[Lot, ...]], Load],
) -> tuple[Plan, tuple[Finding, ...]]:
    """Return the plan with one firing moved, and every rule that it breaks and the plan before did not.

    Parameters
    ----------
    works
        The works that the plan is for.
    plan
        The plan, its firings in the states that the records know.
    move
        What goes where. Loading begins at the first moment from the one wanted on when people work and have their
        hands free.
    checker
        Checks a load that is set in another kiln.
    pack
        Packs the same ware anew where its load does not stand in another kiln as it is.

    Returns
    -------
    tuple
        The plan to keep where there are no findings.
    """
    faults = tuple(_refused(works, plan, move))
    if faults:
        return plan, faults
    firing = plan.firing(move.firing)
    if move.kiln != firing.kiln:
        firing, faults = _in_kiln(works, plan, firing, move.kiln, checker, pack)
        if faults:
            return plan, faults
    others = tuple(row for row in plan.firings if row.code != move.firing)
    firing = _laid(works, plan, firing, others, move)
    if _stays(plan.firing(move.firing), firing):
        wanted = "a moment at which people work and have their hands free; the nearest is where it lies now"
        return plan, (plan_finding(f"{firing.code} load_start", f"{move.load_start:%a %d %b %H:%M}", wanted),)
    return _followed(works, plan, others, firing)


def _refused(works: Works, plan: Plan, move: Move) -> Iterator[Finding]:
    """Find what forbids the move before anything is laid out."""
    firing = plan.firing(move.firing)
    if firing.state is not FiringState.PLANNED:
        yield plan_finding(f"{firing.code} state", firing.state.value, "a firing that is neither locked nor begun")
    kiln = next((row for row in works.kilns if row.code == move.kiln), None)
    if kiln is None or firing.programme not in kiln.programmes:
        yield plan_finding(f"{firing.code} kiln", move.kiln, f"a kiln that fires {firing.programme}")
    if move.load_start < plan.made:
        yield plan_finding(f"{firing.code} load_start", f"{move.load_start:%a %d %b %H:%M}", f"not before {plan.made}")


def _stays(was: Firing, now: Firing) -> bool:
    hours = abs(hours_between(was.load_start, now.load_start))
    return was.kiln == now.kiln and hours < SAME_H


def _in_kiln(
    works: Works,
    plan: Plan,
    firing: Firing,
    kiln_code: str,
    checker: Checker,
    pack: Callable[[Works, Kiln, tuple[Lot, ...]], Load],
) -> tuple[Firing, tuple[Finding, ...]]:
    """Set a firing's ware in another kiln: as it stands where the checker allows it, else packed anew."""
    there, kiln = works_of(works, plan, firing), works.kiln(kiln_code)
    load = replace(firing.load, kiln=kiln.code, car=None)
    try:
        broken = bool(checker(there, load))
    except LookupError:
        broken = True
    if broken:
        wanted = taken_of(firing.load)
        lots = tuple(replace(lot, pieces=wanted[lot.code]) for lot in firing.lots if lot.code in wanted)
        load = pack(replace(there, lots=lots), kiln, lots)
        if load.pieces < firing.load.pieces:
            found = f"{load.pieces} of its {firing.load.pieces} pieces go in"
            return firing, (plan_finding(f"{firing.code} load", found, f"a load that stands in {kiln.code} whole"),)
        broken_now = checker(replace(there, lots=lots), load)
        if broken_now:
            return firing, broken_now
    programme, furniture = works.programme(firing.programme), furniture_of(works, load)
    moved = replace(
        firing,
        kiln=kiln.code,
        car=None,
        load=load,
        energy_kwh=None,
        ware_kg=ware_kg(works, programme, firing.lots, taken_of(load)),
        furniture_kg=furniture_kg(works, furniture),
    )
    return moved, ()


def _given(plan: Plan, firings: Sequence[Firing]) -> Given:
    return Given(downs=plan.downs, urgent=plan.urgent, before=plan).keeping(firings)


def _laid(works: Works, plan: Plan, firing: Firing, others: Sequence[Firing], move: Move) -> Firing:
    """Return the firing with new times, the other firings' hands taken into account."""
    shop = Shop(works, _given(plan, others))
    state = next(row for row in shop.kilns if row.kiln.code == firing.kiln)
    programme, packed = works.programme(firing.programme), packed_of(works, firing)
    cycle = cycle_of_packed(shop, state, programme, packed)
    fired = timed(shop, state, programme, cycle, packed, max(0.0, shop.clock.hour(move.load_start)), shop.crew.copy())
    return _with_times(shop, firing, fired, _car(shop, state.kiln, firing, others, fired))


def _with_times(shop: Shop, firing: Firing, fired: Fired, car: str | None) -> Firing:
    at = shop.clock.moment
    return replace(
        firing,
        car=car,
        load=replace(firing.load, car=car),
        load_start=at(fired.load_start_h),
        load_end=at(fired.load_end_h),
        fire_start=at(fired.fire_start_h),
        fire_end=at(fired.fire_end_h),
        cool_end=at(fired.cool_end_h),
        draw=at(fired.draw_h),
        cool_outside_end=at(fired.cool_outside_end_h),
        unload_start=at(fired.unload_start_h),
        unload_end=at(fired.unload_end_h),
        cleaning_start=at(fired.cleaning_start_h),
        furniture_back=at(fired.furniture_back_h),
    )


def _car(shop: Shop, kiln: Kiln, firing: Firing, others: Sequence[Firing], fired: Fired) -> str | None:
    """Return a car that nothing stands on meanwhile: its own before others; its own, too, where none is free."""
    if not has_cars(kiln):
        return None
    codes = [car.code for car in kiln.cars]
    codes.sort(key=lambda code: code != firing.car)
    hour = shop.clock.hour
    for code in codes:
        spans = ((hour(row.load_start), hour(row.unload_end)) for row in others if row.car == code)
        if not any(start < fired.unload_end_h and fired.load_start_h < end for start, end in spans):
            return code
    return codes[0]


def _followed(
    works: Works, plan: Plan, others: Sequence[Firing], firing: Firing
) -> tuple[Plan, tuple[Finding, ...]]:  # fmt: skip
    """Work out what follows for ware and lines, and check all of it."""
    shop = Shop(urgent_works(works, plan.urgent), _given(plan, (*others, firing)))
    found = plan_of(Run(shop=shop, policy=Policy(kind=PolicyKind.LOOK_AHEAD)), seed=plan.seed)
    known = {row.code: row for row in (*others, firing)}
    was = plan.firing(firing.code)
    said = f"{firing.code} {BY_HAND}: {_place(was)} to {_place(firing)}"
    moved = replace(
        found,
        made=plan.made,
        policy=plan.policy,
        firings=tuple(replace(row, energy_kwh=known[row.code].energy_kwh) for row in found.firings),
        outcomes=_outcomes(plan, found),
        goals=replace(found.goals, energy_kwh=plan.goals.energy_kwh),
        remarks=(*(row for row in plan.remarks if not row.startswith(f"{firing.code} {BY_HAND}")), said),
        bounds=plan.bounds,
    )
    if shop.short:
        lacking = [
            plan_finding(
                f"{row.firing} {row.lot}",
                f"{row.pieces} pieces are not there when it is loaded",
                "ware that has come, is dry and has rested: a later loading, or the firing before it sooner",
            )
            for row in shop.short
        ]
        broken = [one for check in TIME_CHECKS for one in check(works, moved, shop.clock)]
        return moved, _new(works, plan, firing.code, [*lacking, *broken])
    return moved, _new(works, plan, firing.code, audit_plan(works, moved))


def _new(works: Works, plan: Plan, code: str, findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Leave out what was wrong with others before the move: the works may have gone on since the plan was made."""
    before = set(audit_plan(works, plan)) if findings else set()
    return tuple(one for one in dict.fromkeys(findings) if one not in before or one.field.startswith(f"{code} "))


def _place(firing: Firing) -> str:
    return f"{firing.kiln} {firing.load_start:%Y-%m-%d %H:%M}"


def _outcomes(plan: Plan, found: Plan) -> tuple[LineOutcome, ...]:
    """Take over each line's bound, and what would save it where it is as late as before."""
    old = {row.line: row for row in plan.outcomes}
    rows = []
    for row in found.outcomes:
        was = old.get(row.line)
        same = was is not None and (was.late_days, was.open_pieces) == (row.late_days, row.open_pieces)
        rows.append(
            replace(row, soonest=was.soonest if was else None, remedy=was.remedy if was is not None and same else "")
        )
    return tuple(rows)
