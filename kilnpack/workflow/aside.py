"""Long work in a process of its own: pages stay quick, it is heard of while it goes on, and it can be stopped.

The work is any picklable call that takes a `listener` and returns something picklable; a stopped search gives the best
it has, as at the command line.
"""

from __future__ import annotations

import os
import signal
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any, Protocol

from kilnpack.errors import Finding, InputFaulty, KilnpackError
from kilnpack.whole_files import reason_of

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.synchronize import Event

    from kilnpack.search.listener import Listener, Progress

TOLD_EVERY_S = 0.25
"""Seconds between two words of progress; more would only keep the pipe busy."""
NICE = 10
"""How far the work stands behind the pages for the processor."""
MOST_AT_ONCE = 2


class Work(Protocol):
    """What is done aside."""

    def __call__(self, *, listener: Listener) -> Any:
        """Do it and return the answer."""


class AsideState(StrEnum):
    """How far work aside is."""

    RUNNING = "running"
    STOPPING = "stopping"
    DONE = "done"
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is known of work aside at a moment; `findings` or `said` where it failed."""

    state: AsideState
    progress: Progress | None = None
    answer: Any = None
    findings: tuple[Finding, ...] = ()
    said: str = ""

    @property
    def goes_on(self) -> bool:
        """Whether it is not over yet."""
        return self.state in {AsideState.RUNNING, AsideState.STOPPING}


class Aside:
    """One piece of work in a process of its own.

    Parameters
    ----------
    work
        What is done.
    what
        What it is, in words.
    by
        Who asked for it.
    about
        What the caller wants to know of it later.
    """

    def __init__(self, work: Work, *, what: str, by: str, about: Any = None) -> None:
        self.what, self.by, self.about = what, by, about
        self._told = Told(state=AsideState.RUNNING)
        self._lock = threading.Lock()
        context = get_context("spawn")
        self._stop = context.Event()
        ours, theirs = context.Pipe(duplex=False)
        self._process = context.Process(target=work_aside, args=(theirs, self._stop, work), daemon=True)
        self._process.start()
        theirs.close()
        self._reader = threading.Thread(target=self._read, args=(ours,), daemon=True)
        self._reader.start()

    @property
    def told(self) -> Told:
        """What is known now."""
        with self._lock:
            return self._told

    def stop(self) -> None:
        """Ask for the best so far."""
        self._stop.set()
        with self._lock:
            if self._told.state is AsideState.RUNNING:
                self._told = Told(state=AsideState.STOPPING, progress=self._told.progress)

    def end(self, patience_s: float = 5.0) -> None:
        """End the process, whatever it does."""
        self._stop.set()
        self._process.join(0.0 if self.told.goes_on else patience_s)
        if self._process.is_alive():
            self._process.terminate()
        self._process.join(patience_s)
        self._reader.join(patience_s)

    def _read(self, ours: Connection) -> None:
        """Take note of all that the process says, until it says no more."""
        with ours:
            while True:
                try:
                    kind, value = ours.recv()
                except (EOFError, OSError):
                    break
                self._note(kind, value)
        with self._lock:
            if self._told.goes_on:
                self._told = Told(state=AsideState.FAILED, said="the process ended without an answer")
        self._process.join()

    def _note(self, kind: str, value: Any) -> None:
        with self._lock:
            before = self._told
            if kind == "heard":
                self._told = Told(state=before.state, progress=value)
            elif kind == "answer":
                self._told = Told(state=AsideState.DONE, progress=before.progress, answer=value)
            elif kind == "findings":
                self._told = Told(state=AsideState.FAILED, findings=value)
            else:
                self._told = Told(state=AsideState.FAILED, said=value)


class _Teller:
    """Listens in the other process and passes on what it hears, now and then."""

    def __init__(self, theirs: Connection, stop: Event) -> None:
        self._theirs, self._stop, self._last_s = theirs, stop, float("-inf")

    def heard(self, progress: Progress) -> bool:
        """Pass progress on; False once the work is to end, also where nobody listens any more."""
        if time.monotonic() - self._last_s >= TOLD_EVERY_S:
            self._last_s = time.monotonic()
            try:
                self._theirs.send(("heard", progress))
            except OSError:
                return False
        return not self._stop.is_set()


def work_aside(theirs: Connection, stop: Event, work: Work) -> None:
    """Do the work and send what came of it; runs in the other process."""
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C ends the pages, which then end this process
        if hasattr(os, "nice"):
            os.nice(NICE)
    try:
        word = _outcome(work, _Teller(theirs, stop))
        with suppress(OSError):  # whoever asked may be gone: killed, or tired of waiting
            theirs.send(word)
    finally:
        theirs.close()


def _outcome(work: Work, listener: Listener) -> tuple[str, Any]:
    """Do the work; returns what comes of it as it is sent."""
    try:
        return "answer", work(listener=listener)
    except InputFaulty as fault:
        return "findings", fault.findings
    except KilnpackError as fault:
        return "said", str(fault)
    except OSError as fault:
        return "said", f"the system refused: {reason_of(fault)}"
    except Exception as fault:  # noqa: BLE001 - whoever asked is told, and the pages go on
        return "said", f"this went wrong in the program itself: {type(fault).__name__}: {fault}"


class Asides:
    """All work aside of one works, by a key of its own: one at a time for a key, few in all."""

    def __init__(self, most_at_once: int = MOST_AT_ONCE) -> None:
        self._most = most_at_once
        self._kept: dict[str, Aside] = {}
        self._lock = threading.Lock()

    def begin(self, key: str, work: Work, *, what: str, by: str, about: Any = None) -> Aside:
        """Begin work under a key; what was done under it before is forgotten.

        Raises
        ------
        InputFaulty
            Work goes on under the key, or too much in all.
        """
        with self._lock:
            running = {name: one for name, one in self._kept.items() if one.told.goes_on}
            if key in running or len(running) >= self._most:
                one = running.get(key) or next(iter(running.values()))
                wanted = "wait until it is done, or stop it"
                raise InputFaulty(
                    [Finding(file="pages", row=None, field=one.what, found=f"begun by {one.by}", wanted=wanted)]
                )
            self._kept[key] = Aside(work, what=what, by=by, about=about)
            return self._kept[key]

    def of(self, key: str) -> Aside | None:
        """Return the work under a key, going on or done; None where there is none."""
        with self._lock:
            return self._kept.get(key)

    def forget(self, key: str) -> None:
        """Throw the work under a key away; what goes on is ended."""
        with self._lock:
            one = self._kept.pop(key, None)
        if one is not None:
            one.end()

    def end(self) -> None:
        """End everything."""
        for key in tuple(self._kept):
            self.forget(key)
