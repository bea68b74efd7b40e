"""Answers to what planners ask: what moved, what date holds, what fills a load, what one more would bring."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from kilnpack.model.loads import Load
from kilnpack.model.orders import Lot
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
class HeightClass:
    """Pieces still to be fired in a programme that need at most so much room over their shelf.

    `posts` are the codes of the posts that give that room, `room_mm` their height; None for ware taller than any.
    `all_shelves` is how many shelves full the pieces are (shelf-equivalents), `ready_shelves` those that are ready now.
    """

    programme: str
    shelf: str
    posts: str | None
    room_mm: float | None
    pieces: int
    ready_pieces: int
    all_shelves: float
    ready_shelves: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BacklogByHeight:
    """The backlog of a works in shelf-equivalents."""

    works: str
    now: datetime
    classes: tuple[HeightClass, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AddedWare:
    """Pieces of a lot that a planned firing has room for; `from_firing` is the later firing they are planned for."""

    lot: str
    product: str
    order_line: str | None
    pieces: int
    from_firing: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledFiring:
    """A planned firing with more ware: what went in beside all it held, of how many pieces that were ready.

    `load` is None where nothing more goes in. `cool_h` are hours of cooling in the kiln, before and with the ware.
    """

    firing: str
    offered_pieces: int
    added: tuple[AddedWare, ...]
    ware_before_kg: float
    ware_after_kg: float
    cool_before_h: float
    cool_after_h: float
    load: Load | None
    lots: tuple[Lot, ...]
    """What the load is filled from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What one more of a thing would bring: goals and energy of a plan made with equal effort."""

    what: str
    goals: PlanGoals
    energy_kwh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Gains:
    """The works as it is (`now`), and with one more of each thing, the most useful first."""

    works: str
    now: Gain
    rows: tuple[Gain, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TradePoint:
    """One plan of the curve: what a kWh weighed against a late day, and what came of it."""

    weight_days_per_mwh: float
    weighted_late_days: float
    open_lines: int
    energy_kwh: float
    firings: int
    mean_finish_h: float
    policy: str
    best: bool
    """Whether no other plan of the curve is at least as good in both and better in one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeOff:
    """Lateness against energy: a plan for each weight."""

    works: str
    points: tuple[TradePoint, ...]


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
