"""A plan: the firings over the backlog, what moves through them, and when each order line is done.

All moments carry the works' time zone. Hours of cooling are forecasts: the thermometer decides when a kiln is opened.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from kilnpack.model.loads import Load
from kilnpack.model.orders import Lot, LotKind
from kilnpack.model.settings import GOAL_ORDER, PlanGoal

SAME_ENERGY_SHARE = 0.01
"""Plans whose energy falls into the same step of so much are taken to need the same: no forecast is closer."""


class LateReason(StrEnum):
    """What keeps a line from being done sooner; the member that cost the most hours is named."""

    NOT_LATE = "not late"
    TOO_LATE_WHEN_ORDERED = "too late when ordered"
    KILN = "kiln full"
    REST = "rest"
    COOLING = "cooling"
    FURNITURE = "furniture"
    CREW = "crew"
    SUPPLY = "supply"
    NO_ROOM = "does not fit"
    STOPPED = "not planned"


class HandWorkKind(StrEnum):
    """Work of the plan that is done outside the kilns."""

    CAST = "cast"
    GLAZE = "glaze"


class FiringState(StrEnum):
    """Whether a firing may still be moved when the plan is made again."""

    PLANNED = "planned"
    LOCKED = "locked"
    STARTED = "started"


@dataclass(frozen=True, slots=True, kw_only=True)
class Down:
    """A stretch of time in which a kiln holds no load: repair, new lining, no power."""

    kiln: str
    start: datetime
    end: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeBound:
    """The fewest firings of a programme that can hold what is still to be fired, and how many the plan has.

    `binds` says what asks for that many: mass, volume, height or furniture; empty where nothing is to be fired.
    """

    programme: str
    least_firings: int
    planned_firings: int
    binds: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HandWork:
    """So many pieces of a lot cast or glazed between two moments of working time."""

    kind: HandWorkKind
    lot: str
    product: str
    pieces: int
    start: datetime
    end: datetime
    order_line: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LotPart:
    """The pieces of a lot that move through one firing, and what is expected of them afterwards.

    `good_pieces` go on to the next firing of the route (or are finished) under the lot code `becomes`, rested and
    ready for glazing or loading at `ready_at`. Seconds and scrap make up the rest of `pieces`.
    """

    lot: str
    product: str
    step: int
    pieces: int
    good_pieces: int
    second_pieces: int
    scrap_pieces: int
    order_line: str | None
    kind: LotKind
    was_ready_at: datetime
    becomes: str
    ready_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Firing:
    """A load in a kiln at a time.

    In order: the crew loads, the fire burns, the load cools in the kiln until `cool_end`, is drawn at `draw` (a kiln
    without a car drawn hot is emptied in place: `draw` is then `unload_start`), cools outside until
    `cool_outside_end`, is unloaded by the crew, and after a glost its shelves are cleaned until `furniture_back`.
    `lots` are the lots that were ready for it, which the codes of the load's fills name. `energy_kwh` is None until
    the heat is computed. A firing that is locked or started keeps load, time and kiln when the plan is made again.
    """

    code: str
    kiln: str
    car: str | None
    programme: str
    load: Load
    lots: tuple[Lot, ...]
    parts: tuple[LotPart, ...]
    ware_kg: float
    furniture_kg: float
    load_start: datetime
    load_end: datetime
    fire_start: datetime
    fire_end: datetime
    cool_end: datetime
    draw: datetime
    cool_outside_end: datetime
    unload_start: datetime
    unload_end: datetime
    cleaning_start: datetime
    furniture_back: datetime
    energy_kwh: float | None = None
    state: FiringState = FiringState.PLANNED


@dataclass(frozen=True, slots=True, kw_only=True)
class PartDelivery:
    """Good pieces (or whole sets) of a line that are done at a moment."""

    at: datetime
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LineOutcome:
    """When an order line is done.

    `finish` is the moment its last piece (or set) is unloaded, or None where the plan never gets there, with
    `open_pieces` (or sets) still wanting. `late_days` counts days after the due day. `deliveries` lists what is done
    when; a line that takes no part deliveries has one. `soonest` is a bound: no plan finishes the line before it.
    `remedy` says what would save a late line.
    """

    line: str
    order: str
    due: date
    finish: datetime | None
    late_days: int
    open_pieces: int
    reason: LateReason
    detail: str
    deliveries: tuple[PartDelivery, ...]
    firings: tuple[str, ...]
    soonest: datetime | None = None
    remedy: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanGoals:
    """What a plan is judged by; less is better in each: open lines, then lateness, then the works' own order.

    `open_lines` counts lines the plan never finishes. `weighted_late_days` adds up priority x days late; an open line
    counts until the last firing is unloaded. `mean_finish_h` is the mean time from the start of the plan to a line's
    finish: the sooner it is done, the safer its date. `energy_kwh` is about what the firings take, None where the heat
    of a kiln cannot be computed. `set_wait_days` adds up the days from when the first kind of piece of a set is all
    done until the last is. `split_lines` counts lines of whose ware more than one firing of a programme holds a part.
    `moved_firings` counts firings of the plan before that are gone, or in another kiln or at another time; each weighs
    as much as so many late days, one that only holds other ware a part of that (`moved_late_days` in all).
    `weighed_days` is what the works' weights of the other goals add to lateness, and `then` their order.
    """

    open_lines: int
    weighted_late_days: float
    firings: int
    mean_finish_h: float
    moved_firings: int = 0
    moved_late_days: float = 0.0
    energy_kwh: float | None = None
    set_wait_days: float = 0.0
    split_lines: int = 0
    weighed_days: float = 0.0
    then: tuple[PlanGoal, ...] = GOAL_ORDER

    @property
    def late(self) -> float:
        """Weighted late days with all that weighs as much as lateness."""
        return self.weighted_late_days + self.moved_late_days + self.weighed_days

    @property
    def order(self) -> tuple[float, ...]:
        """The goals as a tuple that sorts better plans first."""
        return (float(self.open_lines), self.late, *(self.value(goal) for goal in self.then))

    @property
    def said(self) -> str:
        """The goals in words."""
        parts = [
            f"{self.open_lines} lines not done" if self.open_lines else "",
            f"{self.weighted_late_days:g} weighted late days",
            f"{self.firings} firings" + ("" if self.energy_kwh is None else f" of about {self.energy_kwh:,.0f} kWh"),
            f"mean finish {self.mean_finish_h:.0f} h",
            f"sets wait {self.set_wait_days:.1f} days for their parts" if self.set_wait_days else "",
            f"{self.split_lines} lines in several firings of a programme" if self.split_lines else "",
            f"{self.moved_firings} firings moved" if self.moved_firings else "",
        ]
        return ", ".join(part for part in parts if part)

    def value(self, goal: PlanGoal) -> float:
        """Return a goal as plans are compared by it: energy in steps of one in a hundred, the mean finish in hours."""
        if goal is PlanGoal.ENERGY:
            return energy_step(self.energy_kwh)
        values = {
            PlanGoal.FIRINGS: float(self.firings),
            PlanGoal.FINISH: float(round(self.mean_finish_h)),
            PlanGoal.SETS: self.set_wait_days,
            PlanGoal.SPLITS: float(self.split_lines),
        }
        return values[goal]


def energy_step(kwh: float | None) -> float:
    """Return the step of `SAME_ENERGY_SHARE` that an energy falls into; 0 for one that is not known or below 1 kWh."""
    return 0.0 if kwh is None or kwh <= 1.0 else float(math.floor(math.log(kwh) / math.log1p(SAME_ENERGY_SHARE)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The firings over the backlog, in order of their fire, with the outcome of every order line.

    `downs` and `urgent` are what the planner was told beside the works folder. `cut_short` says that the planning was
    ended before its time, by an interrupt or by whoever listened; the plan is the best found by then.
    """

    works: str
    made: datetime
    policy: str
    seed: int
    firings: tuple[Firing, ...]
    hand_work: tuple[HandWork, ...]
    outcomes: tuple[LineOutcome, ...]
    goals: PlanGoals
    remarks: tuple[str, ...] = ()
    downs: tuple[Down, ...] = ()
    urgent: tuple[str, ...] = ()
    bounds: tuple[ProgrammeBound, ...] = ()
    cut_short: bool = False

    def firing(self, code: str) -> Firing:
        """Return the firing of that code; KeyError if there is none."""
        return {firing.code: firing for firing in self.firings}[code]
