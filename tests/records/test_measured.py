"""Guards readings of firings: kept with the masses of the load, given back in the words of the works folder."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import InputFaulty
from kilnpack.heat.contents import load_masses
from kilnpack.model.measured import ConeReading, ConeState, CoolingReading, MeterReading
from kilnpack.records.firings import firing_row, keep_firing, move_on
from kilnpack.records.furniture import condemn, count_firing, furniture_of, wear_rows
from kilnpack.records.measured import keep_cones, keep_cooling, keep_meter, lit_on, masses_kg, measured_of
from kilnpack.records.people import add_person, change_person, people, person
from kilnpack.records.states import RecordedState, Role
from kilnpack.records.works_values import get_works, put_works
from tests.rules.small_audit import small_load, small_works

if TYPE_CHECKING:
    from kilnpack.model.furniture import Furniture
    from kilnpack.records.store import Records

LIT = date(2030, 1, 8)
OF = {"fired_on": LIT, "kiln": "K", "programme": "GLO"}
METER = MeterReading(ware_kg=4.0, furniture_kg=20.0, metered_kwh=123.4, before="BIS", stood_h=14.5, **OF)  # type: ignore[arg-type]
CONES = [
    ConeReading(x_mm=1.5, y_mm=2.0, z_mm=3.0, cone="10", state=ConeState.BENDING, **OF),  # type: ignore[arg-type]
    ConeReading(x_mm=1.5, y_mm=2.0, z_mm=300.0, read_degc=1282.5, **OF),  # type: ignore[arg-type]
]
COOLING = [
    CoolingReading(ware_kg=4.0, furniture_kg=20.0, after_h=hour, chamber_degc=degc, **OF)  # type: ignore[arg-type]
    for hour, degc in ((1.0, 1100.0), (8.0, 400.5), (20.0, 90.0))
]


@pytest.fixture
def lit(kept: Records) -> Records:
    """Return records with a firing X1 that was lit and one X2 that was not."""
    with kept.writing("planner") as session:
        for code in ("X1", "X2"):
            keep_firing(session, code, small_load(), small_works().lots)
        move_on(session, "X1", RecordedState.FIRING, at=datetime(2030, 1, 8, 6))
    return kept


def test_readings_come_back_as_the_folder_would_say_them(lit: Records) -> None:
    """Meter, cones and cooling, kept twice, come back once, beside what the folder says itself."""
    for _ in range(2):
        with lit.writing("eva") as session:
            keep_meter(session, "X1", METER)
            keep_cones(session, "X1", CONES)
            keep_cooling(session, "X1", COOLING[::-1])
    with lit.reading() as session:
        found = measured_of(session)
        assert (found.meter, found.cones, found.coolings) == ((METER,), tuple(CONES), tuple(COOLING))
        works = get_works(session)
        assert works.measured == found
    with lit.writing("eva") as session:
        put_works(session, works)
    with lit.reading() as session:
        assert get_works(session).measured == found


def test_masses_are_those_of_the_load_without_the_deck(lit: Records) -> None:
    """Ware and furniture are added up from the load as it was set."""
    masses = load_masses(small_works(), small_load())
    with lit.reading() as session:
        row = firing_row(session, "X1")
        assert masses_kg(small_works(), row) == pytest.approx(
            (sum(masses.ware_kg.values()), sum(masses.furniture_kg.values()))
        )
        assert lit_on(small_works(), row) == LIT


def test_a_firing_that_was_not_lit_has_no_readings(lit: Records) -> None:
    """Nothing can be measured of a firing that is only planned."""
    for keep in (
        lambda session: keep_meter(session, "X2", METER),
        lambda session: keep_cones(session, "X2", CONES),
        lambda session: keep_cooling(session, "X2", COOLING),
    ):
        with pytest.raises(InputFaulty, match="found X2, planned, wanted a firing that was lit"):
            _write(lit, keep)


def _write(records: Records, do: object) -> None:
    with records.writing("eva") as session:
        do(session)  # type: ignore[operator]


def test_furniture_out_of_use_leaves_the_count(kept: Records) -> None:
    """Condemned shelves stay counted as such, broken posts leave; both are told beside the wear."""
    with kept.writing("eva") as session:
        condemn(session, "shelves", "S", 2, cause="bowed", shelf_lot=1)
        condemn(session, "posts", "P100", 3, cause="cracked", firing="X1")
    with kept.reading() as session:
        stock = furniture_of(session)
        assert [lot.condemned_pieces for lot in stock.shelves[0].lots] == [2]
        before = {post.code: post.count_pieces for post in small_works().furniture.posts}
        after = {post.code: post.count_pieces for post in stock.posts}
        assert before["P100"] - after["P100"] == 3
        told = {(row["kind"], row["code"]): (row["pieces"], row["condemned_pieces"]) for row in wear_rows(session)}
    assert told == {("shelves", "S"): (4, 2), ("posts", "P100"): (after["P100"], 3)}


@pytest.mark.parametrize(
    ("kind", "code", "pieces", "lot", "said"),
    [
        ("posts", "NONE", 1, None, "found posts NONE, wanted furniture of the works"),
        ("shelves", "S", 1, 9, "found 9, wanted a lot of S from 1 to 1"),
        ("shelves", "S", 7, None, "found 7, wanted 1 to 6"),
        ("posts", "P150", 0, None, "found 0, wanted 1 to 12"),
    ],
)
def test_odd_furniture_is_told(kept: Records, kind: str, code: str, pieces: int, lot: int | None, said: str) -> None:
    """What is not there cannot be taken away."""
    with pytest.raises(InputFaulty, match=said):
        _write(kept, lambda session: condemn(session, kind, code, pieces, cause="cracked", shelf_lot=lot))


def test_types_of_furniture_come_and_go(kept: Records) -> None:
    """A type, or a lot of shelves, that the folder no longer has leaves the stock; its wear stays in the records."""
    works = small_works()
    shelf = works.furniture.shelves[0]
    two = replace(shelf, lots=(*shelf.lots, replace(shelf.lots[0], bow_mm=2.0)))
    more = replace(works.furniture, shelves=(two, *works.furniture.shelves[1:]), posts=works.furniture.posts[:1])
    for stock in (more, works.furniture):
        with kept.writing("eva") as session:
            put_works(session, replace(works, furniture=stock))
        with kept.reading() as session:
            assert furniture_of(session) == stock


def test_people_have_names_of_their_own(records: Records) -> None:
    """A name is there once, whatever its capitals; the last owner who may sign in stays."""
    with records.writing("setup") as session:
        add_person(session, "Ida", Role.OWNER, "h1")
        add_person(session, "Bo", Role.LOADER, "h2")
    for name, said in (
        ("IDA", "a name that nobody has yet"),
        (" Al ", "without spaces around"),
        ("", "without spaces"),
    ):
        with pytest.raises(InputFaulty, match=said):
            _write(records, lambda session, name=name: add_person(session, name, Role.LOADER, "h"))
    with records.writing("Ida") as session:
        change_person(session, "Bo", role=Role.PLANNER, password_hash="h3")
    with records.reading() as session:
        assert [(row.name, row.role, row.password_hash) for row in people(session)] == [
            ("Bo", "planner", "h3"), ("Ida", "owner", "h1"),
        ]  # fmt: skip
        assert person(session, "nobody") is None
    for change in ({"active": False}, {"role": Role.PLANNER}):
        with pytest.raises(InputFaulty, match="one owner who may sign in"):
            _write(records, lambda session, change=change: change_person(session, "Ida", **change))
    with pytest.raises(InputFaulty, match="wanted somebody who is known"):
        _write(records, lambda session: change_person(session, "Nobody", active=False))


def test_firings_of_shelves_are_counted_on(lit: Records) -> None:
    """Shelves count on from the folder's number; a folder that says nothing new does not set the count back."""
    works = small_works()
    stock = works.furniture
    used = sum(tier.shelf == "S" for stack in small_load().stacks for tier in stack.tiers)
    pieces = stock.shelves[0].lots[0].count_pieces
    with lit.writing("eva") as session:
        for _ in range(3 * pieces - 1):
            count_firing(session, small_load())
    expected = round(3 * pieces * used / pieces)  # the firing that is lit counts as well
    with lit.reading() as session:
        counted = furniture_of(session)
        told = {row["code"]: row["mean_firings"] for row in wear_rows(session)}
    assert counted.shelves[0].lots[0].firings == expected
    assert told["S"] == pytest.approx(3 * used)
    for furniture, then in ((stock, expected), (counted, expected), (with_firings(stock, 7), 7)):
        with lit.writing("eva") as session:
            put_works(session, replace(works, furniture=furniture), folder_wins=True)
        with lit.reading() as session:
            assert furniture_of(session).shelves[0].lots[0].firings == then


def with_firings(stock: Furniture, firings: int) -> Furniture:
    """Return a stock whose first shelves have seen so many firings."""
    first, *others = stock.shelves
    return replace(stock, shelves=(replace(first, lots=(replace(first.lots[0], firings=firings),)), *others))
