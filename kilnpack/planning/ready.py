"""Which lots may go into a firing now."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.orders import in_zone
from kilnpack.model.pieces import Stage

if TYPE_CHECKING:
    from datetime import datetime

    from kilnpack.model.kilns import Kiln
    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works


def is_ready(works: Works, lot: Lot, programme: Programme, at: datetime) -> bool:
    """Whether a lot waits for this programme and is dry, rested and, before a glost, glazed."""
    route = works.product(lot.product).route
    if lot.step >= len(route) or route[lot.step].programme != programme.code or lot.pieces <= 0:
        return False
    if programme.stage is Stage.GLOST and not lot.glazed:
        return False
    zone = works.calendar.time_zone
    return lot.ready_at is None or in_zone(lot.ready_at, zone) <= in_zone(at, zone)


def ready_lots(works: Works, kiln: Kiln, programme: Programme, at: datetime) -> tuple[Lot, ...]:
    """Return the lots that may go into a firing of this programme in this kiln, the first due first.

    Parameters
    ----------
    works
        With its lots in progress and stock.
    kiln
        Where the firing would be; a kiln that does not fire the programme takes nothing.
    programme
        What would be fired.
    at
        When loading would begin. A moment without an offset is taken in the works' time zone.
    """
    if programme.code not in kiln.programmes:
        return ()
    due = {line.code: line.due.toordinal() for line in works.lines}
    last = max(due.values(), default=0) + 1
    found = (lot for lot in works.lots if is_ready(works, lot, programme, at))
    return tuple(sorted(found, key=lambda lot: (due.get(lot.order_line or "", last), lot.code)))


def ready_works(works: Works, lots: tuple[Lot, ...]) -> Works:
    """Return the works holding only these lots: what the packer and the checker of one firing look at."""
    return replace(works, lots=lots)
