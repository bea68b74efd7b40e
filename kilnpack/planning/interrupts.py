"""An interrupt from the keyboard, remembered: a packer may end its load at one, and the plan must end after it."""

from __future__ import annotations

import signal
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import FrameType


class Interrupts:
    """Whether an interrupt came; it is raised only while `armed`, so that bookkeeping is never cut in half."""

    def __init__(self) -> None:
        self.came = False
        self.armed = False

    def take(self, number: int, frame: FrameType | None) -> None:
        """Remember an interrupt, and raise it where work may be cut short."""
        del number, frame
        self.came = True
        if self.armed:
            raise KeyboardInterrupt

    @contextmanager
    def cutting_short(self) -> Iterator[None]:
        """Let an interrupt cut short what is inside."""
        self.armed = True
        try:
            yield
        finally:
            self.armed = False


@contextmanager
def held_back_interrupts() -> Iterator[None]:
    """Hold interrupts back while a process is started: it begins with them held back too, and is not ended half made.

    One that comes meanwhile is heard afterwards.
    """
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def hear_interrupts() -> None:
    """Hear interrupts in a process that was started with them held back."""
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})


@contextmanager
def remembered_interrupts() -> Iterator[Interrupts]:
    """Remember interrupts of this process; only the main thread gets any."""
    found = Interrupts()
    if threading.current_thread() is not threading.main_thread():
        yield found
        return
    before = signal.signal(signal.SIGINT, found.take)
    try:
        yield found
    finally:
        signal.signal(signal.SIGINT, before)
