"""Time: the works' own zone, working hours and holidays as a clock that only runs while people work.

Inside the planner a moment is a number of hours since the start of the plan. Shifts are written in local time and
turned into moments one day at a time, so a day on which summer time begins or ends has the hours it really has.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from kilnpack.model.orders import in_zone
from kilnpack.units import SECONDS_PER_HOUR

if TYPE_CHECKING:
    from kilnpack.model.orders import WorkCalendar

HORIZON_DAYS = 3 * 366
"""Days that working hours are laid out for; a plan that runs longer leaves its last lines open."""
TICK_H = 1e-6
NEVER_H = float("inf")


class Clock:
    """Moments as hours since the start, and a second count that runs only in working time.

    Attributes
    ----------
    zone
        The works' time zone.
    start
        Where hour 0 lies.
    """

    def __init__(self, calendar: WorkCalendar, start: datetime) -> None:
        self.calendar = calendar
        self.zone = ZoneInfo(calendar.time_zone)
        self.start = in_zone(start, calendar.time_zone).astimezone(UTC)
        self._from_h: list[float] = []
        self._to_h: list[float] = []
        self._people: list[int] = []
        self._worked: list[float] = [0.0]
        self._laid_days = 0
        self._lay(60)

    def hour(self, moment: datetime) -> float:
        """Return the hours from the start to a moment."""
        aware = in_zone(moment, self.calendar.time_zone)
        return (aware.astimezone(UTC) - self.start).total_seconds() / SECONDS_PER_HOUR

    def moment(self, hour_h: float) -> datetime:
        """Return the moment so many hours after the start, to the second, in the works' zone."""
        return (self.start + timedelta(seconds=round(hour_h * SECONDS_PER_HOUR))).astimezone(self.zone)

    def end_of_day_h(self, day: date) -> float:
        """Return the hour at which a local day is over."""
        return self.hour(datetime(day.year, day.month, day.day) + timedelta(days=1))

    def shift_ends_h(self, days: int) -> list[float]:
        """Return the end of the last shift of every working day among the next so many days."""
        self._lay(days)
        last: dict[date, float] = {}
        for to_h in self._to_h:
            last[self.moment(to_h - TICK_H).date()] = to_h
        limit = 24.0 * days
        return [to_h for to_h in last.values() if to_h <= limit]

    def next_working_h(self, at_h: float) -> float:
        """Return the first moment from `at_h` on when people work, or infinity."""
        index = self._window(at_h)
        return NEVER_H if index is None else max(at_h, self._from_h[index])

    def worked(self, at_h: float) -> float:
        """Return the person hours of working time from the start to a moment."""
        if at_h <= 0.0:
            return 0.0
        self._reach(at_h)
        index = bisect_right(self._from_h, at_h) - 1
        if index < 0:
            return 0.0
        inside = min(at_h, self._to_h[index]) - self._from_h[index]
        return self._worked[index] + inside * self._people[index]

    def when_worked(self, person_h: float, *, late: bool) -> float:
        """Return the moment at which so many person hours have run; `late` gives the last such, where work goes on."""
        while self._worked[-1] < person_h + TICK_H and self._laid_days < HORIZON_DAYS:
            self._lay(self._laid_days + 60)
        find = bisect_right if late else bisect_left
        slack = TICK_H / 10 if late else -TICK_H / 10
        index = max(0, find(self._worked, person_h + slack) - 1)
        if index >= len(self._from_h):
            return NEVER_H
        return self._from_h[index] + max(0.0, person_h - self._worked[index]) / self._people[index]

    def attended_h(self, at_h: float, length_h: float) -> float:
        """Return the first moment from `at_h` on at which people stay without a break for so long, or infinity."""
        index = self._window(at_h)
        while index is not None and index < len(self._from_h):
            begin, last = max(at_h, self._from_h[index]), index
            while last + 1 < len(self._from_h) and self._from_h[last + 1] <= self._to_h[last] + TICK_H:
                last += 1
            if self._to_h[last] - begin >= length_h - TICK_H:
                return begin
            index = self._window(self._to_h[last] + TICK_H)
            if index is not None and self._from_h[index] > at_h + 24.0 * 60:
                return NEVER_H
        return NEVER_H

    def _window(self, at_h: float) -> int | None:
        """Return the index of the window open at or next after a moment, None beyond the horizon."""
        while True:
            self._reach(at_h)
            index = bisect_right(self._to_h, at_h + TICK_H / 2)
            if index < len(self._to_h):
                return index
            if self._laid_days >= HORIZON_DAYS:
                return None
            self._lay(self._laid_days + 60)

    def _reach(self, at_h: float) -> None:
        while self._laid_days * 24.0 < at_h + 48.0 and self._laid_days < HORIZON_DAYS:
            self._lay(self._laid_days + 60)

    def _lay(self, days: int) -> None:
        """Lay out working windows up to so many days after the start."""
        first = self.start.astimezone(self.zone).date()
        for k in range(self._laid_days, min(days, HORIZON_DAYS)):
            day = first + timedelta(days=k - 1)
            if day not in self.calendar.holidays:
                self._lay_day(day)
        self._laid_days = max(self._laid_days, min(days, HORIZON_DAYS))

    def _lay_day(self, day: date) -> None:
        shifts = sorted((s for s in self.calendar.shifts if s.weekday == day.weekday()), key=lambda s: s.start)
        for shift in shifts:
            begin = self.hour(datetime.combine(day, shift.start))
            over = timedelta(days=1 if shift.end <= shift.start else 0)
            end = self.hour(datetime.combine(day, shift.end) + over)
            begin = max(begin, 0.0, self._to_h[-1] if self._to_h else 0.0)
            if end > begin + TICK_H and shift.crew_people > 0:
                self._from_h.append(begin)
                self._to_h.append(end)
                self._people.append(shift.crew_people)
                self._worked.append(self._worked[-1] + (end - begin) * shift.crew_people)


