"""Guards the inspection: every piece once, every lot moved on, and what it teaches of yields and places."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import select

from kilnpack.errors import InputFaulty
from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import Stage
from kilnpack.records.firings import fired_pieces, firing_row, keep_firing, keep_plan, move_on
from kilnpack.records.inspection import Inspected, inspect
from kilnpack.records.learning import losses, with_learnt_yields, yields
from kilnpack.records.states import Grade, RecordedState
from kilnpack.records.tables_works import LotRow
from kilnpack.records.works_values import get_works
from tests.records.small import MADE, all_first, small_plan
from tests.rules.small_audit import small_load, small_works

if TYPE_CHECKING:
    from kilnpack.model.orders import Lot
    from kilnpack.records.store import Records

OUT = datetime(2030, 1, 9, 6)


def fired(records: Records, code: str) -> dict[str, int]:
    """Fire a firing of the records and return what stood in it."""
    with records.writing("loader") as session:
        move_on(session, code, RecordedState.FIRING, at=MADE)
        move_on(session, code, RecordedState.UNLOADED, at=MADE)
        return fired_pieces(firing_row(session, code))


def inspected(records: Records, code: str, out: list[Inspected], at: datetime | None = None) -> dict[str, Lot]:
    """Inspect a firing and return the backlog's lots afterwards."""
    with records.writing("inspector") as session:
        inspect(session, code, out, at=at)
    with records.reading() as session:
        return {lot.code: lot for lot in get_works(session).lots}


@pytest.fixture
def glost(kept: Records) -> Records:
    """Return records with a glost firing by hand that was unloaded."""
    with kept.writing("planner") as session:
        keep_firing(session, "X1", small_load(), small_works().lots)
    fired(kept, "X1")
    return kept


def all_but(records: Records, lot: str, *others: Inspected) -> list[Inspected]:
    """Return an inspection of X1 with everything of first grade but one lot."""
    with records.reading() as session:
        pieces = fired_pieces(firing_row(session, "X1"))
    return [*all_first({code: count for code, count in pieces.items() if code != lot}), *others]


def test_lots_follow_the_plan_from_firing_to_firing(kept: Records) -> None:
    """What comes out of the biscuit firing goes into the glost firing under the plan's code, whatever was lost."""
    with kept.writing("planner") as session:
        keep_plan(session, small_plan())
    assert fired(kept, "P1.F1") == {"CUP0": 4, "MUG0": 2, "SAUCER0": 2, "BOWL0": 2, "PLATE0": 2}
    out = [
        *all_first({"CUP0": 4, "MUG0": 2, "SAUCER0": 2, "BOWL0": 2}),
        Inspected(lot="PLATE0", grade=Grade.FIRST, pieces=1),
        Inspected(lot="PLATE0", grade=Grade.SCRAP, pieces=1, cause="crack"),
    ]
    lots = inspected(kept, "P1.F1", out, OUT)
    assert (lots["CUP0"].pieces, lots["CUP0-2"].pieces) == (16, 4)
    assert lots["CUP0-2"] == replace(
        small_works().lot("CUP0"), code="CUP0-2", step=1, pieces=4, ready_at=OUT, glazed=False
    )
    assert (lots["PLATE0"].pieces, lots["PLATE0-2"].pieces) == (18, 1)
    pieces = fired(kept, "P1.F2")
    assert pieces == {"CUP0-2": 4, "MUG1": 2, "SAUCER0-2": 2, "BOWL0-2": 2, "PLATE0-2": 2}
    lots = inspected(kept, "P1.F2", all_first({"CUP0@2": 4, **{code: pieces[code] for code in list(pieces)[1:]}}))
    assert (lots["CUP0-done"].step, lots["CUP0-done"].pieces, lots["CUP0-done"].glazed) == (2, 4, True)
    assert (lots["MUG1"].pieces, lots["MUG1-done"].pieces) == (18, 2)
    assert "CUP0-2" not in lots


