"""The rest of a load planned anew at the kiln: what stands stays, what broke stays out, records and plan follow."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest

from kilnpack.errors import InputFaulty
from kilnpack.records.firings import firing_row, load_fired, loads_of, move_on, plan_of
from kilnpack.records.states import LoadKind, RecordedState, Role, TickKind
from kilnpack.records.ticks import Tick, take_ticks
from kilnpack.records.works_values import get_works
from kilnpack.rules.checker import audit
from kilnpack.search.budget import Budget
from kilnpack.sheets.order import tiers_in_order
from kilnpack.web import routes_rest
from kilnpack.workflow.at_the_kiln import set_places, works_of_row
from tests.records.small import MADE
from tests.web.asides import ThreadContext
from tests.web.small_place import client_of, place_in, sent, signed_in

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from fastapi.testclient import TestClient

    from kilnpack.model.loads import Load
    from kilnpack.web.place import Place

FIRING = "P1.F1"
PAGE = f"/rest/{FIRING}"
EFFORT = Budget(effort=30)


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works with a plan of two firings."""
    return place_in(tmp_path, with_plan=True)


@pytest.fixture(autouse=True)
def here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let work aside go on in a thread, by effort and not by seconds."""
    monkeypatch.setattr("kilnpack.workflow.aside.get_context", lambda _: ThreadContext())
    monkeypatch.setattr(routes_rest, "Budget", lambda **_: EFFORT)


@pytest.fixture
def client(place: Place) -> Iterator[TestClient]:
    """The loader, signed in."""
    with client_of(place) as found:
        yield signed_in(found, Role.LOADER)


def load_of(place: Place) -> Load:
    """The planned load as it is now."""
    with place.records.reading() as session:
        return loads_of(firing_row(session, FIRING))[LoadKind.PLANNED]


def names(place: Place) -> list[str]:
    """The names of the tiers in order of loading."""
    with place.records.reading() as session:
        row = firing_row(session, FIRING)
        return [one.name for one in tiers_in_order(works_of_row(session, row), load_fired(row))]


def note(place: Place, what: TickKind, turn: int, *, whole: bool = True, mark: str = "note-0001", **more: Any) -> Tick:
    """Note something of the tier that comes as number `turn`; returns the note."""
    with place.records.reading() as session:
        row = firing_row(session, FIRING)
        tier = tiers_in_order(works_of_row(session, row), load_fired(row))[turn]
    first = None if whole else tier.tier.fills[0].place
    tick = Tick(
        mark=mark, what=what, stack=tier.place.code, tier=tier.tier.number, place=first,
        pieces=None if whole else 1, **more,
    )  # fmt: skip
    with place.records.writing("Lena") as session:
        take_ticks(session, FIRING, [tick])
    return tick


def packed(client: TestClient, **fields: str) -> str:
    """Ask for the rest, wait until it is packed, and return the page that shows it."""
    answer = sent(client, PAGE, PAGE, **fields)
    assert answer.status_code == 303, answer.text
    for line in client.get(f"{PAGE}/told").iter_lines():
        if '"goes_on": false' in line:
            break
    return client.get(PAGE).text


def test_what_stands_stays_and_what_broke_stays_out(client: TestClient, place: Place) -> None:
    """Guards the re-solve: the tier set is equal afterwards, the whole load breaks no rule, the broken piece is out."""
    before, order = load_of(place), names(place)
    set_tier = note(place, TickKind.SET, 0)
    note(place, TickKind.BREAKAGE, 1, whole=False, mark="note-0002")
    with place.records.reading() as session:
        lot = next(iter(loads_of(firing_row(session, FIRING))[LoadKind.PLANNED].pieces_by_lot))
        as_loaded = load_fired(firing_row(session, FIRING))
    text = packed(client, from_tier=order[1])
    assert "What was packed" in text
    assert "checked against the rules" in text
    assert sent(client, f"{PAGE}/keep", PAGE).headers["location"] == f"/loader/{FIRING}"
    after = load_of(place)
    with place.records.reading() as session:
        row = firing_row(session, FIRING)
        assert load_fired(row) == after
        works = works_of_row(session, row)
        assert not audit(works, after).findings
        assert {(stack, tier) for stack, tier, _ in set_places(session, FIRING)} == {(set_tier.stack, set_tier.tier)}
        plan = plan_of(session, "P1")
    stays = [
        next(tier for stack in load.stacks if stack.place == set_tier.stack for tier in stack.tiers
             if tier.number == set_tier.tier)
        for load in (as_loaded, after)
    ]  # fmt: skip
    assert stays[0] == stays[1]
    assert as_loaded.setting(stays[0].setting) == after.setting(stays[0].setting)
    broken = before.pieces_by_lot - as_loaded.pieces_by_lot
    assert sum(broken.values()) == 1
    assert all(after.pieces_by_lot[code] <= before.pieces_by_lot[code] - count for code, count in broken.items())
    assert plan.firing("F1").load == after
    assert {part.lot: part.pieces for part in plan.firing("F1").parts} == dict(after.pieces_by_lot)
    assert lot in before.pieces_by_lot


def test_broken_furniture_leaves_the_stock_and_the_load(client: TestClient, place: Place) -> None:
    """Guards a shelf that broke: the new load does without it, and the records count it as condemned."""
    shelf = load_of(place).stacks[0].tiers[0].shelf
    with place.records.reading() as session:
        before = get_works(session)
    packed(client, from_tier=names(place)[0], broken=shelf, count="1")
    sent(client, f"{PAGE}/keep", PAGE)
    with place.records.reading() as session:
        after = get_works(session)
    sound = [
        next(one for one in works.furniture.shelves if one.code == shelf).sound_pieces for works in (before, after)
    ]
    assert sound[1] == sound[0] - 1


def test_a_tier_set_meanwhile_or_a_load_changed_meanwhile_stops_the_keeping(client: TestClient, place: Place) -> None:
    """Guards two loaders: what one sets while the other plans anew is not packed away under their hands."""
    packed(client, from_tier=names(place)[0])
    before = load_of(place)
    note(place, TickKind.SET, 0)
    answer = sent(client, f"{PAGE}/keep", PAGE)
    assert answer.status_code == 422
    assert "take it back first" in answer.text
    note(place, TickKind.TAKEN_OUT, 0, mark="note-0003")
    note(place, TickKind.BREAKAGE, 0, whole=False, mark="note-0004")
    assert sent(client, f"{PAGE}/keep", PAGE).status_code == 409
    assert load_of(place) == before
    sent(client, f"{PAGE}/throw-away", PAGE)
    assert "Pack anew from tier" in client.get(PAGE).text


@pytest.mark.parametrize("hours", [-30, 30])
def test_no_clock_hides_a_note(client: TestClient, place: Place, hours: int) -> None:
    """Guards clocks that are wrong, of a device or of the server: notes on a tier before it was packed anew speak of
    other places, those after it are shown, whatever moments both bear.
    """
    order = names(place)
    wrong = timedelta(hours=hours)
    note(place, TickKind.BREAKAGE, 1, whole=False, mark="note-0001", at=MADE - wrong)
    assert [one["place"] for one in told(client)["changes"]] != []
    packed(client, from_tier=order[1])
    assert sent(client, f"{PAGE}/keep", PAGE).status_code == 303
    assert told(client)["changes"] == []
    set_back = replace(place, records=replace(place.records, clock=lambda: MADE + wrong))
    for number, at in enumerate((MADE - wrong, MADE + wrong, None)):
        before = told(client)
        noted = note(set_back, TickKind.BREAKAGE, 1, whole=False, mark=f"note-1{number:03}", at=at)
        now = told(client)
        assert now["counted"] > before["counted"]
        assert len(now["changes"]) == number + 1
        assert now["changes"][-1]["tier"] == noted.tier


def test_a_late_note_on_a_tier_that_was_packed_anew_is_refused(client: TestClient, place: Place) -> None:
    """Guards a tablet without network: what it noted of the load before is refused for tiers that are others now, with
    what to do, and kept for those that stay; a load packed anew twice takes no note on the first one.
    """
    order = names(place)
    seen = told(client)["load_version"]
    packed(client, from_tier=order[1])
    assert sent(client, f"{PAGE}/keep", PAGE).status_code == 303
    with pytest.raises(InputFaulty, match="the tier was packed anew since; open the load again"):
        note(place, TickKind.BREAKAGE, 1, whole=False, mark="late-0001", load_version=seen)
    assert told(client)["changes"] == []
    note(place, TickKind.SET, 0, mark="late-0002", load_version=seen)
    note(place, TickKind.SET, 1, mark="now-00001", load_version=told(client)["load_version"])
    assert told(client)["done"] != []
    note(place, TickKind.TAKEN_OUT, 1, mark="now-00002")
    packed(client, from_tier=order[2], broken=load_of(place).stacks[0].tiers[0].shelf, count="1")
    assert sent(client, f"{PAGE}/keep", PAGE).status_code == 303
    with pytest.raises(InputFaulty, match="packed anew since"):
        note(place, TickKind.TAKEN_OUT, 0, mark="late-0003", load_version=seen)


def told(client: TestClient) -> dict[str, Any]:
    """What a device hears of the firing."""
    found: dict[str, Any] = client.get(f"/loader/{FIRING}/state").json()
    return found


def test_only_tiers_that_nobody_set_are_offered(client: TestClient, place: Place) -> None:
    """Guards the form: a tier set and those before it are not offered, and a wrong wish is a finding each."""
    order = names(place)
    note(place, TickKind.SET, 1)
    text = client.get(PAGE).text
    assert f"<option>{order[1]}</option>" not in text
    assert f"<option>{order[2]}</option>" in text
    answer = sent(client, PAGE, PAGE, from_tier=order[0])
    assert answer.status_code == 422
    assert order[2] in answer.text
    answer = sent(client, PAGE, PAGE, from_tier=order[2], broken="CUP0", count="1")
    assert "ware is noted at its place" in answer.text
    shelf = load_of(place).stacks[0].tiers[0].shelf
    answer = sent(client, PAGE, PAGE, from_tier=order[2], broken=shelf, count="999")
    assert answer.status_code == 422
    assert "999" in answer.text or "fewer" in answer.text


def test_a_stopped_packing_still_gives_a_load(
    client: TestClient, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Guards the stop button: the best so far is shown; without anything packed the button leads back to the form."""
    assert sent(client, f"{PAGE}/stop", PAGE).headers["location"] == PAGE
    monkeypatch.setattr(routes_rest, "Budget", lambda **_: Budget(effort=10_000_000))
    assert sent(client, PAGE, PAGE, from_tier=names(place)[0]).status_code == 303
    sent(client, f"{PAGE}/stop", PAGE)
    for line in client.get(f"{PAGE}/told").iter_lines():
        if '"goes_on": false' in line:
            break
    assert "What was packed" in client.get(PAGE).text


def test_a_lit_kiln_has_no_rest(client: TestClient, place: Place) -> None:
    """Guards the kiln that burns: nothing of it is planned anew."""
    with place.records.writing("Lena") as session:
        move_on(session, FIRING, RecordedState.FIRING)
    assert "there is no rest to plan" in client.get(PAGE).text
    assert sent(client, PAGE, PAGE, from_tier="A1").status_code == 422
