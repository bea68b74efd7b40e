"""Guards swaps for ware of another kind: offered where it fits, judged by the rules at once, kept, shown, printed."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import pypdf
import pytest

from kilnpack.model.orders import Lot
from kilnpack.records.firings import firing_row, load_fired, lots_of, move_on
from kilnpack.records.inspection import inspect
from kilnpack.records.lots import set_lot
from kilnpack.records.states import LoadKind, RecordedState, Role
from kilnpack.records.ticks import ticks_of
from kilnpack.rules.checker import audit
from kilnpack.web.routes_inspection import tiers_out
from kilnpack.workflow.at_the_kiln import works_of_row
from tests.records.small import all_first
from tests.web.small_place import client_of, place_in, signed_in, token_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import httpx2 as httpx
    from fastapi.testclient import TestClient

    from kilnpack.web.place import Place

FIRING = "P1.F1"
PAGE = f"/loader/{FIRING}"


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A place with a load, and a lot of saucers on the shelf that no plan knows."""
    place = place_in(tmp_path, with_plan=True)
    with place.records.writing("import") as session:
        set_lot(session, None, Lot(code="SPARE", product="SAUCER", step=0, pieces=5), position=99, what="taken in")
    return place


@pytest.fixture
def client(place: Place) -> Iterator[TestClient]:
    """The loader's browser."""
    with client_of(place) as made:
        yield signed_in(made, Role.LOADER)


def spots(place: Place) -> dict[str, tuple[str, int, int, str]]:
    """Return one place of each product in the load: stack, tier, place, lot."""
    with place.records.reading() as session:
        row = firing_row(session, FIRING)
        lots = lots_of(row)
        return {
            lots[fill.lot].product: (stack.place, tier.number, fill.place, fill.lot)
            for stack in load_fired(row).stacks
            for tier in stack.tiers
            for fill in tier.fills
        }


def swapped(client: TestClient, spot: tuple[str, int, int, str], other: str, mark: str = "1") -> httpx.Response:
    """Note a swap for a lot."""
    stack, tier, number, lot = spot
    tick = {"mark": f"mark-0000-{mark}", "what": "swap", "stack": stack, "tier": tier, "place": number, "lot": lot,
            "other_lot": other, "pieces": 1, "note": "chipped"}  # fmt: skip
    headers = {"accept": "application/json", "x-form-token": token_of(client, PAGE)}
    return client.post(f"{PAGE}/ticks", json={"ticks": [tick]}, headers=headers)


def test_smaller_ware_takes_a_place_and_goes_the_whole_way(client: TestClient, place: Place) -> None:
    """A spare saucer where a plate was: offered, kept as loaded, on page and sheet, inspected with the others."""
    spot = spots(place)["PLATE"]
    assert '"lot": "SPARE"' in client.get(PAGE).text
    answer = swapped(client, spot, "SPARE")
    assert answer.status_code == 200, answer.text
    (change,) = answer.json()["changes"]
    assert (change["other_lot"], change["other"], change["note"]) == ("SPARE", True, "chipped")
    with place.records.reading() as session:
        row = firing_row(session, FIRING)
        load = load_fired(row)
        assert load.pieces_by_lot["SPARE"] >= 1
        assert audit(works_of_row(session, row), load).findings == ()
        (tick,) = ticks_of(session, FIRING)
        assert tick.form_instead in {form.code for form in load.forms}
        assert {one.kind for one in row.loads} == {LoadKind.PLANNED, LoadKind.AS_LOADED}
    pdf = pypdf.PdfReader(io.BytesIO(client.get(f"{PAGE}/sheet.pdf").content))
    text = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    assert "swapped while loading" in text
    assert "SPARE" in text
    with place.records.writing("loader") as session:
        row = move_on(session, FIRING, RecordedState.UNLOADED)
        assert "SPARE" in {one.lot for one in tiers_out(row)}
        pieces = load_fired(row).pieces_by_lot
        inspect(session, FIRING, all_first(dict(pieces)))
        assert pieces["SPARE"] == load.pieces_by_lot["SPARE"]


@pytest.mark.parametrize(
    ("ware", "other", "said"),
    [
        ("CUP", "PLATE0", "ware no taller and no wider"),
        ("BOWL", "CUP1", "a lot that is ready"),
        ("BOWL", "nothing", "a lot that is ready"),
        ("BOWL", "SPARE", "0.0 mm between SAUCER at place 1 and SAUCER at place 2"),
    ],
)
def test_what_does_not_fit_is_refused_with_its_reason(
    client: TestClient, place: Place, ware: str, other: str, said: str
) -> None:
    """A plate in a cup's place, ware of another firing, a lot that is not there, a gap too small: nothing is kept."""
    answer = swapped(client, spots(place)[ware], other)
    assert answer.status_code == 422
    assert said in answer.text
    with place.records.reading() as session:
        assert ticks_of(session, FIRING) == ()


def test_no_more_is_taken_than_is_there(client: TestClient, place: Place) -> None:
    """Ware that stands in another kiln, or in this one already, is not there twice."""
    with place.records.writing("import") as session:
        from kilnpack.records.lots import lot_row

        row = lot_row(session, "SPARE")
        assert row is not None
        row.pieces = 1
    assert swapped(client, spots(place)["PLATE"], "SPARE", "1").status_code == 200
    answer = swapped(client, spots(place)["MUG"], "SPARE", "2")
    assert answer.status_code == 422
    assert "0 are free" in answer.text