def test_a_lot_fired_whole_keeps_its_code(kept: Records) -> None:
    """Without a plan a lot keeps its code while all of it moves on, and the rest stays where some of it did."""
    works = small_works()
    exact = {"CUP1": 4, "MUG1": 2}
    with kept.writing("planner") as session:
        for code, pieces in exact.items():
            session.scalars(select(LotRow).where(LotRow.code == code)).one().pieces = pieces
        keep_firing(session, "X1", small_load(), works.lots)
    fired(kept, "X1")
    aware = OUT.replace(tzinfo=UTC)
    lots = inspected(kept, "X1", all_but(kept, "none"), aware)
    assert (lots["CUP1"].step, lots["CUP1"].pieces, lots["CUP1"].ready_at) == (2, 4, OUT)
    assert (lots["BOWL1"].step, lots["BOWL1"].pieces) == (1, 18)
    assert (lots["BOWL1-f"].step, lots["BOWL1-f"].pieces) == (2, 2)


def test_refires_wait_as_a_lot_of_their_own(glost: Records) -> None:
    """Refires wait for the same firing again; seconds and scrap are gone; a lot with nothing left has left."""
    lots = inspected(
        glost, "X1", all_but(
            glost, "CUP1",
            Inspected(lot="CUP1", grade=Grade.REFIRE, pieces=2, cause="pinholes"),
            Inspected(lot="CUP1", grade=Grade.SECOND, pieces=1, cause="speck"),
            Inspected(lot="CUP1", grade=Grade.SCRAP, pieces=1, cause="crack"),
        ),
    )  # fmt: skip
    again = lots["CUP1-r"]
    assert (again.kind, again.step, again.pieces, again.glazed) == (LotKind.REFIRE, 1, 2, True)
    assert lots["CUP1"].pieces == 16
    assert "CUP1-f" not in lots
    with glost.reading() as session:
        row = session.scalars(select(LotRow).where(LotRow.code == "CUP1-r")).one()
        assert (row.came_from, row.history[0].firing) == ("CUP1", "X1")
        words = [one.note for one in session.scalars(select(LotRow).where(LotRow.code == "CUP1")).one().history]
        assert "2 refire, 1 second, 1 scrap" in words


def test_a_piece_is_refired_once(glost: Records) -> None:
    """What was refired already is second or scrap (rule T9); refired ware that is good is normal again."""
    inspected(
        glost, "X1", all_but(glost, "CUP1", Inspected(lot="CUP1", grade=Grade.REFIRE, pieces=4, cause="pinholes"))
    )
    with glost.reading() as session:
        lots = get_works(session).lots
    load = small_load()
    stacks = tuple(
        replace(
            stack,
            tiers=tuple(
                replace(
                    tier,
                    fills=tuple(replace(fill, lot="CUP1-r" if fill.lot == "CUP1" else fill.lot) for fill in tier.fills),
                )
                for tier in stack.tiers
            ),
        )
        for stack in load.stacks
    )
    with glost.writing("planner") as session:
        keep_firing(session, "X2", replace(load, stacks=stacks), lots)
    rest = all_first({code: count for code, count in fired(glost, "X2").items() if code != "CUP1-r"})
    twice = Inspected(lot="CUP1-r", grade=Grade.REFIRE, pieces=4, cause="pinholes")
    with pytest.raises(InputFaulty, match="refired once at most"):
        inspected(glost, "X2", [*rest, twice])
    after = inspected(glost, "X2", [*rest, Inspected(lot="CUP1-r", grade=Grade.FIRST, pieces=4)])
    assert (after["CUP1-r"].kind, after["CUP1-r"].step) == (LotKind.NORMAL, 2)
    with glost.reading() as session:
        cups = [row for row in yields(session, get_works(session)) if row.of == "CUP"]
        assert [row.scrap.pieces for row in cups] == [4]


