"""Heat work by place: what the offset map of a kiln means in cones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.heat.cones import Cone, ConeAnswer, cone_at
from kilnpack.model.kilns import OffsetMap, OffsetReading

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceCone:
    """What the curve does at one place; `reading` is None for the two ends of a spread that no reading narrows."""

    reading: OffsetReading | None
    offset_k: float
    answer: ConeAnswer


def cones_by_place(
    kiln: Kiln, programme: Programme, *, series: tuple[Cone, ...] | None = None
) -> tuple[PlaceCone, ...]:
    """Return the cone answer at every reading of the programme's stage, coldest place first.

    Without readings the map knows only its spread, so the coldest and the hottest place it allows are answered.

    Parameters
    ----------
    kiln
        With its offset maps; without one for the stage the usual spread holds.
    programme
        The curve and its stage.
    series
        Fitted cones; None is the published series.
    """
    found = next((one for one in kiln.offsets if one.stage is programme.stage), OffsetMap(stage=programme.stage))
    places: list[tuple[float, OffsetReading | None]] = [(one.offset_k, one) for one in found.readings]
    if not places:
        places = [(-found.spread_k, None), (found.spread_k, None)]
    places.sort(key=lambda place: place[0])
    return tuple(
        PlaceCone(reading=reading, offset_k=offset_k, answer=cone_at(programme, offset_k, series=series))
        for offset_k, reading in places
    )
