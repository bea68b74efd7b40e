"""Readings typed at a page: kept where all is in order, else every cell is told; two editors."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from kilnpack.records.firings import move_on
from kilnpack.records.measured import measured_of
from kilnpack.records.states import RecordedState, Role
from tests.web.heated_place import fire
from tests.web.planned_place import planned_place_in
from tests.web.small_place import client_of, sent, signed_in

if TYPE_CHECKING:
    from pathlib import Path

    import httpx2 as httpx
    from fastapi.testclient import TestClient

    from kilnpack.web.place import Place

FIRING, UNLIT = "P1.F1", "P1.F2"
PAGE = f"/readings/{FIRING}"


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works with a firing whose fire is out."""
    found = planned_place_in(tmp_path)
    fire(found, code=FIRING)
    return found


@pytest.fixture
def client(place: Place) -> TestClient:
    """The loader, signed in."""
    return signed_in(client_of(place), Role.LOADER)


def version(client: TestClient) -> str:
    """The version of the firing that the form carries."""
    found = re.search(r'name="version" value="(\d+)"', client.get(PAGE).text)
    assert found
    return found.group(1)


def typed(client: TestClient, **fields: str) -> httpx.Response:
    """Send the form; fields are named table__heading__row here."""
    data = {name.replace("__", "|"): value for name, value in fields.items()}
    return sent(client, PAGE, PAGE, **{"version": version(client), **data})


def test_readings_of_all_three_are_kept_and_shown(client: TestClient, place: Place) -> None:
    """Guards the form: meter, a cone and two temperatures are in the records, in the list, and in the form again."""
    answer = typed(
        client, meter__metered_kwh__1="118.5", cones__x_mm__1="200", cones__y_mm__1="200", cones__z_mm__1="120",
        cones__cone__1="012", cones__state__1="down", cooling__after_h__1="2", cooling__chamber_degc__1="640",
        cooling__after_h__3="6", cooling__chamber_degc__3="310",
    )  # fmt: skip
    assert answer.status_code == 303, answer.text
    with place.records.reading() as session:
        kept = measured_of(session, FIRING)
    assert kept.meter[0].metered_kwh == 118.5
    assert kept.meter[0].ware_kg > 0.0
    assert [one.cone for one in kept.cones] == ["012"]
    assert [one.chamber_degc for one in kept.coolings] == [640.0, 310.0]
    assert "118.5 kWh" in client.get("/readings").text
    assert 'value="118.5"' in client.get(PAGE).text


def test_every_cell_that_cannot_be_is_told_and_nothing_is_kept(client: TestClient, place: Place) -> None:
    """Guards against half a form: faults of all three tables come at once, by table, row and heading."""
    answer = typed(
        client, meter__metered_kwh__1="-4", cones__x_mm__2="left", cones__y_mm__2="200",
        cooling__after_h__1="2", cooling__chamber_degc__1="hot",
    )  # fmt: skip
    assert answer.status_code == 422
    rows = re.findall(r"<tr><td>(\w+)</td><td>(\d+)</td><td>(\w+)</td>", answer.text)
    assert {("meter", "1", "metered_kwh"), ("cones", "2", "x_mm"), ("cones", "2", "z_mm"),
            ("cooling", "1", "chamber_degc")} <= set(rows)  # fmt: skip
    with place.records.reading() as session:
        kept = measured_of(session)
    assert (kept.meter, kept.cones, kept.coolings) == ((), (), ())


def test_an_empty_form_is_a_finding(client: TestClient) -> None:
    """Guards against a click too many: nothing typed keeps nothing and says so."""
    assert "a row of one table at least" in typed(client).text


def test_the_second_editor_is_told(client: TestClient, place: Place) -> None:
    """Guards two editors: readings for a firing that moved on meanwhile are not kept unseen."""
    seen = version(client)
    with place.records.writing("Olga") as session:
        move_on(session, FIRING, RecordedState.UNLOADED)
    answer = sent(client, PAGE, PAGE, version=seen, **{"meter|metered_kwh|1": "100"})
    assert answer.status_code == 409
    assert "Olga" in answer.text


def test_a_firing_that_was_not_lit_has_no_form(client: TestClient) -> None:
    """Guards the list: what was not lit cannot be measured."""
    answer = client.get(f"/readings/{UNLIT}")
    assert answer.status_code == 422
    assert "a firing that was lit" in answer.text
    assert f">{UNLIT}<" not in client.get("/readings").text
