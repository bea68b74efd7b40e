"""The plan as lanes over time: every kiln, every car, and what each does when; plain figures that a page draws."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from kilnpack.model.orders import in_zone
from kilnpack.planning.cycle import has_cars
from kilnpack.records.states import RecordedState
from kilnpack.sheets.plan_rows import Doing

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from kilnpack.model.plans import Firing, Plan
    from kilnpack.model.works import Works
    from kilnpack.records.standing_plan import FiringHead

LANE_PX = 60
BAR_PX = 48
HEAD_PX = 40
LEAST_BAR_PX = 44.0
"""No bar is narrower than a finger."""
WIDE_BAR_PX = 120.0
"""From so wide on a bar carries its programme as well."""
ZOOMS = {"days": 9.0, "weeks": 4.5, "months": 2.2}
"""Pixels of an hour, by how far one wants to see at once."""
MARGIN_H = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A part of a bar: what is done, from its left end on, px."""

    doing: str
    x_px: float
    wide_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A firing on a lane; `state` is empty where it is planned and free to move."""

    firing: str
    programme: str
    state: str
    words: str
    movable: bool
    x_px: float
    y_px: float
    wide_px: float
    stretches: tuple[Stretch, ...]

    @property
    def carries_programme(self) -> bool:
        """Whether there is room for more than the code."""
        return self.wide_px >= WIDE_BAR_PX


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """A kiln, or one of its cars."""

    name: str
    kiln: str
    car: str | None
    y_px: float
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """A day on the time axis; `free` where nobody works."""

    x_px: float
    wide_px: float
    words: str
    free: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """The whole board; `now_px` is None where now lies outside it."""

    wide_px: float
    tall_px: float
    hour_px: float
    lanes: tuple[Lane, ...]
    days: tuple[Day, ...]
    begins_px: float
    now_px: float | None


def board_of(
    works: Works, plan: Plan, heads: Mapping[str, FiringHead], *, zoom: str = "weeks", now: datetime | None = None
) -> Board:
    """Lay out the board.

    Parameters
    ----------
    works
        Its kilns and cars are the lanes.
    plan
        The plan; its firings are the bars.
    heads
        How far each firing is, by its code in the plan.
    zoom
        One of `ZOOMS`.
    now
        The present moment.
    """
    scale = _scale(works, plan, ZOOMS.get(zoom, ZOOMS["weeks"]))
    lanes = []
    for number, (name, kiln, car) in enumerate(_lanes(works)):
        y_px = HEAD_PX + number * LANE_PX
        on = (firing for firing in plan.firings if firing.kiln == kiln and car in {None, firing.car})
        bars = tuple(_bar(scale, works, firing, heads, car, y_px) for firing in on)
        lanes.append(Lane(name=name, kiln=kiln, car=car, y_px=y_px, bars=bars))
    now_px = None if now is None else scale.x_px(now)
    return Board(
        wide_px=scale.wide_px,
        tall_px=HEAD_PX + len(lanes) * LANE_PX,
        hour_px=scale.hour_px,
        lanes=tuple(lanes),
        days=tuple(_days(scale, works)),
        begins_px=scale.x_px(plan.made),
        now_px=now_px if now_px is not None and 0.0 <= now_px <= scale.wide_px else None,
    )


def _lanes(works: Works) -> Iterator[tuple[str, str, str | None]]:
    """Give name, kiln and car of every lane, a kiln's cars below it."""
    for kiln in works.kilns:
        yield kiln.name, kiln.code, None
        for car in kiln.cars if has_cars(kiln) else ():
            yield f"car {car.code}", kiln.code, car.code


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """Where moments lie."""

    first: datetime
    last: datetime
    hour_px: float

    def x_px(self, moment: datetime) -> float:
        """Return how far right a moment lies."""
        # Moments of one zone differ by the clock on the wall; as UTC they differ by the hours that go by.
        hours = (moment.astimezone(UTC) - self.first.astimezone(UTC)) / timedelta(hours=1)
        return round(hours * self.hour_px, 1)

    @property
    def wide_px(self) -> float:
        """How wide all of it is."""
        return self.x_px(self.last)


