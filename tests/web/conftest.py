"""Pages served for real, and a browser that looks at them."""

from __future__ import annotations

import shutil
import threading
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest
import uvicorn
from playwright.sync_api import ViewportSize

from kilnpack.web.app import make_app
from tests.web.small_place import NAMES, PASSWORD, place_in

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, BrowserContext, Page

    from kilnpack.records.states import Role
    from kilnpack.web.place import Place

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
OPTIONS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync",
    "--no-first-run", "--disable-component-update",
)  # fmt: skip
TABLET = ViewportSize(width=1024, height=1366)


@contextmanager
def served(place: Place, port: int = 0) -> Iterator[str]:
    """Serve the pages of a works from a thread and return their address; port 0 takes any that is free."""
    config = uvicorn.Config(
        make_app(place), host="127.0.0.1", port=port, log_level="warning", timeout_graceful_shutdown=2
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive(), "the server did not start"
        time.sleep(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(timeout=20)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A browser without a screen; `run.py test` installs one where none is there."""
    from playwright.sync_api import sync_playwright

    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    assert found, "no browser: python3 run.py test installs one, or install chromium"
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=found, args=list(OPTIONS))
        yield opened
        opened.close()


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works with a plan of two firings."""
    return place_in(tmp_path, with_plan=True)


@pytest.fixture
def address(place: Place) -> Iterator[str]:
    """Where the pages of the works are served."""
    with served(place) as found:
        yield found


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    """A browser of one person, as wide as a tablet."""
    made = browser.new_context(viewport=TABLET)
    made.set_default_timeout(20_000)
    yield made
    made.close()


def enter(context: BrowserContext, address: str, role: Role) -> Page:
    """Sign someone of a role in by the keyboard and return their first page; a fault of a script fails the test."""
    page = context.new_page()
    page.on("pageerror", lambda fault: pytest.fail(f"script: {fault}"))
    page.goto(address)
    page.wait_for_function("document.activeElement?.name === 'name'")
    page.keyboard.type(NAMES[role])
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/{role.value}")
    return page
