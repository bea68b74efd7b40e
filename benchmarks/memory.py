"""Memory of this process and all below it, looked at while something runs: shared pages are counted once."""

from __future__ import annotations

import threading
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

EVERY_S = 0.5
PROC = Path("/proc")
KB_A_MB = 1024.0


def family(pid: str = "self") -> list[str]:
    """Return a process and all its descendants, as far as they still run."""
    found = [pid]
    for task in (PROC / pid / "task").glob("*"):
        try:
            children = (task / "children").read_text(encoding="ascii").split()
        except OSError:
            continue
        for child in children:
            found += family(child)
    return found


def shared_once_mb(pid: str) -> float:
    """Return the memory of a process in MB, a page shared by n processes counted as an n-th; 0 where it has ended."""
    try:
        lines = (PROC / pid / "smaps_rollup").read_text(encoding="ascii").splitlines()
    except OSError:
        return 0.0
    return next((float(line.split()[1]) / KB_A_MB for line in lines if line.startswith("Pss:")), 0.0)


@dataclass(slots=True)
class Memory:
    """What was seen: the most at one moment, and of how many processes."""

    most_mb: float = 0.0
    processes: int = 0
    seen: list[float] = field(default_factory=list)

    def look(self) -> None:
        """Add up the memory of all processes as it is now."""
        sizes = [shared_once_mb(pid) for pid in family()]
        self.seen.append(sum(sizes))
        if self.seen[-1] > self.most_mb:
            self.most_mb, self.processes = self.seen[-1], sum(size > 0 for size in sizes)


@contextmanager
def watched() -> Iterator[Memory]:
    """Look at the memory twice a second until the end of the block."""
    memory, over = Memory(), threading.Event()

    def watch() -> None:
        while not over.wait(EVERY_S):
            memory.look()

    thread = threading.Thread(target=watch, daemon=True)
    thread.start()
    try:
        yield memory
    finally:
        over.set()
        thread.join()
        memory.look()