def _scale(works: Works, plan: Plan, hour_px: float) -> _Scale:
    """Return a scale from the day the plan begins to the day after all is unloaded."""
    zone = ZoneInfo(works.calendar.time_zone)
    begin = in_zone(plan.made, works.calendar.time_zone)
    first = min([begin, *(row.load_start for row in plan.firings)]).astimezone(zone)
    last = max([begin, *(row.unload_end for row in plan.firings)]).astimezone(zone) + timedelta(hours=MARGIN_H)
    return _Scale(first=_midnight(first), last=_midnight(last + timedelta(days=1)), hour_px=hour_px)


def _midnight(moment: datetime) -> datetime:
    return datetime.combine(moment.date(), time(0), moment.tzinfo)


def _days(scale: _Scale, works: Works) -> Iterator[Day]:
    working = {shift.weekday for shift in works.calendar.shifts}
    day = scale.first
    while day < scale.last:
        after = _midnight(day + timedelta(days=1, hours=3))
        free = day.weekday() not in working or day.date() in works.calendar.holidays
        wide_px = round(scale.x_px(after) - scale.x_px(day), 1)
        words = f"{day:%a %d %b}" if wide_px > 90 else f"{day:%a %d}"
        yield Day(x_px=scale.x_px(day), wide_px=wide_px, words=words, free=free)
        day = after


def _bar(
    scale: _Scale, works: Works, firing: Firing, heads: Mapping[str, FiringHead], car: str | None, y_px: float
) -> Bar:  # fmt: skip
    """Return a firing on a lane: on a kiln with cars the fire alone, on the car and in a chamber all of it."""
    rows = stretches(firing, in_kiln=car is None)
    x_px = scale.x_px(rows[0][1])
    head = heads.get(firing.code)
    state = state_words(head)
    kiln = works.kiln(firing.kiln).name
    where = f"{kiln}, car {firing.car}" if firing.car else kiln
    words = (
        f"{firing.code} {firing.programme}, {where}, load {firing.load_start:%a %d %b %H:%M}, "
        f"unloaded {firing.unload_end:%a %d %b %H:%M}{', ' if state else ''}{state}"
    )
    return Bar(
        firing=firing.code,
        programme=firing.programme,
        state=state,
        words=words,
        movable=is_movable(head),
        x_px=x_px,
        y_px=y_px + (LANE_PX - BAR_PX) / 2,
        wide_px=max(LEAST_BAR_PX, round(scale.x_px(rows[-1][2]) - x_px, 1)),
        stretches=tuple(
            Stretch(doing=doing.value.replace(" ", "-"), x_px=round(scale.x_px(start) - x_px, 1), wide_px=wide_px)
            for doing, start, end in rows
            if (wide_px := round(scale.x_px(end) - scale.x_px(start), 1)) > 0
        ),
    )


def stretches(firing: Firing, *, in_kiln: bool) -> list[tuple[Doing, datetime, datetime]]:
    """Return what is done when, in order; with cars, what the kiln does differs from what the car is used for."""
    burning = [
        (Doing.FIRE, firing.fire_start, firing.fire_end),
        (Doing.COOL, firing.fire_end, firing.draw if firing.car else firing.cool_end),
    ]
    if in_kiln and firing.car:
        return burning
    outside = [(Doing.COOL_OUTSIDE, firing.draw, firing.cool_outside_end)] if firing.car else []
    return [
        (Doing.LOAD, firing.load_start, firing.load_end),
        *burning,
        *outside,
        (Doing.UNLOAD, firing.unload_start, firing.unload_end),
    ]


def state_words(head: FiringHead | None) -> str:
    """Return how far a firing is in a word, nothing where it may still be moved."""
    if head is None:
        return "not in the records"
    if head.state is RecordedState.PLANNED:
        return "locked" if head.locked else ""
    return head.state.value


def is_movable(head: FiringHead | None) -> bool:
    """Whether a planner may move a firing."""
    return head is not None and head.state is RecordedState.PLANNED and not head.locked
