"""What stays outside is told by reason."""

from __future__ import annotations

from dataclasses import replace

from kilnpack.model.loads import LeftOut
from kilnpack.sheets.left_words import left_out_groups
from tests.sheets.small_works import LOAD, WORKS

LOTS = WORKS.lots


def left(lot: int, pieces: int, reason: str, change: str | None = None) -> LeftOut:
    """A lot left out."""
    return LeftOut(lot=LOTS[lot].code, pieces=pieces, rule="no room", reason=reason, change=change)


def test_lots_with_one_reason_are_one_group_with_a_line_for_each_product() -> None:
    """Guards the length of the list: figures that differ become gaps, and stand in the line of their product."""
    same = next(k for k, lot in enumerate(LOTS) if k and lot.product != LOTS[0].product)
    rows = (
        left(0, 5, "no stack has 40 mm left", "30 mm more"),
        left(0, 2, "no stack has 40 mm left", "30 mm more"),
        left(same, 3, "no stack has 90.5 mm left", "80 mm more"),
        left(same, 30, "every place is taken"),
    )
    taken, low = left_out_groups(WORKS, replace(LOAD, left_out=rows))
    assert (taken.reason, taken.pieces) == ("no room: every place is taken", 30)
    assert (low.reason, low.pieces) == ("no room: no stack has … mm left; would go in with: … mm more", 10)
    first, other = (WORKS.product(LOTS[k].product).name for k in (0, same))
    lines = (f"7 × {first} (2 lots; 40): 30 mm more", f"3 × {other} ({LOTS[same].code}; 90.5): 80 mm more")
    assert low.lines == lines


def test_nothing_left_out_is_no_group() -> None:
    """Guards the empty case."""
    assert left_out_groups(WORKS, replace(LOAD, left_out=())) == ()
