"""The one place that work fans out from: processes here, or a cluster when an address is given."""

from __future__ import annotations

import os
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from multiprocessing import get_context
from typing import TYPE_CHECKING, ParamSpec, TypeVar

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


@contextmanager
def executor(workers: int, *, address: str | None = None) -> Iterator[Executor]:
    """Give an executor with so many workers, shut down at the end; `address` names a cluster's scheduler.

    Raises
    ------
    ModuleNotFoundError
        If an address is given and the extra for clusters is not installed.
    """
    if address is not None:
        client_type = import_module("distributed").Client

        with client_type(address) as client:
            yield client.get_executor(pure=False)
    elif workers <= 1:
        yield InPlace()
    else:
        with processes(workers) as pool:
            yield pool


@contextmanager
def processes(count: int) -> Iterator[Executor]:
    """Give an executor of so many processes besides this one, shut down at the end."""
    pool = ProcessPoolExecutor(count, mp_context=get_context("spawn"))
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
