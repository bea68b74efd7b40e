"""Checks of orders, lots, sets, calendar."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from kilnpack.errors import Finding
from kilnpack.model.pieces import Stage
from kilnpack.words import listed, shown
from kilnpack.works_folder.letters import code_faults

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from kilnpack.model.works import Works
    from kilnpack.works_folder.reading import Reading

WORKS = "works.toml"


def orders(reading: Reading, works: Works) -> Iterator[Finding]:
    """No more is delivered than was ordered, and nothing is due before it is wanted."""
    for line in works.lines:
        if line.delivered_pieces > line.quantity_pieces:
            wanted = f"at most quantity_pieces {line.quantity_pieces}"
            yield reading.at("orders", line.code, "delivered_pieces", line.delivered_pieces, wanted)
        if line.not_before is not None and line.due < line.not_before:
            wanted = f"a day on or after not_before {line.not_before.isoformat()}"
            yield reading.at("orders", line.code, "due", line.due, wanted)


def sold_singly(reading: Reading, works: Works) -> Iterator[Finding]:
    """A product that is sold in sets only is not ordered by itself."""
    only_sets: dict[str, str] = {}
    for one in works.sets:
        if not one.sold_singly:
            only_sets |= {item.product: one.code for item in one.items}
    for line in works.lines:
        if line.item in only_sets:
            wanted = f"the set {only_sets[line.item]}, or sold_singly yes for it"
            yield reading.at("orders", line.code, "item", line.item, wanted)


def lots(reading: Reading, works: Works) -> Iterator[Finding]:
    """A lot is of what its order line asks for, and only glazed ware before glost waits to be glazed."""
    lines = {line.code: line for line in works.lines}
    in_sets = {one.code: {item.product for item in one.items} for one in works.sets}
    for lot in works.lots:
        product = works.product(lot.product)
        if lot.order_line is not None:
            item = lines[lot.order_line].item
            asked = in_sets.get(item, {item})
            if lot.product not in asked:
                wanted = f"an order line for {lot.product}; {lot.order_line} asks for {listed(sorted(asked))}"
                yield reading.at("lots", lot.code, "order_line", lot.order_line, wanted)
        before_glost = lot.step < len(product.route) and product.route[lot.step].stage is Stage.GLOST
        if not lot.glazed and not (before_glost and product.glaze):
            yield reading.at("lots", lot.code, "glazed", "no", "an empty cell; only ware before its glost is unglazed")


def calendar(_reading: Reading, works: Works) -> Iterator[Finding]:
    """The time zone is known, shifts end after they start, and those of one day do not overlap."""
    try:
        ZoneInfo(works.calendar.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        wanted = "a name of the IANA time zone data base, such as UTC"
        yield _finding("calendar.time_zone", works.calendar.time_zone, wanted)
    for shift in works.calendar.shifts:
        if shift.end <= shift.start:
            wanted = f"a time after start {shift.start.isoformat('minutes')}"
            yield _finding("calendar.shifts", shift.end, wanted)
    for one, other in combinations(works.calendar.shifts, 2):
        if one.weekday == other.weekday and one.start < other.end and other.start < one.end:
            found = f"{_hours(one.start, one.end)} and {_hours(other.start, other.end)} on one day"
            yield _finding("calendar.shifts", found, "shifts of a day that do not overlap")


def _hours(start: object, end: object) -> str:
    return f"{shown(start)}-{shown(end)}"


def _finding(key: str, found: object, wanted: str) -> Finding:
    return Finding(file=WORKS, row=None, field=key, found=shown(found), wanted=wanted)


def excluded_pairs(_reading: Reading, works: Works) -> Iterator[Finding]:
    """A class of vapour is not excluded from itself, which would bar its ware from every load (rule Z5).

    One in letters that only look like another's would exclude nothing.
    """
    for one, other in works.settings.excluded_vapours:
        if one == other:
            yield _finding("settings.excluded_vapours", f"{one} with {other}", "two different classes")
    classes = list(dict.fromkeys(name for pair in works.settings.excluded_vapours for name in pair))
    for name, wanted in code_faults(classes):
        yield _finding("settings.excluded_vapours", name, wanted)


def goals_once(_reading: Reading, works: Works) -> Iterator[Finding]:
    """A goal stands once in the order of goals."""
    order = works.settings.goal_order
    for goal in sorted({goal for goal in order if order.count(goal) > 1}):
        yield _finding("settings.goal_order", f"{goal.value} {order.count(goal)} times", "every goal once at most")


BACKLOG_CHECKS: tuple[Callable[[Reading, Works], Iterator[Finding]], ...] = (
    orders,
    sold_singly,
    lots,
    calendar,
    excluded_pairs,
    goals_once,
)
