"""The planner in a real browser: upload, plan, lock, move, print; by mouse, by keyboard, two at once, for all eyes."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from kilnpack.records.firings import firing_row, plan_of
from kilnpack.records.standing_plan import plan_heads
from kilnpack.records.states import Role
from kilnpack.records.works_values import get_works
from kilnpack.web import routes_planner_anew
from kilnpack.workflow.standing import BegunFrom
from tests.planning.lanes import lane_plan, last_code
from tests.web.asides import ThreadContext, counted_plan, slow_work
from tests.web.conftest import enter
from tests.web.planned_place import planned_place_in
from tests.web.test_in_a_browser import faults_for_some_eyes

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser, BrowserContext, FilePayload, Page

    from kilnpack.web.place import Place

pytestmark = pytest.mark.browser
PATIENCE_MS = 60_000
HEAD = "code,order,customer,item,quantity_pieces,due\n"
ROWS = "1-1,1,Lantern Inn,MUG,{},2026-03-22\n2-1,2,Lantern Inn,MUG,8,2026-03-03\n"


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works with a plan of twelve firings."""
    return planned_place_in(tmp_path)


@pytest.fixture(autouse=True)
def patient(context: BrowserContext) -> None:
    """Wait as long as a busy machine takes."""
    context.set_default_timeout(PATIENCE_MS)
    expect.set_options(timeout=PATIENCE_MS)


def orders(pieces: str) -> FilePayload:
    """A table of orders as a person chooses it, with so many pieces in its first line."""
    return {"name": "orders.csv", "mimeType": "text/csv", "buffer": (HEAD + ROWS.format(pieces)).encode()}


def start_of(place: Place, code: str | None = None) -> str:
    """When the plan that counts loads a firing."""
    with place.records.reading() as session:
        head = plan_heads(session)[0]
        return plan_of(session, head.code).firing(code or last_code()).load_start.isoformat()


def test_upload_plan_lock_move_print(
    context: BrowserContext, address: str, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Guards the planner's day: a faulty table mended, planned and kept, a firing locked, one moved, all printed."""
    monkeypatch.setattr("kilnpack.workflow.aside.get_context", lambda _: ThreadContext())
    works = [counted_plan, slow_work]

    def begun(session: object, folder: object, anew: object) -> tuple[object, BegunFrom]:
        return works.pop(), BegunFrom(code="P1", version=1)

    monkeypatch.setattr(routes_planner_anew, "planning_work", begun)
    page = enter(context, address, Role.PLANNER)
    page.goto(f"{address}/planner/backlog")
    page.set_input_files("input[type=file]", orders("many"))
    page.get_by_role("button", name="Read and check").click()
    expect(page.locator("td.faulty")).to_contain_text("many")
    expect(page.locator("td.faulty")).to_contain_text("wanted")
    page.set_input_files("input[type=file]", orders("20"))
    page.get_by_role("button", name="Read and check").click()
    expect(page.get_by_role("status")).to_contain_text("1 order line changed: 1-1")
    with place.records.reading() as session:
        assert get_works(session).lines[0].quantity_pieces == 20

    page.get_by_role("link", name="Plan anew").first.click()
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.locator("#told-best")).to_have_text("0 open")
    page.get_by_role("button", name="Stop with the best so far").click()
    page.get_by_role("button", name="Throw it away").click()
    page.get_by_role("button", name="Plan", exact=True).click()
    page.get_by_role("button", name="Keep the new plan").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("P2")

    page.locator(f'.bar[data-firing="{last_code()}"]').click()
    page.get_by_role("button", name=f"Lock {last_code()}").click()
    page.get_by_role("button", name=f"Free {last_code()}").click()
    before = start_of(place)
    page.get_by_role("button", name="1 day later").click()
    expect(page.get_by_role("status")).to_contain_text(f"{last_code()} is loaded")
    assert start_of(place) > before
    with page.expect_download() as waited:
        page.get_by_role("link", name="Workbook").click()
    assert waited.value.suggested_filename == "plan.xlsx"


