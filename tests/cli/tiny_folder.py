"""A tiny works folder, written from the planner's small works, that real commands plan in a moment."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from kilnpack.model.kilns import LiningLayer
from kilnpack.model.orders import Lot, WorkCalendar
from kilnpack.works_folder import write_works
from tests.planning.small import NOW, WEEKDAYS, furniture, kiln, line, works

if TYPE_CHECKING:
    from pathlib import Path


def write_tiny(folder: Path) -> Path:
    """Write one electric kiln, one product, two lines with a lot each, the second lot ready a day later."""
    stock = furniture(12)
    shelf = replace(stock.shelves[0], posts_mm=((60.0, 60.0), (440.0, 60.0), (250.0, 440.0)))
    one = replace(kiln("K", "D"), lining=(LiningLayer(material="insulating brick 1260", thickness_mm=150.0),))
    small = works(
        kilns=(one,),
        furniture=replace(stock, shelves=(shelf,)),
        calendar=WorkCalendar(shifts=WEEKDAYS, unattended_firing=True),
        lines=(line("O1", "MUG", 6, 1), line("O2", "MUG", 4, 12)),
        lots=(
            Lot(code="L1", product="MUG", step=0, pieces=6, order_line="O1"),
            Lot(code="L2", product="MUG", step=0, pieces=4, order_line="O2", ready_at=NOW + timedelta(days=2)),
        ),
    )
    write_works(small, folder)
    return folder
