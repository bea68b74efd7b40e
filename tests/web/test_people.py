"""Sign in, roles, tokens, headers and limits: what stands before every page."""

from __future__ import annotations

import stat
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import SheetNotWritten
from kilnpack.records.people import change_person, events_of, people
from kilnpack.records.states import Role
from kilnpack.web.guard import HEADERS
from kilnpack.web.people import TRIES, TRIES_S, Tries
from kilnpack.web.place import KEY_NAME, Place, session_key
from tests.web.small_place import NAMES, PASSWORD, client_of, place_in, sent, signed_in, token_of

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Place:
    """One works for all tests here."""
    return place_in(tmp_path_factory.mktemp("works"))


def test_a_password_is_kept_as_a_hash_only(place: Place) -> None:
    """Guards the records: argon2id (RFC 9106), a salt of its own, and no password in any row or event."""
    with place.records.reading() as session:
        for row in people(session):
            assert row.password_hash.startswith("$argon2id$")
            assert PASSWORD not in row.password_hash
        assert PASSWORD not in str([event.change for event in events_of(session)])


@pytest.mark.parametrize("role", list(Role))
def test_everybody_comes_to_the_page_of_their_role(place: Place, role: Role) -> None:
    """Guards the way in: sign in, and the start leads on."""
    client = signed_in(client_of(place), role)
    assert client.get("/").headers["location"] == f"/{role.value}"


@pytest.mark.parametrize(("name", "password"), [("Lena", "wrong password"), ("Nobody", PASSWORD), ("", "")])
def test_a_wrong_name_or_password_says_the_same(place: Place, name: str, password: str) -> None:
    """Guards against guessing names: one sentence for all, status 401, or 422 where a field is empty."""
    client = client_of(place)
    answer = sent(client, "/sign-in", "/sign-in", name=name, password=password)
    assert answer.status_code == (401 if name else 422)
    if name:
        assert "Name or password is not right." in answer.text
    assert client.get("/people").headers["location"].startswith("/sign-in")


def test_guessing_is_slowed_down(place: Place) -> None:
    """Guards the fifth wrong password: the sixth is not judged, even where it is right."""
    client = client_of(place)
    for _ in range(TRIES):
        assert sent(client, "/sign-in", "/sign-in", name="Lena", password="not this one").status_code == 401
    assert sent(client, "/sign-in", "/sign-in", name="Lena", password=PASSWORD).status_code == 429


def test_wrong_passwords_are_forgotten_after_a_while() -> None:
    """Guards the pause: it ends, and a name nobody has tried is free."""
    now = [0.0]
    tries = Tries(clock=lambda: now[0])
    for _ in range(TRIES):
        tries.was_wrong("Lena")
    assert tries.are_up("lena")
    assert not tries.are_up("Piet")
    now[0] = TRIES_S + 1
    assert not tries.are_up("Lena")


@pytest.mark.parametrize(
    ("role", "path", "allowed"),
    [(Role.LOADER, "/people", False), (Role.PLANNER, "/people", False), (Role.OWNER, "/people", True)],
)
def test_a_page_opens_for_its_role_alone(place: Place, role: Role, path: str, allowed: bool) -> None:
    """Guards roles: the page of people is the owner's."""
    answer = signed_in(client_of(place), role).get(path)
    assert answer.status_code == (200 if allowed else 403)
    assert ("you are signed in as" in answer.text) == (not allowed)


@pytest.mark.parametrize("token", [None, "", "another"])
def test_a_form_without_its_token_changes_nothing(place: Place, token: str | None) -> None:
    """Guards against forms from elsewhere: 403, and nobody was added."""
    client = signed_in(client_of(place), Role.OWNER)
    data = {"name": "Eve", "role": "owner", "password": "long enough for this"}
    answer = client.post("/people", data=data if token is None else {**data, "form_token": token})
    assert answer.status_code == 403
    assert "Eve" not in client.get("/people").text


def test_the_token_may_come_in_a_header_as_well(place: Place) -> None:
    """Guards scripts: the header counts like the field."""
    client = signed_in(client_of(place), Role.OWNER)
    token = token_of(client, "/people")
    data = {"name": "Hanna", "role": "loader", "password": "long enough for this"}
    assert client.post("/people", data=data, headers={"X-Form-Token": token}).status_code == 303
    assert "Hanna" in client.get("/people").text


def test_the_last_owner_stays(place: Place) -> None:
    """Guards against locking everybody out: the last owner cannot become a loader."""
    client = signed_in(client_of(place), Role.OWNER)
    answer = sent(client, f"/people/{NAMES[Role.OWNER]}", "/people", role="loader", active="yes")
    assert answer.status_code == 422
    assert "one owner who may sign in" in answer.text


