"""Guards what a loader notes: kept once, swaps and breakages followed through to load and lots."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select

from kilnpack.errors import InputFaulty
from kilnpack.model.loads import BodyForm, Load, PlaceFill, Setting, StackLoad, Standing, Tier
from kilnpack.model.pieces import StackWay, Stage
from kilnpack.records.as_loaded import as_loaded
from kilnpack.records.firings import firing_row, keep_firing, load_fired, loads_of, move_on
from kilnpack.records.states import LoadKind, RecordedState, TickKind
from kilnpack.records.tables_works import LotRow
from kilnpack.records.ticks import Tick, places_set, take_ticks, ticks_of
from kilnpack.rules.checker import audit
from tests.rules.small_audit import small_load, small_works

if TYPE_CHECKING:
    from kilnpack.records.store import Records


@pytest.fixture
def loading(kept: Records) -> Records:
    """Return records with a firing to be loaded; a second lot of cups is ready for it."""
    works = small_works()
    spare = replace(works.lot("CUP1"), code="CUPS", pieces=1)
    with kept.writing("planner") as session:
        keep_firing(session, "X1", small_load(), [*works.lots, spare])
    return kept


def noted(records: Records, *ticks: Tick) -> int:
    """Take ticks of the firing."""
    with records.writing("loader") as session:
        return take_ticks(session, "X1", ticks)


def tick(mark: str, what: TickKind, place: int | None = 1, **more: object) -> Tick:
    """Return a tick on the lowest tier of the left stack."""
    fields: dict[str, object] = {"mark": mark, "what": what, "stack": "A", "tier": 1, "place": place, **more}
    return Tick(**fields)  # type: ignore[arg-type]


def test_ticks_sent_again_are_kept_once(loading: Records) -> None:
    """A device that lost its network sends everything again: nothing is doubled, and the firing is being loaded."""
    first, second = tick("a", TickKind.SET), tick("b", TickKind.SET, None, tier=2)
    assert noted(loading, first, first) == 1
    assert noted(loading, first, second) == 1
    with loading.reading() as session:
        row = firing_row(session, "X1")
        assert row.state == RecordedState.LOADING
        ticks = ticks_of(session, "X1")
        assert [one.mark for one in ticks] == ["a", "b"]
        assert places_set(ticks, load_fired(row)) == {("A", 1, 1), ("A", 2, 1), ("A", 2, 2), ("A", 2, 3)}
    assert noted(loading, tick("c", TickKind.TAKEN_OUT)) == 1
    with loading.reading() as session:
        assert ("A", 1, 1) not in places_set(ticks_of(session, "X1"), small_load())
        assert loads_of(firing_row(session, "X1")).keys() == {LoadKind.PLANNED}


def test_a_breakage_leaves_load_and_lot(loading: Records) -> None:
    """A broken piece's place is empty in the load as loaded, which breaks no rule, and its lot is one piece less."""
    noted(loading, tick("a", TickKind.BREAKAGE, 2, note="dropped"))
    works = small_works()
    with loading.reading() as session:
        loads = loads_of(firing_row(session, "X1"))
        assert loads[LoadKind.PLANNED] == small_load()
        loaded = loads[LoadKind.AS_LOADED]
        cups = session.scalars(select(LotRow).where(LotRow.code == "CUP1")).one()
        assert (cups.pieces, cups.history[-1].what, cups.history[-1].note) == (19, "broken", "dropped")
    assert loaded.pieces == small_load().pieces - 1
    lowest = loaded.stacks[0].tiers[0]
    assert [fill.place for fill in lowest.fills] == [1, 3]
    assert audit(works, loaded).findings == ()


def test_a_swap_names_the_other_lot(loading: Records) -> None:
    """Another lot of the same product takes the place; there are not more of it than there are."""
    noted(loading, tick("a", TickKind.SWAP, other_lot="CUPS"))
    with loading.reading() as session:
        assert load_fired(firing_row(session, "X1")).stacks[0].tiers[0].fills[0].lot in {"CUP1", "CUPS"}
        lots = {fill.lot for fill in load_fired(firing_row(session, "X1")).stacks[0].tiers[0].fills}
        assert lots == {"CUP1", "CUPS", "MUG1"}
    with pytest.raises(InputFaulty, match="1 pieces that do not stand yet; of 1 1 stand"):
        noted(loading, tick("b", TickKind.SWAP, 2, other_lot="CUPS"))


