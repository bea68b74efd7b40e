"""The plan's chart, tables, calendar and work list."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import icalendar
import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from kilnpack.errors import SheetNotWritten
from kilnpack.sheets.calendar_file import calendar_bytes
from kilnpack.sheets.cautions import FIRST
from kilnpack.sheets.charts import PAINTS, gantt, inline
from kilnpack.sheets.plan_rows import Bar, Doing, DueMark, PlanRows
from kilnpack.sheets.plan_sheets import write_plan_sheets
from kilnpack.sheets.tables import (
    FIRING_HEADINGS,
    LINE_HEADINGS,
    csv_bytes,
    firing_table,
    line_table,
    workbook_bytes,
)
from kilnpack.sheets.work_list import work_list, work_list_html
from kilnpack.words import FORMULA_STARTS
from tests.sheets.small_plan import FIRINGS, MADE, PLAN, at

if TYPE_CHECKING:
    from pathlib import Path


def test_kinds_of_bars_differ_in_more_than_colour() -> None:
    """Guards the chart in grey print: no two kinds share hatch and height."""
    assert len({(paint.hatch, paint.tall) for paint in PAINTS.values()}) == len(Doing)


def test_the_chart_has_a_lane_for_every_kiln_and_car_and_names_the_firings() -> None:
    """Guards the lanes and the words on the fire bars, and that equal rows give equal bytes."""
    chart = gantt(PLAN.bars, title="Plan")
    text = chart.decode()
    for words in ("Biscuit kiln", "Glost shuttle", "CAR1", "CAR2", "F1", "F2", "F3", "cool outside", "unload"):
        assert f">{words}<" in text
    assert gantt(PLAN.bars, title="Plan") == chart
    assert gantt(PLAN.bars, title="Plan", form="png")[:4] == b"\x89PNG"
    assert gantt(PLAN.bars, title="Plan", form="pdf")[:5] == b"%PDF-"


def test_bars_start_where_their_time_stands_on_the_axis() -> None:
    """Guards the time scale: a bar twice as long is drawn twice as wide."""
    bars = [
        Bar(lane="K", doing=Doing.FIRE, start=at(0, 0), end=at(0, 10), firing="A"),
        Bar(lane="K", doing=Doing.FIRE, start=at(0, 20), end=at(0, 40), firing="B"),
    ]
    text = gantt(bars, title="two").decode()
    wide = [
        max(xs) - min(xs)
        for data in re.findall(r'<path d="([^"]+)" clip-path[^>]*style="fill: #eebf99', text)
        if (xs := [float(x) for x, _ in re.findall(r"[ML] ([-\d.]+) ([-\d.]+)", data)])
    ]
    assert wide[1] == pytest.approx(2 * wide[0], rel=1e-3)


def test_an_empty_plan_and_marks_alone_still_make_a_chart() -> None:
    """Guards plans without a firing, and lines that are not fired yet."""
    assert b"<svg" in gantt([], title="nothing")
    marks = [DueMark(lane="O9-1", due=at(3, 0), late=True)]
    assert b"due, late" in gantt([], marks, title="due")


def test_charts_that_share_a_page_share_no_names() -> None:
    """Guards two charts in one page: every name inside has the prefix of its own."""
    text = inline(gantt(PLAN.bars, title="Plan"), "one-")
    assert text.startswith("<svg")
    assert set(re.findall(r'\bid="(?!one-)', text)) == set()
    assert set(re.findall(r"url\(#(?!one-)", text)) == set()


@pytest.mark.source("cwe-1236", "mitigations: cells that begin with = + - @")
@given(st.sampled_from(FORMULA_STARTS), st.text(max_size=20).filter(lambda text: "\0" not in text))
def test_no_text_becomes_a_formula_in_a_csv_file(start: str, rest: str) -> None:
    """Guards against formulas from a works folder: such text gets a quote before it, everything else stays."""
    table = csv_bytes(["a", "b", "c"], [[start + rest, -1.5, f"x{rest}"]]).decode()
    read = list(csv.reader(io.StringIO(table, newline="")))
    assert read[1] == [f"'{start}{rest}", "-1.5", f"x{rest}"]


def test_the_csv_files_hold_every_firing_and_line() -> None:
    """Guards the tables: headings with units, one row each, moments in ISO form with their zone."""
    rows = list(csv.DictReader(io.StringIO(csv_bytes(FIRING_HEADINGS, firing_table(PLAN)).decode())))
    assert [row["firing"] for row in rows] == ["F1", "F2", "F3"]
    assert rows[0]["load_start"] == "2026-11-30T08:00+00:00"
    assert rows[0]["energy_kwh"] == ""
    lines = list(csv.DictReader(io.StringIO(csv_bytes(LINE_HEADINGS, line_table(PLAN)).decode())))
    assert [row["line"] for row in lines] == ["O2-1", "O1-1", "O3-1"]
    assert lines[1]["firings"] == "F1, F3"
    assert lines[1]["due"] == "2026-12-04"


def test_the_workbook_holds_text_as_text_and_moments_as_moments() -> None:
    """Guards the workbook, read back by another library: a customer named like a formula stays a name."""
    lines = tuple(replace(line, customer='=HYPERLINK("x")') for line in PLAN.lines)
    content = workbook_bytes(replace(PLAN, lines=lines))
    book = openpyxl.load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["firings", "order lines", "late"]
    cell = book["order lines"]["C2"]
    assert (cell.data_type, cell.value) == ("s", '=HYPERLINK("x")')
    assert book["firings"]["F2"].value == datetime(2026, 11, 30, 8, 0)
    assert [row[0].value for row in book["late"].iter_rows(min_row=2)] == ["O2-1"]
    assert book["firings"]["P2"].value is None
    assert workbook_bytes(replace(PLAN, lines=lines)) == content


@pytest.mark.source("rfc-5545", "sections 3.1, 3.6.1 and 3.8.2")
def test_the_calendar_follows_the_published_format() -> None:
    """Guards the calendar: CRLF, lines of at most 75 octets, UID and DTSTAMP in every event, no UID twice."""
    content = calendar_bytes(PLAN)
    lines = content.split(b"\r\n")
    assert lines.pop() == b""
    assert all(len(line) <= 75 and b"\n" not in line for line in lines)
    events = icalendar.Calendar.from_ical(content).walk("VEVENT")
    assert len(events) == 3 * len(FIRINGS)
    assert len({str(event["uid"]) for event in events}) == len(events)
    for event in events:
        assert event.decoded("dtstamp") == MADE.astimezone(UTC)
        assert event.decoded("dtstart") < event.decoded("dtend")
        assert str(event["description"]).endswith(FIRST)
        is_opened = ": unload " in str(event["summary"])
        assert ("lean over or into a hot kiln" in str(event["description"])) is is_opened
    assert calendar_bytes(PLAN) == content


def test_hostile_names_stay_text_in_the_calendar() -> None:
    """Guards against names that try to add lines of their own."""
    firings = tuple(replace(row, kiln="K\r\nATTENDEE:x;y,z") for row in FIRINGS)
    events = icalendar.Calendar.from_ical(calendar_bytes(replace(PLAN, firings=firings))).walk("VEVENT")
    assert all("attendee" not in event for event in events)


def test_the_work_list_holds_just_today_and_tomorrow_in_order() -> None:
    """Guards the list on the wall: eight moments of the two days, by time, with what is needed for them."""
    work = work_list(PLAN)
    told = [(task.day, task.time, task.firing, task.what) for task in work.tasks]
    assert told == [
        ("Mon 2026-11-30", "08:00", "F1", "load"),
        ("Mon 2026-11-30", "09:00", "F2", "load on car CAR1"),
        ("Mon 2026-11-30", "11:00", "F1", "fire B960"),
        ("Mon 2026-11-30", "13:00", "F2", "fire G1385"),
        ("Tue 2026-12-01", "01:00", "F1", "fire ends, cooling begins"),
        ("Tue 2026-12-01", "09:00", "F2", "fire ends, cooling begins"),
        ("Tue 2026-12-01", "09:00", "F3", "load on car CAR2"),
        ("Tue 2026-12-01", "20:30", "F3", "fire G1385"),
    ]
    assert "loading sheet load-f2" in work.tasks[1].note
    assert "loading sheet" not in work.tasks[0].note
    assert work.tasks[3].until == "Tue 09:00"


def test_a_day_without_work_says_so() -> None:
    """Guards the empty list."""
    idle = replace(PLAN, made=MADE + timedelta(days=40))
    assert work_list_html(work_list(idle)).count("Nothing to do in this plan.") == 2


HOSTILE = "<script>alert(1)</script>"


def hostile_plan() -> PlanRows:
    """The plan with names that try to be code."""
    return replace(
        PLAN,
        title=HOSTILE,
        remarks=(HOSTILE,),
        firings=tuple(replace(row, ware=HOSTILE, kiln=HOSTILE) for row in FIRINGS),
        lines=tuple(replace(line, customer=HOSTILE, reason=HOSTILE) for line in PLAN.lines),
    )


def test_all_files_of_a_plan_are_written_and_repeat(tmp_path: Path) -> None:
    """Guards the whole set: every file is there, no file holds a name as code, and a second run gives equal bytes."""
    paths = write_plan_sheets(hostile_plan(), tmp_path / "a")
    write_plan_sheets(hostile_plan(), tmp_path / "b")
    names = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert len(names) == 10
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name
    page = paths.page.read_text(encoding="utf-8")
    assert "<script" not in page
    assert paths.work_html.read_text(encoding="utf-8").count("<script") == 1
    text = "".join(each.extract_text() for each in PdfReader(paths.work_pdf).pages)
    assert "hands needed" in text
    assert "licensed practitioner" in text


def test_the_page_tells_late_lines_with_their_reason(tmp_path: Path) -> None:
    """Guards what the planner looks for first: late lines, those not in the plan, and why."""
    page = write_plan_sheets(PLAN, tmp_path).page.read_text(encoding="utf-8")
    assert "both cars are busy until 3 December" in page
    assert "not in this plan" in page
    assert '<td class="n late">1.4</td>' in page
    none_late = replace(PLAN, lines=PLAN.lines[:1])
    assert "No line is late" in write_plan_sheets(none_late, tmp_path).page.read_text(encoding="utf-8")


def test_a_plan_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """Guards bad folders."""
    (tmp_path / "taken").write_text("")
    with pytest.raises(SheetNotWritten):
        write_plan_sheets(PLAN, tmp_path / "taken")
