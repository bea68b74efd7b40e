"""Working hours: shifts, holidays, summer time, the crew as one pair of hands, attended fires."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

import pytest

from kilnpack.model.orders import Shift, WorkCalendar, in_zone
from kilnpack.planning.clock import NEVER_H, Clock, Crew
from tests.planning.small import ALWAYS, WEEKDAYS

MONDAY = datetime(2026, 3, 2, 7, 0)
VIENNA = WorkCalendar(time_zone="Europe/Vienna", shifts=WEEKDAYS, holidays=(date(2026, 3, 3),))


def test_a_moment_without_offset_is_local_time_of_the_works() -> None:
    """07:00 in Vienna in winter is 06:00 UTC, whichever way it is said."""
    assert in_zone(MONDAY, "Europe/Vienna").astimezone(UTC).hour == 6
    clock = Clock(VIENNA, MONDAY)
    assert clock.hour(datetime(2026, 3, 2, 8, 0, tzinfo=UTC)) == 2.0
    assert clock.moment(2.0) == datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def test_worked_hours_skip_nights_and_holidays() -> None:
    """Two people from 7 to 16: 18 person hours on Monday, none on the holiday, the 19th at 7:30 on Wednesday."""
    clock = Clock(VIENNA, MONDAY)
    assert clock.worked(-1.0) == 0.0
    assert clock.worked(4.0) == 8.0
    assert clock.worked(30.0) == 18.0
    assert clock.when_worked(18.0, late=False) == 9.0
    assert clock.when_worked(18.0, late=True) == 48.0
    assert clock.when_worked(19.0, late=False) == 48.5
    assert clock.next_working_h(9.0) == 48.0


@pytest.mark.parametrize(("day", "hours"), [(date(2026, 3, 29), 23.0), (date(2026, 10, 25), 25.0)])
def test_days_of_summer_time_have_their_real_length(day: date, hours: float) -> None:
    """Where summer time begins the night shift is an hour shorter, where it ends an hour longer."""
    night = tuple(Shift(weekday=k, start=time(0), end=time(0), crew_people=1) for k in range(7))
    clock = Clock(WorkCalendar(time_zone="Europe/Vienna", shifts=night), datetime(day.year, day.month, day.day))
    assert clock.end_of_day_h(day) == hours
    assert clock.worked(hours) == hours
    assert clock.shift_ends_h(2)[0] == hours


def test_a_job_goes_on_in_the_next_shift_and_jobs_do_not_overlap() -> None:
    """20 person hours from Monday 15:00: 2 that day, 18 on Wednesday; a later short job fills the gap before."""
    crew = Crew(Clock(VIENNA, MONDAY))
    assert crew.find(8.0, 20.0) == (8.0, 57.0)
    assert crew.book(8.0, 20.0) == (8.0, 57.0)
    assert crew.book(0.0, 4.0) == (0.0, 2.0)
    assert crew.book(1.0, 14.0) == (72.0, 79.0)
    assert crew.book(20.0, 0.0) == (48.0, 48.0)


def test_attended_fires_need_one_stretch_of_hours() -> None:
    """Nine hours fit a shift from its start, ten never do; two shifts end to end count as one stretch."""
    clock = Clock(VIENNA, MONDAY)
    assert clock.attended_h(0.0, 9.0) == 0.0
    assert clock.attended_h(1.0, 9.0) == 48.0
    assert clock.attended_h(0.0, 10.0) == NEVER_H
    late = tuple(Shift(weekday=k, start=time(16), end=time(22), crew_people=1) for k in range(5))
    double = Clock(WorkCalendar(time_zone="Europe/Vienna", shifts=(*WEEKDAYS, *late)), MONDAY)
    assert double.attended_h(0.0, 15.0) == 0.0
    always = Clock(WorkCalendar(shifts=ALWAYS), MONDAY)
    assert always.attended_h(3.0, 100.0) == 3.0


def test_without_shifts_nobody_ever_works() -> None:
    """No moment to work, no job ends, no shift to cast in."""
    idle = Clock(WorkCalendar(), MONDAY)
    assert idle.next_working_h(0.0) == NEVER_H
    assert idle.when_worked(1.0, late=False) == NEVER_H
    assert idle.worked(50.0) == 0.0
    assert idle.attended_h(0.0, 1.0) == NEVER_H
    assert idle.shift_ends_h(10) == []
    assert Crew(idle).book(0.0, 2.0) == (NEVER_H, NEVER_H)
