"""A walk from load to load: one change at a time, kept or not; the best is never lost."""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, Protocol, Self, TypeVar

from kilnpack.search.listener import Progress

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

    from kilnpack.search.budget import Meter
    from kilnpack.search.listener import Listener

EVALUATIONS_A_FILL = 100
"""A row-by-row fill counts as so many evaluations of the shelf engine: both take about 0.3 ms."""


HEARD_S = 0.25
"""Progress is told this often."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """How the improver spends its budget.

    Attributes
    ----------
    fills
        Fills of one shelf in a move.
    heat_share
        Loss kept at the start, as a share of the load's value.
    noise
        Spread of the estimates when columns are picked anew.
    polish_evaluations
        Evaluations of the shelf engine in a polish: half of them at the start, twice as many at the end; 0 leaves it
        out.
    turn_step_deg
        Step of the angles the engine may use; 0 leaves them free.
    """

    fills: int = 24
    heat_share: float = 0.002
    noise: float = 0.15
    polish_evaluations: int = 12000
    turn_step_deg: float = 0.0
    bound_share: float = 0.75
    """Part of the budget in which tiers are set alike even where nothing limits the settings: it finds more, sooner."""
    bound_settings: int = 12
    columns: bool = True
    """Whether columns are generated where there is time for it."""
    weights: tuple[float, ...] = (0.3, 0.2, 0.15, 0.3, 0.05)

    def polish_at(self, share: float) -> int:
        """Return the evaluations of a polish at some part of the budget."""
        return round(self.polish_evaluations * (0.5 + 1.5 * share))


class Changeable(Protocol):
    """What can be walked over."""

    @property
    def value(self) -> float:
        """Worth of the load."""

    def copy(self) -> Self:
        """Return a load of its own that may be changed."""


_C = TypeVar("_C", bound=Changeable)


class Walk(Generic[_C]):
    """Changes a load step by step; a loss is kept with falling probability."""

    step_name = "improving the load"

    def __init__(
        self, start: _C, rng: np.random.Generator, tuning: Tuning, weights: tuple[float, ...], span: tuple[float, float]
    ) -> None:
        self.now: _C = start
        self.best: _C = start
        self.rng = rng
        self.tuning = tuning
        self.weights = weights
        self.span = span
        self.share = span[0]
        self.tries = [[0, 0] for _ in weights]

    @property
    @abstractmethod
    def moves(self) -> tuple[Callable[[_C], int], ...]:
        """The changes, in the order of their weights; each returns the evaluations it took."""

    def walk(self, meter: Meter, listener: Listener) -> None:
        """Spend the budget; Ctrl-C or the listener ends it early. Ctrl-C cuts the meter."""
        heard_s = -1.0
        try:
            while not meter.is_up:
                self.step(meter)
                if meter.elapsed_s - heard_s > HEARD_S:
                    heard_s = meter.elapsed_s
                    progress = Progress(
                        step=self.step_name, value=self.best.value, share=meter.share, elapsed_s=heard_s
                    )
                    if not listener.heard(progress):
                        break
        except KeyboardInterrupt:
            meter.is_cut = True

    def step(self, meter: Meter) -> None:
        """Make one change and keep it or not."""
        self.share = self.span[0] + (self.span[1] - self.span[0]) * meter.share
        which = int(self.rng.choice(len(self.weights), p=self.weights))
        trial = self.now.copy()
        meter.spend(max(self.moves[which](trial), EVALUATIONS_A_FILL))
        heat = self.tuning.heat_share * self.best.value * (1.0 - self.share) ** 2
        self.tries[which][0] += 1
        if trial.value > self.now.value - heat * float(self.rng.random()) ** 2:
            self.tries[which][1] += trial.value > self.now.value + 1e-9
            self.now = trial
        if trial.value > self.best.value + 1e-9:
            self.best = trial
