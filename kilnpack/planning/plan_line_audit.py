"""Check of what a plan promises: finish, days late and open pieces of every order line, worked out again."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from datetime import timedelta
from typing import TYPE_CHECKING

from kilnpack.model.orders import LotKind
from kilnpack.planning.plan_time_audit import SLACK_H, plan_finding
from kilnpack.planning.routes import items_of, open_quantity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.errors import Finding
    from kilnpack.model.plans import LineOutcome, Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.clock import Clock

NO_DELIVERY = {LotKind.SAMPLE, LotKind.FILLER}


def check_outcomes(works: Works, plan: Plan, clock: Clock) -> Iterator[Finding]:
    """A line is done when its last piece or set is unloaded, not sooner; its days late and open pieces follow."""
    done = _finished(works, plan, clock)
    free = _free_finished(works)
    lines = {line.code: line for line in works.lines}
    for outcome in plan.outcomes:
        line = lines[outcome.line]
        wanted, items = open_quantity(line), items_of(works, line)
        said = 0.0 if outcome.finish is None else clock.hour(outcome.finish)
        units = min(
            (_by(done[line.code, p], said) + free[p]) // n for p, n in items.items()
        )  # free stock may have gone to another line: that bound is checked over all lines below
        where = f"line {line.code}"
        if outcome.finish is not None and units < wanted - outcome.open_pieces:
            yield plan_finding(f"{where} finish", outcome.finish, f"{wanted} done by then, there are {units}")
        if outcome.finish is None and wanted > 0 and outcome.open_pieces == 0:
            yield plan_finding(f"{where} finish", "none", "a moment, as nothing is open")
        if outcome.finish is not None and line.not_before is not None:
            first = clock.hour(outcome.finish) + SLACK_H
            if first < clock.end_of_day_h(line.not_before) - 25.0:
                yield plan_finding(f"{where} finish", outcome.finish, f"not before {line.not_before}")
        yield from _late(outcome, clock)
        if outcome.due != line.due:
            yield plan_finding(f"{where} due", outcome.due, line.due)
        yield from _deliveries(outcome, wanted, where)
    yield from _free_stock(works, plan, done, free)


def _late(outcome: LineOutcome, clock: Clock) -> Iterator[Finding]:
    if outcome.finish is None:
        return
    over = clock.hour(outcome.finish) - clock.end_of_day_h(outcome.due)
    days = max(0, math.ceil(over / 24.0 - 1e-4))
    if days != outcome.late_days:
        yield plan_finding(f"line {outcome.line} late_days", outcome.late_days, days)


def _deliveries(outcome: LineOutcome, wanted: int, where: str) -> Iterator[Finding]:
    pieces = sum(row.pieces for row in outcome.deliveries)
    if any(row.pieces < 1 for row in outcome.deliveries) or pieces > wanted:
        yield plan_finding(f"{where} deliveries", f"{pieces} pieces", f"at most {wanted}")
    if outcome.finish is not None and outcome.deliveries:
        last = max(row.at for row in outcome.deliveries)
        if last - outcome.finish > timedelta(minutes=1):
            yield plan_finding(f"{where} deliveries", last, f"not after {outcome.finish}")


def _by(rows: list[tuple[float, int]], hour: float) -> int:
    return sum(pieces for at, pieces in rows if at <= hour + SLACK_H)


def _finished(works: Works, plan: Plan, clock: Clock) -> dict[tuple[str, str], list[tuple[float, int]]]:
    """Return finished pieces by line and product: (hour, pieces)."""
    done: dict[tuple[str, str], list[tuple[float, int]]] = defaultdict(list)
    for lot in works.lots:
        if lot.step >= len(works.product(lot.product).route) and lot.order_line and lot.kind not in NO_DELIVERY:
            done[lot.order_line, lot.product].append((0.0, lot.pieces))
    for firing in plan.firings:
        for part in firing.parts:
            last = part.step + 1 >= len(works.product(part.product).route)
            if last and part.order_line and part.kind not in NO_DELIVERY:
                done[part.order_line, part.product].append((clock.hour(firing.unload_end), part.good_pieces))
    return done


def _free_finished(works: Works) -> Counter[str]:
    """Return finished pieces bound to no line, by product."""
    free: Counter[str] = Counter()
    for lot in works.lots:
        finished = lot.step >= len(works.product(lot.product).route)
        if finished and lot.order_line is None and lot.kind not in NO_DELIVERY:
            free[lot.product] += lot.pieces
    return free


def _free_stock(
    works: Works, plan: Plan, done: dict[tuple[str, str], list[tuple[float, int]]], free: Counter[str]
) -> Iterator[Finding]:
    """Find lines that together promise more of a product than is fired for them and lies free in stock."""
    lines = {line.code: line for line in works.lines}
    lacking: Counter[str] = Counter()
    for outcome in plan.outcomes:
        line = lines[outcome.line]
        units = open_quantity(line) - outcome.open_pieces
        for product, count in items_of(works, line).items():
            lacking[product] += max(0, units * count - _by(done[line.code, product], float("inf")))
    for product, pieces in sorted(lacking.items()):
        if pieces > free[product]:
            yield plan_finding(f"stock of {product}", f"{pieces} promised from free stock", f"{free[product]} there")
