"""The backlog: orders, lots in progress and stock, supply, and the hours people work."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo


class LotKind(StrEnum):
    """Why a lot is fired."""

    NORMAL = "normal"
    REFIRE = "refire"
    SAMPLE = "sample"
    FILLER = "filler"


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """So many of a product or a set for one order. Delivered pieces (or sets) are counted off."""

    code: str
    order: str
    customer: str
    item: str
    """Code of a product or of a set."""
    quantity_pieces: int
    delivered_pieces: int = 0
    part_delivery: bool = True
    due: date
    not_before: date | None = None
    priority_factor: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Pieces of one product that are about to have firing number `step` of their route (0-based).

    `step == len(route)` is finished ware. `order_line` None is stock bound to no order. `ready_at` None means now;
    a biscuit lot that still needs glazing has `glazed` False.
    """

    code: str
    product: str
    step: int
    pieces: int
    order_line: str | None = None
    kind: LotKind = LotKind.NORMAL
    ready_at: datetime | None = None
    glazed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Mould:
    """How fast a shape can be made: moulds x casts a day."""

    shape: str
    moulds_pieces: int
    casts_per_day: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """What the making side can deliver and hold."""

    moulds: tuple[Mould, ...] = ()
    drying_places_pieces: int | None = None
    glazing_pieces_per_hour: float | None = None
    rack_places_pieces: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """Working hours of one weekday (0 = Monday) and how many hands load and unload."""

    weekday: int
    start: time
    end: time
    crew_people: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkCalendar:
    """When people work; the fire itself may burn unattended where the works allows it."""

    time_zone: str = "UTC"
    shifts: tuple[Shift, ...] = ()
    holidays: tuple[date, ...] = ()
    unattended_firing: bool = False


def in_zone(moment: datetime, zone: str) -> datetime:
    """Return the moment in the works' zone; one without an offset is local time there."""
    local = ZoneInfo(zone)
    return moment.replace(tzinfo=local) if moment.tzinfo is None else moment.astimezone(local)


def hours_between(begin: datetime, end: datetime) -> float:
    """Return the hours that pass from one moment to another.

    Python's own difference of two moments of one zone is that of the hands of the clock: an hour off where summer time
    begins or ends between them.
    """
    if begin.tzinfo is not None and end.tzinfo is not None:
        begin, end = begin.astimezone(UTC), end.astimezone(UTC)
    return (end - begin) / timedelta(hours=1)


def hours_later(moment: datetime, hours_h: float) -> datetime:
    """Return the moment when so many hours have passed, in the zone of the first."""
    if moment.tzinfo is None:
        return moment + timedelta(hours=hours_h)
    return (moment.astimezone(UTC) + timedelta(hours=hours_h)).astimezone(moment.tzinfo)
