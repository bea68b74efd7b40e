"""Planning again from a plan: what must stay stays, little else moves, and what moved is said."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilnpack.errors import InputFaulty
from kilnpack.model.orders import Lot, in_zone
from kilnpack.model.plans import Down, Firing, FiringState, Plan
from kilnpack.model.questions import Change
from kilnpack.planning.backlog import next_good
from kilnpack.planning.clock import Clock
from kilnpack.planning.comparing import compared, line_words, moved_words, stays_words
from kilnpack.planning.fewer import with_fewer
from kilnpack.planning.packs import taken_of
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.planning.plan_given_audit import audit_stays
from kilnpack.planning.policies import Policy, PolicyKind
from kilnpack.planning.settle import Asked, Settled, settle
from kilnpack.planning.soonest import Soonest
from tests.planning.later import later
from tests.planning.small import kiln, line, product, programme, works
from tests.planning.test_planner import B, G, plan, random_works

if TYPE_CHECKING:
    from kilnpack.model.works import Works

QUICK = (Policy(kind=PolicyKind.MOST_GAIN), Policy(kind=PolicyKind.LOOK_AHEAD, longest_wait_h=24.0))
HOUR = timedelta(hours=1)


def many_lots(count: int = 8) -> Works:
    """One kiln that fires a day, lots of four for lines due far away."""
    return works(
        lines=tuple(line(f"O{k}", "MUG", 4, 40) for k in range(count)),
        lots=tuple(Lot(code=f"L{k}", product="MUG", step=0, pieces=4, order_line=f"O{k}") for k in range(count)),
    )


def again(small: Works, before: Plan, room: int = 4, **asked: object) -> Plan:
    """Plan again from a plan, and let both audits judge it."""
    found = plan(small, room, settled=settle(small, Asked(before=before, **asked)), policies=QUICK)  # type: ignore[arg-type]
    assert audit_plan(small, found) == ()
    assert audit_stays(found, before) == ()
    return found


def test_nothing_changed_moves_nothing() -> None:
    """The same works planned again from its plan gives the same firings under the same codes."""
    small = many_lots()
    before = plan(small)
    after = again(small, before)
    assert compared(before, after).firings == ()
    assert [row.code for row in after.firings] == [row.code for row in before.firings]
    assert after.goals.moved_firings == 0


def test_a_kiln_down_for_a_day_moves_what_was_in_it_alone() -> None:
    """One of eight firings was to burn while the kiln is down: it is the only one that moves, and the plan says why."""
    small = many_lots()
    before = plan(small)
    hit = before.firings[2]
    down = Down(kiln="K", start=hit.load_start, end=hit.unload_end)
    after = again(small, before, downs=(down,))
    changes = compared(before, after).firings
    assert [(row.firing, row.change) for row in changes] == [(hit.code, Change.MOVED)]
    assert "K is down" in changes[0].why
    assert any("1 moved" in words for words in moved_words(compared(before, after)))


def test_a_broken_piece_leaves_all_firings_where_they_are() -> None:
    """A lot lost one of its four pieces: its firing stays without it, no other differs."""
    small = many_lots()
    before = plan(small)
    broken = replace(small, lots=(replace(small.lots[0], pieces=3), *small.lots[1:]))
    after = again(broken, before)
    changes = compared(before, after).firings
    assert after.goals.moved_firings == 0
    assert {row.change for row in changes} <= {Change.REFILLED, Change.ADDED}
    refilled = next(row for row in changes if row.change is Change.REFILLED)
    assert (refilled.pieces_before, refilled.pieces_after) == (4, 3)
    assert "1 pieces fewer" in refilled.why


def test_a_new_order_moves_no_firing_that_is_planned() -> None:
    """A new line is fired after what is planned, in a firing that says it is for a new line."""
    small = many_lots()
    before = plan(small)
    more = replace(
        small,
        lines=(*small.lines, line("NEW", "MUG", 4, 40)),
        lots=(*small.lots, Lot(code="LN", product="MUG", step=0, pieces=4, order_line="NEW")),
    )
    changes = compared(before, again(more, before)).firings
    assert [row.change for row in changes] == [Change.ADDED]
    assert changes[0].firing == "F9"
    assert changes[0].why == "line NEW is new"


def test_an_urgent_line_goes_first() -> None:
    """The last of eight firings is for a line that is urgent now: it is fired first."""
    small = many_lots()
    before = plan(small)
    last = next(part.order_line for part in before.firings[-1].parts)
    after = again(small, before, urgent=(last,))
    assert after.firings[0].parts[0].order_line == last
    assert after.urgent == (last,)
    found = compared(before, after)
    assert any("is urgent now" in row.why for row in found.firings)
    sooner = next(row for row in found.lines if row.line == last)
    assert sooner.sooner_h == pytest.approx(7 * 24.0)
    assert "now" in line_words(sooner)


def test_a_locked_firing_takes_those_that_feed_it_along() -> None:
    """A glost firing is locked: the biscuit that its ware comes from is locked too, and said."""
    small = works(
        kilns=(kiln("KB", "B"), kiln("KG", "G")),
        programmes=(programme("B", B), programme("G", G)),
        products=(product("MUG", "B", "G", stages=(B, G)),),
        lines=(line("O1", "MUG", 4, 30),),
        lots=(Lot(code="L1", product="MUG", step=0, pieces=4, order_line="O1"),),
    )
    before = plan(small)
    settled = settle(small, Asked(before=before, locked=("F2",)))
    assert {row.code for row in settled.given.must_stay} == {"F1", "F2"}
    assert settled.remarks == ("locked too, as they feed a locked firing: F1",)
    after = again(small, before, locked=("F2",))
    assert stays_words(after) == ("locked: F1, F2",)


def test_a_locked_firing_that_cannot_stay_is_a_finding() -> None:
    """Its kiln is down, or its ware is gone: each is said, and nothing is planned."""
    small = many_lots(2)
    before = plan(small)
    firing = before.firings[0]
    down = Down(kiln="K", start=firing.load_start, end=firing.unload_end)
    with pytest.raises(InputFaulty, match="which is down then"):
        settle(small, Asked(before=before, locked=(firing.code,), downs=(down,)))
    gone = replace(small, lots=small.lots[1:])
    with pytest.raises(InputFaulty, match="4 pieces of L0 missing"):
        settle(gone, Asked(before=before, locked=(firing.code,)))
    other = replace(small, kilns=(kiln("K9", "D"),))
    with pytest.raises(InputFaulty, match="a kiln of the works"):
        settle(other, Asked(before=before, locked=(firing.code,)))


def test_a_started_firing_keeps_its_kiln_until_it_is_out() -> None:
    """Six hours after the first fire was lit its ware is in no lot: it stays, and the rest follows after it."""
    small = many_lots(3)
    before = plan(small)
    now = before.firings[0].load_start + 6 * HOUR
    after = again(later(small, before, now), before)
    first = after.firings[0]
    assert (first.code, first.state, first.load_start) == ("F1", FiringState.STARTED, before.firings[0].load_start)
    assert after.firings[1].load_start >= first.unload_end
    assert [row.finish for row in after.outcomes] == [row.finish for row in before.outcomes]


def test_the_audit_sees_a_kiln_that_is_down_and_a_firing_that_did_not_stay() -> None:
    """Firings moved by hand into the down time, and a locked one that differs, are findings."""
    small = many_lots(2)
    before = plan(small)
    first = before.firings[0]
    down = Down(kiln="K", start=first.load_start + HOUR, end=first.load_start + 2 * HOUR)
    assert "which is down then" in str(audit_plan(small, replace(before, downs=(down,)))[0])
    unknown = replace(before, downs=(replace(down, kiln="K9"),))
    assert "a kiln of the works" in str(audit_plan(small, unknown)[0])
    late = replace(first, state=FiringState.LOCKED, unload_end=first.unload_end + HOUR)
    stayed = replace(before, firings=(late, *before.firings[1:]))
    assert [row.field for row in audit_stays(stayed, before)] == ["F1 unload_end"]
    new = replace(before, firings=(replace(late, code="F9"),))
    assert "a firing of the plan before" in str(audit_stays(new, before)[0])
    other = replace(late, unload_end=first.unload_end, load=before.firings[1].load)
    assert [row.field for row in audit_stays(replace(before, firings=(other,)), before)] == ["F1 load"]
    started = replace(before, firings=(first, replace(before.firings[1], state=FiringState.STARTED)))
    assert any("state" in row.field for row in audit_plan(small, started))


def test_pieces_come_out_of_a_load_body_by_body() -> None:
    """Three of four pieces are taken out: one place is left, numbered 1; the fourth leaves nothing."""
    small = many_lots(1)
    firing: Firing = plan(small).firings[0]
    fewer = with_fewer(small, firing, "L0", 3)
    assert fewer is not None
    assert taken_of(fewer.load) == {"L0": 1}
    tier = fewer.load.stacks[0].tiers[0]
    assert [one.place for one in fewer.load.setting(tier.setting).standings] == [1]
    assert [part.pieces for part in fewer.parts] == [1]
    assert fewer.ware_kg == pytest.approx(firing.ware_kg / 4)
    assert with_fewer(small, firing, "L0", 4) is None


def test_good_pieces_follow_the_running_total_also_between_firings_that_stay() -> None:
    """Nine of ten come out good: 10 then 10 give 9 and 9; one put before ten that stay with 9 of 10 gets 1 of 1."""
    first = next_good([], 0.0, 10, 0.9)
    assert (first, next_good([(0.0, 10, first)], 24.0, 10, 0.9)) == (9, 9)
    assert next_good([(48.0, 10, 9)], 0.0, 1, 0.9) == 1
    assert next_good([(48.0, 10, 10)], 0.0, 10, 0.9) == 8


def changed(draw: random.Random, small: Works, before: Plan) -> tuple[Works, dict[str, tuple[object, ...]]]:
    """Break pieces, take an order on, let time pass, close a kiln, lock firings, press a line: each now and then."""
    now = in_zone(small.now, small.calendar.time_zone)
    asked: dict[str, tuple[object, ...]] = {}
    if draw.random() < 0.4:
        now = draw.choice(before.firings).load_start + draw.randint(1, 30) * HOUR
        small = later(small, before, now)
    if draw.random() < 0.5 and small.lots:
        hit = draw.randrange(len(small.lots))
        lots = enumerate(small.lots)
        small = replace(small, lots=tuple(replace(x, pieces=max(1, x.pieces - 2)) if k == hit else x for k, x in lots))
    if draw.random() < 0.4:
        more = line("N1", draw.choice(["MUG", "ROSE"]), draw.randint(1, 9), draw.randint(5, 20))
        small = replace(small, lines=(*small.lines, more))
    if draw.random() < 0.6:
        hit_firing = draw.choice(before.firings)
        start = max(now, hit_firing.load_start + draw.randint(-10, 10) * HOUR)
        end = start + draw.randint(5, 60) * HOUR
        asked["downs"] = (Down(kiln=hit_firing.kiln, start=start, end=end),)
    if draw.random() < 0.5:
        asked["locked"] = (draw.choice(before.firings).code,)
    if draw.random() < 0.3:
        asked["urgent"] = (draw.choice(small.lines).code,)
    return small, asked


def settled_or_faults(small: Works, before: Plan, asked: dict[str, tuple[object, ...]]) -> Settled | list[str]:
    """Return what stays, or what the findings are on where what must stay cannot."""
    try:
        return settle(small, Asked(before=before, **asked))  # type: ignore[arg-type]
    except InputFaulty as faulty:
        return [one.field for one in faulty.findings]


def replanned_holds(seed: int) -> None:
    """Plan random works, change something, plan again: audits find nothing, what must stay stays, bounds are bounds."""
    small = random_works(seed)
    before = plan(small, 24, policies=QUICK[:1])
    clock = Clock(small.calendar, small.now)
    soonest = Soonest(small, clock)
    for row, one in zip(before.outcomes, small.lines, strict=True):
        assert row.finish is None or clock.hour(row.finish) >= soonest.line_h(one) - 1e-3
    if not before.goals.open_lines:
        for bound in before.bounds:
            assert bound.least_firings <= bound.planned_firings
    if not before.firings:
        return
    small, asked = changed(random.Random(seed), small, before)
    settled = settled_or_faults(small, before, asked)
    if not isinstance(settled, Settled):
        assert all("locked" in field or "started" in field for field in settled)
        return
    after = plan(small, 24, settled=settled, policies=QUICK[:1])
    assert audit_plan(small, after) == ()
    assert audit_stays(after, before) == ()
    codes = {row.code for row in after.firings}
    now = in_zone(small.now, small.calendar.time_zone)
    past = {row.code for row in before.firings if row.unload_end <= now}
    assert {str(code) for code in asked.get("locked", ())} - past <= codes


@settings(max_examples=4)
@given(seed=st.integers(0, 10**6))
def test_no_plan_made_again_breaks_a_rule(seed: int) -> None:
    """Whatever the works and the change, nothing breaks a rule and no bound is beaten."""
    replanned_holds(seed)


@pytest.mark.long
@settings(max_examples=150, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_no_plan_made_again_breaks_a_rule_in_many_works(seed: int) -> None:
    """The same over many more works."""
    replanned_holds(seed)
