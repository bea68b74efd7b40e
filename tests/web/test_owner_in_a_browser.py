"""The owner and the rest of a load in a real browser: report, a reading of the meter, a re-solve, all eyes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from kilnpack.records.firings import firing_row, loads_of
from kilnpack.records.measured import measured_of
from kilnpack.records.states import LoadKind, Role
from kilnpack.search.budget import Budget
from kilnpack.web import routes_rest
from tests.web.asides import ThreadContext
from tests.web.conftest import enter, served
from tests.web.heated_place import FIRING, fire, heated_place_in, lose_one
from tests.web.small_place import NAMES
from tests.web.test_in_a_browser import faults_for_some_eyes

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import BrowserContext

    from kilnpack.web.place import Place

pytestmark = pytest.mark.browser
SOON_MS = 60_000


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works whose heat can be reckoned."""
    return heated_place_in(tmp_path)


@pytest.fixture
def address(place: Place, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Where the pages are served; work aside goes on in a thread and by effort."""
    monkeypatch.setattr("kilnpack.workflow.aside.get_context", lambda _: ThreadContext())
    monkeypatch.setattr(routes_rest, "Budget", lambda **_: Budget(effort=30))
    with served(place) as found:
        yield found


def test_the_owner_gets_figures_and_report(context: BrowserContext, address: str, place: Place) -> None:
    """Guards the owner's visit: figures come by themselves, charts show, the table turns, the report is a PDF."""
    fire(place)
    lose_one(place)
    page = enter(context, address, Role.OWNER)
    expect(page.get_by_role("heading", name="Where the money goes")).to_be_visible(timeout=SOON_MS)
    for chart in page.locator(".chart img").all():
        chart.scroll_into_view_if_needed()
        expect(chart).to_have_js_property("complete", True)
        assert chart.evaluate("one => one.naturalWidth") > 0
    page.get_by_role("link", name="by code").click()
    expect(page.get_by_role("link", name="by code")).to_have_attribute("aria-current", "true")
    with page.expect_download() as got:
        page.get_by_role("link", name="Report to print").click()
    assert got.value.path().read_bytes().startswith(b"%PDF")
    assert faults_for_some_eyes(page) == []


def test_a_reading_of_the_meter_is_typed_and_kept(context: BrowserContext, address: str, place: Place) -> None:
    """Guards the form: a faulty cell is told on the page with what was typed still there, then mended and kept."""
    fire(place)
    page = enter(context, address, Role.LOADER)
    page.goto(f"{address}/readings/{FIRING}")
    assert faults_for_some_eyes(page) == []
    field = page.locator('[name="meter|metered_kwh|1"]')
    field.fill("much")
    page.get_by_role("button", name="Keep the readings").click()
    expect(page.locator("#faults")).to_contain_text("metered_kwh")
    expect(field).to_have_value("much")
    with place.records.reading() as session:
        assert measured_of(session).meter == ()


def test_the_rest_is_planned_anew_and_another_tablet_follows(
    context: BrowserContext, address: str, place: Place
) -> None:
    """Guards the re-solve at the kiln: a tier set, a piece broken, the rest packed, kept, and seen by a second page."""
    page = enter(context, address, Role.LOADER)
    page.get_by_role("link", name=FIRING, exact=True).click()
    page.wait_for_selector("#load[data-kept]")
    page.click("[data-go=next]")
    page.click(".tier:not([hidden]) [data-all]")
    expect(page.locator("#net")).to_have_text("All notes are kept.")
    page.click("[data-go=next]")
    page.locator(".tier:not([hidden]) .place").first.click()
    page.click("#piece-broke")
    expect(page.locator("#net")).to_have_text("All notes are kept.")
    other = context.new_page()
    other.goto(f"{address}/rest/{FIRING}")
    assert faults_for_some_eyes(other) == []
    other.get_by_role("button", name="Plan the rest anew").click()
    expect(other.get_by_role("heading", name="What was packed")).to_be_visible(timeout=SOON_MS)
    assert faults_for_some_eyes(other) == []
    with place.records.reading() as session:
        before = {one.kind: one.version for one in firing_row(session, FIRING).loads}[LoadKind.PLANNED]
    other.get_by_role("button", name="Keep it").click()
    other.wait_for_url(f"**/loader/{FIRING}*")
    with place.records.reading() as session:
        row = firing_row(session, FIRING)
        after = {one.kind: one.version for one in row.loads}[LoadKind.PLANNED]
        assert loads_of(row)[LoadKind.PLANNED].changed
    assert after > before
    expect(page.locator("#load")).to_have_attribute("data-version", str(after), timeout=SOON_MS)


@pytest.mark.parametrize("path", ["/people", "/inspection", f"/inspection/{FIRING}", "/readings", "/owner"])
def test_the_owners_pages_are_for_all_eyes(context: BrowserContext, address: str, place: Place, path: str) -> None:
    """Guards accessibility: axe-core finds nothing amiss on the pages that only lists and forms stand on."""
    fire(place)
    page = enter(context, address, Role.OWNER)
    page.goto(address + path)
    if path == "/owner":  # loads itself anew once the figures are there
        expect(page.get_by_role("heading", name="Where the money goes")).to_be_visible(timeout=SOON_MS)
    assert faults_for_some_eyes(page) == []


def test_the_sign_in_is_for_all_eyes(context: BrowserContext, address: str) -> None:
    """Guards the first page anybody sees, also after a wrong password."""
    page = context.new_page()
    page.goto(f"{address}/sign-in")
    assert faults_for_some_eyes(page) == []
    page.fill("[name=name]", NAMES[Role.OWNER])
    page.fill("[name=password]", "wrong")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_be_visible()
    assert faults_for_some_eyes(page) == []
