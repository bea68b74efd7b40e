"""How long a case may take before it counts as a hang."""

from __future__ import annotations

import signal
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

HANG_S = 20.0
"""Of processor time, so that other work on the machine does not matter; a case takes some milliseconds."""


class Hangs(BaseException):
    """A case was not over in time; no `except Exception` of the code may swallow it."""


@contextmanager
def in_time(seconds: float = HANG_S) -> Iterator[None]:
    """Raise `Hangs` where the block takes longer; only where the system has an alarm, and in the main thread."""
    if not hasattr(signal, "setitimer") or threading.current_thread() is not threading.main_thread():
        yield
        return

    def ring(*_: object) -> None:
        raise Hangs(f"not over after {seconds:g} s")

    before = signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)
