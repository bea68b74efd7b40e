"""How long a search may work: seconds for people, effort for whatever must repeat."""

from __future__ import annotations

import time
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What a search may spend; give one of the two.

    Attributes
    ----------
    seconds
        Wall time. Two runs may differ.
    effort
        Thousands of engine evaluations. With a seed the result repeats exactly.
    """

    seconds: float | None = None
    effort: int | None = None

    def __post_init__(self) -> None:
        if (self.seconds is None) == (self.effort is None):
            raise ValueError("a budget is either seconds or effort")
        if min(self.seconds or 0.0, self.effort or 0) < 0:
            raise ValueError("a budget may not be negative")

    def start(self) -> Meter:
        """Return a meter that runs from now."""
        return Meter(self)


@dataclass(slots=True)
class Meter:
    """Watches a budget being spent."""

    budget: Budget
    spent: int = 0
    """Evaluations so far."""
    begun_s: float = field(default_factory=time.monotonic)
    is_cut: bool = False
    """Whether somebody ended the search, by Ctrl-C for one."""

    def spend(self, evaluations: int) -> None:
        """Count work that was done."""
        self.spent += evaluations

    @property
    def elapsed_s(self) -> float:
        """Seconds since the start."""
        return time.monotonic() - self.begun_s

    @property
    def share(self) -> float:
        """Part of the budget that is spent, 0 to 1."""
        if self.budget.seconds is not None:
            return 1.0 if self.budget.seconds <= 0 else min(1.0, self.elapsed_s / self.budget.seconds)
        effort = 1000 * (self.budget.effort or 0)
        return 1.0 if effort <= 0 else min(1.0, self.spent / effort)

    @property
    def is_up(self) -> bool:
        """Whether nothing is left, or the search was ended."""
        return self.is_cut or self.share >= 1.0