def test_a_short_password_is_a_finding(place: Place) -> None:
    """Guards the form: field, found and wanted are said, and nobody was added."""
    client = signed_in(client_of(place), Role.OWNER)
    answer = sent(client, "/people", "/people", name="Short", role="loader", password="short")
    assert answer.status_code == 422
    assert "5 characters" in answer.text
    assert "Short" not in client.get("/people").text


def test_a_session_ends_when_its_person_is_changed(tmp_path: Path) -> None:
    """Guards a lost tablet: once the owner bars someone, their open session leads to the sign-in page."""
    place = place_in(tmp_path)
    client = signed_in(client_of(place), Role.LOADER)
    assert client.get("/").headers["location"] == "/loader"
    with place.records.writing("Olga") as session:
        change_person(session, NAMES[Role.LOADER], active=False)
    assert client.get("/").headers["location"].startswith("/sign-in")
    assert sent(client, "/sign-in", "/sign-in", name=NAMES[Role.LOADER], password=PASSWORD).status_code == 401


def test_sign_out_ends_the_session(place: Place) -> None:
    """Guards the way out."""
    client = signed_in(client_of(place), Role.PLANNER)
    assert sent(client, "/sign-out", "/sign-in").status_code == 303
    assert client.get("/").headers["location"].startswith("/sign-in")


def test_every_answer_carries_the_headers(place: Place) -> None:
    """Guards the headers on a page, a fault, a file and an answer that leads on; pages are not kept."""
    client = client_of(place)
    for path in ("/sign-in", "/nothing", "/static/pages.css", "/"):
        headers = client.get(path).headers
        for name, text in HEADERS.items():
            assert headers[name] == text
        assert ("no-store" in headers.get("cache-control", "")) == (not path.startswith("/static"))


def test_the_cookie_is_for_these_pages_alone(place: Place) -> None:
    """Guards the cookie: no script reads it, no other site sends it."""
    cookie = client_of(place).get("/sign-in").headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


@pytest.mark.parametrize("after", ["https://elsewhere.example", "//elsewhere.example", "/\\elsewhere.example"])
def test_sign_in_never_leads_elsewhere(place: Place, after: str) -> None:
    """Guards against links that lead out: the start comes instead."""
    client = client_of(place)
    answer = sent(client, "/sign-in", "/sign-in", name=NAMES[Role.OWNER], password=PASSWORD, after=after)
    assert answer.headers["location"] == "/"


def test_too_much_is_not_taken(place: Place) -> None:
    """Guards the limit: 413 whether the length is announced or not."""
    client = client_of(place)
    long = b"x" * 20_000_001
    assert client.post("/sign-in", content=long).status_code == 413
    unsaid = iter([long[:15_000_000], long[:15_000_000]])
    kind = {"content-type": "application/x-www-form-urlencoded"}
    assert client.post("/sign-in", content=unsaid, headers=kind).status_code == 413


@pytest.mark.parametrize("path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py"])
def test_no_path_leads_out_of_the_files_shown(place: Place, path: str) -> None:
    """Guards the disk: only what lies in the folder of shown files is shown."""
    assert client_of(place).get(path).status_code == 404


def test_the_key_is_its_owners_alone_and_stays(tmp_path: Path) -> None:
    """Guards the key that signs sessions: mode 600, the same at the next start."""
    place = place_in(tmp_path)
    signed_in(client_of(place), Role.OWNER)
    kept = (place.keeping / KEY_NAME).read_text()
    assert stat.S_IMODE((place.keeping / KEY_NAME).stat().st_mode) == 0o600
    client_of(place)
    assert (place.keeping / KEY_NAME).read_text() == kept


@pytest.mark.parametrize("left", [b"", b"abc", b"\xff\xfe"])
def test_a_key_that_was_cut_off_is_made_anew(tmp_path: Path, left: bytes) -> None:
    """Guards sessions where a start was killed: what anybody may guess signs nothing."""
    (tmp_path / KEY_NAME).write_bytes(left)
    key = session_key(tmp_path)
    assert len(key) >= 40
    assert session_key(tmp_path) == key
    (tmp_path / "file").write_text("")
    with pytest.raises(SheetNotWritten, match="cannot be written"):
        session_key(tmp_path / "file" / "in")


def test_what_people_type_is_shown_as_text(place: Place) -> None:
    """Guards against markup in names: it is escaped wherever it is shown."""
    client = signed_in(client_of(place), Role.OWNER)
    sent(client, "/people", "/people", name="<b>x</b>", role="loader", password="long enough for this")
    text = client.get("/people").text
    assert "<b>x</b>" not in text
    assert "&lt;b&gt;x&lt;/b&gt;" in text
