"""The planner's pages without a screen: board, moves and locks, planning anew, questions, backlog, what is printed."""

from __future__ import annotations

import io
import re
import time
import zipfile
from typing import TYPE_CHECKING

import icalendar
import openpyxl
import pypdf
import pytest

from kilnpack.records.firings import firing_row, keep_plan, plan_of
from kilnpack.records.standing_plan import newest_plan, plan_heads
from kilnpack.records.states import RecordedState, Role
from kilnpack.records.works_values import get_works
from kilnpack.search.budget import Budget
from kilnpack.web import routes_planner_anew
from kilnpack.workflow.board import board_of
from kilnpack.workflow.standing import BegunFrom
from tests.planning.lanes import lane_plan, lane_works, last_code
from tests.web.asides import ThreadContext, counted_plan, faulty_work, slow_work
from tests.web.planned_place import planned_place_in
from tests.web.small_place import client_of, sent, signed_in

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import httpx2 as httpx
    from fastapi.testclient import TestClient

    from kilnpack.web.place import Place

BOARD = "/planner"


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works with a plan of twelve firings."""
    return planned_place_in(tmp_path)


@pytest.fixture(autouse=True)
def here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let work aside go on in a thread."""
    monkeypatch.setattr("kilnpack.workflow.aside.get_context", lambda _: ThreadContext())


@pytest.fixture
def client(place: Place) -> Iterator[TestClient]:
    """The planner, signed in; what goes on aside ends with the test."""
    with client_of(place) as found:
        yield signed_in(found, Role.PLANNER)


def words(text: str) -> str:
    """The words of a page."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


def moved(client: TestClient, version: int = 1, **more: str) -> httpx.Response:
    """Press a button that moves the last firing of K2."""
    data = {"plan": "P1", "version": str(version), "firing": last_code(), "hours": "24", **more}
    return sent(client, "/planner/move", BOARD, **data)


def locked(client: TestClient, code: str, version: int, lock: str) -> httpx.Response:
    """Press the button that locks or frees a firing."""
    data = {"code": f"P1.{code}", "firing": code, "version": str(version), "lock": lock}
    return sent(client, "/planner/lock", BOARD, **data)


def start_of(place: Place, code: str | None = None) -> str:
    """When the plan that counts loads a firing."""
    with place.records.reading() as session:
        row = newest_plan(session)
        assert row is not None
        return plan_of(session, row.code).firing(code or last_code()).load_start.isoformat()


def test_the_board_shows_every_firing_on_its_lanes(client: TestClient) -> None:
    """Guards the board: kilns and cars are lanes, a load on a car stands on both, the late line has its reason."""
    text = client.get(BOARD).text
    for firing in lane_plan().firings:
        assert text.count(f'data-firing="{firing.code}"') == (2 if firing.car else 1)
    assert re.findall(r'class="lane(?: car)?">([^<]*)', text) == ["K1", "K2", "W", "car W-1", "car W-2"]
    told = words(text)
    assert "2-1" in told
    assert "too late when ordered" in told
    assert "what would save it" in told
    assert "Firings, and how few there can be" in told


def test_bars_lie_as_long_as_they_last() -> None:
    """Guards the drawing: bars of a lane do not overlap, and days are as wide as their hours."""
    board = board_of(lane_works(), lane_plan(), {})
    assert board.begins_px == 0.0
    for lane in board.lanes:
        for one, other in zip(lane.bars, lane.bars[1:], strict=False):
            assert one.x_px + one.wide_px <= other.x_px + 0.2
    assert {round(day.wide_px / board.hour_px) for day in board.days} == {24}
    assert [day.words[:3] for day in board.days if day.free][:2] == ["Sat", "Sun"]


def test_the_planners_pages_are_not_for_loaders(place: Place) -> None:
    """Guards roles: a loader is refused, an owner let in."""
    paths = (BOARD, "/planner/firing/F1", "/planner/anew", "/planner/ask", "/planner/backlog")
    for role, status in ((Role.LOADER, 403), (Role.OWNER, 200)):
        with client_of(place) as client:
            signed_in(client, role)
            assert {path: client.get(path).status_code for path in paths} == dict.fromkeys(paths, status)


def test_without_a_plan_the_pages_say_so(tmp_path: Path) -> None:
    """Guards the first day: no plan yet is said on the board, the form to plan is there, nothing is printed."""
    with client_of(planned_place_in(tmp_path, with_plan=False)) as client:
        signed_in(client, Role.PLANNER)
        assert "No plan was kept yet" in client.get(BOARD).text
        assert client.get("/planner/anew").status_code == 200
        assert "Fewer than two plans" in client.get("/planner/ask").text
        assert client.get("/planner/print/plan.ics").status_code == 422
        assert '"state": "none"' in client.get("/planner/anew/told").text
        assert sent(client, "/planner/ask/fill", "/planner/ask", firing="F1").status_code == 422
        assert moved(client).status_code == 422


def test_a_firing_is_shown_with_its_ware_and_buttons(client: TestClient) -> None:
    """Guards the panel: ware, moments, the other kiln that fires the programme; an unknown firing shows none."""
    part = client.get(f"/planner/firing/{last_code()}").text
    assert "Into K1" in part
    assert "1 day later" in part
    assert "1-1@2" in part
    assert "No firing is chosen" in client.get("/planner/firing/F99").text
    assert words(part).strip() in words(client.get(f"{BOARD}?firing={last_code()}").text)


def test_a_move_that_holds_is_kept_as_a_new_version(client: TestClient, place: Place) -> None:
    """Guards the move: the plan and the firing's row have the new time, and the page says what it means."""
    before = start_of(place)
    answer = moved(client)
    assert answer.headers["location"] == f"/planner?firing={last_code()}&zoom=weeks"
    after = start_of(place)
    assert after > before
    with place.records.reading() as session:
        row = firing_row(session, f"P1.{last_code()}")
        assert row.plan_load_start is not None
        assert row.plan_load_start.isoformat()[:16] == after[:16]
        assert plan_heads(session)[0].version == 2
    told = words(client.get(answer.headers["location"]).text)
    assert f"{last_code()} is loaded" in told
    assert "line 1-1: done" in told
    assert f"{last_code()} moved by hand" in told


