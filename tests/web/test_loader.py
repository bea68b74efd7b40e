"""The loader's pages without a screen: lists, a load, notes kept once, the firing moved on, its inspection."""

from __future__ import annotations

import errno
import io
import json
import re
import time
from multiprocessing import Pipe
from threading import Thread
from typing import TYPE_CHECKING

import pypdf
import pytest
from sqlalchemy import select

from kilnpack.records.firings import firing_row, firing_rows, load_fired
from kilnpack.records.states import Grade, LoadKind, RecordedState, Role
from kilnpack.records.tables_firings import InspectionRow
from kilnpack.web.drawn import Drawn
from kilnpack.workflow.drawn_ahead import Ahead, Make, planned_version, serve_requests, versions_of
from tests.web.small_place import client_of, place_in, sent, signed_in, token_of

if TYPE_CHECKING:
    from pathlib import Path

    from fastapi.testclient import TestClient
    from sqlalchemy import URL

    from kilnpack.web.place import Place

FIRING = "P1.F1"
PAGE = f"/loader/{FIRING}"


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works with a plan of two firings."""
    return place_in(tmp_path, with_plan=True)


@pytest.fixture
def client(place: Place) -> TestClient:
    """The loader, signed in."""
    return signed_in(client_of(place), Role.LOADER)


def noted(client: TestClient, *ticks: dict[str, object]) -> tuple[int, dict[str, object]]:
    """Send notes as the page's script does; return status and answer."""
    headers = {"x-form-token": token_of(client, "/loader"), "accept": "application/json"}
    answer = client.post(f"{PAGE}/ticks", json={"ticks": list(ticks)}, headers=headers)
    return answer.status_code, answer.json()


def tick(place: Place, mark: str, what: str = "set", **more: object) -> dict[str, object]:
    """A note on the first place of the first tier."""
    with place.records.reading() as session:
        stack = load_fired(firing_row(session, FIRING)).stacks[0]
    first = stack.tiers[0]
    return {
        "mark": f"mark-0000-{mark}", "what": what, "stack": stack.place, "tier": first.number,
        "place": first.fills[0].place, **more,
    }  # fmt: skip


def test_the_list_shows_every_load_to_set(client: TestClient) -> None:
    """Guards the list: both firings of the plan, the first one first, with kiln and pieces."""
    text = client.get("/loader").text
    assert text.index("P1.F1") < text.index("P1.F2")
    assert "pieces on" in text
    assert "planned" in text


def test_a_load_shows_every_tier_and_place(client: TestClient, place: Place) -> None:
    """Guards the page: every place of the load stands on it once, with what the script knows of it."""
    text = client.get(PAGE).text
    found = re.search(r'id="known">(.*?)</script>', text, re.S)
    assert found
    known = json.loads(found.group(1))
    with place.records.reading() as session:
        load = load_fired(firing_row(session, FIRING))
    wanted = {
        (stack.place, tier.number, fill.place) for stack in load.stacks for tier in stack.tiers for fill in tier.fills
    }
    told = {(*key.split("|"), number) for key, places in known["places"].items() for number in places}
    assert {(stack, int(tier), int(number)) for stack, tier, number in told} == wanted
    assert text.count('class="place"') >= len(wanted)
    pieces = sum(part["n"] for places in known["places"].values() for one in places.values() for part in one["parts"])
    assert pieces == load.pieces


def test_a_note_is_kept_once_however_often_it_is_sent(client: TestClient, place: Place) -> None:
    """Guards a lost network: the same mark again adds nothing, and the firing is being loaded from then on."""
    one = tick(place, "1")
    assert noted(client, one)[1]["new"] == 1
    status, told = noted(client, one, one)
    assert (status, told["new"], told["state"]) == (200, 0, "loading")
    assert told["done"] == [[one["stack"], one["tier"], one["place"]]]
    assert noted(client, tick(place, "2", "taken out"))[1]["done"] == []


def test_what_another_noted_is_told(client: TestClient, place: Place) -> None:
    """Guards two tablets at one kiln: the state names the places and changes that came from elsewhere."""
    noted(client, tick(place, "1"), tick(place, "b", "breakage", pieces=1, note="handle off"))
    other = signed_in(client_of(place), Role.PLANNER)
    told = other.get(f"{PAGE}/state").json()
    assert len(told["done"]) == 1
    assert [(one["what"], one["pieces"], one["note"]) for one in told["changes"]] == [("breakage", 1, "handle off")]


