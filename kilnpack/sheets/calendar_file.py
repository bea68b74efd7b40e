"""The plan as a calendar file (iCalendar) that any calendar program reads.

References
----------
`rfc-5545`: sections 3.6.1 (event), 3.1 (content lines).
"""

from __future__ import annotations

from datetime import UTC
from typing import TYPE_CHECKING

from kilnpack.sheets.cautions import FIRST, PRACTICE
from kilnpack.sheets.files import file_name

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from kilnpack.sheets.plan_rows import FiringRow, PlanRows

TOPICS: Mapping[str, tuple[str, ...]] = {
    "load": ("lifting", "dust"),
    "fire": ("heat", "gas"),
    "unload": ("heat", "opening", "lifting"),
}
"""Of the cautions, those that belong into an event that has no room for all; the loading sheet has them all."""


def calendar_bytes(rows: PlanRows) -> bytes:
    """Return every loading, fire and unloading as an event."""
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//kilnpack//plan//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", rows.title)
    for row in sorted(rows.firings, key=lambda each: (each.fire_start, each.firing)):
        for doing, start, end in _stretches(row):
            event = Event()
            event.add("uid", f"{file_name(row.firing)}-{doing}@{file_name(rows.works).lower()}.kilnpack")
            event.add("dtstamp", rows.made.astimezone(UTC))
            event.add("dtstart", start.astimezone(UTC))
            event.add("dtend", end.astimezone(UTC))
            event.add("summary", f"{row.kiln}: {doing} {row.firing} ({row.programme})")
            event.add("location", row.kiln)
            event.add("description", _description(row, doing))
            calendar.add_component(event)
    return bytes(calendar.to_ical())


def _stretches(row: FiringRow) -> tuple[tuple[str, datetime, datetime], ...]:
    return (
        ("load", row.load_start, row.load_end),
        ("fire", row.fire_start, row.fire_end),
        ("unload", row.unload_start, row.unload_end),
    )


def _description(row: FiringRow, doing: str) -> str:
    sheet = f"\nLoading sheet: {row.sheet}" if row.sheet else ""
    warned = " ".join(text for topic, text in PRACTICE if topic in TOPICS[doing])
    return f"{row.pieces} pieces, {row.ware_kg:.1f} kg of ware: {row.ware}{sheet}\n{warned}\n{FIRST}"
