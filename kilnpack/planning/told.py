"""A word from the planner to a run in another process: stop, or these are the goals you must beat."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from kilnpack.model.plans import PlanGoals
from kilnpack.model.settings import PlanGoal

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class Word:
    """A file that is not there until something is said."""

    path: Path

    def say(self, goals: PlanGoals | None) -> None:
        """Say goals to be beaten, or with None to stop; the file appears whole."""
        part = self.path.with_suffix(".part")
        part.write_text(json.dumps(None if goals is None else asdict(goals)), encoding="utf-8")
        part.replace(self.path)

    @property
    def was_said(self) -> bool:
        """Whether anything was said yet."""
        return self.path.exists()

    def goals(self) -> PlanGoals | None:
        """Return the goals to be beaten; None for none yet, or to stop."""
        if not self.was_said:
            return None
        found = json.loads(self.path.read_text(encoding="utf-8"))
        return None if found is None else PlanGoals(**found | {"then": tuple(map(PlanGoal, found["then"]))})