def test_a_breakage_changes_the_load_as_loaded(client: TestClient, place: Place) -> None:
    """Guards the record: one piece fewer stands in the load as loaded than in the one planned."""
    noted(client, tick(place, "b", "breakage", pieces=1))
    with place.records.reading() as session:
        row = firing_row(session, FIRING)
        pieces = {load.kind: load.pieces for load in row.loads}
    assert pieces[LoadKind.AS_LOADED] == pieces[LoadKind.PLANNED] - 1


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"stack": "nowhere"}, 422),
        ({"place": 999}, 422),
        ({"what": "lost"}, 422),
        ({"mark": "x"}, 422),
        ({"tier": 10**30}, 422),
        ({"more": 1}, 422),
        ({"at": "yesterday"}, 422),
    ],
)
def test_a_note_that_cannot_be_is_refused_with_its_reason(
    client: TestClient, place: Place, change: dict[str, object], status: int
) -> None:
    """Guards the door: nothing is kept, and the field is named."""
    found, told = noted(client, {**tick(place, "1"), **change})
    assert found == status
    assert told["findings"]
    assert client.get(f"{PAGE}/state").json()["done"] == []


def test_notes_without_a_session_wait(place: Place) -> None:
    """Guards a session that ended over night: 401 in words a script can show, so that the device keeps its notes."""
    client = client_of(place)
    answer = client.post(
        f"{PAGE}/ticks", json={"ticks": []},
        headers={"x-form-token": token_of(client), "accept": "application/json"},
    )  # fmt: skip
    assert answer.status_code == 401
    assert "kept on this device" in answer.json()["said"]


def step(client: TestClient, state: RecordedState) -> int:
    """Move the firing on as the page's form does."""
    found = re.search(r'id="row-version" value="(\d+)"', client.get(PAGE).text)
    assert found
    return sent(client, f"{PAGE}/step", PAGE, state=state.value, version=found.group(1)).status_code


def test_the_firing_goes_on_and_is_inspected(client: TestClient, place: Place) -> None:
    """Guards the whole way: loaded, lit, out, unloaded, inspected with one scrap piece and the rest first grade."""
    for state in (RecordedState.LOADING, RecordedState.FIRING, RecordedState.COOLING, RecordedState.UNLOADED):
        assert step(client, state) == 303
    assert FIRING in client.get("/inspection").text
    form = client.get(f"/inspection/{FIRING}").text
    key = re.search(r'name="scrap\|([^"]+)"', form)
    version = re.search(r'name="version" value="(\d+)"', form)
    assert key
    assert version
    data = {f"scrap|{key.group(1)}": "1", f"cause|{key.group(1)}": "cracked", "version": version.group(1)}
    assert sent(client, f"/inspection/{FIRING}", f"/inspection/{FIRING}", **data).status_code == 303
    with place.records.reading() as session:
        row = firing_row(session, FIRING)
        assert row.state == RecordedState.INSPECTED
        grades = [(one.grade, one.pieces, one.cause) for one in session.scalars(select(InspectionRow))]
        assert [one for one in grades if one[0] == Grade.SCRAP] == [(Grade.SCRAP, 1, "cracked")]
        assert sum(pieces for _, pieces, _ in grades) == load_fired(row).pieces


@pytest.mark.parametrize("typed", ["-1", "1.5", "many", "99999999999999999999", "1000"])
def test_an_inspection_that_does_not_add_up_is_refused(client: TestClient, typed: str) -> None:
    """Guards the form: the field is named, the firing stays as it was."""
    for state in (RecordedState.LOADING, RecordedState.FIRING, RecordedState.COOLING):
        step(client, state)
    form = client.get(f"/inspection/{FIRING}").text
    key, version = re.search(r'name="scrap\|([^"]+)"', form), re.search(r'name="version" value="(\d+)"', form)
    assert key
    assert version
    data = {f"scrap|{key.group(1)}": typed, "version": version.group(1)}
    answer = sent(client, f"/inspection/{FIRING}", f"/inspection/{FIRING}", **data)
    assert answer.status_code == 422
    assert "scrap" in answer.text
    assert FIRING in client.get("/inspection").text