class Crew:
    """The crew as one pair of hands at a time on a clock of person hours: jobs lie one after the other.

    A job begun before the end of a shift goes on in the next one. `rate` is what the clock's person hours are
    multiplied by (1 for the crew).
    """

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self._booked: list[tuple[float, float]] = []

    def find(self, at_h: float, person_h: float) -> tuple[float, float]:
        """Return when a job would start and end, from `at_h` on, without booking it."""
        begin = self._gap(self.clock.worked(at_h), person_h)
        return self._span(begin, person_h, at_h)

    def book(self, at_h: float, person_h: float) -> tuple[float, float]:
        """Book a job and return when it starts and ends."""
        begin = self._gap(self.clock.worked(at_h), person_h)
        if person_h > 0:
            insort(self._booked, (begin, begin + person_h))
        return self._span(begin, person_h, at_h)

    def hold(self, start_h: float, end_h: float) -> None:
        """Book the working time between two moments whole."""
        begin, end = self.clock.worked(start_h), self.clock.worked(end_h)
        if end > begin:
            insort(self._booked, (begin, end))

    def copy(self) -> Crew:
        """Return a crew with the same jobs, to try others on."""
        found = Crew(self.clock)
        found._booked = self._booked.copy()
        return found

    def _span(self, begin: float, person_h: float, at_h: float) -> tuple[float, float]:
        start_h = max(at_h, self.clock.when_worked(begin, late=True))
        if person_h <= 0:
            start_h = self.clock.next_working_h(at_h)
            return start_h, start_h
        return start_h, self.clock.when_worked(begin + person_h, late=False)

    def _gap(self, begin: float, person_h: float) -> float:
        """Return the first free stretch of person hours that is long enough."""
        for from_, to in self._booked:
            if from_ >= begin + person_h - TICK_H:
                break
            begin = max(begin, to)
        return begin
