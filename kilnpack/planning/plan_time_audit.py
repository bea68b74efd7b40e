"""Checks of a plan's times and resources: order and length of each part, kilns, cars, crew and furniture."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from kilnpack.errors import Finding
from kilnpack.model.plans import FiringState
from kilnpack.planning.cycle import cycle_of, has_cars
from kilnpack.planning.furniture_stock import furniture_of, lacking, stock_of, total
from kilnpack.planning.packs import furniture_kg, taken_of, ware_kg

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import datetime

    from kilnpack.model.plans import Firing, Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.clock import Clock
    from kilnpack.planning.cycle import Cycle

SLACK_H = 0.01
"""Moments are kept to the second; 36 s are forgiven."""
MASS_SLACK_SHARE = 0.001


def plan_finding(field: str, found: object, wanted: object) -> Finding:
    """Return a finding on the plan."""
    return Finding(file="plan", row=None, field=field, found=str(found), wanted=str(wanted))


def check_masses(works: Works, plan: Plan, _: Clock) -> Iterator[Finding]:
    """Ware and furniture weigh what the load weighs."""
    for firing in plan.firings:
        programme = works.programme(firing.programme)
        ware = ware_kg(works, programme, firing.lots, taken_of(firing.load))
        furniture = furniture_kg(works, furniture_of(works, firing.load))
        for name, said, wanted in (("ware", firing.ware_kg, ware), ("furniture", firing.furniture_kg, furniture)):
            if abs(said - wanted) > MASS_SLACK_SHARE * wanted + MASS_SLACK_SHARE:
                yield plan_finding(f"{firing.code} {name}_kg", f"{said:.2f}", f"{wanted:.2f}")


def cycle_of_firing(works: Works, firing: Firing) -> Cycle:
    """Work the hours of a firing out again from its load."""
    load, programme = firing.load, works.programme(firing.programme)
    furniture = furniture_of(works, load)
    mass = ware_kg(works, programme, firing.lots, taken_of(load)) + furniture_kg(works, furniture)
    shelves = sum(len(stack.tiers) for stack in load.stacks)
    kiln = works.kiln(firing.kiln)
    return cycle_of(works.settings, kiln, programme, pieces=load.pieces, shelves=shelves, contents_kg=mass)


def check_order(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """Every part of a firing begins when the one before it has ended, and none before the plan begins."""
    names = (
        "load_start", "load_end", "fire_start", "fire_end", "cool_end", "draw", "cool_outside_end", "unload_start",
        "unload_end", "cleaning_start", "furniture_back",
    )  # fmt: skip
    in_place = (
        "load_start", "load_end", "fire_start", "fire_end", "cool_end", "cool_outside_end", "unload_start",
        "unload_end", "cleaning_start", "furniture_back",
    )  # fmt: skip
    for firing in plan.firings:
        used = names if has_cars(works.kiln(firing.kiln)) else in_place
        hours = [clock.hour(getattr(firing, name)) for name in used]
        if hours[0] < -SLACK_H and firing.state is not FiringState.STARTED:
            yield plan_finding(f"{firing.code} load_start", firing.load_start, f"not before {works.now}")
        for before, name, early, late in zip(used, used[1:], hours, hours[1:], strict=False):
            if late < early - SLACK_H:
                yield plan_finding(f"{firing.code} {name}", getattr(firing, name), f"not before {before}")


def check_spans(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """Fire and cooling last as long as recorded, stretched by the mass; hands get the hours the work takes."""
    for firing in plan.firings:
        cycle = cycle_of_firing(works, firing)
        rows = (
            ("fire", firing.fire_start, firing.fire_end, cycle.fire_h),
            ("cooling in the kiln", firing.fire_end, firing.cool_end, cycle.cool_in_kiln_h),
            ("cooling outside", firing.draw, firing.cool_outside_end, cycle.cool_outside_h),
        )
        for name, start, end, wanted_h in rows:
            if name == "cooling outside" and not has_cars(works.kiln(firing.kiln)):
                continue
            hours = clock.hour(end) - clock.hour(start)
            if hours < wanted_h - SLACK_H:
                yield plan_finding(f"{firing.code} {name}", f"{hours:.2f} h", f"{wanted_h:.2f} h")
        for name, start, end, person_h in _hand_jobs(firing, cycle, clock):
            hours = clock.worked(clock.hour(end)) - clock.worked(clock.hour(start))
            if hours < person_h - SLACK_H * _most_people(works):
                yield plan_finding(f"{firing.code} {name}", f"{hours:.2f} person h", f"{person_h:.2f} person h")


def _most_people(works: Works) -> int:
    return max((shift.crew_people for shift in works.calendar.shifts), default=1)


def _hand_jobs(firing: Firing, cycle: Cycle, clock: Clock) -> Iterator[tuple[str, datetime, datetime, float]]:
    """Give the crew's jobs of a firing that are still to do: name, start, end, person hours."""
    for name, start, end, person_h in (
        ("loading", firing.load_start, firing.load_end, cycle.load_person_h),
        ("unloading", firing.unload_start, firing.unload_end, cycle.unload_person_h),
        ("cleaning", firing.cleaning_start, firing.furniture_back, cycle.cleaning_person_h),
    ):
        if firing.state is not FiringState.STARTED or clock.hour(start) > -SLACK_H:
            yield name, start, end, person_h


