"""Two real commands at a time on one works folder and one folder of sheets: both results whole, none over the other."""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest
from pypdf import PdfReader

from kilnpack.model.loads import Load
from kilnpack.model.plans import Plan
from kilnpack.works_folder import load_value
from kilnpack.works_folder.landing import NOTE
from tests.cli.tiny_folder import write_tiny

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 240.0
"""Of a machine that has much else to do; nothing is measured."""
PROGRAM = "import sys; from kilnpack.cli.main import run; sys.exit(run())"
WORDS = {
    "load": ("--kiln", "K", "--programme", "D", "--effort", "1", "--seed", "3"),
    "plan": ("--effort", "1", "--seed", "3"),
}
SAVED: dict[str, type[Load] | type[Plan]] = {"load": Load, "plan": Plan}
MEANWHILE = "was written by another process meanwhile and stays as it is; this goes to"


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    said: str

    @property
    def paths(self) -> list[Path]:
        """The files that it says it wrote."""
        return [Path(line) for line in self.out.splitlines() if Path(line).is_absolute()]


class Command:
    """A command in a process of its own; what it says goes into files beside the folders."""

    def __init__(self, name: str, works: Path, out: Path, number: int) -> None:
        self.out, self.said = (out.parent / f"{number}.{kind}" for kind in ("out", "said"))
        words = (sys.executable, "-c", PROGRAM, name, str(works), "--out", str(out), *WORDS[name])
        with self.out.open("wb") as told, self.said.open("wb") as said:
            self.process = subprocess.Popen(
                words, stdout=told, stderr=said, cwd=out.parent, env={**os.environ, "PYTHONPATH": str(ROOT)}
            )

    def at_work(self) -> None:
        """Wait until it tells its progress: by then it has looked at what stands in the folder."""
        until_s = time.monotonic() + PATIENCE_S
        while "best so far" not in self.said.read_text(encoding="utf-8"):
            assert time.monotonic() < until_s
            assert self.process.poll() is None, self.said.read_text(encoding="utf-8")
            time.sleep(0.02)

    def ended(self) -> Ended:
        """Wait for its end."""
        code = self.process.wait(timeout=PATIENCE_S)
        ended = Ended(code, self.out.read_text(encoding="utf-8"), self.said.read_text(encoding="utf-8"))
        self.out.unlink()
        self.said.unlink()
        return ended


def assert_whole(folder: Path, name: str) -> None:
    """The folder holds what this command writes, whole, and nothing of another or half-written."""
    other = {"load": "plan", "plan": "load"}[name]
    assert load_value(folder / f"{name}.json", SAVED[name]) is not None
    assert not (folder / f"{other}.json").exists()
    assert [path.name for path in folder.iterdir() if path.name.startswith(".") or path.name == NOTE] == []
    sheets = list(folder.rglob("*.pdf"))
    assert sheets
    for path in sheets:
        assert len(PdfReader(path).pages) > 0


@pytest.mark.parametrize(
    ("one", "other"),
    [
        pytest.param("load", "load", marks=pytest.mark.long),
        pytest.param("plan", "load", marks=pytest.mark.long),
        pytest.param("load", "plan", marks=pytest.mark.long),
        pytest.param("plan", "plan", marks=pytest.mark.long),
    ],
)
def test_two_commands_at_a_time_both_end_whole(one: str, other: str, tmp_path: Path) -> None:
    """Guards two people who start at the same time: the first to end has the folder, the second says where its is.

    Both are at work before either may write: the test itself holds the turn of the folder until then.
    """
    works, out = write_tiny(tmp_path / "works"), tmp_path / "out"
    before = {path.name: path.read_bytes() for path in works.iterdir()}
    out.mkdir()
    held = os.open(out, os.O_RDONLY)
    try:
        fcntl.flock(held, fcntl.LOCK_EX)
        commands = [Command(name, works, out, number) for number, name in enumerate((one, other))]
        for command in commands:
            command.at_work()
        time.sleep(0.2)
        assert list(out.iterdir()) == []
    finally:
        os.close(held)
    ends = [command.ended() for command in commands]
    assert [end.code for end in ends] == [0, 0], ends
    beside = [MEANWHILE in end.said for end in ends]
    assert sorted(beside) == [False, True], ends
    for name, end, is_beside in zip((one, other), ends, beside, strict=True):
        folder = tmp_path / ("out-2" if is_beside else "out")
        assert end.paths
        assert all(path.is_file() and path.is_relative_to(folder) for path in end.paths), end
        assert_whole(folder, name)
        # One tier has no headroom to tell; the line ends all the same.
        assert name == "plan" or "\nTightest gap 11.0 mm.\n" in end.out
    assert {path.name: path.read_bytes() for path in works.iterdir()} == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out", "out-2", "works"]


def test_a_command_that_waits_in_vain_says_that_another_is_at_work(tmp_path: Path) -> None:
    """Guards a process that hangs while it writes: the other says so in one sentence, exit code 2, nothing written."""
    works, out = write_tiny(tmp_path / "works"), tmp_path / "out"
    out.mkdir()
    program = "from kilnpack.works_folder import landing; landing.WAIT_S = 0.5; " + PROGRAM
    held = os.open(out, os.O_RDONLY)
    try:
        fcntl.flock(held, fcntl.LOCK_EX)
        words = (sys.executable, "-c", program, "programmes", str(works), "--out", str(out))
        ran = subprocess.run(
            words, capture_output=True, text=True, cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)},
            timeout=PATIENCE_S, check=False,
        )  # fmt: skip
    finally:
        os.close(held)
    assert ran.returncode == 2, ran
    assert "another process has been writing into it" in ran.stderr
    assert "Traceback" not in ran.stderr
    assert list(out.iterdir()) == []
