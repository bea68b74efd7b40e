"""The one place that processes of this machine are started from; `cluster` hands work to other machines too."""

from __future__ import annotations

import os
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context, parent_process
from threading import Thread
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from kilnpack.errors import SolverFault

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_P = ParamSpec("_P")
_R = TypeVar("_R")


class InPlace(Executor):
    """Runs every task at once where it is handed in: one worker, no second process."""

    def submit(self, fn: Callable[_P, _R], /, *args: _P.args, **kwargs: _P.kwargs) -> Future[_R]:
        """Run the task and return its finished future."""
        future: Future[_R] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as fault:  # noqa: BLE001 - the future carries it to whoever asks for the result
            future.set_exception(fault)
        return future


def cores() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


ENDED = "a second process was ended from outside, or died for want of memory; nothing was written: do it again"


def _end_with_parent() -> None:
    """Let a worker end when the process that wants its results is gone: a killed one cannot tell it to."""

    def wait() -> None:
        parent = parent_process()
        if parent is not None:
            parent.join()
            os._exit(1)

    Thread(target=wait, name="end-with-parent", daemon=True).start()


@contextmanager
def executor(workers: int) -> Iterator[Executor]:
    """Give an executor with so many workers on this machine, shut down at the end."""
    if workers <= 1:
        yield InPlace()
        return
    with processes(workers) as pool:
        yield pool


@contextmanager
def processes(count: int) -> Iterator[Executor]:
    """Give an executor of so many processes besides this one, shut down at the end.

    Raises
    ------
    SolverFault
        One of them was ended from outside while its result was waited for.
    """
    pool = ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=_end_with_parent)
    try:
        yield pool
    except BrokenProcessPool as fault:
        raise SolverFault(ENDED) from fault
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
