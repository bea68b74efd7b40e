"""What the planner is told beside the works folder: firings that stay, kilns that are down, lines that are urgent."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from kilnpack.model.plans import FiringState, HandWorkKind

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from kilnpack.heat.calibration import Calibration
    from kilnpack.model.plans import Down, Firing, HandWork, Plan
    from kilnpack.model.works import Works

URGENT_FACTOR = 5.0
"""How much more a late day of an urgent line weighs. From memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """Firings of the plan before that keep load, time and kiln, with the hand work that feeds them; and the rest.

    `kept` holds firings that are started or locked and those that are only kept to move little; their state says
    which. `before` is the plan whose firings count as moved where they are not found again. `calibrations` are the
    factors of the kilns' energy, by kiln.
    """

    kept: tuple[Firing, ...] = ()
    casts: tuple[HandWork, ...] = ()
    glazings: tuple[HandWork, ...] = ()
    downs: tuple[Down, ...] = ()
    urgent: tuple[str, ...] = ()
    before: Plan | None = None
    calibrations: Mapping[str, Calibration] = field(default_factory=dict)

    @property
    def must_stay(self) -> tuple[Firing, ...]:
        """The firings that are started or locked."""
        return tuple(row for row in self.kept if row.state is not FiringState.PLANNED)

    def keeping(self, firings: Iterable[Firing]) -> Given:
        """Return the same with other firings kept, and the casting and glazing of the plan before that they need."""
        kept = tuple(sorted(firings, key=lambda row: (row.load_start, row.code)))
        work = self.before.hand_work if self.before is not None else ()
        return replace(self, kept=kept, casts=_casts(kept, work), glazings=_glazings(kept, work))


NOTHING = Given()


def _needed(kept: tuple[Firing, ...]) -> dict[str, int]:
    """Return the pieces that kept firings take of every lot."""
    need: dict[str, int] = defaultdict(int)
    for part in (part for firing in kept for part in firing.parts):
        need[part.lot] += part.pieces
    return need


def _casts(kept: tuple[Firing, ...], work: tuple[HandWork, ...]) -> tuple[HandWork, ...]:
    """Return the castings, the first first, that give what kept firings take."""
    need, found = _needed(kept), []
    for row in sorted(work, key=lambda row: row.end):
        if row.kind is HandWorkKind.CAST and need.get(row.lot, 0) > 0:
            need[row.lot] -= row.pieces
            found.append(row)
    return tuple(found)


def _glazings(kept: tuple[Firing, ...], work: tuple[HandWork, ...]) -> tuple[HandWork, ...]:
    """Return the glazing, the first first, of what kept firings take."""
    need, found = _needed(kept), []
    for row in sorted(work, key=lambda row: row.end):
        if row.kind is HandWorkKind.GLAZE and need.get(row.lot, 0) > 0:
            need[row.lot] -= row.pieces
            found.append(row)
    return tuple(found)


def urgent_works(works: Works, urgent: tuple[str, ...]) -> Works:
    """Return the works with urgent lines weighing more."""
    if not urgent:
        return works
    lines = tuple(
        replace(line, priority_factor=line.priority_factor * URGENT_FACTOR) if line.code in urgent else line
        for line in works.lines
    )
    return replace(works, lines=lines)
