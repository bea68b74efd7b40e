"""How much hotter or colder a tier is than the programme, from the works' own readings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.rules.heat import offset_range_k
from kilnpack.sheets.words import window

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.sheets.order import TierPlace


def zone_words(works: Works, load: Load, row: TierPlace) -> str:
    """Return the offset range at the middle of a tier's room (Z1)."""
    x, y = row.middle_mm
    at_mm = (x, y, row.tier.base_mm + row.tier.room_mm / 2)
    return window(*offset_range_k(works.settings, works.kiln(load.kiln), load.stage, at_mm))
