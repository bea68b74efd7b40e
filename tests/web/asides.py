"""Work that goes on aside in tests: quick, slow and faulty; it must be found by the other process under its name."""

from __future__ import annotations

import errno
import multiprocessing
import os
import threading
import time
from contextlib import suppress
from dataclasses import replace
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any

from kilnpack.errors import Finding, InputFaulty
from kilnpack.search.listener import Progress
from tests.planning.lanes import lane_plan

if TYPE_CHECKING:
    from kilnpack.model.plans import Plan

PATIENCE_S = 300.0


def counted_plan(*, listener: Any) -> Plan:
    """Return the plan of the lanes with another seed at once."""
    listener.heard(Progress(step="packing", value=1.0, share=0.5, elapsed_s=1.0, said="0 open"))
    return replace(lane_plan(), seed=2)


def slow_work(*, listener: Any) -> Plan:
    """Go on until stopped, then return the plan of the lanes."""
    begun = time.monotonic()
    while time.monotonic() - begun < PATIENCE_S:
        if not listener.heard(Progress(step="packing", value=1.0, share=0.5, elapsed_s=1.0, said="0 open")):
            break
        time.sleep(0.05)
    return lane_plan()


def faulty_work(*, listener: Any) -> Plan:
    """Find that a locked firing cannot stay."""
    raise InputFaulty([Finding(file="plan", row=None, field="F1 (locked)", found="no ware", wanted="ware")])


def broken_work(*, listener: Any) -> Plan:
    """Fail as only a fault of the program does."""
    raise ZeroDivisionError("by nought")


def full_work(*, listener: Any) -> Plan:
    """Find no room on the disk."""
    raise OSError(errno.ENOSPC, "No space left on device")


def ended_work(*, listener: Any) -> Plan:
    """End without a word, as a process that is killed does."""
    raise SystemExit(3)


class ThreadProcess:
    """A thread that looks like a process: it starts at once, where a process takes seconds to import everything."""

    def __init__(self, *, target: Any, args: tuple[Any, ...], daemon: bool) -> None:
        theirs, *more = args
        own = Connection(os.dup(theirs.fileno()), readable=False)

        def run() -> None:
            with suppress(SystemExit):
                target(own, *more)

        self._thread = threading.Thread(target=run, daemon=daemon)
        self.start, self.join, self.is_alive = self._thread.start, self._thread.join, self._thread.is_alive

    def terminate(self) -> None:
        """Nothing ends a thread; the work hears of the stop."""


class ThreadContext:
    """What `get_context` gives, for threads; what is sent goes through a real pipe."""

    Event = staticmethod(threading.Event)
    Pipe = staticmethod(multiprocessing.Pipe)
    Process = ThreadProcess