def test_a_bar_is_drawn_to_another_day_and_to_another_kiln(context: BrowserContext, address: str, place: Place) -> None:
    """Guards the mouse: a bar follows it, stays where rules hold, else goes back with findings."""
    page = enter(context, address, Role.PLANNER)
    before = start_of(place)
    draw(page, last_code(), 24, "K1")
    expect(page.get_by_role("status")).to_contain_text(f"{last_code()} is loaded")
    assert start_of(place) > before
    with place.records.reading() as session:
        assert firing_row(session, f"P1.{last_code()}").kiln == "K1"
    draw(page, "F3", -24, "K1")
    expect(page.locator("#faults")).to_contain_text("not there when it is loaded")
    expect(page.locator('.bar[data-firing="F3"]')).not_to_have_class(re.compile("dragged"))
    assert start_of(place, "F3") == lane_plan().firing("F3").load_start.isoformat()


def draw(page: Page, firing: str, hours: float, kiln: str) -> None:
    """Draw a bar by the mouse, so many hours along and onto the lane of a kiln."""
    one = page.locator(f'.bar[data-firing="{firing}"] .whole').first
    one.scroll_into_view_if_needed()
    lane = page.locator(f'.lane-place[data-kiln="{kiln}"]').first.bounding_box()
    here = one.bounding_box()
    hour = float(page.locator(".board").get_attribute("data-hour") or 0)
    assert here is not None
    assert lane is not None
    x, y = here["x"] + 10, here["y"] + 10
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + hours * hour / 2, y, steps=3)
    page.mouse.move(x + hours * hour, lane["y"] + 30, steps=3)
    page.mouse.up()


def test_a_firing_is_moved_by_the_keyboard_alone(context: BrowserContext, address: str, place: Place) -> None:
    """Guards those who use no pointer: to the bar by Tab, opened by Enter, moved by a button that keeps the focus."""
    page = enter(context, address, Role.PLANNER)
    before = start_of(place)
    page.locator(".time").focus()
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.dataset.firing") == last_code():
            break
    page.keyboard.press("Enter")
    expect(page.locator("#chosen")).to_be_focused()
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.value") == "24":
            break
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text(f"{last_code()} is loaded")
    expect(page.locator('button[name="hours"][value="24"]')).to_be_focused()
    assert start_of(place) > before


def test_two_planners_at_once(browser: Browser, context: BrowserContext, address: str, place: Place) -> None:
    """Guards two planners: the second, on a page that is no longer so, is told by whom it was changed."""
    first = enter(context, address, Role.PLANNER)
    other = browser.new_context()
    other.set_default_timeout(PATIENCE_MS)
    second = enter_as_planner(other, address)
    for page in (first, second):
        page.goto(f"{address}/planner?firing={last_code()}")
    first.get_by_role("button", name="1 day later").click()
    expect(first.get_by_role("status")).to_contain_text(f"{last_code()} is loaded")
    after = start_of(place)
    second.get_by_role("button", name="1 day later").click()
    expect(second.locator("#faults")).to_contain_text("changed meanwhile by Piet")
    assert start_of(place) == after
    other.close()


def enter_as_planner(context: BrowserContext, address: str) -> Page:
    """Sign the owner in, who may plan too, and go to the board."""
    page = context.new_page()
    page.goto(address)
    page.keyboard.type("Olga")
    page.keyboard.press("Tab")
    page.keyboard.type("warm clay and water")
    page.keyboard.press("Enter")
    page.wait_for_url("**/owner")
    return page


def test_the_planners_pages_are_for_all_eyes(context: BrowserContext, address: str) -> None:
    """Guards accessibility: axe-core finds nothing amiss on any of them, and no touch target is smaller than 44 px."""
    page = enter(context, address, Role.PLANNER)
    for path in (f"/planner?firing={last_code()}", "/planner/anew", "/planner/ask", "/planner/backlog"):
        page.goto(address + path)
        assert faults_for_some_eyes(page) == [], path
        small = page.evaluate(
            "[...document.querySelectorAll('main button, main select, main a.button, .bar .whole, .ways a')]"
            ".filter(one => one.getClientRects().length).map(one => one.getBoundingClientRect())"
            ".filter(box => box.width < 43.5 || box.height < 43.5).length"
        )
        assert small == 0, path
    page.set_input_files("input[type=file]", orders("many"))
    page.get_by_role("button", name="Read and check").click()
    expect(page.locator("td.faulty")).to_be_visible()
    assert faults_for_some_eyes(page) == []
