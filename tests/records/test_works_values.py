"""Guards that a works goes into the records and comes back as it was, and that no word recorded since is undone."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from kilnpack.codec import encode
from kilnpack.errors import InputFaulty
from kilnpack.model.orders import LotKind
from kilnpack.model.works import Works
from kilnpack.records.furniture import condemn
from kilnpack.records.lots import take_from
from kilnpack.records.tables_works import LineRow, LotRow, WorksRow
from kilnpack.records.works_values import get_works, put_works
from kilnpack.works_folder import read_works, write_works
from tests.packing.small_works import random_works
from tests.rules.small_audit import small_works

if TYPE_CHECKING:
    import random

    from kilnpack.records.store import Records

ORDERS = Path(__file__).resolve().parents[2] / "demo_orders"


def taken(records: Records, works: Works, *, folder_wins: bool = False) -> Works:
    """Return a works after it went into the records."""
    with records.writing("eva") as session:
        put_works(session, works, folder_wins=folder_wins)
    with records.reading() as session:
        return get_works(session)


@pytest.mark.parametrize("name", ["porcelain_works", "round_kiln_studio"])
def test_a_works_folder_comes_back_exactly(name: str, records: Records, tmp_path: Path) -> None:
    """Works folder to records to works folder: every value is the same, of the same type, twice over."""
    works = read_works(ORDERS / name)
    assert taken(records, works) == works
    back = taken(records, works)
    assert encode(back, Works) == encode(works, Works)
    write_works(back, tmp_path / "out")
    assert read_works(tmp_path / "out") == works


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10**6), drawn=st.randoms(use_true_random=False))
def test_any_works_replaces_the_one_before(records: Records, seed: int, drawn: random.Random) -> None:
    """Random works of one name, each taken in over the one before: lines, lots and shelves come, go and move."""
    works = replace(random_works(seed), name="one name")
    lots = [replace(lot, kind=drawn.choice(list(LotKind)), pieces=drawn.randint(1, 99)) for lot in works.lots]
    drawn.shuffle(lots)
    mixed = replace(works, lots=tuple(lots[: drawn.randint(0, len(lots))]))
    assert taken(records, mixed, folder_wins=True) == mixed


def test_moments_come_back_with_and_without_an_offset(records: Records) -> None:
    """A lot's moment of the folder has no offset, one of a plan has; both come back as they were."""
    works = small_works()
    local, utc = datetime(2030, 3, 1, 2, 30, 0, 1), datetime(2030, 3, 1, 2, 30, tzinfo=UTC)
    lots = (replace(works.lots[0], ready_at=local), replace(works.lots[1], ready_at=utc), *works.lots[2:])
    back = taken(records, replace(works, lots=lots))
    assert [lot.ready_at for lot in back.lots[:3]] == [local, utc, None]
    assert back.lots[0].ready_at is not None
    assert back.lots[0].ready_at.tzinfo is None


def test_the_moment_to_plan_from_may_be_given(kept: Records) -> None:
    """Records outlive the day their folder speaks of."""
    later = datetime(2031, 1, 1, 7)
    with kept.reading() as session:
        assert get_works(session, now=later) == replace(small_works(), now=later)


def test_what_was_recorded_since_is_not_undone(kept: Records) -> None:
    """A folder taken in again says other than the records: every difference is told, and nothing is written."""
    with kept.writing("eva") as session:
        take_from(session, session.scalars(select(LotRow).where(LotRow.code == "CUP0")).one(), 3, what="broken",
                  firing="")  # fmt: skip
        condemn(session, "shelves", "S", 2, cause="cracked")
    with pytest.raises(InputFaulty) as faulty:
        taken(kept, small_works())
    said = [str(finding) for finding in faulty.value.findings]
    assert len(said) == 2
    assert "lots, CUP0: found 20 pieces at firing 1, wanted what was recorded since (17 pieces at firing 1)" in said[0]
    assert "shelf_lots, lot 1 of S: found 6 with 0 condemned" in said[1]
    with kept.reading() as session:
        assert get_works(session).lot("CUP0").pieces == 17
    assert taken(kept, small_works(), folder_wins=True) == small_works()


