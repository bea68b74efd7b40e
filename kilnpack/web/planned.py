"""The plan that counts and the works, read once for each state of the records: reading a large plan takes a while."""

from __future__ import annotations

from threading import Lock
from typing import TYPE_CHECKING

from sqlalchemy import func, select

from kilnpack.planning.height_classes import backlog_by_height
from kilnpack.records.firings import plan_of
from kilnpack.records.standing_plan import firing_heads, plan_heads
from kilnpack.records.tables_people import EventRow
from kilnpack.records.works_values import get_works
from kilnpack.workflow.shown import Shown, of_backlog

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from kilnpack.model.plans import Plan
    from kilnpack.model.questions import BacklogByHeight
    from kilnpack.model.works import Works
    from kilnpack.records.standing_plan import FiringHead


class Planned:
    """What was read last: the works by the last change of the records, the plan by its code and version."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._works: tuple[int, Works] | None = None
        self._plan: tuple[tuple[str, int], Plan] | None = None
        self._waiting: tuple[Works, BacklogByHeight] | None = None

    def works(self, session: Session) -> Works:
        """Return the works as the records have it.

        Raises
        ------
        InputFaulty
            No works was taken in yet.
        """
        last = session.scalar(select(func.max(EventRow.id))) or 0
        with self._lock:
            if self._works is None or self._works[0] != last:
                self._works = (last, get_works(session))
            return self._works[1]

    def waiting(self, session: Session) -> BacklogByHeight:
        """Return the backlog in shelves full.

        Raises
        ------
        InputFaulty
            No works was taken in yet.
        """
        works = self.works(session)
        with self._lock:
            if self._waiting is None or self._waiting[0] is not works:
                self._waiting = (works, backlog_by_height(works))
            return self._waiting[1]

    def shown(self, session: Session) -> tuple[Shown | None, dict[str, FiringHead]]:
        """Return the plan that counts with how far its firings are; None where none was kept yet."""
        heads = plan_heads(session, most=1)
        if not heads:
            return None, {}
        head, works = heads[0], self.works(session)
        with self._lock:
            if self._plan is None or self._plan[0] != (head.code, head.version):
                self._plan = ((head.code, head.version), plan_of(session, head.code))
            plan = self._plan[1]
        return Shown(head=head, plan=of_backlog(plan, works), works=works), firing_heads(session, head.code)
