"""Answers to what planners ask: what moved, what date holds, what fills a load, what one more would bring."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from kilnpack.model.plans import LateReason, PlanGoals


class Change(StrEnum):
    """What became of a firing from one plan to the next."""

    ADDED = "added"
    GONE = "gone"
    MOVED = "moved"
    REFILLED = "refilled"


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringChange:
    """A firing that is not as it was. What is None is so because the firing is new or gone.

    `why` says what of the two plans explains it; empty where nothing in them does but the goals.
    """

    firing: str
    was: str | None
    change: Change
    programme: str
    kiln_before: str | None
    kiln_after: str | None
    load_before: datetime | None
    load_after: datetime | None
    pieces_before: int
    pieces_after: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChange:
    """An order line that is done at another moment; `sooner_h` is negative where it is later, None without a finish."""

    line: str
    finish_before: datetime | None
    finish_after: datetime | None
    sooner_h: float | None
    late_days_before: int
    late_days_after: int
    reason: LateReason
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """When so many pieces of a product (or sets) can be there.

    `soonest` is a bound that no plan goes under; `earliest` is when the plan has them, with losses as expected; `sure`
    is met in `sure_share` of `futures` simulated ones (`met_share` of them, as moments fall into working hours).
    `start_pieces` are cast where none are in stock: with `usual_pieces` as many as expected losses ask for.
    """

    item: str
    quantity_pieces: int
    soonest: datetime | None
    earliest: datetime | None
    sure: datetime | None
    sure_share: float
    met_share: float
    futures: int
    start_pieces: int
    usual_pieces: int
    firings: tuple[str, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanComparison:
    """What differs between two plans of one works."""

    works: str
    made_before: datetime
    made_after: datetime
    same_firings: int
    firings: tuple[FiringChange, ...]
    lines: tuple[LineChange, ...]
    goals_before: PlanGoals
    goals_after: PlanGoals
