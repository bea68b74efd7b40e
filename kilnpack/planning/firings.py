"""What the planner knows of firings, kilns and glazing while a run goes on; hours count from the start of the plan."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import LeftOut, Load
    from kilnpack.model.orders import Lot
    from kilnpack.model.plans import Firing
    from kilnpack.model.programmes import Programme
    from kilnpack.planning.backlog import Ware
    from kilnpack.planning.furniture_stock import Taken


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """What a packer put into a kiln: pieces by lot, masses, shelves and furniture; the load, unless only estimated."""

    taken: dict[str, int]
    ware_kg: float
    furniture_kg: float
    shelves: int
    furniture: Taken
    load: Load | None = None
    left_out: tuple[LeftOut, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """Pieces of a lot moved through a firing; hours count from the start of the plan."""

    ware: Ware
    good_pieces: int
    second_pieces: int
    becomes: str
    ready_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fired:
    """A firing in hours from the start of the plan; `kept` is the firing of the plan before that it is, if any."""

    kiln: Kiln
    car: str | None
    programme: Programme
    packed: Packed
    lots: tuple[Lot, ...]
    moved: tuple[Moved, ...]
    decided_h: float
    load_start_h: float
    load_end_h: float
    fire_start_h: float
    fire_end_h: float
    cool_end_h: float
    draw_h: float
    cool_outside_end_h: float
    unload_start_h: float
    unload_end_h: float
    cleaning_start_h: float
    furniture_back_h: float
    kept: Firing | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Glazed:
    """Pieces of a lot glazed between two hours."""

    ware: Ware
    start_h: float
    end_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class InUse:
    """Furniture that is elsewhere from the start of loading until it is back."""

    start_h: float
    back_h: float
    taken: Taken


@dataclass(slots=True)
class KilnState:
    """A kiln: when it is empty, when each car is, and when it is next looked at.

    `closed_h` and `car_closed_h` are stretches in which the kiln or a car is down or holds a firing that stays.
    """

    kiln: Kiln
    free_h: float = 0.0
    next_h: float = 0.0
    cars_h: dict[str, float] = field(default_factory=dict)
    last_load_person_h: float = 0.0
    closed_h: list[tuple[float, float]] = field(default_factory=list)
    car_closed_h: dict[str, list[tuple[float, float]]] = field(default_factory=dict)

    def car(self) -> tuple[str | None, float]:
        """Return the car that is free first and when, or no car and when the kiln is empty."""
        if not self.cars_h:
            return None, self.free_h
        code = min(self.cars_h, key=lambda car: (self.cars_h[car], car))
        return code, self.cars_h[code]
