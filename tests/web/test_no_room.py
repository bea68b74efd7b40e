"""Pages where the disk or the data base stands in the way: said in words with status 503, never a bare fault."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import pytest

from kilnpack.records.states import Role
from tests.web.small_place import client_of, place_in, signed_in, token_of

if TYPE_CHECKING:
    from fastapi.testclient import TestClient

    from kilnpack.web.place import Place


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """A works with a plan of two firings."""
    return place_in(tmp_path, with_plan=True)


@pytest.fixture
def client(place: Place) -> TestClient:
    """The planner, signed in."""
    return signed_in(client_of(place), Role.PLANNER)


def full(*_: object, **__: object) -> NoReturn:
    """Find no room."""
    raise OSError(errno.ENOSPC, "No space left on device")


def test_records_that_cannot_be_read_are_told_on_every_page(client: TestClient, place: Place) -> None:
    """Guards a damaged file of records: pages, sign-in and answers to scripts say so; brought back, all is there."""
    data = Path(str(place.records.url.database))
    assert client.get("/loader").status_code == 200
    place.records.close()
    sound = data.read_bytes()
    data.write_bytes(b"this is no data base " * 1000)
    for path in ("/loader", "/planner", "/sign-in", "/loader/P1.F1"):
        answer = client.get(path)
        assert answer.status_code == 503, path
        assert "the file is no data base; name another place or bring back a copy" in answer.text
        assert "Not done" in answer.text
    told = client.get("/loader/P1.F1/state", headers={"accept": "application/json"})
    assert (told.status_code, told.json()["findings"]) == (503, [])
    assert "cannot be used" in told.json()["said"]
    with client_of(place):
        pass  # the pages come up, so that they can say it
    place.records.close()
    data.write_bytes(sound)
    assert client.get("/loader").status_code == 200


def test_a_disk_without_room_is_told(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards faults of the system itself, in the work on a request and while what is sent is put down."""
    sent = {"files": ("orders.csv", b"code\n", "text/csv")}
    headers = {"x-form-token": token_of(client, "/planner/backlog")}
    for place in ("kilnpack.web.routes_backlog.take_in", "starlette.datastructures.UploadFile.write"):
        with monkeypatch.context() as patched:
            patched.setattr(place, full)
            answer = client.post("/planner/backlog", files=sent, headers=headers)
        assert answer.status_code == 503, place
        assert "Nothing of this was kept, as the system refused: the disk is full; make room" in answer.text
