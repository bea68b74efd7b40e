"""Commands killed, on a full disk, in a read-only folder: files and records stay whole, and what was accepted is there.

Half of the kills (kill -9) come at a moment of the clock, half just before a change of the file system or a
statement of the data base, so that the short time of writing is hit as often as the long one of searching.
"""

from __future__ import annotations

import random
import re
import shutil
import signal
from dataclasses import dataclass
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING

import pytest

from kilnpack.works_folder import read_works
from kilnpack.works_folder.landing import NOTE
from tests.cli.left_behind import differing, files_of, rows_of
from tests.cli.tiny_folder import write_tiny

if TYPE_CHECKING:
    from tests.cli.forked import Commands

LOAD = ("load", "WORKS", "--kiln", "K", "--programme", "D", "--out", "OUT", "--effort", "1")
PLAN = ("plan", "WORKS", "--out", "OUT", "--effort", "1")
SHEETS = {"load": LOAD, "plan": PLAN}
FOLDERS = {"new": ("new", "OUT"), "export": ("record", "export", "WORKS", "OUT")}
RECORDS = {
    "init": ("record", "init", "WORKS"),
    "import": ("record", "import", "WORKS"),
    "keep plan": ("record", "plan", "WORKS", "PLAN"),
    "step": ("record", "firing", "WORKS", "P1.F1", "--state", "loading"),
}


@dataclass(frozen=True, slots=True)
class Reference:
    """A command that was left to its end: what it made, how long it took, and how often it changed something."""

    name: str
    words: tuple[str, ...]
    made: dict[str, object]
    seconds: float
    changes: int


class Bench:
    """A tiny works, its records at every step, and the commands, each run once to its end."""

    def __init__(self, folder: Path, commands: Commands) -> None:
        self.folder, self.commands = folder, commands
        self.works = write_tiny(folder / "works")
        self.plan = folder / "plan.json"
        self.before: dict[str, bytes | None] = {}
        self.known: dict[str, Reference] = {}
        for name, words in (SHEETS | {"new": FOLDERS["new"]} | RECORDS | {"export": FOLDERS["export"]}).items():
            place = self.fresh(name)
            self.before[name] = self._data_base()
            if name in SHEETS:
                commands.run(*self._filled(words, place))  # what is imported and compiled is so from now on
            ran = commands.run(*self._filled(words, place))
            assert ran.code == 0, (name, ran.said)
            if name == "plan":
                shutil.copy(place / "plan.json", self.plan)
            made = rows_of(self._data) if name in RECORDS else files_of(place)
            self.known[name] = Reference(name, words, made, ran.seconds, ran.changes)

    @property
    def _data(self) -> Path:
        return self.works / "records" / "records.sqlite"

    def _data_base(self) -> bytes | None:
        """Return the records as a file of their own; the last who closed them left nothing beside it."""
        return self._data.read_bytes() if self._data.exists() else None

    def fresh(self, name: str) -> Path:
        """Return an empty place for what a command makes."""
        place = self.folder / f"{name}-out"
        shutil.rmtree(place, ignore_errors=True)
        return place

    def _filled(self, words: tuple[str, ...], place: Path) -> list[str | Path]:
        known = {"WORKS": self.works, "OUT": place, "PLAN": self.plan}
        return [known.get(word, word) for word in words]

    def kill(self, name: str, chance: random.Random) -> str:
        """Kill a command once, look at what is left, run it again; returns when it was killed."""
        known, place = self.known[name], self.fresh(name)
        old = self._set_back(name, place)
        if chance.random() < 0.5:
            moment = chance.uniform(0.0, known.seconds)
            ran = self.commands.run(*self._filled(known.words, place), after_s=moment)
            said = f"{name} after {moment:.3f} s"
        else:
            change = chance.randint(1, known.changes)
            ran = self.commands.run(*self._filled(known.words, place), at_change=change)
            said = f"{name} at change {change}"
        assert ran.code in (0, -signal.SIGKILL), (said, ran.said)
        if name in RECORDS:
            found = rows_of(self._data)
            assert found in (old, known.made), (said, differing(found, old), differing(found, known.made))
            done = found == known.made
        else:
            done = self._whole(name, place, old, said)
        again = self.commands.run(*self._filled(known.words, place))
        if done and name in ("new", "export", "step"):
            assert again.code == 2, (said, again.said)  # it is there already, and nothing is overwritten
        else:
            assert again.code == 0, (said, again.said)
        if name not in RECORDS:
            assert files_of(place) == known.made, said
            assert not [one for one in place.rglob("*") if one.name.startswith(".")], said
        read_works(self.works)
        return said

    def _set_back(self, name: str, place: Path) -> dict[str, object]:
        """Bring everything to how it was before the command: older sheets in the place, the records of the step."""
        for beside in self._data.parent.glob("records.sqlite*"):
            beside.unlink()
        kept = self.before[name]
        if kept is not None:
            self._data.parent.mkdir(exist_ok=True)
            self._data.write_bytes(kept)
        if name in RECORDS:
            return rows_of(self._data)
        if name not in SHEETS:
            return {}
        for path in self.known[name].made:
            (place / path).parent.mkdir(parents=True, exist_ok=True)
            (place / path).write_bytes(b"older: " + path.encode())
        return files_of(place)

    def _whole(self, name: str, place: Path, old: dict[str, object], said: str) -> bool:
        """Every file is the older or the newer one, whole; without the note all are of one kind."""
        new = self.known[name].made
        found = files_of(place)
        noted = found.pop(NOTE, None)
        for path, content in found.items():
            assert content in (old.get(path), new.get(path)), (said, path)
        assert noted is not None or found in (old, new), said
        return found == new and noted is None

    def refused(self, name: str, **how: object) -> str:
        """Run a command that cannot write; everything stays as it was. Returns what it said."""
        known, place = self.known[name], self.fresh(name)
        old = self._set_back(name, place)
        ran = self.commands.run(*self._filled(known.words, place), **how)  # type: ignore[arg-type]
        assert ran.code == 2, (name, how, ran.said)
        assert "Traceback" not in ran.said, (name, how, ran.said)
        if name in RECORDS:
            assert rows_of(self._data) == old, (name, how)
        else:
            self._whole(name, place, old, f"{name} {how}")
            hidden = [one for one in place.rglob("*") if one.name.startswith(".")]
            assert hidden == [], (name, how)
        return ran.said


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory, commands: Commands) -> Bench:
    """Return the bench of this file."""
    return Bench(tmp_path_factory.mktemp("killed"), commands)