def test_every_fault_of_an_inspection_is_told_at_once(glost: Records) -> None:
    """Wrong lot, no cause, place without tier, more than stood there, pieces that do not add up: nothing is kept."""
    out = [
        Inspected(lot="CUP1", grade=Grade.SCRAP, pieces=5, file="out.csv", row=2),
        Inspected(lot="CUP1", grade=Grade.FIRST, pieces=0, file="out.csv", row=3),
        Inspected(lot="NOBODY", grade=Grade.FIRST, pieces=1, file="out.csv", row=4),
        Inspected(lot="MUG1", grade=Grade.FIRST, pieces=1, tier=1, file="out.csv", row=5),
        Inspected(lot="MUG1", grade=Grade.FIRST, pieces=2, stack="A", place=3, file="out.csv", row=6),
        Inspected(lot="BOWL1", grade=Grade.FIRST, pieces=2, stack="A", tier=2, place=2, file="out.csv", row=7),
    ]
    with pytest.raises(InputFaulty) as faulty:
        inspected(glost, "X1", out)
    places = {(finding.row, finding.field) for finding in faulty.value.findings}
    assert {(2, "cause"), (2, "pieces"), (3, "pieces"), (4, "lot"), (5, "stack"), (6, "tier"), (6, "pieces")} <= places
    assert {(7, "pieces"), (None, "pieces of PLATE1"), (None, "pieces of CUP1")} <= places
    with glost.reading() as session:
        assert firing_row(session, "X1").state == RecordedState.UNLOADED
        assert losses(session) == ()


def test_a_firing_is_inspected_once_and_after_it_was_fired(glost: Records) -> None:
    """Neither a firing still planned nor one inspected already takes an inspection."""
    inspected(glost, "X1", all_but(glost, "none"))
    with pytest.raises(InputFaulty, match="found X1, inspected, wanted a firing that has been fired"):
        inspected(glost, "X1", all_but(glost, "none"))


def test_yields_are_learnt_with_their_sample_size(kept: Records) -> None:
    """Counts by product and stage over several firings; the works' own guess weighs like forty pieces."""
    works = small_works()
    for number in range(4):
        code = f"X{number}"
        with kept.writing("planner") as session:
            keep_firing(session, code, small_load(), works.lots)
        pieces = fired(kept, code)
        bad = Inspected(lot="CUP1", grade=Grade.SCRAP, pieces=2, cause="crack", stack="A", tier=1)
        good = Inspected(lot="CUP1", grade=Grade.FIRST, pieces=2)
        rest = all_first({lot: count for lot, count in pieces.items() if lot != "CUP1"})
        inspected(kept, code, [*rest, good, bad], OUT + timedelta(days=number))
    with kept.reading() as session:
        now = get_works(session)
        found = {(row.of, row.stage): row for row in yields(session, now)}
        places = {(row.stack, row.tier): row for row in losses(session)}
    cups = found["CUP", Stage.GLOST].scrap
    assert (cups.firings, cups.pieces, cups.hit, cups.seen_share, cups.guessed_share) == (4, 16, 8, 0.5, 0.0)
    assert 0.0 < cups.low_share < cups.share < cups.high_share < 0.8
    assert cups.share < 0.5
    assert found["MUG", Stage.GLOST].scrap.hit == 0
    lost = places["A", 1]
    assert (lost.fired_pieces, lost.scrap_pieces, lost.firings, lost.causes) == (12, 8, 4, (("crack", 8),))
    assert lost.lost_share == pytest.approx(8 / 12)
    assert places["B", 2].lost_share == 0.0
    learnt = with_learnt_yields(now, found.values())
    assert learnt.product("CUP").route[1].scrap_share == cups.share
    assert learnt.product("CUP").route[0] == now.product("CUP").route[0]


def test_losses_without_a_place_are_told_apart(glost: Records) -> None:
    """Nobody noted where it stood: it is counted, but at no tier."""
    inspected(
        glost, "X1",
        all_but(
            glost, "MUG1", Inspected(lot="MUG1", grade=Grade.SECOND, pieces=1, cause="speck", stack="A"),
            Inspected(lot="MUG1", grade=Grade.FIRST, pieces=1),
        ),
    )  # fmt: skip
    with glost.reading() as session:
        unplaced = [row for row in losses(session) if row.stack is None]
    assert [(row.second_pieces, row.fired_pieces, row.lost_share) for row in unplaced] == [(1, 0, None)]
