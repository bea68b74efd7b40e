"""What is kept by other commands and by the pages: killed, on a full disk, in a read-only folder.

As in `test_faults`, half of the kills of commands come at a moment of the clock, the others, and all of a request to
the pages, just before a change of the file system or a statement of the data base.
"""

from __future__ import annotations

import json
import random
import re
import shutil
import socket
import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING

import pytest

from tests.cli.left_behind import rows_of
from tests.cli.paged import session_cookie
from tests.cli.scenes import DEEDS, Scenes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.cli.forked import Commands
    from tests.cli.scenes import Deed

BY_NAME = {deed.name: deed for deed in DEEDS}
ORDINARY = ("migrate", "page: keep plan", "page: tables", "page: tables", "page: ticks", "page: correction")
ALSO_READ_ONLY = ("inspect", "measured", "condemn", "correct", "deliver", "reload", "energy", "person")
EACH = 10
"""Kills of every deed in the long test."""


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory, commands: Commands) -> Scenes:
    """Return the works at every step."""
    return Scenes(tmp_path_factory.mktemp("scenes"), commands)


def test_what_was_killed_while_it_kept_something_leaves_all_whole(scenes: Scenes) -> None:
    """Six kills, at moments that are the same in every run; two while tables go into records and folder together."""
    chance = random.Random(4)
    for name in ORDINARY:
        scenes.kill(BY_NAME[name], chance)


@pytest.mark.long
def test_two_hundred_more_kills_leave_all_whole(scenes: Scenes) -> None:
    """Every deed ten times, at moments that differ from run to run; the seed is told where one finds something."""
    seed = random.randrange(1_000_000)
    chance = random.Random(seed)
    deeds = [deed for deed in DEEDS for _ in range(EACH)]
    assert len(deeds) == 200
    chance.shuffle(deeds)
    done = []
    try:
        for deed in deeds:
            done.append(scenes.kill(deed, chance))  # noqa: PERF401 - how far it came is told below
    finally:
        print(f"seed {seed}: {len(done)} kills, the last: {done[-1:]}")  # noqa: T201 - shown where the test fails


@pytest.mark.parametrize(
    ("name", "share"),
    [("migrate", 0.6), ("page: tables", 0.75), ("page: ticks", 0.5), ("page: keep plan", 0.8)],
)
def test_a_full_disk_is_told_and_nothing_is_kept(scenes: Scenes, name: str, share: float) -> None:
    """The disk is full from some change on: one sentence, exit code 2 or status 503, and afterwards it succeeds."""
    deed = BY_NAME[name]
    changes = scenes.left_alone(deed)[1].changes
    assert "the disk is full; make room and do it again" in scenes.refused(deed, full_at=round(share * changes))


@pytest.mark.long
@pytest.mark.parametrize("deed", DEEDS, ids=lambda deed: deed.name)
def test_a_disk_that_is_full_at_any_change_is_told(scenes: Scenes, deed: Deed) -> None:
    """The same from every fourth change on, of everything that is kept."""
    for change in range(1, scenes.left_alone(deed)[1].changes + 1, 4):
        said = scenes.refused(deed, full_at=change)
        known = "the disk is full; make room and do it again|make room, or name one in TMPDIR"
        assert not said or re.search(known, said), said


@pytest.mark.parametrize(("name", "largest"), [("measured", 4096), ("page: correction", 4096)])
def test_a_limit_of_the_system_is_told(scenes: Scenes, name: str, largest: int) -> None:
    """The system itself refuses to let a file grow (RLIMIT_FSIZE): told, and nothing is kept."""
    said = scenes.refused(BY_NAME[name], largest=largest)
    assert re.search("larger than a file may be here|the disk could not be used|the disk is full", said), said


@contextmanager
def seen_by_all(scenes: Scenes, scene: str) -> Iterator[Path]:
    """Bring a scene to a folder that everybody may look into, as temporary folders of tests may not be."""
    scenes.enter(scene)
    stage, folder = scenes.stage, Path(mkdtemp(prefix="kp-ro-", dir="/tmp"))
    folder.chmod(0o755)
    try:
        scenes.at(shutil.copytree(stage, folder / "stage"))
        yield folder
    finally:
        scenes.at(stage)
        for path in (folder, *folder.rglob("*")):
            path.chmod(0o755)
        shutil.rmtree(folder)


