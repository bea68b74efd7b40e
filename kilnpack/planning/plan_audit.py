"""The independent check of a plan: nothing of the planner is trusted, every rule is worked out again from the works.

A plan may have been edited by hand or made for another works: whatever does not hold is a finding, never a fault of
the program. Loads are checked one by one by the checker of loads, which the caller hands in.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.planning.clock import Clock
from kilnpack.planning.furniture_stock import furniture_of, total, with_less
from kilnpack.planning.packs import taken_of
from kilnpack.planning.plan_flow_audit import (
    check_biscuit_to_glaze,
    check_castings,
    check_glazings,
    check_lots,
    check_parts,
)
from kilnpack.planning.plan_given_audit import check_downs, check_states
from kilnpack.planning.plan_line_audit import check_outcomes
from kilnpack.planning.plan_time_audit import (
    check_cars,
    check_crew,
    check_furniture,
    check_kilns,
    check_masses,
    check_order,
    check_spans,
    check_working_hours,
    plan_finding,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.errors import Finding
    from kilnpack.model.plans import Firing, Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.packs import Checker

TIME_CHECKS = (
    check_order,
    check_spans,
    check_masses,
    check_working_hours,
    check_kilns,
    check_cars,
    check_crew,
    check_furniture,
    check_downs,
    check_states,
)
CHECKS = (
    *TIME_CHECKS,
    check_parts,
    check_castings,
    check_glazings,
    check_biscuit_to_glaze,
    check_lots,
    check_outcomes,
)


def audit_plan(works: Works, plan: Plan, *, checker: Checker | None = None) -> tuple[Finding, ...]:
    """Return every finding on a plan; none means that every rule of time and sequence holds.

    Parameters
    ----------
    works
        The works as it was when the plan was made.
    plan
        The plan, perhaps edited.
    checker
        Checks the load of each firing against the works with the lots that were ready for it; None leaves loads out.
    """
    unknown = tuple(_unknown(works, plan))
    if unknown:
        return unknown
    clock = Clock(works.calendar, works.now)
    findings: list[Finding] = []
    for check in CHECKS:
        try:
            findings += check(works, plan, clock)
        except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as fault:
            name = check.__name__.removeprefix("check_").replace("_", " ")
            findings.append(plan_finding(name, f"what cannot be reckoned with: {fault}", "values that belong together"))
    if checker is not None:
        findings += _check_loads(works, plan, checker)
    return tuple(findings)


def works_of(works: Works, plan: Plan, firing: Firing) -> Works:
    """Return the works as a firing's load sees it: its lots, and the furniture that is not elsewhere."""
    others = (
        row
        for row in plan.firings
        if row.code != firing.code and row.load_start <= firing.load_start < row.furniture_back
    )
    out = total(furniture_of(works, row.load) for row in others)
    return with_less(replace(works, lots=firing.lots), out)


def _check_loads(works: Works, plan: Plan, checker: Checker) -> Iterator[Finding]:
    for firing in plan.firings:
        try:
            yield from checker(works_of(works, plan, firing), firing.load)
        except (LookupError, TypeError) as fault:
            yield plan_finding(f"{firing.code} load", f"what cannot be reckoned with: {fault}", "a load of the works")


def _unknown(works: Works, plan: Plan) -> Iterator[Finding]:
    """Find codes that the works does not know, and codes used twice."""
    if plan.works != works.name:
        yield plan_finding("works", plan.works, f"a plan for {works.name}")
    for code, count in Counter(firing.code for firing in plan.firings).items():
        if count > 1:
            yield plan_finding(f"{code} code", f"{count} firings of this code", "every code once")
    for firing in plan.firings:
        yield from unknown_in_firing(works, firing)
    yield from _unknown_elsewhere(works, plan)
    yield from _unknown_lines(works, plan)


def _unknown_elsewhere(works: Works, plan: Plan) -> Iterator[Finding]:
    kilns = {row.code for row in works.kilns}
    for down in plan.downs:
        if down.kiln not in kilns:
            yield plan_finding("downs", down.kiln, "a kiln of the works")
    products = {row.code for row in works.products}
    for work in plan.hand_work:
        if work.product not in products:
            yield plan_finding(f"{work.kind.value} {work.lot}", work.product, "a product of the works")


