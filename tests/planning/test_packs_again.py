"""Guards that a load of one lot is used again when only the count of pieces differs, and only then."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from kilnpack.model.orders import Lot
from kilnpack.model.pieces import Stage
from kilnpack.planning.interrupts import remembered_interrupts
from kilnpack.planning.packs import RealPack
from kilnpack.search.budget import Budget
from tests.planning.small import Counting, EvenShare, kiln, line, programme, works

LOT = Lot(code="L", product="MUG", step=0, pieces=20, order_line="O")


@pytest.mark.parametrize(("pieces", "calls"), [(15, 1), (4, 1), (30, 1), (3, 2), (20, 1)])
def test_a_load_that_left_pieces_out_is_used_again(pieces: int, calls: int) -> None:
    """A kiln of 4: whatever more is ready the same 4 go in; 3 are packed anew. What is left out is told anew."""
    packer, small = Counting(), works(lines=(line("O", "MUG", 50, due_days=9),))
    with remembered_interrupts() as interrupts:
        pack = RealPack(
            packer=packer, checker=None, seed=1, budget_of=lambda *_: Budget(effort=1), estimate=EvenShare(),
            interrupts=interrupts,
        )  # fmt: skip
        ask = (small, kiln("K", "D"), programme("D", Stage.DECORATION))
        first = pack(*ask, (LOT,), out=Counter())
        again = pack(*ask, (replace(LOT, pieces=pieces),), out=Counter())
    assert packer.calls == calls
    assert first.taken == {"L": 4}
    assert again.taken == {"L": min(4, pieces)}
    assert sum(row.pieces for row in again.left_out) == max(0, pieces - 4)
    assert again.load is not None
    if calls == 1 and pieces != LOT.pieces:
        assert again.load.value_share == round(4 / pieces, 6)
        assert again.load.left_out == again.left_out


def test_a_load_that_held_all_is_packed_anew_for_more() -> None:
    """4 of 4 went in; 9 might fill more than that, so they are packed; another lot beside it is, too."""
    packer, small = Counting(room_pieces=6), works(lines=(line("O", "MUG", 50, due_days=9),))
    with remembered_interrupts() as interrupts:
        pack = RealPack(
            packer=packer, checker=None, seed=1, budget_of=lambda *_: Budget(effort=1), estimate=EvenShare(),
            interrupts=interrupts,
        )  # fmt: skip
        ask = (small, kiln("K", "D"), programme("D", Stage.DECORATION))
        for lots in ((replace(LOT, pieces=4),), (replace(LOT, pieces=9),), (LOT, replace(LOT, code="M"))):
            pack(*ask, lots, out=Counter())
    assert packer.calls == 3
