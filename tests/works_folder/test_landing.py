"""Guards folders of sheets: replaced in one go, in turns, and never one process's over another's."""

from __future__ import annotations

import logging
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from kilnpack.errors import SheetNotWritten
from kilnpack.works_folder import landing as module
from kilnpack.works_folder.landing import NOTE, landing, state_of

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True, slots=True)
class Paths:
    """Where something was written, as the sheets tell it."""

    first: Path
    more: tuple[Path, ...]
    by_name: dict[str, Path]


def written(folder: Path, text: str) -> Path:
    """Write two files into a folder and return where the first stands."""
    seen = state_of(folder)
    with landing(folder, seen) as place:
        (place.aside / "sheets").mkdir()
        (place.aside / "sheets" / "a.txt").write_text(text)
        (place.aside / "plan.json").write_text(text)
    return place.final(place.aside / "plan.json")


def test_all_is_moved_at_the_end(tmp_path: Path) -> None:
    """Before the end the old files stand; then all are new, others stay, and nothing hidden is left."""
    out = tmp_path / "out"
    written(out, "old")
    (out / "own.txt").write_text("a note of somebody")
    with landing(out, state_of(out)) as place:
        (place.aside / "plan.json").write_text("new")
        assert (out / "plan.json").read_text() == "old"
        told = Paths(
            place.aside / "plan.json", (place.aside / "plan.json",), {"a": place.aside / "plan.json", "b": out}
        )
    assert place.final(told) == Paths(out / "plan.json", (out / "plan.json",), {"a": out / "plan.json", "b": out})
    assert (out / "plan.json").read_text() == "new"
    assert sorted(path.name for path in out.iterdir()) == ["own.txt", "plan.json", "sheets"]


def test_a_fault_on_the_way_changes_nothing(tmp_path: Path) -> None:
    """A disk that fills up while sheets are written leaves the old ones; a folder without new files is left alone."""
    out = tmp_path / "out"
    written(out, "old")

    def full() -> None:
        with landing(out, state_of(out)) as place:
            (place.aside / "plan.json").write_text("new")
            raise OSError(28, "No space left on device")

    with pytest.raises(SheetNotWritten, match="out cannot be written: the disk is full"):
        full()
    with landing(out, state_of(out)):
        pass
    assert (out / "plan.json").read_text() == "old"
    assert sorted(path.name for path in out.iterdir()) == ["plan.json", "sheets"]


def test_a_cut_while_files_are_moved_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Old and new files side by side are told by the note that stays; the next run takes it away."""
    out = tmp_path / "out"
    written(out, "old")

    def gone(*_: object, **__: object) -> Path:
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr(module, "moved", gone)
        with pytest.raises(SheetNotWritten, match="the disk reports a fault"):
            written(out, "new")
    assert "nobody should load a kiln from them" in (out / NOTE).read_text()
    (out / f".{NOTE}.12345678.part").write_text("half a note of a killed writer")
    assert written(out, "new").read_text() == "new"
    assert sorted(path.name for path in out.iterdir()) == ["plan.json", "sheets"]


def test_a_folder_written_meanwhile_is_kept(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """Two plan into one folder: the one that ends later writes beside it and says so; both are whole."""
    out = tmp_path / "out"
    seen = state_of(out)
    written(out, "the quicker one")
    with caplog.at_level(logging.WARNING), landing(out, seen) as place:
        (place.aside / "plan.json").write_text("the slower one")
        told = place.aside / "plan.json"
    assert place.final(told) == tmp_path / "out-2" / "plan.json"
    assert (out / "plan.json").read_text() == "the quicker one"
    assert (tmp_path / "out-2" / "plan.json").read_text() == "the slower one"
    assert "written by another process meanwhile" in caplog.text


HOLDER = """
import sys, pathlib
from kilnpack.works_folder.landing import landing, state_of
out = pathlib.Path(sys.argv[1])
with landing(out, state_of(out)) as place:
    (place.aside / "plan.json").write_text("first")
    print("in", flush=True)
    sys.stdin.readline()
"""


def test_two_processes_take_turns(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While one writes the other waits, and is told where it takes too long; a killed one loses its turn."""
    out = tmp_path / "out"
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(out)], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    with holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "in\n"
        monkeypatch.setattr(module, "WAIT_S", 0.1)
        with pytest.raises(SheetNotWritten, match="another process has been writing into it"):
            written(out, "second")
        holder.kill()
    assert written(out, "second").read_text() == "second"
    assert sorted(path.name for path in out.iterdir()) == ["plan.json", "sheets"]


def test_a_file_system_without_turns_lets_everybody_pass(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Some network drives cannot lock: sheets are written all the same; so on systems that know no such lock."""

    def unknown(*_: object) -> None:
        raise OSError(38, "Function not implemented")

    monkeypatch.setattr("fcntl.flock", unknown)
    assert written(tmp_path / "out", "whole").read_text() == "whole"
    monkeypatch.setitem(sys.modules, "fcntl", None)
    assert written(tmp_path / "other", "whole").read_text() == "whole"