def test_a_move_that_breaks_a_rule_is_said_and_not_kept(client: TestClient, place: Place) -> None:
    """Guards the rules: the first firing an hour later is in the way of others; each finding stands on the page."""
    before = start_of(place, "F1")
    answer = moved(client, firing="F1", hours="1")
    assert answer.status_code == 422
    assert "not there when it is loaded" in answer.text
    assert start_of(place, "F1") == before
    headers = {"hx-request": "true"}
    token = {"form_token": re.findall(r'name="form-token" content="([^"]+)"', client.get(BOARD).text)[0]}
    data = {"plan": "P1", "version": "1", "firing": "F1", "hours": "1", **token}
    part = client.post("/planner/move", data=data, headers=headers)
    assert part.status_code == 422
    assert "<html" not in part.text
    good = client.post("/planner/move", data=data | {"firing": last_code(), "hours": "24"}, headers=headers)
    assert (good.status_code, good.headers["hx-redirect"]) == (204, f"/planner?firing={last_code()}&zoom=weeks")


def test_a_firing_goes_into_another_kiln_with_its_load(client: TestClient, place: Place) -> None:
    """Guards the other kiln: plan, row and load name it."""
    assert moved(client, kiln="K1").status_code == 303, moved(client, kiln="K1").text
    with place.records.reading() as session:
        row = firing_row(session, f"P1.{last_code()}")
        assert (row.kiln, row.loads[0].value["kiln"]) == ("K1", "K1")
        assert plan_of(session, "P1").firing(last_code()).kiln == "K1"


def test_the_second_planner_is_told(client: TestClient, place: Place) -> None:
    """Guards two planners: who moves on a page that is no longer so is told by whom it was changed."""
    with client_of(place) as other:
        signed_in(other, Role.OWNER)
        assert moved(client).status_code == 303
        answer = moved(other, hours="48")
    assert answer.status_code == 409
    assert "changed meanwhile by Piet" in answer.text
    with place.records.writing("Olga") as session:
        keep_plan(session, lane_plan())
    answer = moved(client, version=2)
    assert answer.status_code == 409
    assert "P2 was kept" in answer.text


def test_a_locked_firing_is_not_moved_until_it_is_free(client: TestClient, place: Place) -> None:
    """Guards locks: locked, it refuses to move; freed, it moves; what is begun can be neither."""
    assert locked(client, last_code(), 1, "true").status_code == 303
    assert "Free " + last_code() in client.get(f"{BOARD}?firing={last_code()}").text
    answer = moved(client)
    assert answer.status_code == 422
    assert "locked" in answer.text
    assert locked(client, last_code(), 1, "false").status_code == 409
    assert locked(client, last_code(), 2, "false").status_code == 303
    assert moved(client).status_code == 303
    with place.records.writing("Lena") as session:
        row = firing_row(session, "P1.F1")
        row.state = RecordedState.LOADING.value
    assert locked(client, "F1", 2, "true").status_code == 422
    refused = moved(client, version=2, firing="F1")
    assert refused.status_code == 422
    assert "neither locked nor begun" in refused.text


