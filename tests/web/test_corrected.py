"""Guards the forms that put right and count off: an inspection corrected, a delivery noted."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from kilnpack.model.orders import Lot
from kilnpack.records.correcting import corrections_of, inspected_of
from kilnpack.records.firings import firing_row, load_fired, move_on
from kilnpack.records.inspection import Inspected, inspect
from kilnpack.records.lots import set_lot
from kilnpack.records.states import Grade, RecordedState, Role
from kilnpack.records.works_values import get_works
from tests.records.small import all_first
from tests.web.planned_place import planned_place_in
from tests.web.small_place import client_of, place_in, sent, signed_in

if TYPE_CHECKING:
    from pathlib import Path

    from fastapi.testclient import TestClient

    from kilnpack.web.place import Place

FIRING = "P1.F1"
PAGE = f"/inspection/{FIRING}"


def inspected(tmp_path: Path, *, placed: bool) -> Place:
    """Return a place whose first firing was inspected: one scrap piece, at a place or at none."""
    place = place_in(tmp_path, with_plan=True)
    with place.records.writing("Ivo") as session:
        move_on(session, FIRING, RecordedState.UNLOADED)
        load = load_fired(firing_row(session, FIRING))
        stack, tier = load.stacks[0], load.stacks[0].tiers[0]
        lot = tier.fills[0].lot
        pieces = dict(load.pieces_by_lot)
        bad = Inspected(
            lot=lot, grade=Grade.SCRAP, pieces=1, cause="stuck", stack=stack.place if placed else None,
            tier=tier.number if placed else None, place=tier.fills[0].place if placed else None,
        )  # fmt: skip
        pieces[lot] -= 1
        inspect(session, FIRING, [*all_first({code: count for code, count in pieces.items() if count}), bad])
    return place


def fields(client: TestClient) -> dict[str, str]:
    """Return what the form says as it is opened."""
    text = client.get(PAGE).text
    found = re.findall(r'<input [^>]*name="([^"]+)"[^>]*? value="([^"]*)"', text)
    return {name: value for name, value in found if name != "form_token"}


def test_an_inspection_is_opened_as_it_is_and_put_right(tmp_path: Path) -> None:
    """The form opens with what was written; kept as it is it changes nothing, one field changed is a correction."""
    place = inspected(tmp_path, placed=True)
    client = signed_in(client_of(place), Role.LOADER)
    assert "put it right" in client.get("/inspection").text
    form = fields(client)
    (scrap,) = [name for name, value in form.items() if name.startswith("scrap|") and value == "1"]
    assert form[scrap.replace("scrap", "cause", 1)] == "stuck"
    assert sent(client, PAGE, PAGE, **form).status_code == 303
    with place.records.reading() as session:
        assert corrections_of(session, FIRING) == ()
    changed = {**form, scrap: "", scrap.replace("scrap", "second", 1): "1"}
    assert sent(client, PAGE, PAGE, **changed).status_code == 303
    with place.records.reading() as session:
        now = [one for one in inspected_of(session, FIRING) if one.grade is not Grade.FIRST]
        assert [(one.grade, one.pieces, one.cause) for one in now] == [(Grade.SECOND, 1, "stuck")]
    text = client.get(PAGE).text
    assert "corrected by Lena" in text
    assert "1 scrap of" in text
    assert sent(client, PAGE, PAGE, **changed).status_code == 409


def test_an_inspection_without_places_is_left_to_a_table(tmp_path: Path) -> None:
    """The form asks for tiers: what a table wrote without any is not lost by opening it."""
    client = signed_in(client_of(inspected(tmp_path, placed=False)), Role.LOADER)
    assert "--correct" in client.get(PAGE).text
    answer = sent(client, PAGE, PAGE, version="5")
    assert answer.status_code in {409, 422}


@pytest.fixture
def works_place(tmp_path: Path) -> Place:
    """A place with an order line and a finished piece for it."""
    place = planned_place_in(tmp_path, with_plan=False)
    with place.records.writing("import") as session:
        works = get_works(session)
        line = works.lines[0]
        steps = len(works.product(line.item).route)
        done = Lot(code="DONE", product=line.item, step=steps, pieces=1, order_line=line.code)
        set_lot(session, None, done, position=99, what="taken in")
    return place


def test_a_delivery_is_noted_on_the_backlog_page(works_place: Place) -> None:
    """What left the works is counted off its line; more than is finished is a finding, an old page is told."""
    client = signed_in(client_of(works_place), Role.PLANNER)
    with works_place.records.reading() as session:
        line = get_works(session).lines[0].code
    page, path = "/planner/backlog", "/planner/backlog/delivered"
    found = re.search(rf'name="line" value="{re.escape(line)}"><input type="hidden" name="version" value="(\d+)"',
                      client.get(page).text)  # fmt: skip
    assert found
    form = {"line": line, "version": found.group(1)}
    assert "finished" in sent(client, path, page, **form, quantity="2").text
    assert sent(client, path, page, **form, quantity="1", note="by van").status_code == 303
    assert f"Line {line}: 1 of" in client.get(page).text
    assert sent(client, path, page, **form, quantity="1").status_code == 409
