"""The works with one more of a thing: a kiln, a car, a shift, a box of posts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING

from kilnpack.planning.cycle import has_cars
from kilnpack.planning.remedies import twin

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.model.orders import Shift
    from kilnpack.model.works import Works

BOX_POSTS = 24
"""Posts of one height in a box. From memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class More:
    """A works with one more of a thing."""

    what: str
    works: Works


def one_more(works: Works, *, box_posts: int = BOX_POSTS) -> Iterator[More]:
    """Give the works with a second kiln of each kind, a car more, a shift more, and a box more of each post."""
    for kiln in works.kilns:
        yield More(what=f"kiln {kiln.code}", works=replace(works, kilns=(*works.kilns, twin(kiln))))
    for kiln in works.kilns:
        if has_cars(kiln):
            car = replace(kiln.cars[-1], code=f"{kiln.cars[-1].code} more")
            kilns = tuple(replace(row, cars=(*row.cars, car)) if row.code == kiln.code else row for row in works.kilns)
            yield More(what=f"car {kiln.code}", works=replace(works, kilns=kilns))
    if works.calendar.shifts:
        yield More(what="shift", works=_with_shift(works))
    for post in works.furniture.posts:
        posts = tuple(
            replace(row, count_pieces=row.count_pieces + box_posts) if row.code == post.code else row
            for row in works.furniture.posts
        )
        yield More(what=f"posts {post.code}", works=replace(works, furniture=replace(works.furniture, posts=posts)))


def _with_shift(works: Works) -> Works:
    """Return the works with a second shift as long as the last of every working day, at most until midnight."""
    more: list[Shift] = []
    for day in sorted({row.weekday for row in works.calendar.shifts}):
        last = max((row for row in works.calendar.shifts if row.weekday == day), key=lambda row: (row.end, row.start))
        if last.end <= last.start:
            continue
        any_day = datetime(2026, 1, 5)
        begin, end = datetime.combine(any_day, last.start), datetime.combine(any_day, last.end)
        until = min(end + (end - begin), any_day + timedelta(days=1))
        midnight = until == any_day + timedelta(days=1)
        more.append(replace(last, start=last.end, end=time(0) if midnight else until.time()))
    return replace(works, calendar=replace(works.calendar, shifts=(*works.calendar.shifts, *more)))