FAULTS = [
    (tick("x", TickKind.SET, 9), "found 9, wanted a place of the tier with ware: 1, 2, 3"),
    (tick("x", TickKind.SET, stack="Q"), "stack Q tier 1, wanted a tier of the load: A 1, A 2, B 1, B 2"),
    (tick("x", TickKind.BREAKAGE, None), "found none, wanted the place of the breakage"),
    (tick("x", TickKind.BREAKAGE, lot="MUG1"), "found MUG1, wanted a lot at this place: CUP1"),
    (tick("x", TickKind.BREAKAGE, pieces=2), "found 2, wanted 1 to 1"),
    (tick("x", TickKind.SWAP), "other_lot: found none, wanted a lot of the firing"),
    (tick("x", TickKind.SWAP, other_lot="MUG1"), "wanted a lot of CUP at the same firing"),
]


@pytest.mark.parametrize(("bad", "said"), FAULTS, ids=[str(number) for number in range(len(FAULTS))])
def test_odd_ticks_are_refused_together(loading: Records, bad: Tick, said: str) -> None:
    """A tick on a place that is not there keeps the whole batch out, and every fault is told."""
    with pytest.raises(InputFaulty) as faulty:
        noted(loading, tick("ok", TickKind.BREAKAGE, 3), bad, replace(bad, mark="y"))
    assert said in str(faulty.value)
    with loading.reading() as session:
        assert ticks_of(session, "X1") == ()
        assert session.scalars(select(LotRow).where(LotRow.code == "MUG1")).one().pieces == 20


def test_a_lit_firing_takes_no_ticks(loading: Records) -> None:
    """What is in the fire is not loaded any more."""
    with loading.writing("loader") as session:
        move_on(session, "X1", RecordedState.FIRING)
    with pytest.raises(InputFaulty, match="found X1, firing, wanted a firing that is not lit yet"):
        noted(loading, tick("a", TickKind.SET))


def nest(pieces: int) -> Load:
    """Return a load of one tier with two nests of bowls, of two lots each."""
    form = BodyForm(code="NEST", shape="BOWL", stage=Stage.BISCUIT, way=StackWay.NESTED, pieces=pieces, spacer="SP")
    standings = tuple(Standing(place=n, form="NEST", x_mm=100.0 * n, y_mm=90.0, turn_deg=0.0) for n in (1, 2))
    fills = tuple(
        PlaceFill(place=place, lot=lot, pieces=count)
        for place in (1, 2)
        for lot, count in (("L1", pieces - 1), ("L2", 1))
    )
    tier = Tier(number=1, base_mm=25.0, shelf="S", posts=(), room_mm=300.0, setting="N", fills=fills)
    return replace(
        small_load(Stage.BISCUIT), forms=(form,), settings=(Setting(code="N", shelf="S", standings=standings),),
        stacks=(StackLoad(place="A", stub=None, tiers=(tier,)),), cone_packs=(),
    )  # fmt: skip


@given(
    pieces=st.integers(2, 5),
    breaks=st.lists(st.tuples(st.sampled_from((1, 2)), st.sampled_from(("L1", "L2"))), max_size=8),
)
def test_stacks_get_lower_piece_by_piece(pieces: int, breaks: list[tuple[int, str]]) -> None:
    """Whatever breaks out of stacked ware: fills, forms and standings agree, and no piece comes or goes by itself."""
    load, broken = nest(pieces), 0
    for number, (place, lot) in enumerate(breaks):
        here = sum(fill.pieces for fill in load.stacks[0].tiers[0].fills if (fill.place, fill.lot) == (place, lot))
        broken += min(here, 1)
        if here:
            one = Tick(mark=str(number), what=TickKind.BREAKAGE, stack="A", tier=1, place=place, lot=lot, pieces=1)
            load = as_loaded(load, [one])
    assert load.pieces == 2 * pieces - broken
    tier = load.stacks[0].tiers[0]
    standings = {one.place: load.form(one.form) for one in load.setting(tier.setting).standings}
    for place in (1, 2):
        left = sum(fill.pieces for fill in tier.fills if fill.place == place)
        assert (place in standings) == (left > 0)
        if left:
            form = standings[place]
            assert (form.pieces, form.way) == (left, StackWay.NESTED if left > 1 else None)
    assert {one.code for one in load.settings} == {tier.setting}
    assert {form.code for form in load.forms} == {form.code for form in standings.values()}


def test_a_part_of_a_place_may_be_swapped() -> None:
    """Of three pieces of a lot two go to another, which stands there already: one row for each lot."""
    swap = Tick(mark="s", what=TickKind.SWAP, stack="A", tier=1, place=1, lot="L1", other_lot="L2", pieces=2)
    fills = as_loaded(nest(4), [swap]).stacks[0].tiers[0].fills
    assert {(fill.lot, fill.pieces) for fill in fills if fill.place == 1} == {("L1", 1), ("L2", 3)}