@pytest.mark.parametrize(
    "name", ["migrate", "calibrate", *(pytest.param(one, marks=pytest.mark.long) for one in ALSO_READ_ONLY)]
)
def test_a_read_only_folder_is_told(scenes: Scenes, name: str) -> None:
    """Somebody without the right to write (root gives that up first) is told so, and nothing is changed or left."""
    deed = BY_NAME[name]
    with seen_by_all(scenes, deed.scene) as folder:
        for path in (*folder.rglob("*"), folder):
            path.chmod(0o555 if path.is_dir() else 0o444)
        before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        ran = scenes.run(deed.words, nobody=True)
        assert ran.code == 2, ran.said
        assert re.search("right to write|cannot be opened", ran.said), ran.said
        assert "Traceback" not in ran.said, ran.said
        assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_pages_of_a_folder_that_became_read_only_say_so(scenes: Scenes) -> None:
    """The folder becomes read-only while its pages are served: tables that are sent are refused with status 503, and
    neither records nor folder have them; with the right to write they are taken in.
    """
    deed = BY_NAME["page: tables"]
    made, _ = scenes.left_alone(deed)
    with seen_by_all(scenes, deed.scene):
        before = scenes.found()
        scenes.works.chmod(0o555)
        ran = scenes.run(deed.words, nobody=True)
        scenes.works.chmod(0o755)
        assert ran.said.startswith("503 "), ran.said
        assert "right to write" in ran.said, ran.said
        assert scenes.found() == before
        assert scenes.run(deed.words).code == 0
        assert scenes.found() == made


@pytest.mark.long
def test_what_the_pages_answered_is_there_after_a_kill(scenes: Scenes) -> None:
    """Ten times the pages are served for real and killed while notes come in: every note that was answered is kept, the
    one that was not is kept whole or not at all, and the records are whole.
    """
    scenes.enter("kept")
    chance, answered, data = random.Random(), set[str](), scenes.works / "records" / "records.sqlite"
    for turn in range(10):
        with socket.socket() as free, ThreadPoolExecutor(1) as one:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
            free.close()
            sending = one.submit(noted_until_gone, port, session_cookie(scenes.works), turn)
            scenes.run(("serve", "WORKS", "--port", str(port)), after_s=chance.uniform(2.0, 5.0))
            told, waiting = sending.result(timeout=60)
        answered |= told
        assert answered <= marks_in(data) <= answered | {waiting}, turn
        answered = marks_in(data)
        assert rows_of(data)
    print(f"{len(answered)} notes")  # noqa: T201 - shown where the test fails
    assert len(answered) > 50


def noted_until_gone(port: int, cookie: str, turn: int) -> tuple[set[str], str]:
    """Send one note after the other to pages that are coming up, until they are gone; returns the marks of those that
    were answered and that of the one that was not.
    """
    headers = {"cookie": f"kilnpack={cookie}", "x-form-token": "token", "content-type": "application/json",
               "accept": "application/json"}  # fmt: skip
    answered: set[str] = set()
    begun = time.monotonic()
    while time.monotonic() - begun < 30.0:
        mark = f"turn-{turn}-note-{len(answered)}"
        note = {"mark": mark, "what": ("set", "taken out")[len(answered) % 2], "stack": "A", "tier": 1, "place": 1}
        connection = HTTPConnection("127.0.0.1", port, timeout=20)
        try:
            connection.request("POST", "/loader/P1.F1/ticks", json.dumps({"ticks": [note]}), headers)
            status = connection.getresponse().status
        except (OSError, HTTPException):
            if answered:
                return answered, mark
            time.sleep(0.05)
        else:
            assert status == 200, status
            answered.add(mark)
        finally:
            connection.close()
    raise AssertionError("the pages were never gone")


def marks_in(data: Path) -> set[str]:
    """Return the marks of the notes that the records have."""
    with closing(sqlite3.connect(data)) as connection:
        return {mark for (mark,) in connection.execute("SELECT mark FROM ticks")}