def test_two_people_do_not_move_one_firing_twice(client: TestClient) -> None:
    """Guards two editors: the second, who saw an older page, is told and nothing is changed."""
    assert sent(client, f"{PAGE}/step", PAGE, state="loading", version="1").status_code == 303
    answer = sent(client, f"{PAGE}/step", PAGE, state="firing", version="1")
    assert answer.status_code == 409
    assert "changed meanwhile by Lena" in answer.text


def test_the_sheet_is_the_printed_one(client: TestClient) -> None:
    """Guards the sheet: a PDF that names the firing and every lot of the load."""
    answer = client.get(f"{PAGE}/sheet.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(answer.content)).pages)
    assert FIRING in text
    assert "CUP0" in text


@pytest.mark.parametrize("path", ["/loader/NONE", "/loader/NONE/sheet.pdf", "/loader/NONE/state", "/inspection/NONE"])
def test_a_firing_that_is_not_there_is_a_finding(client: TestClient, path: str) -> None:
    """Guards wrong codes: 422 with what is there instead."""
    answer = client.get(path)
    assert answer.status_code == 422
    assert "P1.F1" in answer.text


def test_a_load_is_drawn_once_and_anew_when_it_changed(place: Place) -> None:
    """Guards the store of drawings: the same object while nothing changes; the oldest makes room."""
    drawn = Drawn(most=1)
    first = drawn.of(place.records, "P1.F1")
    assert drawn.of(place.records, "P1.F1") is first
    drawn.of(place.records, "P1.F2")
    assert drawn.of(place.records, "P1.F1") is not first


def test_the_script_of_the_page_may_answer_for_the_loader_alone(client: TestClient) -> None:
    """Guards the worker's reach."""
    headers = client.get("/loader/worker.js").headers
    assert headers["service-worker-allowed"] == "/loader"
    assert headers["content-type"].startswith("text/javascript")


def test_who_draws_ahead_ends_quietly_when_nobody_asks_any_more(place: Place) -> None:
    """Guards against a traceback on the screen of whoever killed the pages: their end of the pipe is gone before the
    answer. A disk without room only means that nothing is drawn ahead.
    """
    ours, theirs = Pipe()
    thread = Thread(target=serve_requests, args=(theirs,), daemon=True)
    thread.start()
    ours.send((no_room, place.records.url, FIRING))
    assert ours.recv() is None
    ours.send((drawn_in_a_while, place.records.url, FIRING))
    ours.close()
    thread.join(20)
    assert not thread.is_alive()


def no_room(_url: URL, _code: str) -> Ahead:
    """Find no room."""
    raise OSError(errno.ENOSPC, "No space left on device")


def drawn_in_a_while(_: URL, code: str) -> Ahead:
    """Take so long that nobody waits for it."""
    time.sleep(0.1)
    return Ahead(code=code, version=1, versions=())


class DrawnHere:
    """Draws ahead in a thread of the test, through a pipe like the process does."""

    def __init__(self) -> None:
        self.ours, theirs = Pipe()
        self.thread = Thread(target=serve_requests, args=(theirs,), daemon=True)
        self.thread.start()

    def ask(self, make: Make, url: URL, code: str) -> Ahead | None:
        """Return what was made."""
        self.ours.send((make, url, code))
        found: Ahead | None = self.ours.recv()
        return found

    def end(self) -> None:
        """Close our end."""
        self.ours.close()


def test_loads_are_drawn_and_typeset_before_somebody_looks(place: Place) -> None:
    """Guards the loads drawn ahead: page and sheet come from what was made, a load that is gone stops nobody."""
    with place.records.reading() as session:
        rows = firing_rows(session, states=[RecordedState.PLANNED])
        firings = [(row.code, planned_version(row), versions_of(row)) for row in rows]
    made: list[DrawnHere] = []

    def here() -> DrawnHere:
        made.append(DrawnHere())
        return made[0]

    drawn = Drawn(process=here)
    thread = drawn.ahead(place.records, [("GONE", 1, ()), *firings])
    assert thread is not None
    thread.join(60)
    made[0].thread.join(20)
    assert not made[0].thread.is_alive(), "whoever draws ends with the one who asked"
    with place.records.reading() as session:
        row = firing_row(session, FIRING)
        assert drawn.sheet(session, row) is drawn.sheet(session, row)
        assert drawn.of(place.records, FIRING) is drawn.of(place.records, FIRING)
    again = drawn.ahead(place.records, firings)
    assert again is thread
    drawn.end()
    assert drawn.ahead(place.records, [("NEW", 1, ())]) is thread
