"""Commands in processes that are forked from one that has everything imported: a start takes milliseconds.

Read by `tests/cli/test_faults.py`; run as a program it is that one process. It takes a command as a line of JSON,
forks, and the child runs it as the command line does; the parent answers with a line of JSON.
"""

from __future__ import annotations

import errno
import json
import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.cli import paged

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parents[2]
CHANGING = ("os.rename", "os.mkdir", "os.remove", "os.rmdir", "os.link", "os.chmod", "sqlite3.connect")
"""Events of the interpreter at which a file system is changed; opening a file to write is told by its flags."""


@dataclass(frozen=True, slots=True)
class Ran:
    """How a command ended: its code (negative for a signal), how long it took, and how often it changed something."""

    code: int
    seconds: float
    changes: int
    said: str


class Commands:
    """The one process; ends with the `with`."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[str] | None = None

    def __enter__(self) -> Commands:
        """Start the process."""
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.cli.forked"], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            text=True, env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        return self

    def __exit__(self, *_: object) -> None:
        """End it."""
        assert self._process is not None
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.stdout.close()
        self._process.wait(timeout=30)

    def run(self, *words: str | Path, after_s: float | None = None, at_change: int | None = None, **more: Any) -> Ran:
        """Run a command; killed (-9) after so many seconds, or just before its change of so high a number.

        Words that begin with `paged.WORD` are a request to the pages.

        Parameters
        ----------
        more
            ``largest``: bytes that a file may have; ``full_at``: number of the change from which the disk is full;
            ``out``: where its output goes; ``nobody``: run without the rights of root; ``one_core``: whether one
            processor is used, as by default, and so no second process.
        """
        assert self._process is not None
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        asked = {"words": [str(word) for word in words], "after_s": after_s, "at_change": at_change, **more}
        self._process.stdin.write(json.dumps(asked) + "\n")
        self._process.stdin.flush()
        return Ran(**json.loads(self._process.stdout.readline()))


def _child(asked: dict[str, Any], said: int, count: int, learnt: int) -> int:
    """Run the command; every change of a file system adds a byte to `count`, and `learnt` gets what it imported."""
    from kilnpack.cli.main import run

    os.dup2(os.open(asked["out"], os.O_WRONLY) if asked.get("out") else said, 1)
    os.dup2(said, 2)
    sys.stdout = os.fdopen(1, "w", closefd=False)
    sys.stderr = os.fdopen(2, "w", buffering=1, closefd=False)
    if asked.get("one_core", True) and hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, [min(os.sched_getaffinity(0))])
    seen = 0

    def changed() -> bool:
        nonlocal seen
        seen += 1
        os.write(count, b".")
        if seen == asked["at_change"]:
            os.kill(os.getpid(), signal.SIGKILL)
        return asked.get("full_at") is not None and bool(seen >= asked["full_at"])

    def changed_file() -> None:
        if changed():
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def hear(event: str, arguments: tuple[Any, ...]) -> None:
        if event in CHANGING:
            # What is taken away makes room.
            if event not in ("os.remove", "os.rmdir") or asked["at_change"] is not None:
                changed_file()
        elif event == "open" and isinstance(arguments[2], int) and arguments[2] & (os.O_WRONLY | os.O_RDWR):
            changed_file()

    act = paged.prepared(asked["words"]) if asked["words"][0] == paged.WORD else run
    if asked.get("nobody") and os.geteuid() == 0:
        os.setuid(65534)
    if asked.get("largest") is not None:
        import resource

        resource.setrlimit(resource.RLIMIT_FSIZE, (asked["largest"],) * 2)
    sys.addaudithook(hear)
    _hear_statements(changed)
    sys.argv = ["kilnpack", *asked["words"]]
    code = 0
    try:
        code = act() or 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(end.code is not None)
    if code == 0:
        os.write(learnt, json.dumps(sorted(sys.modules)).encode())
    return code


def _hear_statements(changed: Callable[[], bool]) -> None:
    """Count every statement of a data base as well; on a full disk it refuses those that write, as it does itself."""
    import sqlite3

    from sqlalchemy import Engine, event
    from sqlalchemy.exc import OperationalError

    def heard(statement: str) -> None:
        if changed() and not statement.startswith(("SELECT", "PRAGMA", "BEGIN")):
            raise OperationalError(statement, {}, sqlite3.OperationalError("database or disk is full"))

    event.listen(Engine, "before_cursor_execute", lambda _, __, statement, *___: heard(statement.lstrip()))
    event.listen(Engine, "commit", lambda _: heard("COMMIT"))


def _answer(asked: dict[str, Any]) -> Ran:
    said, count, learnt = (os.memfd_create(name) for name in ("said", "count", "learnt"))
    begun = time.monotonic()
    pid = os.fork()
    if not pid:
        code = 1
        try:
            code = _child(asked, said, count, learnt)
        except BaseException:  # noqa: BLE001 - what is left over is told as the interpreter tells it
            sys.excepthook(*sys.exc_info())
        finally:
            os._exit(code)
    if asked["after_s"] is not None:
        time.sleep(asked["after_s"])
        os.kill(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    seconds = time.monotonic() - begun
    words = os.pread(said, 1_000_000, 0).decode("utf-8", "replace")
    ran = Ran(os.waitstatus_to_exitcode(status), seconds, os.fstat(count).st_size, words)
    if ran.code == 0:  # one that is killed may be so in the middle of saying it
        _import_too(os.pread(learnt, 1_000_000, 0))
    for handle in (said, count, learnt):
        os.close(handle)
    return ran


def _import_too(names: bytes) -> None:
    """Import here what a command imported, so that the next one finds it; solvers are not started by that."""
    # The inner part of a module is imported by the module itself: `_asyncio` before `asyncio` is not the same.
    for name in sorted(json.loads(names or b"[]"), key=lambda name: (name.startswith("_"), name)):
        if name not in sys.modules and not name.startswith("__"):
            with suppress(Exception):
                import_module(name)


def main() -> None:
    """Import what commands need, then run what is asked for."""
    for line in sys.stdin:
        answer = _answer(json.loads(line))
        print(json.dumps({name: getattr(answer, name) for name in Ran.__slots__}), flush=True)  # noqa: T201 - its answer


if __name__ == "__main__":
    main()
