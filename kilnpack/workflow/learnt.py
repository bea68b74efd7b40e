"""What the records teach: yields, losses by place, factors of kilns, wear of furniture."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from kilnpack.records.address import is_file, records_url
from kilnpack.records.firings import firing_rows
from kilnpack.records.furniture import wear_rows
from kilnpack.records.learning import PlaceLoss, Yield, losses, yields
from kilnpack.records.states import RecordedState
from kilnpack.records.store import open_records
from kilnpack.records.works_values import get_works
from kilnpack.sheets import owner_values
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


def losses_by_place(folder: Path, address: str | None = None) -> tuple[owner_values.PlaceLoss, ...]:
    """Return what the owner's page shows of losses by place; nothing for a works that keeps no records.

    Raises
    ------
    RecordsUnusable
        There are records, and they cannot be read.
    """
    url = records_url(folder, address)
    if is_file(url) and not Path(str(url.database)).is_file():
        return ()
    records = open_records(url)
    with records.reading() as session:
        found = losses(session)
    records.close()
    total: dict[tuple[str, str, int], tuple[int, int]] = {}
    for row in found:
        if row.stack is not None and row.tier is not None:
            fired, lost = total.get((row.kiln, row.stack, row.tier), (0, 0))
            gone = row.scrap_pieces + row.second_pieces
            total[row.kiln, row.stack, row.tier] = (fired + row.fired_pieces, lost + gone)
    return tuple(
        owner_values.PlaceLoss(kiln=kiln, stack=stack, tier=tier, fired_pieces=fired, lost_pieces=lost)
        for (kiln, stack, tier), (fired, lost) in total.items()
    )
