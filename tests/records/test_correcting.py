"""Guards corrections of an inspection: lots follow, learnt figures follow, and what was written before stays."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import select

from kilnpack.errors import InputFaulty
from kilnpack.model.orders import LotKind
from kilnpack.records.correcting import correct, corrections_of, inspected_of
from kilnpack.records.firings import fired_pieces, firing_row, keep_firing, move_on
from kilnpack.records.inspection import Inspected, inspect
from kilnpack.records.learning import losses, yields
from kilnpack.records.states import Grade, RecordedState
from kilnpack.records.tables_people import EventRow
from kilnpack.records.tables_works import LotHistoryRow
from kilnpack.records.works_values import get_works
from tests.records.small import MADE, all_first
from tests.rules.small_audit import small_load, small_works

if TYPE_CHECKING:
    from kilnpack.records.store import Records


def out(pieces: dict[str, int], *others: Inspected) -> list[Inspected]:
    """Return an inspection of first grade but for the lots that others speak of."""
    spoken = {one.lot for one in others}
    return [*all_first({lot: count for lot, count in pieces.items() if lot not in spoken}), *others]


def lots_of(records: Records) -> dict[str, int]:
    """Return the pieces of every lot of the backlog."""
    with records.reading() as session:
        return {lot.code: lot.pieces for lot in get_works(session).lots}


def put_right(records: Records, lines: list[Inspected], by: str = "Ida") -> None:
    """Correct the inspection of X1."""
    with records.writing(by) as session:
        correct(session, "X1", lines)


@pytest.fixture
def pieces(kept: Records) -> dict[str, int]:
    """Return what stood in X1, a firing that was inspected: of four cups two were graded scrap."""
    with kept.writing("planner") as session:
        keep_firing(session, "X1", small_load(), small_works().lots)
    with kept.writing("loader") as session:
        move_on(session, "X1", RecordedState.FIRING, at=MADE)
        move_on(session, "X1", RecordedState.UNLOADED, at=MADE)
        fired = fired_pieces(firing_row(session, "X1"))
    with kept.writing("Ivo") as session:
        inspect(session, "X1", out(fired, *cups(2, scrap=2)))
    return fired


def cups(first: int, **others: int) -> list[Inspected]:
    """Return how the four cups of X1 came out."""
    rows = [Inspected(lot="CUP1", grade=Grade.FIRST, pieces=first)] if first else []
    return rows + [
        Inspected(lot="CUP1", grade=Grade(grade), pieces=count, cause="crack") for grade, count in others.items()
    ]


def test_lots_and_learnt_figures_follow_and_history_stays(kept: Records, pieces: dict[str, int]) -> None:
    """One of two cups was no scrap: it goes on, the yield has it, and who wrote what before is still told."""
    before = lots_of(kept)
    put_right(kept, out(pieces, *cups(3, scrap=1)))
    after = lots_of(kept)
    assert {code: after[code] - before.get(code, 0) for code in after if after[code] != before.get(code)} == {
        "CUP1-f": 1
    }
    with kept.reading() as session:
        learnt = next(row for row in yields(session, get_works(session)) if row.of == "CUP")
        lost = sum(row.scrap_pieces for row in losses(session))
        assert (learnt.first_pieces, lost) == (3, 1)
        (old,) = corrections_of(session, "X1")
        assert (old.by, old.replaced_by) == ("Ivo", "Ida")
        assert sum(one.pieces for one in old.lines if one.grade is Grade.SCRAP) == 2
        assert sum(one.pieces for one in inspected_of(session, "X1")) == sum(pieces.values())
        noted = session.scalars(select(LotHistoryRow).where(LotHistoryRow.what == "inspection corrected")).one()
        assert noted.note == "2 first, 2 scrap was written; 3 first, 1 scrap counts"
        event = session.scalars(select(EventRow).where(EventRow.key == "X1").order_by(EventRow.id.desc())).first()
        assert event is not None
        assert (event.by, [*event.change]) == ("Ida", ["corrected_at"])


def test_corrections_keep_their_order_where_the_clock_is_set_back(kept: Records, pieces: dict[str, int]) -> None:
    """The second correction bears an earlier moment than the first: what was written first is told first."""
    for hours, by, scrap in ((0, "Ida", 1), (-5, "Uwe", 3)):
        back = replace(kept, clock=lambda hours=hours: MADE + timedelta(hours=hours))  # type: ignore[misc]
        put_right(back, out(pieces, *cups(4 - scrap, scrap=scrap)), by)
    with kept.reading() as session:
        assert [one.replaced_by for one in corrections_of(session, "X1")] == ["Ida", "Uwe"]


def test_refires_and_lots_that_were_not_there_come_and_go(kept: Records, pieces: dict[str, int]) -> None:
    """All four cups are to be fired again; later it is said that all were scrap, and then that all are good."""
    before = lots_of(kept)
    put_right(kept, out(pieces, *cups(0, refire=4)))
    lots = lots_of(kept)
    assert lots["CUP1-r"] == 4
    assert "CUP1-f" not in lots
    with kept.reading() as session:
        again = next(lot for lot in get_works(session).lots if lot.code == "CUP1-r")
        assert (again.kind, again.step) == (LotKind.REFIRE, 1)
    put_right(kept, out(pieces, *cups(0, scrap=4)))
    assert "CUP1-r" not in lots_of(kept)
    put_right(kept, out(pieces, *cups(4)))
    assert lots_of(kept) == {**before, "CUP1-f": 4}
    with kept.reading() as session:
        assert len(corrections_of(session, "X1")) == 3


def test_the_same_again_changes_nothing(kept: Records, pieces: dict[str, int]) -> None:
    """Who opens the form and keeps it as it is leaves no trace."""
    put_right(kept, out(pieces, *cups(2, scrap=2)))
    with kept.reading() as session:
        assert corrections_of(session, "X1") == ()
        assert firing_row(session, "X1").corrected_at is None


def test_ware_that_went_on_keeps_its_number_but_not_its_cause(kept: Records, pieces: dict[str, int]) -> None:
    """What was fired again cannot have been scrap; that the crack was a chip can still be written."""
    with kept.writing("loader") as session:
        lot = next(row for row in get_works(session).lots if row.code == "CUP1-f")
        session.add(LotHistoryRow(lot=lot.code, at=MADE, by="x", what="fired", step=2, pieces=2, firing="X2"))
    with pytest.raises(InputFaulty, match=r"first of CUP1.*3.*fired again in X2"):
        put_right(kept, out(pieces, *cups(3, scrap=1)))
    put_right(kept, out(pieces, *cups(2, second=2)))
    with kept.reading() as session:
        assert sum(row.second_pieces for row in losses(session)) == 2


def test_a_number_that_cannot_be_is_refused(kept: Records, pieces: dict[str, int]) -> None:
    """Pieces that went elsewhere meanwhile cannot be taken back, sums must add up, and first comes an inspection."""
    with kept.writing("planner") as session:
        keep_firing(session, "X2", small_load(), small_works().lots)
    with pytest.raises(InputFaulty, match="a firing that was inspected"), kept.writing("x") as session:
        correct(session, "X2", [])
    with pytest.raises(InputFaulty, match="as many as stood"):
        put_right(kept, out(pieces, *cups(2, scrap=1)))
    with kept.writing("planner") as session:
        from kilnpack.records.lots import lot_row, take_from

        row = lot_row(session, "CUP1-f")
        assert row is not None
        take_from(session, row, 2, what="split", firing="X2")
    with pytest.raises(InputFaulty, match="0 pieces of lot CUP1-f are left"):
        put_right(kept, out(pieces, *cups(1, scrap=3)))
