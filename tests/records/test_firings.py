"""Guards plans, firings and loads in the records: kept as they were, moved on in order, found again in a new plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import select

from kilnpack.errors import InputFaulty
from kilnpack.model.pieces import Stage
from kilnpack.model.plans import FiringState
from kilnpack.records.firings import (
    firing_row,
    firing_rows,
    keep_firing,
    keep_load,
    keep_plan,
    load_fired,
    loads_of,
    lock,
    lots_of,
    move_on,
    plan_of,
)
from kilnpack.records.furniture import furniture_of, wear_rows
from kilnpack.records.states import LoadKind, RecordedState
from kilnpack.records.tables_works import LotRow
from tests.records.small import small_plan
from tests.rules.small_audit import small_load, small_works

if TYPE_CHECKING:
    from kilnpack.records.store import Records

LIT = datetime(2030, 1, 8, 6)


@pytest.fixture
def planned(kept: Records) -> Records:
    """Return records that hold the small plan."""
    with kept.writing("planner") as session:
        assert keep_plan(session, small_plan()).code == "P1"
    return kept


def test_a_plan_comes_back_with_its_firings_and_loads(planned: Records) -> None:
    """The plan is the same value; each firing has its planned load, its lots and its moments, with their offset."""
    plan = small_plan()
    with planned.reading() as session:
        assert plan_of(session, "P1") == plan
        rows = firing_rows(session)
        assert [row.code for row in rows] == ["P1.F1", "P1.F2"]
        for row, firing in zip(rows, plan.firings, strict=True):
            assert loads_of(row) == {LoadKind.PLANNED: firing.load}
            assert load_fired(row) == firing.load
            assert lots_of(row) == {lot.code: lot for lot in firing.lots}
            assert (row.plan_load_start, row.plan_unload_end) == (firing.load_start, firing.unload_end)
            assert (row.kiln, row.programme, row.stage) == ("K", firing.programme, firing.load.stage.value)


def test_a_firing_moves_on_in_order(planned: Records) -> None:
    """From planned to unloaded, a moment for each; it cannot go back, nor be given up once it is lit."""
    with planned.writing("loader") as session:
        for state in (RecordedState.LOADING, RecordedState.FIRING, RecordedState.COOLING, RecordedState.UNLOADED):
            move_on(session, "P1.F1", state, at=LIT)
    with planned.reading() as session:
        row = firing_row(session, "P1.F1")
        assert (row.state, row.loading_at, row.lit_at, row.fired_at, row.unloaded_at) == ("unloaded", *[LIT] * 4)
    for state in (RecordedState.LOADING, RecordedState.GIVEN_UP):
        with pytest.raises(InputFaulty, match="wanted a state after unloaded"), planned.writing("loader") as session:
            move_on(session, "P1.F1", state)
    with planned.writing("planner") as session:
        move_on(session, "P1.F2", RecordedState.GIVEN_UP)
    with pytest.raises(InputFaulty, match="wanted a firing that goes on"), planned.writing("loader") as session:
        move_on(session, "P1.F2", RecordedState.LOADING)


def test_a_lit_firing_keeps_its_load_and_counts_its_furniture(planned: Records) -> None:
    """What stood in the kiln is kept as loaded; its lots say so; shelves and posts have one firing more."""
    with planned.writing("loader") as session:
        move_on(session, "P1.F1", RecordedState.FIRING)
    load = small_plan().firings[0].load
    with planned.reading() as session:
        assert loads_of(firing_row(session, "P1.F1"))[LoadKind.AS_LOADED] == load
        cups = session.scalars(select(LotRow).where(LotRow.code == "CUP0")).one()
        assert [(row.what, row.pieces, row.firing) for row in cups.history][-1] == ("fired", 4, "P1.F1")
        patterns = {shelf.code: len(shelf.posts_mm) for shelf in furniture_of(session).shelves}
        wear = {(row["kind"], row["code"]): row["mean_firings"] * row["pieces"] for row in wear_rows(session)}
    tiers = [tier for stack in load.stacks for tier in stack.tiers]
    for shelf in {tier.shelf for tier in tiers}:
        assert wear["shelves", shelf] == pytest.approx(sum(tier.shelf == shelf for tier in tiers))
    posts = {post for tier in tiers for post in tier.posts}
    for post in posts:
        stood = sum(patterns[tier.shelf] * tier.posts.count(post) for tier in tiers)
        assert wear["posts", post] == pytest.approx(stood)


def test_lots_that_only_the_plan_knew_are_made_when_they_are_fired(planned: Records) -> None:
    """A lot cast since, one that a plan splits off, and one of which fewer were known than were set."""
    works = small_works()
    lots = {lot.code: lot for lot in works.lots}
    load = small_load(Stage.BISCUIT)
    others = {"CUP0": "CUP0.left", "MUG0": "9/1@1", "PLATE0": "PLATE0"}
    stacks = tuple(
        replace(
            stack,
            tiers=tuple(
                replace(tier, fills=tuple(replace(fill, lot=others.get(fill.lot, fill.lot)) for fill in tier.fills))
                for tier in stack.tiers
            ),
        )
        for stack in load.stacks
    )
    ready = [replace(lots["CUP0"], code="CUP0.left", pieces=4), replace(lots["MUG0"], code="9/1@1", pieces=2)]
    ready += [lots["PLATE0"], lots["SAUCER0"], lots["BOWL0"]]
    with planned.writing("loader") as session:
        session.scalars(select(LotRow).where(LotRow.code == "PLATE0")).one().pieces = 1
        keep_firing(session, "X1", replace(load, stacks=stacks), ready)
        move_on(session, "X1", RecordedState.FIRING)
    with planned.reading() as session:
        rows = {row.code: row for row in session.scalars(select(LotRow))}
        assert (rows["CUP0"].pieces, rows["CUP0.left"].pieces, rows["CUP0.left"].came_from) == (16, 4, "CUP0")
        assert (rows["9/1-1"].pieces, rows["9/1-1"].came_from) == (2, None)
        assert rows["MUG0"].pieces == 20
        assert (rows["PLATE0"].pieces, rows["PLATE0"].history[-2].note) == (2, "1 were known")


def test_a_new_plan_takes_the_place_of_what_nobody_began(planned: Records) -> None:
    """Firings planned before are given up, but not those begun or locked; those that stay are found again."""
    old = small_plan()
    with planned.writing("planner") as session:
        move_on(session, "P1.F1", RecordedState.LOADING)
        lock(session, "P1.F2", locked=True)
    started = replace(old.firings[0], state=FiringState.STARTED)
    locked = replace(old.firings[1], code="F7", state=FiringState.LOCKED)
    fresh = replace(old.firings[1], code="F8")
    with planned.writing("planner") as session:
        keep_plan(session, replace(old, firings=(started, locked, fresh)))
    with planned.reading() as session:
        found = {row.code: (row.plan, row.in_plan, row.state, row.locked) for row in firing_rows(session)}
    assert found == {
        "P1.F1": ("P2", "F1", "loading", False),
        "P1.F2": ("P2", "F7", "planned", True),
        "P2.F8": ("P2", "F8", "planned", False),
    }
    with planned.writing("planner") as session:
        keep_plan(session, replace(old, firings=()), code="spring")
    with planned.reading() as session:
        assert [row.code for row in firing_rows(session, states=[RecordedState.GIVEN_UP])] == ["P2.F8"]
        assert [row.code for row in firing_rows(session, kiln="K", states=[RecordedState.LOADING])] == ["P1.F1"]


def test_codes_are_taken_once(planned: Records) -> None:
    """A plan and a firing want codes that nobody has; what is not there is told with what is."""
    load, lots = small_load(), small_works().lots
    with pytest.raises(InputFaulty, match="found P1, wanted a code that no plan has yet"):
        with_writing(planned, lambda session: keep_plan(session, small_plan(), "P1"))
    with pytest.raises(InputFaulty, match=r"found P1\.F1, wanted a code that no firing has yet"):
        with_writing(planned, lambda session: keep_firing(session, "P1.F1", load, lots))
    with pytest.raises(InputFaulty, match="lot MUG1, wanted lots of the works"):
        with_writing(planned, lambda session: keep_firing(session, "X1", load, [lots[1]]))
    with planned.reading() as session:
        with pytest.raises(InputFaulty, match="found P9, wanted a plan: P1"):
            plan_of(session, "P9")
        with pytest.raises(InputFaulty, match=r"found P9.F1, wanted a firing of the records: P1.F2, P1.F1"):
            firing_row(session, "P9.F1")


def test_a_load_may_change_until_it_is_lit(planned: Records) -> None:
    """A new solution of the rest replaces the planned load; another kiln's load, or one too late, is refused."""
    less = replace(small_load(Stage.BISCUIT), stacks=small_load(Stage.BISCUIT).stacks[:1])
    with planned.writing("loader") as session:
        keep_load(session, "P1.F1", less, LoadKind.PLANNED)
    with planned.reading() as session:
        row = firing_row(session, "P1.F1")
        assert load_fired(row) == less
        assert (row.loads[0].pieces, row.loads[0].tiers) == (6, 2)
    with pytest.raises(InputFaulty) as faulty:
        with_writing(planned, lambda session: keep_load(session, "P1.F2", replace(less, kiln="Z"), LoadKind.PLANNED))
    assert [finding.field for finding in faulty.value.findings] == ["load", "load"]
    with planned.writing("loader") as session:
        move_on(session, "P1.F1", RecordedState.FIRING)
    with pytest.raises(InputFaulty, match="wanted a firing that is not lit yet"):
        with_writing(planned, lambda session: keep_load(session, "P1.F1", less, LoadKind.PLANNED))
    with planned.writing("loader") as session:
        keep_load(session, "P1.F1", less, LoadKind.AS_LOADED)


def with_writing(records: Records, do: object) -> None:
    """Do something in a session that writes."""
    with records.writing("eva") as session:
        do(session)  # type: ignore[operator]
