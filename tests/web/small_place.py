"""A works in a folder of its own with records and a plan, for pages to stand on."""

from __future__ import annotations

import re
from datetime import timedelta
from functools import cache
from typing import TYPE_CHECKING

from fastapi.testclient import TestClient

from kilnpack.records.address import records_url
from kilnpack.records.firings import keep_plan
from kilnpack.records.people import add_person
from kilnpack.records.states import Role
from kilnpack.records.store import init_records
from kilnpack.records.works_values import put_works
from kilnpack.web.app import make_app
from kilnpack.web.passwords import hashed
from kilnpack.web.place import Place
from tests.records.small import MADE, small_plan
from tests.rules.small_audit import small_works

if TYPE_CHECKING:
    from pathlib import Path

    import httpx2 as httpx

PASSWORD = "warm clay and water"
NAMES = {Role.LOADER: "Lena", Role.PLANNER: "Piet", Role.OWNER: "Olga"}


@cache
def kept_password() -> str:
    """The password of everybody, hashed once: hashing is slow on purpose."""
    return hashed(PASSWORD)


def place_in(folder: Path, *, with_plan: bool = False) -> Place:
    """Return a place whose records know a loader, a planner and an owner, and a plan where it is asked for."""
    records = init_records(records_url(folder), clock=lambda: MADE + timedelta(hours=1))
    with records.writing("set-up") as session:
        for role, name in NAMES.items():
            add_person(session, name, role, kept_password())
        if with_plan:
            put_works(session, small_works())
            keep_plan(session, small_plan())
    return Place(folder=folder, records=records, keeping=folder / "records")


def client_of(place: Place) -> TestClient:
    """Return a browser without a screen that follows no redirect."""
    return TestClient(make_app(place), follow_redirects=False, base_url="http://testserver")


def token_of(client: TestClient, path: str = "/sign-in") -> str:
    """Return the token of a page's forms."""
    found = re.search(r'name="form-token" content="([^"]+)"', client.get(path).text)
    assert found
    return found.group(1)


def signed_in(client: TestClient, role: Role) -> TestClient:
    """Sign someone of a role in."""
    answer = client.post("/sign-in", data={"name": NAMES[role], "password": PASSWORD, "form_token": token_of(client)})
    assert answer.status_code == 303, answer.text
    return client


def sent(client: TestClient, path: str, at: str, **data: str) -> httpx.Response:
    """Send a form with the token of the page it stands on."""
    return client.post(path, data={**data, "form_token": token_of(client, at)})
