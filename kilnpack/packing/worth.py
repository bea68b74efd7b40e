"""What it is worth to have a piece in this load."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import TYPE_CHECKING

from kilnpack.model.orders import LotKind

if TYPE_CHECKING:
    from datetime import date

    from kilnpack.model.orders import Lot, OrderLine
    from kilnpack.model.works import Works

SOON_DAYS = 14
OVERDUE_FACTOR = 2.0
SOON_FACTOR = 1.5
STOCK_FACTOR = 0.6
KIND_FACTOR = {LotKind.NORMAL: 1.0, LotKind.REFIRE: 1.0, LotKind.SAMPLE: 1.2, LotKind.FILLER: 0.2}


def setting_volume_dm3(area_mm2: float, height_mm: float, headroom_mm: float) -> float:
    """Return the room a piece takes in the kiln: what it covers, its gap included, times its height with headroom."""
    return area_mm2 * (height_mm + headroom_mm) / 1e6


def urgency_factor(line: OrderLine | None, today: date) -> float:
    """Return how pressing a line is: 2 when overdue, 1.5 when due within 14 days, 1 later, 0.6 without an order."""
    if line is None:
        return STOCK_FACTOR
    if line.due < today:
        return OVERDUE_FACTOR
    return SOON_FACTOR if line.due <= today + timedelta(days=SOON_DAYS) else 1.0


def lot_factor(works: Works, lot: Lot) -> float:
    """Return the factor on a piece's setting volume: priority of the order line x urgency x kind of lot.

    The value of a piece is its setting volume in dm3 (see `setting_volume_dm3`) times this factor, so that ware that
    takes more of the kiln counts more, and equal ware counts by what waits for it.
    """
    line = next((row for row in works.lines if row.code == lot.order_line), None)
    priority = line.priority_factor if line is not None else 1.0
    factor = priority * urgency_factor(line, works.now.date()) * KIND_FACTOR[lot.kind]
    return factor if math.isfinite(factor) and factor > 0 else 0.0