def check_working_hours(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """Loading, drawing and unloading begin while people work; the fire too, unless it may burn unattended."""
    for firing in plan.firings:
        names = ["load_start", "unload_start"] + (["draw"] if has_cars(works.kiln(firing.kiln)) else [])
        for name in names:
            hour = clock.hour(getattr(firing, name))
            if hour < -SLACK_H and firing.state is FiringState.STARTED:
                continue
            if clock.next_working_h(hour - SLACK_H) > hour + SLACK_H:
                yield plan_finding(f"{firing.code} {name}", getattr(firing, name), "a moment in working hours")
        if works.calendar.unattended_firing:
            continue
        start, end = clock.hour(firing.fire_start), clock.hour(firing.fire_end)
        if start < -SLACK_H and firing.state is FiringState.STARTED:
            continue
        if clock.attended_h(start, end - start - SLACK_H) > start + SLACK_H:
            yield plan_finding(f"{firing.code} fire", firing.fire_start, "people at work for the whole fire")


def check_kilns(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """A kiln holds one load at a time: a chamber from loading to unloading, a car kiln from fire to draw."""
    rows: dict[str, list[tuple[float, float, str]]] = defaultdict(list)
    for firing in plan.firings:
        cars = has_cars(works.kiln(firing.kiln))
        first, last = (firing.fire_start, firing.draw) if cars else (firing.load_start, firing.unload_end)
        rows[f"kiln {firing.kiln}"].append((clock.hour(first), clock.hour(last), firing.code))
    yield from _overlaps(rows)


def check_cars(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """A car carries one load at a time, from loading to unloading; a car kiln fires only on cars."""
    rows: dict[str, list[tuple[float, float, str]]] = defaultdict(list)
    for firing in plan.firings:
        if has_cars(works.kiln(firing.kiln)) and firing.car is None:
            yield plan_finding(f"{firing.code} car", "none", f"a car of {firing.kiln}")
        if firing.car is not None:
            rows[f"car {firing.car}"].append(
                (clock.hour(firing.load_start), clock.hour(firing.unload_end), firing.code)
            )
    yield from _overlaps(rows)


def _overlaps(rows: dict[str, list[tuple[float, float, str]]]) -> Iterator[Finding]:
    for name, spans in rows.items():
        spans.sort()
        last_end, last_code = float("-inf"), ""
        for start, end, code in spans:
            if start < last_end - SLACK_H:
                yield plan_finding(f"{code} {name}", f"in use by {last_code}", "free")
            if end > last_end:
                last_end, last_code = end, code


def check_crew(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """Between any two moments the jobs that lie wholly between them take no more hands than there are."""
    jobs = [
        (clock.worked(clock.hour(start)), clock.worked(clock.hour(end)), person_h, f"{firing.code} {name}")
        for firing in plan.firings
        for name, start, end, person_h in _hand_jobs(firing, cycle_of_firing(works, firing), clock)
        if person_h > 0
    ]
    yield from over_booked(jobs, slack=SLACK_H * _most_people(works))


def over_booked(jobs: Iterable[tuple[float, float, float, str]], *, slack: float) -> Iterator[Finding]:
    """Find a stretch of working time that more work lies in than it holds: the first one that ends soonest.

    Parameters
    ----------
    jobs
        (start, end, work, name) on a clock that counts work.
    slack
        Forgiven for every job.
    """
    rows = sorted(jobs, key=lambda job: (job[1], job[0]))
    for start in sorted({job[0] for job in rows}):
        work, count = 0.0, 0
        for begin, end, amount, name in rows:
            if begin < start - 1e-9:
                continue
            work, count = work + amount, count + 1
            if work > end - start + slack * count:
                yield plan_finding(name, f"{work:.2f} h of work for hands", f"at most {end - start:.2f} h")
                return


def check_furniture(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """No moment uses more furniture than there is; it is back only when unloaded and, after a glost, cleaned."""
    spans = [
        (clock.hour(row.load_start), clock.hour(row.furniture_back), furniture_of(works, row.load), row)
        for row in plan.firings
    ]
    stock = stock_of(works)
    for start, _, _, firing in spans:
        used = total(taken for begin, back, taken, _ in spans if begin <= start + 1e-9 and back > start + SLACK_H)
        for (kind, code), count in sorted(lacking(stock, used).items()):
            yield plan_finding(f"{firing.code} {kind} {code}", f"{count} more than there are", "furniture that is free")
