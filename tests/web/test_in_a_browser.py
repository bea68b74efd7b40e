"""The loader in a real browser: a whole load with the network cut and back, two tablets, keyboard only, all eyes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from kilnpack.model.orders import Lot
from kilnpack.records.firings import firing_row, load_fired
from kilnpack.records.lots import set_lot
from kilnpack.records.states import LoadKind, RecordedState, Role
from kilnpack.workflow.at_the_kiln import set_places
from tests.web.conftest import enter, served

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

    from kilnpack.web.place import Place

pytestmark = pytest.mark.browser
FIRING = "P1.F1"


def faults_for_some_eyes(page: Page) -> list[str]:
    """Return what axe-core finds amiss on the page as it is shown."""
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {node['html'][:120]}" for one in found for node in one["nodes"]]


def opened(page: Page) -> Page:
    """Open the first load of the list, and wait until the device keeps it."""
    page.get_by_role("link", name=FIRING, exact=True).click()
    page.wait_for_selector("#load[data-kept]")
    return page


def test_a_whole_load_is_set_with_the_network_cut_and_back(context: BrowserContext, place: Place) -> None:
    """Guards the loader's day: nobody answers after the first tier, the page is even opened anew, nothing is lost."""
    with served(place) as address:
        page = opened(enter(context, address, Role.LOADER))
        with place.records.reading() as session:
            load = load_fired(firing_row(session, FIRING))
        tiers = [tier for stack in load.stacks for tier in stack.tiers]
        places = sum(len({fill.place for fill in tier.fills}) for tier in tiers)
        page.click("[data-go=next]")
        page.click(".tier:not([hidden]) [data-all]")
        expect(page.locator("#net")).to_have_text("All notes are kept.")
    for _ in tiers[1:]:
        page.click("[data-go=next]")
        page.click(".tier:not([hidden]) [data-all]")
    page.reload()
    expect(page.locator("#count")).to_have_text(f"{places} of {places} places set")
    expect(page.locator("#net")).to_contain_text("wait to be sent")
    with place.records.reading() as session:
        assert 0 < len(set_places(session, FIRING)) < places
    with served(place, int(address.rpartition(":")[2])):
        expect(page.locator("#net")).to_have_text("All notes are kept.", timeout=20_000)
        with place.records.reading() as session:
            assert len(set_places(session, FIRING)) == places
        page.select_option("#goto", "end")
        expect(page.locator("#missing")).to_have_text("Every place is set.")
        page.get_by_role("button", name="The kiln is lit").click()
        page.wait_for_url("**/loader")
    with place.records.reading() as session:
        assert firing_row(session, FIRING).state == RecordedState.FIRING


def test_a_tap_on_the_drawing_tells_of_the_piece_and_a_breakage_is_kept(
    context: BrowserContext, address: str, place: Place
) -> None:
    """Guards the drawing: a tap on a number opens that place; what broke is missing from the load as loaded."""
    page = opened(enter(context, address, Role.LOADER))
    page.click("[data-go=next]")
    number = page.locator(".tier:not([hidden]) .top text.place").first
    number.click()
    expect(page.locator("#piece-name")).to_contain_text(f"place {number.text_content()}")
    page.fill("#piece-note", "slipped")
    page.click("#piece-broke")
    expect(page.locator("#net")).to_have_text("All notes are kept.")
    with place.records.reading() as session:
        pieces = {load.kind: load.pieces for load in firing_row(session, FIRING).loads}
    assert pieces[LoadKind.AS_LOADED] == pieces[LoadKind.PLANNED] - 1
    page.select_option("#goto", "end")
    expect(page.locator("#changes")).to_contain_text("1 broke")
    expect(page.locator("#changes")).to_contain_text("slipped")


def test_other_ware_goes_in_by_a_tap(context: BrowserContext, address: str, place: Place) -> None:
    """Guards the swap for another kind of piece: offered in the place's window, kept, and shown on its button."""
    with place.records.writing("import") as session:
        spare = Lot(code="SPARE", product="SAUCER", step=0, pieces=5)
        set_lot(session, None, spare, position=99, what="taken in")
    page = opened(enter(context, address, Role.LOADER))
    step = page.locator("section.tier:has(button.place:has-text('PLATE'))").first
    page.select_option("#goto", step.get_attribute("id"))
    button = page.locator(".tier:not([hidden]) button.place:has-text('PLATE')")
    button.click()
    page.select_option("#piece-other", "SPARE")
    assert faults_for_some_eyes(page) == []
    page.click("#piece-swap")
    expect(button).to_contain_text("SAUCER (not PLATE)")
    expect(page.locator("#net")).to_have_text("All notes are kept.")
    with place.records.reading() as session:
        assert load_fired(firing_row(session, FIRING)).pieces_by_lot["SPARE"] == 1
    button.click()
    expect(page.locator("#piece-noted")).to_contain_text("SAUCER, lot SPARE in place of PLATE")


def test_two_tablets_at_one_kiln_see_each_others_ticks(context: BrowserContext, address: str, place: Place) -> None:
    """Guards two loaders: what one sets shows on the other's page when it looks again."""
    first = opened(enter(context, address, Role.LOADER))
    second = context.new_page()
    second.goto(first.url)
    first.click("[data-go=next]")
    first.click(".tier:not([hidden]) [data-all]")
    expect(first.locator("#net")).to_have_text("All notes are kept.")
    second.reload()
    assert second.locator("#count").text_content() == first.locator("#count").text_content()


def test_a_place_is_set_by_the_keyboard_alone(context: BrowserContext, address: str, place: Place) -> None:
    """Guards those who use no pointer: next tier, first place, it stands, all by Tab, Enter and Escape."""
    page = opened(enter(context, address, Role.LOADER))
    page.locator("[data-go=next]").focus()
    page.keyboard.press("Enter")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.classList.contains('place')"):
            break
    page.keyboard.press("Enter")
    expect(page.locator("#piece")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#piece")).to_be_hidden()
    page.keyboard.press("Enter")
    page.locator("#piece-set").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#net")).to_have_text("All notes are kept.")
    with place.records.reading() as session:
        assert len(set_places(session, FIRING)) == 1


@pytest.mark.parametrize("path", ["/loader", f"/loader/{FIRING}", f"/loader/{FIRING}#s1", f"/loader/{FIRING}#end"])
def test_the_loaders_pages_are_for_all_eyes(context: BrowserContext, address: str, path: str) -> None:
    """Guards accessibility: axe-core finds nothing amiss, and no touch target is smaller than 44 px."""
    page = enter(context, address, Role.LOADER)
    page.goto(address + path)
    assert faults_for_some_eyes(page) == []
    small = page.evaluate(
        "[...document.querySelectorAll('main button, main select')].filter(one => one.offsetParent)"
        ".map(one => one.getBoundingClientRect()).filter(box => box.width < 44 || box.height < 44).length"
    )
    assert small == 0
