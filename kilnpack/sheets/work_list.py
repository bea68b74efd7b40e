"""Today's and tomorrow's work, hour by hour, for the wall and for a tablet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from html import escape
from typing import TYPE_CHECKING

from kilnpack.sheets.cautions import FIRST, LAST
from kilnpack.sheets.loading_pdf import plain, typeset
from kilnpack.sheets.tablet import packed
from kilnpack.sheets.words import counted

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from kilnpack.sheets.plan_rows import FiringRow, HandRow, PlanRows


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing to do at a moment. `people` is True where hands are needed, False where the kiln works alone."""

    day: str
    time: str
    until: str
    kiln: str
    what: str
    firing: str
    note: str
    people: bool
    ware: tuple[tuple[str, str, str], ...] = ()
    """Product, pieces and order lines of hand work that is one block."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkList:
    """The tasks of two days."""

    title: str
    works: str
    made: str
    days: tuple[str, str]
    tasks: tuple[Task, ...]


def work_list(rows: PlanRows) -> WorkList:
    """Return what there is to do on the day the plan is made and on the day after, in order of time."""
    today = rows.made.date()
    days = (today, today + timedelta(days=1))
    all_tasks = [task for row in rows.firings for task in _tasks(row)] + _hand_tasks(rows.hand_work)
    found = [(start, task) for start, task in all_tasks if start.date() in days]
    found.sort(key=lambda each: (each[0], each[1].firing, each[1].what))
    return WorkList(
        title=f"Work: {_day(days[0])} and {_day(days[1])}",
        works=rows.works,
        made=rows.made.strftime("%Y-%m-%d %H:%M"),
        days=(_day(days[0]), _day(days[1])),
        tasks=tuple(task for _, task in found),
    )


def _day(day: date) -> str:
    return day.strftime("%a %Y-%m-%d")


def _tasks(row: FiringRow) -> list[tuple[datetime, Task]]:
    """Load, light, watch the end of the fire, draw, unload, clean: the moments somebody has to know of."""
    where = f" on car {row.car}" if row.car else ""
    sheet = f"loading sheet {row.sheet}; " if row.sheet else ""
    ware = f"{counted(row.pieces, 'piece', 'pieces')}, {row.ware_kg:.0f} kg: {row.ware}"
    moments = [
        (row.load_start, row.load_end, f"load{where}", f"{sheet}{ware}", True),
        (row.fire_start, row.fire_end, f"fire {row.programme}", "run through the lighting routine first", False),
        (row.fire_end, row.cool_end, "fire ends, cooling begins", "note the end temperature and the cones", False),
        (row.unload_start, row.unload_end, f"unload{where}", "only when the thermometer allows it", True),
    ]
    if row.draw is not None:
        moments.append((row.draw, row.draw, f"draw car {row.car}", "only when the thermometer allows it", True))
    if row.cleaned is not None:
        moments.append((row.unload_end, row.cleaned, "clean the shelves", "wipe wet, wear a mask", True))
    return [
        (start, _task(start, end, kiln=row.kiln, what=what, firing=row.firing, note=note, people=people))
        for start, end, what, note, people in moments
    ]


def _hand_tasks(rows: Sequence[HandRow]) -> list[tuple[datetime, Task]]:
    """Hand work of one kind that begins at the same time, as one block with what it makes."""
    blocks: dict[tuple[datetime, str], list[HandRow]] = {}
    for row in rows:
        blocks.setdefault((row.start, row.what), []).append(row)
    return [(start, _hand_task(start, what, block)) for (start, what), block in blocks.items()]


def _hand_task(start: datetime, what: str, rows: Sequence[HandRow]) -> Task:
    by_product: dict[str, list[HandRow]] = {}
    for row in rows:
        by_product.setdefault(row.product, []).append(row)
    ware = tuple(
        (product, str(sum(row.pieces for row in each)), _order_lines(each)) for product, each in by_product.items()
    )
    pieces = counted(sum(row.pieces for row in rows), "piece", "pieces")
    note = f"{pieces} of {counted(len(ware), 'product', 'products')}"
    end = max(row.end for row in rows)
    return replace(_task(start, end, kiln="by hand", what=what, firing="", note=note, people=True), ware=ware)


def _order_lines(rows: Sequence[HandRow]) -> str:
    return ", ".join(dict.fromkeys(row.order_line or "stock" for row in rows))


def _task(start: datetime, end: datetime, *, kiln: str, what: str, firing: str, note: str, people: bool) -> Task:
    return Task(
        day=_day(start.date()),
        time=start.strftime("%H:%M"),
        until=end.strftime("%H:%M") if end.date() == start.date() else end.strftime("%a %H:%M"),
        kiln=kiln,
        what=what,
        firing=firing,
        note=note,
        people=people,
    )


def work_list_pdf(work: WorkList, *, made_at: datetime) -> bytes:
    """Return the work list as PDF."""
    return typeset("work.typ", {**plain(work), "first": FIRST, "last": LAST}, made_at=made_at)


def work_list_html(work: WorkList) -> str:
    """Return the work list as one page with ticks, without network."""
    days = []
    for day in work.days:
        ticks = "".join(_tick(k, task) for k, task in enumerate(work.tasks) if task.day == day)
        days.append(f"<section><h2>{escape(day)}</h2>{ticks or '<p>Nothing to do in this plan.</p>'}</section>")
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><title>{escape(work.title)}</title>'
        f'<style>{packed("tablet.css")}</style></head><body data-key="work-{escape(work.made)}">'
        f'<header><h1>{escape(work.title)}</h1> <span id="done"></span></header><main>{"".join(days)}'
        f"<section><p><b>{escape(FIRST)}</b></p><p>{escape(LAST)}</p></section></main>"
        f"<script>{packed('tablet.js')}</script></body></html>"
    )


def _tick(k: int, task: Task) -> str:
    hands = "hands needed" if task.people else "kiln works alone"
    words = f"{task.kiln}: {task.what}"
    note = "; ".join(part for part in (task.firing, f"until {task.until}", hands, task.note) if part)
    return (
        f'<label class="t"><input type="checkbox" data-k="w{k}"><b>{escape(task.time)}</b>'
        f"<span><b>{escape(words)}</b><br>{escape(note)}</span></label>{_ware_table(task)}"
    )


def _ware_table(task: Task) -> str:
    if not task.ware:
        return ""
    rows = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in task.ware)
    return f"<table><tr><th>product</th><th>pieces</th><th>order lines</th></tr>{rows}</table>"
