"""What a run means for the order lines: when each is done, in which parts, and what kept a late one."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from typing import TYPE_CHECKING

from kilnpack.model.plans import LateReason, LineOutcome, PartDelivery, PlanGoals, energy_step
from kilnpack.model.settings import PlanGoal
from kilnpack.planning.clock import TICK_H
from kilnpack.planning.firing_energy import firings_kwh
from kilnpack.planning.matching import firing_codes, moved_firings
from kilnpack.planning.routes import chain_h, items_of, open_quantity

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.orders import OrderLine
    from kilnpack.planning.firings import Fired, Moved
    from kilnpack.planning.run import Run
    from kilnpack.planning.shop import Shop

SAME_MOMENT_H = 1e-3
IN_HAND_H = 96.0
"""How much later lines may come once loads are packed: about two more firings. From memory."""
REFILLED_SHARE = 0.2
"""How much a firing that holds other ware than before weighs beside one that is moved. From memory."""


def complete_units(
    arrivals: Mapping[str, Sequence[tuple[float, int]]], items: Mapping[str, int], wanted: int
) -> list[tuple[float, int]]:
    """Return when whole pieces or sets become complete, as (hour, units), until so many are.

    Parameters
    ----------
    arrivals
        By product: (hour, finished pieces).
    items
        By product: pieces of it in one unit.
    wanted
        Units wanted.
    """
    hours = sorted({hour for product in items for hour, _ in arrivals.get(product, ())})
    found: list[tuple[float, int]] = []
    done = 0
    for hour in hours:
        have = {p: sum(n for h, n in arrivals.get(p, ()) if h <= hour) for p in items}
        units = min(wanted, min((have[p] // count for p, count in items.items()), default=0))
        if units > done:
            found.append((hour, units - done))
            done = units
    return found


def late_days(finish_h: float, due_h: float) -> int:
    """Return whole days after the due day that a finish lies in; exactly at its end is in time."""
    return max(0, math.ceil((finish_h - due_h) / 24.0 - TICK_H))


def outcomes_of(found: Run, codes: Mapping[int, str]) -> tuple[LineOutcome, ...]:
    """Return the outcome of every line; `codes` gives the code of each firing by its number in the run."""
    shop = found.shop
    by_line: dict[str, list[tuple[int, Moved]]] = defaultdict(list)
    for number, fired in enumerate(shop.fired):
        for part in fired.moved:
            if part.ware.line is not None:
                by_line[part.ware.line].append((number, part))
    return tuple(_outcome(found, line, by_line[line.code], codes) for line in shop.works.lines)


def _outcome(found: Run, line: OrderLine, moved: list[tuple[int, Moved]], codes: Mapping[int, str]) -> LineOutcome:
    shop = found.shop
    wanted, items = open_quantity(line), items_of(shop.works, line)
    units = complete_units({p: shop.finished.get((line.code, p), []) for p in items}, items, wanted)
    first_h = 0.0
    if line.not_before is not None:
        first_h = max(0.0, shop.clock.end_of_day_h(line.not_before) - 24.0)
    missing = wanted - sum(count for _, count in units)
    finish_h = None if missing else max([first_h, *(hour for hour, _ in units)])
    if not line.part_delivery:
        units = [] if finish_h is None or not wanted else [(finish_h, wanted)]
    end_h = finish_h if finish_h is not None else last_hour(shop)
    late = late_days(end_h, shop.due_h[line.code])
    reason, detail = (LateReason.NOT_LATE, "")
    if late or missing:
        reason, detail = _why(found, line, moved, done=not missing)
    return LineOutcome(
        line=line.code,
        order=line.order,
        due=line.due,
        finish=None if finish_h is None else shop.clock.moment(finish_h),
        late_days=late,
        open_pieces=missing,
        reason=reason,
        detail=detail,
        deliveries=tuple(PartDelivery(at=shop.clock.moment(max(first_h, h)), pieces=n) for h, n in units),
        firings=tuple(dict.fromkeys(codes[number] for number, _ in sorted(moved, key=lambda row: row[0]))),
    )


def last_hour(shop: Shop) -> float:
    """Return when the last firing is unloaded, h."""
    return max((fired.unload_end_h for fired in shop.fired), default=0.0)


def goals_of(found: Run, outcomes: Sequence[LineOutcome]) -> PlanGoals:
    """Return what a run is judged by."""
    shop = found.shop
    weights = {line.code: line.priority_factor for line in shop.works.lines}
    done = [shop.clock.hour(row.finish) for row in outcomes if row.finish is not None]
    before = shop.given.before
    codes = firing_codes(found) if before is not None else {}
    moved, refilled = moved_firings(before, shop.fired, codes, shop.clock)
    energy_kwh = firings_kwh(shop.works, shop.fired, shop.given.calibrations)
    waits_h = sum(_set_wait_h(shop, line) for line in shop.works.lines)
    splits = _split_lines(shop)
    settings = shop.works.settings
    return PlanGoals(
        open_lines=sum(1 for row in outcomes if row.open_pieces),
        weighted_late_days=sum(weights[row.line] * _late_of(shop, row) for row in outcomes),
        firings=len(shop.fired),
        mean_finish_h=sum(done) / len(done) if done else 0.0,
        moved_firings=len(moved),
        moved_late_days=(len(moved) + REFILLED_SHARE * len(refilled)) * settings.moved_firing_days,
        energy_kwh=energy_kwh,
        set_wait_days=waits_h / 24.0,
        split_lines=splits,
        weighed_days=_weighed_days(shop, energy_kwh)
        + settings.set_waiting_days * waits_h / 24.0
        + settings.split_line_days * splits,
        then=settings.goal_order,
    )


def _weighed_days(shop: Shop, energy_kwh: float | None) -> float:
    """Return the late days that energy and firings weigh as much as."""
    settings = shop.works.settings
    return settings.mwh_days * (energy_kwh or 0.0) / 1000.0 + settings.firing_days * len(shop.fired)


def _set_wait_h(shop: Shop, line: OrderLine) -> float:
    """Return how long after the first product of a set the last one is all done, h; 0 for a line of one product."""
    wanted = open_quantity(line)
    ends_h = []
    for product, count in items_of(shop.works, line).items():
        units = complete_units({product: shop.finished.get((line.code, product), [])}, {product: count}, wanted)
        if sum(done for _, done in units) < wanted:
            return 0.0
        ends_h.append(max((hour for hour, _ in units), default=0.0))
    return max(ends_h) - min(ends_h) if ends_h else 0.0


def _split_lines(shop: Shop) -> int:
    """Return how many lines have ware of one product parted over several firings of a programme."""
    held: Counter[tuple[str, str, int]] = Counter()
    for fired in shop.fired:
        wares = (part.ware for part in fired.moved)
        held.update({(ware.line, ware.product, ware.step) for ware in wares if ware.line is not None})
    return len({line for (line, _, _), count in held.items() if count > 1})


def _late_of(shop: Shop, row: LineOutcome) -> int:
    """Return the days late of a line; an urgent one is late from the soonest it could be done."""
    if row.line not in shop.given.urgent:
        return row.late_days
    end_h = shop.clock.hour(row.finish) if row.finish is not None else last_hour(shop)
    return max(row.late_days, late_days(end_h, min(shop.due_h[row.line], shop.soonest_h[row.line])))


def tight_days(shop: Shop, outcomes: Sequence[LineOutcome]) -> float:
    """Return the weighted days that lines have less than `IN_HAND_H` before they are due, with loads only estimated."""
    weights = {line.code: line.priority_factor for line in shop.works.lines}
    total = 0.0
    for row in outcomes:
        if row.finish is not None:
            in_hand_h = shop.due_h[row.line] - shop.clock.hour(row.finish)
            total += weights[row.line] * max(0.0, min(IN_HAND_H, IN_HAND_H - in_hand_h)) / 24.0
    return total


def cannot_beat(shop: Shop, goals: PlanGoals) -> bool:
    """Whether a run that has come so far can only end with goals that are not better than these.

    What is not finished by now is late by now at least, and every firing counts, with its energy.
    """
    if goals.open_lines:
        return False
    energy_kwh = firings_kwh(shop.works, shop.fired, shop.given.calibrations)
    late = _late_by_now(shop) + _weighed_days(shop, energy_kwh)
    if late != goals.late:
        return late > goals.late
    so_far = {PlanGoal.ENERGY: energy_step(energy_kwh), PlanGoal.FIRINGS: float(len(shop.fired))}
    for goal in goals.then:
        if goal not in so_far or so_far[goal] < goals.value(goal):
            return False
        if so_far[goal] > goals.value(goal):
            return True
    return False


def _late_by_now(shop: Shop) -> float:
    """Return the weighted late days of the lines that are not done when the last firing so far was decided on."""
    now_h = max((fired.decided_h for fired in shop.fired if fired.kept is None), default=0.0)
    late = 0.0
    for line in shop.works.lines:
        wanted = open_quantity(line)
        for product, count in items_of(shop.works, line).items():
            if sum(n for hour, n in shop.finished.get((line.code, product), ()) if hour <= now_h) < wanted * count:
                late += line.priority_factor * late_days(now_h, shop.due_h[line.code])
                break
    return late


def _why(found: Run, line: OrderLine, moved: list[tuple[int, Moved]], *, done: bool) -> tuple[LateReason, str]:
    """Name what kept a late or open line: what its last pieces waited for longest."""
    shop = found.shop
    if not done:
        return _why_open(found, line)
    chain = _last_chain(shop, moved)
    if not chain:
        return LateReason.SUPPLY, "its finished pieces were not there sooner"
    first = chain[0][1].ware
    product = shop.products[first.product]
    drying = product.route[first.step].ready_after_h if first.code.endswith("@1") else 0.0
    shortest = chain_h(shop.works, product, first.step) + drying
    if shortest > shop.due_h[line.code]:
        days = shop.due_h[line.code] / 24.0
        return (
            LateReason.TOO_LATE_WHEN_ORDERED,
            f"firings, cooling and rests alone take {shortest / 24.0:.1f} days and it is due in {days:.1f}",
        )
    hours = waits(shop, chain)
    reason = max(hours, key=lambda key: (hours[key], key.value))
    kiln = max(chain, key=lambda row: row[0].decided_h - row[1].ware.ready_h)[0].kiln.code
    words = {
        LateReason.KILN: f"waited {hours[reason]:.0f} h for a place in a firing, longest for {kiln}",
        LateReason.FURNITURE: f"waited {hours[reason]:.0f} h for furniture to come back, longest at {kiln}",
        LateReason.CREW: f"waited {hours[reason]:.0f} h for hands to load and unload",
        LateReason.COOLING: f"cooled for {hours[reason]:.0f} h in its firings",
        LateReason.REST: f"rested, was glazed and dried for {hours[reason]:.0f} h between its firings",
        LateReason.SUPPLY: f"the last of it was made and dry only after {hours[reason]:.0f} h",
    }
    return reason, words[reason]


def _why_open(found: Run, line: OrderLine) -> tuple[LateReason, str]:
    """Say why a line is never finished."""
    shop = found.shop
    short = sum(n for (code, _), n in shop.backlog.not_cast.items() if code == line.code)
    if short:
        return LateReason.SUPPLY, f"{short} pieces are never made: moulds, drying places or working days are missing"
    codes = {ware.code for rows in shop.pools.values() for ware in rows if ware.line == line.code}
    for code in sorted(codes & set(shop.barred)):
        row = shop.barred[code]
        return LateReason.NO_ROOM, f"{row.rule}: {row.reason}"
    waiting = {shop.programme_of(ware) for rows in shop.pools.values() for ware in rows if ware.line == line.code}
    barred = {programme for _, programme in found.crew_bars}
    if waiting & barred or shop.clock.next_working_h(0.0) == float("inf"):
        names = ", ".join(sorted(waiting & barred)) or "any firing"
        return LateReason.CREW, f"no working hours are long enough for {names}; unattended firing is not allowed"
    if found.stopped:
        return LateReason.STOPPED, "the planning was stopped before its firings were laid out"
    return LateReason.NO_ROOM, "no load holds its pieces" if codes else "too few good pieces are expected"


def _last_chain(shop: Shop, moved: list[tuple[int, Moved]]) -> list[tuple[Fired, Moved]]:
    """Return the firings that the last finished pieces went through, in order."""
    last = [(shop.fired[n], part) for n, part in moved if part.becomes.endswith("@done")]
    if not last:
        return []
    chain = [max(last, key=lambda row: row[0].unload_end_h)]
    rows = [(shop.fired[n], part) for n, part in moved]
    while True:
        ware = chain[0][1].ware
        before = [
            row for row in rows if row[1].becomes == ware.code and row[0].unload_end_h <= ware.ready_h + SAME_MOMENT_H
        ]
        if not before:
            return chain
        chain.insert(0, max(before, key=lambda row: row[0].unload_end_h))


def waits(shop: Shop, chain: Sequence[tuple[Fired, Moved]]) -> dict[LateReason, float]:
    """Return the hours that a chain of firings spent on each cause."""
    hours: dict[LateReason, float] = defaultdict(float)
    backs = [fired.furniture_back_h for fired in shop.fired]
    hours[LateReason.SUPPLY] = chain[0][1].ware.ready_h
    before: Fired | None = None
    for fired, part in chain:
        if before is not None:
            hours[LateReason.REST] += max(0.0, part.ware.ready_h - before.unload_end_h)
        wait = max(0.0, fired.decided_h - part.ware.ready_h)
        for_furniture = any(abs(back - fired.decided_h) < SAME_MOMENT_H for back in backs if back > 0)
        free = _free_before(shop, fired)
        cause = LateReason.FURNITURE if for_furniture and free < fired.decided_h - SAME_MOMENT_H else LateReason.KILN
        hours[cause] += wait
        hours[LateReason.KILN] += fired.fire_start_h - fired.load_end_h
        hours[LateReason.CREW] += fired.load_end_h - fired.decided_h
        hours[LateReason.CREW] += fired.unload_end_h - fired.cool_outside_end_h
        hours[LateReason.COOLING] += fired.cool_outside_end_h - fired.fire_end_h
        before = fired
    return hours


def _free_before(shop: Shop, fired: Fired) -> float:
    """Return when the first of the kilns that could have held a firing was free for it."""
    free_h = []
    for state in shop.kilns:
        if fired.programme.code in state.kiln.programmes:
            earlier = [
                row for row in shop.fired if row.kiln.code == state.kiln.code and row.decided_h < fired.decided_h
            ]
            free_h.append(max((row.unload_end_h if row.car is None else row.draw_h for row in earlier), default=0.0))
    return min(free_h, default=0.0)
