"""The owner's page without a screen: figures reckoned aside, what if, orders of the table, losses, who may see it."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

import pypdf
import pytest

from kilnpack.model.measured import MeterReading
from kilnpack.records.firings import firing_row, keep_plan
from kilnpack.records.measured import keep_meter, lit_on, masses_kg
from kilnpack.records.standing_plan import plan_heads
from kilnpack.records.states import Role
from kilnpack.records.works_values import get_works
from kilnpack.web import owned
from kilnpack.workflow.owners_figures import fired_costs, fired_of, trend_words
from tests.records.small import small_plan
from tests.web.asides import ThreadContext, faulty_work, slow_work
from tests.web.heated_place import FIRING, fire, heated_place_in, heated_works, lose_one
from tests.web.small_place import client_of, place_in, sent, signed_in

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from fastapi.testclient import TestClient

    from kilnpack.records.standing_plan import PlanHead
    from kilnpack.web.place import Place


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works with a plan of two firings."""
    return heated_place_in(tmp_path)


@pytest.fixture(autouse=True)
def here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let work aside go on in a thread."""
    monkeypatch.setattr("kilnpack.workflow.aside.get_context", lambda _: ThreadContext())


@pytest.fixture
def client(place: Place) -> Iterator[TestClient]:
    """The owner, signed in."""
    with client_of(place) as found:
        yield signed_in(found, Role.OWNER)


def head_of(client: TestClient) -> PlanHead:
    """The plan that counts."""
    with client.app.state.place.records.reading() as session:  # type: ignore[attr-defined]
        return plan_heads(session, most=1)[0]


def reckoned(client: TestClient, path: str = "/owner") -> str:
    """Open the owner's page, wait until what goes on is over, and return the page as it is then."""
    client.get("/owner")
    for line in client.get("/owner/told").iter_lines():
        if '"goes_on": false' in line:
            break
    return client.get(path).text


def test_the_figures_are_reckoned_when_the_page_is_opened(client: TestClient) -> None:
    """Guards the owner's first look: figures, charts and both reports are there without a further click."""
    text = reckoned(client)
    for words in ("Where the money goes", "Energy and money of a good piece", "What is in it, what not"):
        assert words in text
    assert re.search(r"\d+ firings: about [\d,]+ kWh", text)
    for name in re.findall(r'src="(/owner/chart/[^"]+)"', text):
        answer = client.get(name)
        assert answer.text.startswith("<svg")
        assert "script" not in answer.headers["content-security-policy"].replace("default-src 'none'", "")
    pdf = pypdf.PdfReader(io.BytesIO(client.get("/owner/report.pdf").content))
    assert "What firing costs" in pdf.pages[0].extract_text()
    assert client.get("/owner/report.html").text.startswith("<!doctype html>")
    assert client.get("/owner/chart/none.svg").status_code == 404


def test_a_newer_plan_is_reckoned_anew(client: TestClient, place: Place) -> None:
    """Guards against old figures: they say of which plan they are, and follow the plan that counts."""
    assert "Plan <b>P1</b>" in reckoned(client)
    with place.records.writing("Piet") as session:
        keep_plan(session, small_plan())
    assert "Plan <b>P2</b>" in reckoned(client)


def test_what_if_takes_the_owners_own_figures(client: TestClient) -> None:
    """Guards the what-if: shelves lighter by a half are asked for and save more than those lighter by a tenth."""
    saved = []
    for share in ("10", "50"):
        reckoned(client)
        assert sent(client, "/owner/reckon", "/owner", lighter=share, posts="4").status_code == 303
        text = reckoned(client)
        assert f"shelves {share}% lighter" in text
        row = re.search(rf"shelves {share}% lighter.*?<td[^>]*>([\d.,]+)", text, re.DOTALL)
        assert row
        saved.append(float(row.group(1).replace(",", "")))
    assert saved[1] > 2.0 * saved[0]


