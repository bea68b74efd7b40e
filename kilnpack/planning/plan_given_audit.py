"""Checks of what a plan was told: kilns that are down hold nothing, and firings that stay are as they were."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.plans import FiringState
from kilnpack.planning.cycle import has_cars
from kilnpack.planning.plan_time_audit import SLACK_H, plan_finding

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.errors import Finding
    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.clock import Clock

STAYS = (
    "kiln", "car", "programme", "load_start", "load_end", "fire_start", "fire_end", "cool_end", "draw",
    "cool_outside_end", "unload_start", "unload_end",
)  # fmt: skip
"""What of a firing that is started or locked may not change, beside its load."""


def check_downs(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """A kiln that is down holds no load: a chamber from loading to unloading, a car kiln from fire to draw."""
    for firing in plan.firings:
        cars = has_cars(works.kiln(firing.kiln))
        first, last = (firing.fire_start, firing.draw) if cars else (firing.load_start, firing.unload_end)
        for down in plan.downs:
            over_h = min(clock.hour(last), clock.hour(down.end)) - max(clock.hour(first), clock.hour(down.start))
            if down.kiln == firing.kiln and over_h > SLACK_H:
                wanted = f"a time outside {down.start:%Y-%m-%d %H:%M} to {down.end:%Y-%m-%d %H:%M}"
                yield plan_finding(f"{firing.code} kiln", f"{firing.kiln}, which is down then", wanted)


def check_states(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """Only a firing that was started begins before the plan does."""
    for firing in plan.firings:
        if firing.state is FiringState.STARTED and clock.hour(firing.load_start) > SLACK_H:
            yield plan_finding(f"{firing.code} state", "started", f"loading before {works.now}")


def audit_stays(plan: Plan, before: Plan) -> tuple[Finding, ...]:
    """Return a finding for everything in which a started or locked firing is not as the plan before has it."""
    old = {firing.code: firing for firing in before.firings}
    found = []
    for firing in plan.firings:
        if firing.state is FiringState.PLANNED:
            continue
        was = old.get(firing.code)
        if was is None:
            found.append(plan_finding(f"{firing.code} state", firing.state.value, "a firing of the plan before"))
            continue
        found += [
            plan_finding(f"{firing.code} {name}", getattr(firing, name), getattr(was, name))
            for name in STAYS
            if getattr(firing, name) != getattr(was, name)
        ]
        if firing.load != was.load:
            found.append(plan_finding(f"{firing.code} load", "another load", "the load of the plan before"))
    return tuple(found)
