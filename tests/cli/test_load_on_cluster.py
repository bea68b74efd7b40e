"""`kilnpack load --cluster` seen through: commands as docs/scaling.md gives them, a worker killed in the middle."""

from __future__ import annotations

import os
import re
import shlex
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

pytest.importorskip("distributed", reason="the extra for clusters is not installed")

from tests.search.real_cluster import PATIENCE_S, free_port

pytestmark = pytest.mark.long

ROOT = Path(__file__).resolve().parents[2]
STUDIO = ROOT / "demo_orders" / "round_kiln_studio"
PROGRAMS = {"dask": str(Path(sys.executable).parent / "dask")}
LOAD = (sys.executable, "-c", "import sys; from kilnpack.cli.main import run; sys.exit(run())", "load", str(STUDIO))
ASKED = ("--kiln", "R1", "--programme", "GLOST", "--effort", "300", "--seed", "5", "--workers", "3")
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT)}


def told(program: str) -> list[str]:
    """Return the words of a command as the document gives it."""
    text = (ROOT / "docs" / "scaling.md").read_text(encoding="utf-8")
    (line,) = re.findall(rf"^    ({program} .*)$", text, re.M)
    return shlex.split(line)


@contextmanager
def started(words: list[str], folder: Path) -> Iterator[None]:
    """Start a program in a group of its own, and end all of that group."""
    words = [PROGRAMS.get(words[0], words[0]), *words[1:]]
    with (folder / f"{'-'.join(words[1:2])}.txt").open("wb") as said:
        process = subprocess.Popen(words, stdout=said, stderr=said, cwd=folder, env=ENVIRONMENT, start_new_session=True)
    try:
        yield
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait(timeout=PATIENCE_S)


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Any]:
    """Two workers and a scheduler, by the document's commands with the address of this machine."""
    port = free_port()
    address = f"tcp://127.0.0.1:{port}"
    scheduler = ["127.0.0.1" if word == "10.0.0.5" else word for word in told("dask scheduler")]
    worker = [address if "10.0.0.5" in word else word for word in told("dask worker")]
    worker[worker.index("--nworkers") + 1] = "2"
    with (
        started([*scheduler, "--port", str(port), "--no-dashboard"], tmp_path),
        started([*worker, "--no-dashboard", "--local-directory", str(tmp_path)], tmp_path),
        import_module("distributed").Client(address, timeout=PATIENCE_S, set_as_default=False) as found,
    ):
        found.wait_for_workers(2, timeout=PATIENCE_S)
        yield found


def one_at_work(client: Any) -> str:
    """Wait until a task runs on a worker, and return that worker's name."""
    until_s = time.monotonic() + PATIENCE_S
    while True:
        busy = [worker for worker, tasks in client.processing().items() if tasks]
        if busy:
            return str(busy[0])
        assert time.monotonic() < until_s
        time.sleep(0.01)


def test_a_load_on_a_cluster_that_loses_a_worker_is_the_load_of_this_machine(client: Any, tmp_path: Path) -> None:
    """Guards the whole way from the command line: the same load.json, byte by byte, and the loss costs time alone."""
    address = client.scheduler.address
    pids: dict[str, int] = client.run(os.getpid)
    assert len(pids) == 2
    with (tmp_path / "said.txt").open("wb") as said:
        there = subprocess.Popen(
            (*LOAD, *ASKED, "--out", "there", "--cluster", address), cwd=tmp_path, env=ENVIRONMENT,
            stdout=said, stderr=said,
        )  # fmt: skip
    lost = one_at_work(client)
    os.kill(pids[lost], signal.SIGKILL)
    assert there.poll() is None
    code = there.wait(timeout=4 * PATIENCE_S)
    words = (tmp_path / "said.txt").read_text(encoding="utf-8")
    assert code == 0, words
    assert "Traceback" not in words
    here = subprocess.run(
        (*LOAD, *ASKED, "--out", "here"), cwd=tmp_path, env=ENVIRONMENT, capture_output=True, check=False
    )
    assert here.returncode == 0, here.stderr
    assert (tmp_path / "there" / "load.json").read_bytes() == (tmp_path / "here" / "load.json").read_bytes()
    names = [sorted(path.name for path in (tmp_path / folder).iterdir()) for folder in ("here", "there")]
    assert names[0] == names[1]