def test_a_what_if_out_of_range_is_refused(client: TestClient) -> None:
    """Guards the form: shelves cannot lose all their mass, posts are counted from one."""
    reckoned(client)
    answer = sent(client, "/owner/reckon", "/owner", lighter="100", posts="0")
    assert answer.status_code == 422
    assert {"lighter", "posts"} <= set(re.findall(r"<td>(\w+)</td>", answer.text))


def test_the_products_stand_in_the_order_asked_for(client: TestClient) -> None:
    """Guards the links over the table: by code the codes rise, and an order unknown is the usual one."""
    reckoned(client)

    def codes(order: str) -> list[str]:
        table = client.get(f"/owner?order={order}").text.split('id="products"')[1].split("</table>")[0]
        return re.findall(r'<th scope="row">(\w+)</th>', table)

    assert codes("code") == sorted(codes("pieces"))
    assert codes("no such") == codes("in all")


def test_a_fault_of_the_figures_is_told(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the owner who gets no figures: the finding is on the page, and no report is given out."""
    monkeypatch.setattr(owned, "figures_work", lambda *_: (faulty_work, head_of(client)))
    text = reckoned(client)
    assert "could not be reckoned" in text
    assert "There are no figures" not in text
    assert client.get("/owner/report.pdf").status_code == 404


def test_stopped_figures_are_not_begun_again_unasked(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the stop: what was stopped stays so until somebody asks."""
    monkeypatch.setattr(owned, "figures_work", lambda *_: (slow_work, head_of(client)))
    assert "being reckoned" in client.get("/owner").text
    assert sent(client, "/owner/stop", "/owner").status_code == 303
    text = client.get("/owner").text
    assert "being reckoned" not in text
    assert "There are no figures yet" in text


def test_losses_are_drawn_where_they_were(client: TestClient, place: Place) -> None:
    """Guards the map: a piece lost on a tier shows there with how many were fired, and its cause below."""
    assert "No firing was inspected yet" in client.get("/owner").text
    fire(place)
    stack = lose_one(place)
    text = client.get("/owner").text
    assert f"stack {stack}, tier 1" in text
    assert "warped 1" in text
    assert "lost pieces by place" in text
    assert "Losses by product" in text


def test_what_was_metered_takes_the_place_of_what_is_reckoned(place: Place) -> None:
    """Guards the trend: energy read from the meter stands as read, money in proportion; without a reading the model."""
    fire(place)
    works = heated_works()
    with place.records.reading() as session:
        (plain,) = fired_costs(works, fired_of(session), {})
    with place.records.writing("Olga") as session:
        row = firing_row(session, FIRING)
        ware_kg, furniture_kg = masses_kg(get_works(session), row)
        reading = MeterReading(
            fired_on=lit_on(works, row), kiln=row.kiln, programme=row.programme, ware_kg=ware_kg,
            furniture_kg=furniture_kg, metered_kwh=123.0,
        )  # fmt: skip
        keep_meter(session, FIRING, reading)
    with place.records.reading() as session:
        (read,) = fired_costs(works, fired_of(session), {})
    assert (plain.metered, read.metered) == (False, True)
    assert read.cost.energy_kwh == pytest.approx(123.0)
    assert read.cost.money / read.cost.energy_kwh == pytest.approx(plain.cost.money / plain.cost.energy_kwh)
    assert "too few" in trend_words([plain.cost, read.cost])
    assert "100%" not in trend_words([plain.cost] * 2 + [read.cost] * 2)
    assert "The first 2 firings" in trend_words([plain.cost] * 2 + [read.cost] * 2)


def test_only_the_owner_sees_costs(tmp_path: Path) -> None:
    """Guards the roles: a planner is told whose page it is; a works without a plan has no figures and says so."""
    place = place_in(tmp_path, with_plan=False)
    with client_of(place) as client:
        signed_in(client, Role.PLANNER)
        assert client.get("/owner").status_code == 403
        assert client.get("/owner/report.pdf").status_code == 403
