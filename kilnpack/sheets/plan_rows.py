"""What the plan's sheets are drawn from: plain rows, so that any plan can be shown.

Moments carry their time zone; they are shown as they are given.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date, datetime


class Doing(StrEnum):
    """What a kiln or a car is busy with."""

    LOAD = "load"
    FIRE = "fire"
    COOL = "cool"
    COOL_OUTSIDE = "cool outside"
    UNLOAD = "unload"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A stretch of time on one lane of the chart."""

    lane: str
    doing: Doing
    start: datetime
    end: datetime
    firing: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DueMark:
    """The date an order line is due, on its lane."""

    lane: str
    due: datetime
    late: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringRow:
    """One firing of the plan. `sheet` is the name of its loading sheet, where there is one."""

    firing: str
    kiln: str
    car: str
    programme: str
    stage: str
    load_start: datetime
    load_end: datetime
    fire_start: datetime
    fire_end: datetime
    cool_end: datetime
    unload_start: datetime
    unload_end: datetime
    pieces: int
    ware_kg: float
    ware: str
    draw: datetime | None = None
    """When the car is drawn; None where nothing is drawn."""
    cleaned: datetime | None = None
    """When the shelves are clean again, where they have to be cleaned after unloading."""
    energy_kwh: float | None = None
    sheet: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRow:
    """What becomes of one order line; `firings` are those its pieces go through, `reason` why it is late."""

    line: str
    order: str
    customer: str
    item: str
    quantity_pieces: int
    due: date
    finish: datetime | None
    late_days: float
    firings: tuple[str, ...]
    reason: str = ""
    soonest: datetime | None = None
    """No plan finishes the line before it."""
    remedy: str = ""
    """What would save a late line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundRow:
    """Firings of a programme in the plan, and the fewest that any plan has."""

    programme: str
    planned: int
    least: int
    binds: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HandRow:
    """Casting or glazing that the plan counts on."""

    what: str
    pieces: int
    product: str
    order_line: str
    start: datetime
    end: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRows:
    """All that the plan's sheets show. `made` is the moment the plan starts from."""

    title: str
    works: str
    currency: str
    made: datetime
    firings: tuple[FiringRow, ...]
    bars: tuple[Bar, ...]
    lines: tuple[LineRow, ...]
    hand_work: tuple[HandRow, ...] = ()
    remarks: tuple[str, ...] = ()
    bounds: tuple[BoundRow, ...] = ()

    def line_bars(self) -> tuple[Bar, ...]:
        """Return one lane per order line: the fire and cooling of every firing its pieces go through."""
        firing = {row.firing: row for row in self.firings}
        bars = []
        for line in self.lines:
            for code in line.firings:
                row = firing[code]
                for doing, start, end in (
                    (Doing.FIRE, row.fire_start, row.fire_end),
                    (Doing.COOL, row.fire_end, row.unload_end),
                ):
                    bars.append(Bar(lane=line.line, doing=doing, start=start, end=end, firing=code))
        return tuple(bars)
