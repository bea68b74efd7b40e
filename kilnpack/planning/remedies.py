"""What would save a late line: one thing of the works is made more of at a time, and all firings are laid out again.

Loads are estimated, so a remedy is a good hint and no promise. What is tried: a second kiln of each kind, twice the
furniture, twice the hands or hands round the clock, twice the moulds, drying places and glazing, half the hours of
cooling, and no rests.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import time
from typing import TYPE_CHECKING

from kilnpack.model.orders import Shift
from kilnpack.model.plans import LateReason
from kilnpack.planning.furniture_stock import times_furniture

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.orders import WorkCalendar
    from kilnpack.model.plans import LineOutcome
    from kilnpack.model.works import Works

MOST_NAMED = 3
"""Remedies named for one line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxed:
    """A works with more of one thing, what it has more of, and the reason for lateness that this would lift."""

    reason: LateReason
    words: str
    works: Works


def relaxed(works: Works) -> Iterator[Relaxed]:
    """Give the works with more of one thing, one after the other."""
    for kiln in works.kilns:
        second = twin(kiln)
        yield Relaxed(
            reason=LateReason.KILN, words=f"a second {kiln.code}", works=replace(works, kilns=(*works.kilns, second))
        )
    furniture = times_furniture(works.furniture, 2)
    yield Relaxed(reason=LateReason.FURNITURE, words="twice the furniture", works=replace(works, furniture=furniture))
    for words, calendar in (("twice the hands", _hands(works.calendar)), ("hands round the clock", _always(works))):
        yield Relaxed(reason=LateReason.CREW, words=words, works=replace(works, calendar=calendar))
    yield Relaxed(
        reason=LateReason.SUPPLY, words="twice the moulds, drying places and glazing", works=_more_supply(works)
    )
    yield Relaxed(reason=LateReason.COOLING, words="half the hours of cooling", works=_cooler(works))
    yield Relaxed(reason=LateReason.REST, words="no rests and no drying", works=_restless(works))


def twin(kiln: Kiln) -> Kiln:
    """Return a second kiln of a kind, with cars of its own."""
    cars = tuple(replace(car, code=f"{car.code} twin") for car in kiln.cars)
    return replace(kiln, code=f"{kiln.code} twin", name=f"{kiln.name} twin", cars=cars)


def _hands(calendar: WorkCalendar) -> WorkCalendar:
    return replace(calendar, shifts=tuple(replace(row, crew_people=2 * row.crew_people) for row in calendar.shifts))


def _always(works: Works) -> WorkCalendar:
    """Return hours round the clock with the most hands of a shift, also on holidays."""
    most = max((row.crew_people for row in works.calendar.shifts), default=1)
    days = tuple(Shift(weekday=day, start=time(0), end=time(0), crew_people=most) for day in range(7))
    return replace(works.calendar, shifts=days, holidays=(), unattended_firing=True)


def _more_supply(works: Works) -> Works:
    supply = works.supply
    return replace(
        works,
        supply=replace(
            supply,
            moulds=tuple(replace(row, moulds_pieces=2 * row.moulds_pieces) for row in supply.moulds),
            drying_places_pieces=2 * supply.drying_places_pieces if supply.drying_places_pieces is not None else None,
            glazing_pieces_per_hour=2.0 * supply.glazing_pieces_per_hour if supply.glazing_pieces_per_hour else None,
        ),
    )


def _cooler(works: Works) -> Works:
    programmes = tuple(
        replace(row, recorded_cool_h=row.recorded_cool_h / 2.0, cool_outside_h=row.cool_outside_h / 2.0)
        for row in works.programmes
    )
    return replace(works, programmes=programmes)


def _restless(works: Works) -> Works:
    products = tuple(
        replace(
            product,
            route=tuple(replace(step, rest_after_h=0.0, ready_after_h=0.0) for step in product.route),
        )
        for product in works.products
    )
    return replace(works, products=products)


def with_remedies(
    works: Works, outcomes: Sequence[LineOutcome], try_works: Callable[[Works], Mapping[str, int] | None]
) -> tuple[LineOutcome, ...]:
    """Return outcomes with what would save each late line.

    Parameters
    ----------
    works
        As it is.
    outcomes
        Of the plan.
    try_works
        Lays all firings out for a works and returns the days late of each line, open ones left out; None where there
        is no time for more.
    """
    late = {row.line: row for row in outcomes if row.late_days > 0 or row.open_pieces}
    saved: dict[str, list[str]] = {line: [] for line in late}
    better: dict[str, tuple[int, str]] = {}
    now = try_works(works) if late else None
    if now is None:
        return tuple(outcomes)
    for tried in relaxed(works):
        days = try_works(tried.works)
        if days is None:
            break
        for line in late:
            if days.get(line, 1) == 0 and now.get(line, 1) > 0:
                saved[line].append(tried.words)
            elif line in days and days[line] < min(now.get(line, NEVER), better.get(line, (NEVER, ""))[0]):
                better[line] = (days[line], tried.words)
    return tuple(
        replace(row, remedy=_words(row, now, saved[row.line], better.get(row.line))) if row.line in late else row
        for row in outcomes
    )


NEVER = 10**6
"""Days late of a line that is never done."""


def _words(row: LineOutcome, now: Mapping[str, int], saved: Sequence[str], better: tuple[int, str] | None) -> str:
    """Say what would save a line, or what would help most."""
    if saved:
        return ", or ".join(saved[:MOST_NAMED])
    if now.get(row.line, 1) == 0:
        return "nothing more: with estimated loads it is in time, so a longer search may find it"
    date = f"a due day {row.late_days} days later" if row.finish is not None else "another date or quantity"
    if better is not None:
        return f"{date}; {better[1]} would leave it {better[0]} days late"
    return date