def test_a_field_that_cannot_be_is_a_finding(client: TestClient) -> None:
    """Guards the form: whatever stands in a field, the answer is a finding, never a fault of the program."""
    for field, value in (
        ("hours", "soon"), ("hours", "1e9"), ("version", "x"), ("kiln", "nowhere"), ("firing", "F99"), ("plan", "P9"),
    ):  # fmt: skip
        data = {"plan": "P1", "version": "1", "firing": last_code(), "hours": "24"} | {field: value}
        answer = sent(client, "/planner/move", BOARD, **data)
        assert answer.status_code == (409 if field == "plan" else 422), (field, value)


def test_what_is_printed_can_be_opened(client: TestClient) -> None:
    """Guards the prints: workbook, calendar, table, work list and a loading sheet for every firing."""
    book = openpyxl.load_workbook(io.BytesIO(client.get("/planner/print/plan.xlsx").content))
    assert book.sheetnames
    events = icalendar.Calendar.from_ical(client.get("/planner/print/plan.ics").content).walk("VEVENT")
    assert len(events) == 3 * len(lane_plan().firings)
    assert "1-1" in client.get("/planner/print/order-lines.csv").text
    assert len(pypdf.PdfReader(io.BytesIO(client.get("/planner/print/work-list.pdf").content)).pages) >= 1
    assert client.get("/planner/print/passwords").status_code == 422


def test_all_loading_sheets_come_at_once(tmp_path: Path) -> None:
    """Guards the sheets: one PDF for every firing of the plan, drawn from its own load."""
    from tests.records.small import small_plan
    from tests.web.small_place import place_in

    with client_of(place_in(tmp_path, with_plan=True)) as client:
        answer = signed_in(client, Role.PLANNER).get("/planner/print/loading-sheets.zip")
    archive = zipfile.ZipFile(io.BytesIO(answer.content))
    assert len(archive.namelist()) == len(small_plan().firings)
    for name in archive.namelist():
        assert "CUP" in "".join(page.extract_text() for page in pypdf.PdfReader(archive.open(name)).pages)


def until_over(client: TestClient, path: str) -> str:
    """Listen until the work aside is over; return what was told."""
    with client.stream("GET", f"{path}/told") as stream:
        return "".join(stream.iter_text())


def plans_aside(monkeypatch: pytest.MonkeyPatch, work: object) -> list[object]:
    """Let another work than real planning go on aside; returns what was asked for."""
    asked: list[object] = []

    def begun(session: object, folder: object, anew: object) -> tuple[object, BegunFrom]:
        asked.append(anew)
        return work, BegunFrom(code="P1", version=1)

    monkeypatch.setattr(routes_planner_anew, "planning_work", begun)
    return asked