def unknown_in_firing(works: Works, firing: Firing) -> Iterator[Finding]:
    """Find codes of a firing that the works does not know."""
    yield from _unknown_kiln(works, firing)
    yield from _unknown_ware(works, firing)
    yield from _unknown_in_load(works, firing)


def _unknown_lines(works: Works, plan: Plan) -> Iterator[Finding]:
    lines = {line.code for line in works.lines}
    for line in sorted(lines ^ {row.line for row in plan.outcomes}):
        yield plan_finding(f"line {line}", "an outcome without a line, or none", "one outcome for every order line")
    codes = {firing.code for firing in plan.firings}
    for row in plan.outcomes:
        for code in sorted(set(row.firings) - codes):
            yield plan_finding(f"line {row.line} firings", code, "a firing of the plan")
    if len(plan.outcomes) != len({row.line for row in plan.outcomes}):
        yield plan_finding("outcomes", "a line twice", "one outcome for every order line")


def _unknown_kiln(works: Works, firing: Firing) -> Iterator[Finding]:
    kiln = next((kiln for kiln in works.kilns if kiln.code == firing.kiln), None)
    known = {row.code for row in works.programmes}
    if kiln is None:
        yield plan_finding(f"{firing.code} kiln", firing.kiln, "a kiln of the works")
    elif firing.programme not in known.intersection(kiln.programmes):
        yield plan_finding(f"{firing.code} programme", firing.programme, f"a programme that {kiln.code} fires")
    elif firing.car is not None and firing.car not in {car.code for car in kiln.cars}:
        yield plan_finding(f"{firing.code} car", firing.car, f"a car of {kiln.code}")
    load = firing.load
    said = (load.works, load.kiln, load.programme, load.car)
    wanted = (works.name, firing.kiln, firing.programme, firing.car)
    if said != wanted:
        yield plan_finding(f"{firing.code} load", said, f"a load for {wanted}")


def _unknown_ware(works: Works, firing: Firing) -> Iterator[Finding]:
    products = {row.code: row for row in works.products}
    rows = {(part.product, part.step) for part in firing.parts} | {(lot.product, lot.step) for lot in firing.lots}
    for code, step in sorted(rows):
        product = products.get(code)
        if product is None:
            yield plan_finding(f"{firing.code} {code}", code, "a product of the works")
        elif not 0 <= step < len(product.route):
            yield plan_finding(f"{firing.code} {code}", f"firing {step + 1}", f"a firing of {product.code}")
    lots = {lot.code for lot in firing.lots}
    for code in sorted(taken_of(firing.load).keys() - lots):
        yield plan_finding(f"{firing.code} fill", code, "a lot that was ready")


def _unknown_in_load(works: Works, firing: Firing) -> Iterator[Finding]:
    load = firing.load
    tiers = [tier for stack in load.stacks for tier in stack.tiers]
    supports = {code for form in load.forms for code in (form.support, form.spacer) if code is not None}
    furniture = works.furniture
    stock = {row.code for row in furniture.stilts} | {row.code for row in furniture.setters}
    stock |= {row.code for row in furniture.catch_discs} | {row.code for row in furniture.spacers}
    rows: tuple[tuple[str, set[str], set[str]], ...] = (
        ("setting", {tier.setting for tier in tiers}, {row.code for row in load.settings}),
        ("shelf", {tier.shelf for tier in tiers}, {row.code for row in furniture.shelves}),
        ("post", {post for tier in tiers for post in tier.posts}, {row.code for row in furniture.posts}),
        ("stub", {stack.stub for stack in load.stacks if stack.stub is not None}, {s.code for s in furniture.stubs}),
        ("form", {one.form for row in load.settings for one in row.standings}, {row.code for row in load.forms}),
        ("shape", {form.shape for form in load.forms}, {row.code for row in works.shapes}),
        ("support", supports, stock),
    )
    for name, used, known in rows:
        for code in sorted(used - known):
            yield plan_finding(f"{firing.code} {name}", code, f"a {name} that is known")