ORDINARY = ("load", "load", "plan", "new", "new", "export", "init", "import", "keep plan", "step")
MANY = {"load": 50, "plan": 30, "new": 20, "export": 20, "init": 20, "import": 20, "keep plan": 20, "step": 20}


def test_a_killed_command_leaves_all_whole(bench: Bench) -> None:
    """Ten kills, one for every kind of writing at least; the moments are the same in every run of the tests."""
    chance = random.Random(9)
    for name in ORDINARY:
        bench.kill(name, chance)


@pytest.mark.long
def test_two_hundred_kills_leave_all_whole(bench: Bench) -> None:
    """Two hundred kills, at moments that differ from run to run; the seed is told where one finds something."""
    seed = random.randrange(1_000_000)
    chance = random.Random(seed)
    names = [name for name, times in MANY.items() for _ in range(times)]
    assert len(names) == 200
    chance.shuffle(names)
    done = []
    try:
        for name in names:
            done.append(bench.kill(name, chance))  # noqa: PERF401 - how far it came is told below
    finally:
        print(f"seed {seed}: {len(done)} kills, the last: {done[-1:]}")  # noqa: T201 - shown where the test fails


@pytest.mark.parametrize(
    ("name", "share"), [("load", 0.0), ("load", 1.0), ("plan", 0.7), ("new", 0.5), ("export", 0.9)]
)
def test_a_full_disk_is_told_and_nothing_is_half_written(bench: Bench, name: str, share: float) -> None:
    """The disk is full (a fault of the system's own kind) from some change on: one sentence, exit code 2."""
    said = bench.refused(name, full_at=max(1, round(share * bench.known[name].changes)))
    assert "the disk is full; make room and do it again" in said


@pytest.mark.parametrize(
    ("name", "largest"),
    [("load", 4096), ("new", 4096), ("export", 900), ("init", 8192), ("import", 16384), ("step", 2048)],
)
def test_a_limit_of_the_system_is_told(bench: Bench, name: str, largest: int) -> None:
    """The system itself refuses to let a file grow (RLIMIT_FSIZE), in files and in the data base's own."""
    said = bench.refused(name, largest=largest)
    assert re.search("larger than a file may be here|the disk could not be used|the disk is full", said), said


def test_output_that_nobody_takes_is_no_traceback(bench: Bench) -> None:
    """The output goes to a full device: the folder is written, the exit code says that something is wrong."""
    known, place = bench.known["new"], bench.fresh("new")
    ran = bench.commands.run("new", place, out="/dev/full")
    assert ran.code == 2
    assert "what was to be said here cannot be written: the disk is full" in ran.said
    assert "Traceback" not in ran.said
    assert files_of(place) == known.made


def test_a_read_only_folder_is_told(bench: Bench) -> None:
    """Somebody without the right to write (root gives that up first) is told so by every command that writes."""
    folder = Path(mkdtemp(prefix="kp-ro-", dir="/tmp"))
    try:
        works = folder / "works"
        shutil.copytree(bench.works, works, ignore=shutil.ignore_patterns("records"))
        (works / "records").mkdir()
        base = bench.before["step"]
        assert base is not None
        (works / "records" / "records.sqlite").write_bytes(base)
        for path in (*folder.rglob("*"), folder):
            path.chmod(0o555 if path.is_dir() else 0o444)
        before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        for words in (LOAD, PLAN, *FOLDERS.values(), *(RECORDS[name] for name in ("import", "step"))):
            known = {"WORKS": works, "OUT": folder / "out", "PLAN": bench.plan}
            ran = bench.commands.run(*[known.get(word, word) for word in words], nobody=True)
            assert ran.code == 2, (words, ran.said)
            assert "right to write" in ran.said, (words, ran.said)
            assert "Traceback" not in ran.said, (words, ran.said)
        assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    finally:
        for path in (folder, *folder.rglob("*")):
            path.chmod(0o755)
        shutil.rmtree(folder)