@pytest.mark.parametrize("hours", [-48, 48])
def test_a_clock_that_was_changed_hides_nothing_recorded_since(kept: Records, hours: int) -> None:
    """The clock goes back, or forward and back again, between taking the folder in and what is recorded: it is told."""
    with kept.reading() as session:
        at = session.scalars(select(WorksRow)).one().imported_at
    other = replace(kept, clock=lambda: at + timedelta(hours=hours))
    if hours > 0:
        taken(other, small_works())
        other = kept
    with other.writing("eva") as session:
        session.scalars(select(LineRow)).one().delivered_pieces = 5
        lot = session.scalars(select(LotRow).where(LotRow.code == "CUP0")).one()
        take_from(session, lot, 3, what="broken", firing="")
        condemn(session, "shelves", "S", 2, cause="cracked")
    with pytest.raises(InputFaulty) as faulty:
        taken(other, small_works())
    assert [one.file for one in faulty.value.findings] == ["orders", "lots", "shelf_lots"]
    assert taken(other, small_works(), folder_wins=True) == small_works()
    assert taken(other, small_works()) == small_works()


def test_a_folder_that_agrees_is_taken_in_again(kept: Records) -> None:
    """After an export the folder says what the records say, so it may come back."""
    with kept.writing("eva") as session:
        condemn(session, "posts", "P150", 2, cause="cracked")
    with kept.reading() as session:
        exported = get_works(session)
    assert taken(kept, exported) == exported


def test_lines_and_lots_that_left_stay_in_the_records(kept: Records) -> None:
    """What is no longer in the folder leaves the backlog, with a line of history, and is not thrown away."""
    works = small_works()
    assert taken(kept, replace(works, lines=(), lots=works.lots[1:])).lines == ()
    with kept.reading() as session:
        gone = session.scalars(select(LotRow).where(LotRow.code == "CUP0")).one()
        assert gone.position is None
        assert [row.what for row in gone.history] == ["taken in", "left the backlog"]


def test_another_works_is_refused(kept: Records) -> None:
    """Records belong to one works."""
    with pytest.raises(InputFaulty, match="Other, wanted Test works, whose records these are"):
        taken(kept, replace(small_works(), name="Other"))


def test_records_without_a_works_say_so(records: Records) -> None:
    """Nothing can be read before a works was taken in."""
    with records.reading() as session, pytest.raises(InputFaulty, match="kilnpack record import"):
        get_works(session)


def test_a_value_of_another_version_is_a_finding(kept: Records) -> None:
    """Values that this kilnpack cannot read, or that were changed from outside, are told, not guessed."""
    with kept.writing("eva") as session:
        row = session.scalars(select(WorksRow)).one()
        row.value = {key: part for key, part in row.value.items() if key != "kilns"}
    with kept.reading() as session, pytest.raises(InputFaulty, match="works Test works, kilns: found nothing"):
        get_works(session)
    with kept.writing("eva") as session:
        session.scalars(select(WorksRow)).one().schema_version = 99
    with kept.reading() as session, pytest.raises(InputFaulty, match="found 99, wanted values of version 1"):
        get_works(session)


def test_a_line_recorded_otherwise_is_told(kept: Records) -> None:
    """Deliveries noted in the records are not undone by a folder that does not know them."""
    with kept.writing("eva") as session:
        session.scalars(select(LineRow)).one().delivered_pieces = 5
    for works, found in ((small_works(), "0 delivered"), (replace(small_works(), lines=()), "no such line")):
        with pytest.raises(InputFaulty, match=rf"orders, 1/1: found {found}, wanted .* \(5 delivered\)"):
            taken(kept, works)
    with kept.reading() as session:
        agreed = get_works(session)
    assert agreed.lines[0].delivered_pieces == 5
    assert taken(kept, agreed) == agreed


def test_a_lot_that_left_here_and_there_is_no_difference(kept: Records) -> None:
    """A lot broken to the last piece is gone in the records; a folder without it agrees."""
    with kept.writing("eva") as session:
        row = session.scalars(select(LotRow).where(LotRow.code == "CUP0")).one()
        take_from(session, row, 20, what="broken", firing="")
    with pytest.raises(InputFaulty, match=r"lots, CUP0: found 20 pieces at firing 1, wanted .* \(none left\)"):
        taken(kept, small_works())
    less = replace(small_works(), lots=small_works().lots[1:])
    assert taken(kept, less) == less
