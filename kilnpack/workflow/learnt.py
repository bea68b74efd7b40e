"""What the records teach: yields, losses by place, factors of kilns, wear of furniture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.records.firings import firing_rows
from kilnpack.records.furniture import wear_rows
from kilnpack.records.learning import PlaceLoss, Yield, losses, yields
from kilnpack.records.states import RecordedState
from kilnpack.records.works_values import get_works
from kilnpack.workflow.calibrating import CalibratedKiln, calibrated_kilns

if TYPE_CHECKING:
    from kilnpack.workflow.records import Desk


@dataclass(frozen=True, slots=True, kw_only=True)
class FurnitureWear:
    """How often furniture of a type was fired, on the mean over its pieces; shelves as their folder counted before."""

    kind: str
    code: str
    pieces: int
    condemned_pieces: int
    mean_firings: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Learnt:
    """All that the records teach, each part with its sample size."""

    firings: int
    yields: tuple[Yield, ...]
    losses: tuple[PlaceLoss, ...]
    kilns: tuple[CalibratedKiln, ...]
    wear: tuple[FurnitureWear, ...]


def learn(desk: Desk) -> Learnt:
    """Return what the records teach: yields, losses by place, factors of kilns, wear of furniture."""
    with desk.open() as records, records.reading() as session:
        works = get_works(session)
        return Learnt(
            firings=len(firing_rows(session, states=[RecordedState.INSPECTED])),
            yields=yields(session, works),
            losses=losses(session),
            kilns=calibrated_kilns(works),
            wear=tuple(FurnitureWear(**row) for row in wear_rows(session)),
        )
