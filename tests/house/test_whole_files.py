"""Guards files that are whole or not there: a full disk, a file held by another program, what killed writers left."""

from __future__ import annotations

import errno
import logging
import os
import tempfile
import time
from pathlib import Path

import pytest

from kilnpack.errors import SheetNotWritten
from kilnpack.whole_files import LEFT_OVER_S, free_name, hidden, put_whole, reason_of


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """Return a file that cannot be replaced, as where a viewer holds it open on some systems."""
    path = tmp_path / "plan.pdf"
    path.write_bytes(b"old")
    real = Path.replace

    def refused(one: Path, target: Path) -> Path:
        if target == path:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        return real(one, target)

    monkeypatch.setattr(Path, "replace", refused)
    return path


def test_a_file_that_is_held_gets_a_neighbour(held: Path, caplog: pytest.LogCaptureFixture) -> None:
    """The new sheet stands beside under the next free name, which is said; the old one stays."""
    with caplog.at_level(logging.WARNING):
        assert put_whole(held, b"new", beside=True) == held.with_name("plan-2.pdf")
        assert put_whole(held, b"newer", beside=True) == held.with_name("plan-3.pdf")
    assert [path.read_bytes() for path in sorted(held.parent.iterdir())] == [b"new", b"newer", b"old"]
    assert "plan.pdf cannot be replaced" in caplog.text
    assert "plan-2.pdf" in caplog.text


def test_a_table_that_is_held_is_refused(held: Path) -> None:
    """What is read by its name is not written under another one; nothing is left."""
    with pytest.raises(SheetNotWritten, match="no right to write there"):
        put_whole(held, b"new")
    assert [path.read_bytes() for path in held.parent.iterdir()] == [b"old"]


def test_names_beside_come_to_an_end(tmp_path: Path) -> None:
    """A folder with a hundred of a name is told to be cleared, instead of growing for ever."""
    for number in range(2, 100):
        (tmp_path / f"plan-{number}").mkdir()
    with pytest.raises(SheetNotWritten, match="take old ones away"):
        free_name(tmp_path / "plan")


def test_what_a_killed_writer_left_is_taken_away_when_it_is_old(tmp_path: Path) -> None:
    """An hour-old hidden file of the same name goes; a young one may be another process's at work."""
    old, young, other = (tmp_path / hidden(name) for name in ("a.txt", "a.txt", "b.txt"))
    for path in (old, young, other):
        path.write_bytes(b"half")
    for path in (old, other):
        os.utime(path, (time.time() - 2 * LEFT_OVER_S,) * 2)
    put_whole(tmp_path / "a.txt", b"whole")
    assert {path.name for path in tmp_path.iterdir()} == {young.name, other.name, "a.txt"}


def test_a_long_name_can_be_written(tmp_path: Path) -> None:
    """The hidden name is no longer than the file's own, where that is as long as a file system takes."""
    path = tmp_path / ("n" * 251 + ".txt")
    assert put_whole(path, b"x").read_bytes() == b"x"


def test_the_rights_are_what_the_mask_leaves(tmp_path: Path) -> None:
    """A sheet may be read by all where the account's mask allows it; a key by its owner alone."""
    before = os.umask(0o022)
    try:
        assert put_whole(tmp_path / "sheet", b"x").stat().st_mode & 0o777 == 0o644
        assert put_whole(tmp_path / "key", b"x", rights=0o600).stat().st_mode & 0o777 == 0o600
    finally:
        os.umask(before)


def test_reasons_are_words_with_a_remedy() -> None:
    """A fault that is not known is told in the system's own words."""
    assert reason_of(OSError(errno.ENOSPC, "x")) == "the disk is full; make room and do it again"
    assert reason_of(OSError(errno.ELOOP, "too many links")) == "too many links"
    assert reason_of(OSError("only words")) == "only words"


def test_without_a_folder_for_temporary_files_a_remedy_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards Python's own words, by which that fault is known: the standard library raises it here itself."""
    monkeypatch.setattr(tempfile, "_candidate_tempdir_list", list)
    with pytest.raises(FileNotFoundError) as caught:
        tempfile._get_default_tempdir()  # type: ignore[attr-defined]
    assert "TMPDIR" in reason_of(caught.value)
