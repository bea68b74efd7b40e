"""Opening a works for its pages: its folder is taken in once, and the server is told how to end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from kilnpack.errors import InputFaulty
from kilnpack.records.works_values import get_works
from kilnpack.web import serving
from kilnpack.web.serving import open_place, serve, with_works
from kilnpack.works_folder import write_works
from tests.planning.lanes import lane_works

if TYPE_CHECKING:
    from pathlib import Path


def test_the_folder_is_taken_in_where_the_records_hold_no_works(tmp_path: Path) -> None:
    """Guards the first day: records made anew hold the folder's works; later the folder is not read again."""
    folder = tmp_path / "works"
    write_works(lane_works(), folder)
    place = open_place(folder)
    with_works(place)
    with place.records.reading() as session:
        assert get_works(session).lines == lane_works().lines
    (folder / "orders.csv").write_text("no table\n")
    with_works(place)
    place.records.close()


def test_a_folder_with_findings_is_not_taken_in(tmp_path: Path) -> None:
    """Guards the records: what has findings stays outside."""
    folder = tmp_path / "works"
    write_works(lane_works(), folder)
    (folder / "orders.csv").write_text("no table\n")
    place = open_place(folder)
    with pytest.raises(InputFaulty):
        with_works(place)
    place.records.close()


def test_pages_that_listen_do_not_hold_the_server_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the end: the server waits a few seconds for open pages, not for ever, and tells nobody what it is."""
    asked: dict[str, Any] = {}
    monkeypatch.setattr("uvicorn.run", lambda _, **options: asked.update(options))
    place = open_place(tmp_path)
    serve(place, "127.0.0.1", 8642)
    place.records.close()
    assert (asked["host"], asked["port"]) == ("127.0.0.1", 8642)
    assert 0 < asked["timeout_graceful_shutdown"] <= 10
    assert asked["timeout_graceful_shutdown"] == serving.END_S
    assert asked["server_header"] is False
