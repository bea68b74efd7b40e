"""Guards time: summer time begins and ends, the leap day, and a clock set back while something runs."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest

from kilnpack.model.orders import Lot, WorkCalendar, hours_between, hours_later
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.planning.planner import plan_firings
from kilnpack.search.budget import Budget
from kilnpack.sheets.calendar_file import calendar_bytes
from kilnpack.sheets.from_plan import plan_rows
from tests.planning.small import ALWAYS, Counting, EvenShare, line, works

if TYPE_CHECKING:
    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works

VIENNA = ZoneInfo("Europe/Vienna")
FIRINGS = 5


def works_from(now: datetime) -> Works:
    """A kiln that burns twelve hours and cools twelve, day and night, with five firings to make."""
    lines = tuple(replace(line(f"L{k}", "MUG", 4, 0), due=now.date() + timedelta(days=k)) for k in range(FIRINGS))
    lots = tuple(Lot(code=f"W{k}", product="MUG", step=0, pieces=4, order_line=f"L{k}") for k in range(FIRINGS))
    calendar = WorkCalendar(time_zone="Europe/Vienna", shifts=ALWAYS, unattended_firing=True)
    return works(lines=lines, lots=lots, now=now, calendar=calendar)


def plan_from(given: Works, budget: Budget) -> Plan:
    """Plan with the packer that counts."""
    return plan_firings(given, packer=Counting(room_pieces=4), budget=budget, seed=1, estimate=EvenShare(4))


@pytest.mark.parametrize(
    ("now", "offsets"),
    [
        pytest.param(datetime(2026, 3, 27, 7), {1, 2}, id="summer time begins on 29 March 2026"),
        pytest.param(datetime(2026, 10, 23, 7), {2, 1}, id="summer time ends on 25 October 2026"),
        pytest.param(datetime(2028, 2, 27, 7), {1}, id="29 February 2028"),
    ],
)
def test_a_plan_runs_through_a_change_of_the_clock(now: datetime, offsets: set[int]) -> None:
    """Fires burn and cool their hours by the hour-glass, firings do not overlap, and the auditor agrees."""
    given = works_from(now)
    plan = plan_from(given, Budget(effort=1))
    assert audit_plan(given, plan) == ()
    assert len(plan.firings) == FIRINGS
    moments = [moment.astimezone(VIENNA) for one in plan.firings for moment in (one.load_start, one.unload_end)]
    assert {int((moment.utcoffset() or timedelta()) / timedelta(hours=1)) for moment in moments} == offsets
    for one in plan.firings:
        assert hours_between(one.fire_start, one.fire_end) == pytest.approx(12.0)
        assert hours_between(one.fire_end, one.cool_end) == pytest.approx(12.0)
    ends = [0.0] + [hours_between(plan.firings[0].load_start, one.unload_end) for one in plan.firings]
    starts = [hours_between(plan.firings[0].load_start, one.load_start) for one in plan.firings]
    assert all(start >= end - 1e-6 for start, end in zip(starts, ends, strict=False))
    bars = plan_rows(given, plan).bars
    assert sum(hours_between(bar.start, bar.end) for bar in bars if bar.firing == "F1") >= 24.0
    assert calendar_bytes(plan_rows(given, plan)).count(b"BEGIN:VEVENT") == 3 * FIRINGS


def test_the_leap_day_is_a_day() -> None:
    """A line due on 29 February is due at the end of that day, and a firing may stand on it."""
    given = works_from(datetime(2028, 2, 28, 7))
    plan = plan_from(given, Budget(effort=1))
    assert date(2028, 2, 29) in {one.due for one in plan.outcomes}
    assert date(2028, 2, 29) in {one.fire_start.astimezone(VIENNA).date() for one in plan.firings}


def test_hours_pass_whatever_the_clock_shows() -> None:
    """Worked by hand: from 01:30 to 03:30 on 29 March 2026 is one hour, from 01:30 to 03:30 on 25 October three.

    Moments without a zone differ as their hands do.
    """
    spring = datetime(2026, 3, 29, 1, 30, tzinfo=VIENNA)
    autumn = datetime(2026, 10, 25, 1, 30, tzinfo=VIENNA)
    assert hours_between(spring, spring.replace(hour=3)) == 1.0
    assert hours_between(autumn, autumn.replace(hour=3)) == 3.0
    assert hours_later(spring, 1.0) == spring.replace(hour=3)
    assert hours_later(autumn, 3.0) == autumn.replace(hour=3)
    assert hours_later(autumn, 2.0).astimezone(UTC).hour == 1  # 02:30 for the second time
    bare = spring.replace(tzinfo=None)
    assert hours_between(bare, hours_later(bare, 2.0)) == 2.0


def test_a_clock_set_back_neither_stretches_nor_changes_a_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody sets the clock back by a day at every look at it: a budget of seconds ends all the same."""
    given = works_from(datetime(2026, 5, 4, 7))
    before = plan_from(given, Budget(effort=1))
    looks = iter(range(10_000_000))
    monkeypatch.setattr(time, "time", lambda: 2e9 - 86_400.0 * next(looks))
    assert plan_from(given, Budget(effort=1)) == before
    begun = time.monotonic()
    meter = Budget(seconds=0.05).start()
    while not meter.is_up:
        assert time.monotonic() - begun < 30.0
    assert meter.elapsed_s >= 0.05