def test_a_plan_made_aside_is_kept(client: TestClient, place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards planning anew: begun, heard of, shown beside the plan that counts, kept, and then it counts."""
    asked = plans_aside(monkeypatch, counted_plan)
    answer = sent(
        client, "/planner/anew", "/planner/anew", seconds="5", keep_locked="yes", urgent="2-1", kiln="K1",
        start="2026-03-04T07:00", end="2026-03-05T07:00",
    )  # fmt: skip
    assert answer.status_code == 303
    assert [(row.seconds, row.keep_locked, row.urgent, row.downs) for row in asked] == [  # type: ignore[attr-defined]
        (5.0, True, ("2-1",), (("K1", "2026-03-04T07:00", "2026-03-05T07:00"),))
    ]
    assert '"state": "done"' in until_over(client, "/planner/anew")
    told = words(client.get("/planner/anew").text)
    assert "The new plan" in told
    assert "Keep the new plan" in told
    assert sent(client, "/planner/anew/keep", "/planner/anew").headers["location"] == "/planner"
    assert "P2 counts now" in client.get(BOARD).text
    assert sent(client, "/planner/anew/keep", "/planner/anew").status_code == 422
    told = words(client.get("/planner/ask?before=P1&after=P2").text)
    assert "firings stay as they are" in told


def test_a_plan_is_not_kept_over_a_newer_one(
    client: TestClient, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:  # fmt: skip
    """Guards two planners: what was made from a plan that changed since is not kept; it can be thrown away."""
    plans_aside(monkeypatch, counted_plan)
    assert sent(client, "/planner/anew", "/planner/anew", seconds="5").status_code == 303
    until_over(client, "/planner/anew")
    assert moved(client).status_code == 303
    assert sent(client, "/planner/anew/keep", "/planner/anew").status_code == 409
    assert sent(client, "/planner/anew/throw-away", "/planner/anew").status_code == 303
    assert "Seconds to search" in client.get("/planner/anew").text


def test_planning_is_stopped_with_the_best_so_far(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the stop button, and that a second planning is refused while one goes on."""
    plans_aside(monkeypatch, slow_work)
    assert sent(client, "/planner/anew", "/planner/anew", seconds="5").status_code == 303
    refused = sent(client, "/planner/anew", "/planner/anew", seconds="5")
    assert refused.status_code == 422
    assert "begun by Piet" in refused.text
    assert "Stop with the best so far" in client.get("/planner/anew").text
    aside = client.app.state.asides.of("plan")  # type: ignore[attr-defined]
    waited = time.monotonic()
    while aside.told.progress is None and time.monotonic() - waited < 120:
        time.sleep(0.05)
    assert aside.told.progress.said == "0 open"
    assert sent(client, "/planner/anew/stop", "/planner/anew").status_code == 303
    told = until_over(client, "/planner/anew")
    assert '"state": "done"' in told
    assert aside.told.answer == lane_plan()


def test_planning_that_fails_says_why(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards faults aside: findings of the other process stand on the page, and the form is there again."""
    plans_aside(monkeypatch, faulty_work)
    sent(client, "/planner/anew", "/planner/anew", seconds="5")
    assert '"state": "failed"' in until_over(client, "/planner/anew")
    told = client.get("/planner/anew").text
    assert "F1 (locked)" in told
    assert "Seconds to search" in told


def test_a_wish_that_cannot_be_is_a_finding(client: TestClient) -> None:
    """Guards the form: an unknown kiln, an end before its start and an unknown line are told at once."""
    answer = sent(
        client, "/planner/anew", "/planner/anew", seconds="5", kiln="K9", start="2026-03-05T07:00",
        end="2026-03-04T07:00", urgent="9-9",
    )  # fmt: skip
    assert answer.status_code == 422
    assert all(found in answer.text for found in ("K9", "9-9", "an end after the start"))
    assert sent(client, "/planner/anew", "/planner/anew", seconds="1e9").status_code == 422


def test_a_question_is_answered_aside(client: TestClient, place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the questions: a date and what would fill a load are found by the real search and shown."""
    monkeypatch.setattr("kilnpack.workflow.standing.Budget", lambda **_: Budget(effort=2))
    path = "/planner/ask"
    assert sent(client, f"{path}/promise", path, item="JUG", quantity="4").status_code == 303
    until_over(client, path)
    assert "a product or set of the works" in client.get(path).text
    assert sent(client, f"{path}/forget", path).status_code == 303
    assert sent(client, f"{path}/fill", path, firing="F99").status_code == 422
    assert sent(client, f"{path}/fill", path, firing=last_code()).status_code == 303
    assert '"state": "done"' in until_over(client, path)
    told = words(client.get(path).text)
    assert "more pieces are ready when" in told
    assert sent(client, f"{path}/stop", path).status_code == 303


def test_the_backlog_shows_lines_lots_and_shelves(client: TestClient) -> None:
    """Guards the backlog: every line with when the plan has it done, every lot with what it waits for."""
    told = words(client.get("/planner/backlog").text)
    assert "2 days: too late when ordered" in told
    assert "How many shelves full are waiting" in told


def upload(client: TestClient, name: str, content: bytes, **data: str) -> httpx.Response:
    """Send one file."""
    token = re.findall(r'name="form-token" content="([^"]+)"', client.get("/planner/backlog").text)[0]
    files = {"files": (name, content)}
    return client.post("/planner/backlog", data={"form_token": token, **data}, files=files)


def test_a_file_that_is_sent_is_checked_cell_by_cell_then_taken_in(client: TestClient, place: Place) -> None:
    """Guards the upload: the faulty cell is marked with what is wanted; mended, the lines are there."""
    head = "code,order,customer,item,quantity_pieces,due\n"
    rows = "1-1,1,Lantern Inn,MUG,{},2026-03-22\n2-1,2,Lantern Inn,MUG,8,2026-03-03\n"
    answer = upload(client, "orders.csv", (head + rows.format("=1+1")).encode())
    assert answer.status_code == 422
    assert 'class="faulty">=1+1' in answer.text
    with place.records.reading() as session:
        assert get_works(session).lines[0].quantity_pieces == 16
    answer = upload(client, "orders.csv", (head + rows.format("20")).encode(), files_win="yes")
    assert answer.status_code == 303
    assert "1 order line changed: 1-1" in client.get("/planner/backlog").text
    with place.records.reading() as session:
        assert get_works(session).lines[0].quantity_pieces == 20
    assert "a file that ends in .csv or .xlsx" in upload(client, "<b>.exe", b"MZ").text


def test_an_upload_needs_the_token_of_its_form(client: TestClient) -> None:
    """Guards against foreign forms: without the token nothing is read."""
    assert client.post("/planner/backlog", files={"files": ("orders.csv", b"code\n")}).status_code == 403
