"""How much hotter or colder a tier is than the programme, from the works' own readings."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from kilnpack.sheets.words import window

if TYPE_CHECKING:
    from kilnpack.model.kilns import OffsetMap
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.sheets.order import TierPlace


def zone_words(works: Works, load: Load, row: TierPlace) -> str:
    """Return the offset range at the middle of a tier's room."""
    kiln = works.kiln(load.kiln)
    maps = [each for each in kiln.offsets if each.stage is load.stage]
    x, y = row.middle_mm
    z = row.tier.base_mm + row.tier.room_mm / 2
    low, high = _range(maps[0] if maps else None, (x, y, z), works.settings.offset_spread_k)
    return window(low, high)


def _range(offsets: OffsetMap | None, at: tuple[float, float, float], spread_k: float) -> tuple[float, float]:
    if offsets is None or not offsets.readings:
        spread = offsets.spread_k if offsets else spread_k
        return -spread, spread
    weights = [
        (1.0 / max(1.0, math.dist(at, (reading.x_mm, reading.y_mm, reading.z_mm))) ** 2, reading.offset_k)
        for reading in offsets.readings
    ]
    middle = math.fsum(w * k for w, k in weights) / math.fsum(w for w, _ in weights)
    return middle, middle
