"""The owner's figures, kept until the plan that counts changes, and what the inspections teach until the next one."""

from __future__ import annotations

from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING

from sqlalchemy import func, select

from kilnpack.errors import InputFaulty
from kilnpack.records.learning import losses, yields
from kilnpack.records.standing_plan import plan_heads
from kilnpack.records.tables_firings import InspectionRow
from kilnpack.records.tables_works import WorksRow
from kilnpack.workflow.aside import AsideState
from kilnpack.workflow.owner_questions import AS_USUAL, WhatIf
from kilnpack.workflow.owners_figures import figures_work

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from kilnpack.model.works import Works
    from kilnpack.records.learning import PlaceLoss, Yield
    from kilnpack.records.standing_plan import PlanHead
    from kilnpack.web.place import Place
    from kilnpack.workflow.aside import Aside, Asides
    from kilnpack.workflow.owners_figures import OwnersFigures

KEY = "figures"


@dataclass(frozen=True, slots=True)
class Asked:
    """Of which plan figures are reckoned, and what was asked beside."""

    head: PlanHead
    what_if: WhatIf


@dataclass(frozen=True, slots=True)
class Kept:
    """Figures with what was asked; `number` tells those reckoned later from those before."""

    asked: Asked
    figures: OwnersFigures
    number: int


class Owned:
    """What was reckoned last for the owner."""

    def __init__(self, asides: Asides) -> None:
        self._asides = asides
        self._lock = Lock()
        self._kept: Kept | None = None
        self._stopped: tuple[str, int] | None = None
        self._taught: tuple[tuple[int, int], tuple[Yield, ...], tuple[PlaceLoss, ...]] | None = None

    def figures(self, session: Session, place: Place, by: str) -> tuple[Kept | None, Aside | None]:
        """Return the figures reckoned last and the work that goes on or failed; begun where the plan has none yet."""
        heads = plan_heads(session, most=1)
        aside = self._asides.of(KEY)
        told = aside.told if aside is not None else None
        if aside is not None and told is not None and told.state is AsideState.DONE:
            with self._lock:
                if self._kept is None or self._kept.figures is not told.answer:
                    number = self._kept.number + 1 if self._kept is not None else 1
                    self._kept = Kept(aside.about, told.answer, number)
            aside = None
        known = aside.about.head if aside is not None else self._kept.asked.head if self._kept is not None else None
        newest = (heads[0].code, heads[0].version) if heads else None
        of_known = (known.code, known.version) if known is not None else None
        if newest not in {None, of_known, self._stopped}:
            aside = self._begun(session, place, by) or aside
        return self._kept, aside

    def ask(self, session: Session, place: Place, by: str, what_if: WhatIf) -> Aside:
        """Begin to reckon anew.

        Raises
        ------
        InputFaulty
            No plan was kept, or too much goes on.
        """
        work, head = figures_work(session, place.folder, what_if)
        return self._asides.begin(KEY, work, what="the owner's figures", by=by, about=Asked(head, what_if))

    def stop(self) -> None:
        """End the reckoning; it is not begun again for this plan before somebody asks."""
        aside = self._asides.of(KEY)
        if aside is not None and aside.told.goes_on:
            self._stopped = (aside.about.head.code, aside.about.head.version)
            self._asides.forget(KEY)

    def _begun(self, session: Session, place: Place, by: str) -> Aside | None:
        try:
            return self.ask(session, place, by, AS_USUAL)
        except InputFaulty:
            return None  # other work goes on: the page says what it has, and asks when it is looked at again

    def taught(self, session: Session, works: Works) -> tuple[tuple[Yield, ...], tuple[PlaceLoss, ...]]:
        """Return the yields and the losses by place that the inspections teach."""
        key = (
            session.scalar(select(func.max(InspectionRow.id))) or 0,
            session.scalar(select(func.max(WorksRow.version))) or 0,
        )
        with self._lock:
            if self._taught is None or self._taught[0] != key:
                self._taught = (key, yields(session, works), losses(session))
            return self._taught[1], self._taught[2]
