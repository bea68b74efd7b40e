"""Work for more than one machine: a Dask cluster that is in use for a while, and the executor that hands tasks to it.

Inside `on_cluster(ADDRESS)` all work that asks for `anywhere` or `beside` goes to the cluster; outside of it, to
processes of this machine. Tasks are pure: one whose worker is lost is begun anew on another, with the same result.
Whoever reaches the scheduler can run any code on every worker, so it belongs into a network that strangers cannot
reach; addresses with `tls://` use the certificates of Dask's own configuration.
"""

from __future__ import annotations

import hashlib
import logging
import sys
import threading
import time
from concurrent.futures import CancelledError, Executor, Future
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

from kilnpack.errors import ClusterUnusable
from kilnpack.search.executor import executor, processes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_P = ParamSpec("_P")
_R = TypeVar("_R")

JOIN_S = 10.0
"""Seconds that the scheduler has to answer at first."""
LOOK_S = 1.0
"""Seconds of waiting for a result between two looks whether the cluster is there."""
LOST_S = 20.0
"""Seconds without any worker, or without the scheduler, after which the cluster counts as lost."""
USUAL_PORT = 8786

_one_at_a_time = threading.Lock()
"""Held by the task of this process: a worker may be set up with threads, which must not share their tables."""

_used: ContextVar[Cluster | None] = ContextVar("_used", default=None)


@cache
def source_code() -> str:
    """Return a mark of Python and of this package's source, equal where tasks mean the same."""
    digest = hashlib.sha256()
    root = Path(__file__).parents[1]
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(path.read_bytes())
    return f"Python {sys.version_info.major}.{sys.version_info.minor}, source {digest.hexdigest()[:12]}"


def _alone(fn: Callable[_P, _R], *args: _P.args, **kwargs: _P.kwargs) -> _R:
    """Run a task in a worker while no other runs there."""
    with _one_at_a_time:
        return fn(*args, **kwargs)


class Cluster(Executor):
    """Hands tasks to the workers of a cluster; one that was joined by `on_cluster`."""

    def __init__(self, address: str, client: Any) -> None:
        self.address = address
        self.client = client
        self._alive_s = time.monotonic()

    @property
    def workers(self) -> int:
        """How many tasks run at a time: one in each process."""
        asked = self.client.scheduler.identity
        return len(self.client.sync(asked, n_workers=-1, callback_timeout=LOST_S)["workers"])

    def submit(self, fn: Callable[_P, _R], /, *args: _P.args, **kwargs: _P.kwargs) -> Future[_R]:
        """Hand in a task; it is never taken for one that was done before."""
        return _Away(self, self.client.submit(_alone, fn, *args, pure=False, **kwargs))

    def insist_alive(self) -> None:
        """Go on only as long as there are workers, or may soon be some again.

        Raises
        ------
        ClusterUnusable
            Scheduler or workers are gone for longer than `LOST_S`.
        """
        there = self.client.status == "running"
        workers = 0
        if there:
            try:
                workers = self.workers
            except (TimeoutError, OSError):
                there = False
        if workers:
            self._alive_s = time.monotonic()
        elif time.monotonic() - self._alive_s > LOST_S:
            raise ClusterUnusable(self.address, "no worker is left" if there else "its scheduler is gone")


class _Away(Future[_R]):
    """A task on a cluster."""

    def __init__(self, cluster: Cluster, inner: Any) -> None:
        super().__init__()
        self._cluster, self._inner = cluster, inner

    def done(self) -> bool:
        """Return whether the task has ended."""
        return bool(self._inner.done())

    def cancel(self) -> bool:
        """Take the task back; one that runs already runs to its end, and nobody waits for it."""
        self._inner.cancel()
        return True

    def result(self, timeout: float | None = None) -> _R:
        """Wait for the result, or raise what the task raised.

        Raises
        ------
        ClusterUnusable
            The cluster is lost, or the task brought down one worker after the other.
        TimeoutError
            The seconds given are over.
        """
        ends_s = None if timeout is None else time.monotonic() + timeout
        while True:
            left_s = LOOK_S if ends_s is None else max(0.0, min(LOOK_S, ends_s - time.monotonic()))
            try:
                return self._inner.result(timeout=left_s)  # type: ignore[no-any-return]
            except TimeoutError:
                if self._inner.done():  # just now, or the task itself ran out of time: this says which
                    return self._inner.result()  # type: ignore[no-any-return]
                if ends_s is not None and time.monotonic() >= ends_s:
                    raise
            except CancelledError as fault:
                raise ClusterUnusable(self._cluster.address, "it has dropped a task") from fault
            except import_module("distributed").KilledWorker as fault:
                raise ClusterUnusable(self._cluster.address, f"workers die of a task: {fault}") from fault
            self._cluster.insist_alive()


@contextmanager
def on_cluster(address: str | None) -> Iterator[Cluster | None]:
    """Use a cluster for what is inside; with None, nothing changes.

    Raises
    ------
    ClusterUnusable
        The extra is not installed, nobody answers, there is no worker, or a worker has other source code.
    """
    if address is None:
        yield None
        return
    cluster = _joined(address if "://" in address else f"tcp://{address}")
    token = _used.set(cluster)
    try:
        yield cluster
    finally:
        _used.reset(token)
        _close(cluster.client)


def _joined(address: str) -> Cluster:
    """Return a cluster that can be worked with."""
    try:
        client_type = import_module("distributed").Client
        for name in ("distributed", "distributed.client"):  # what they log of a loss is said in words instead
            logging.getLogger(name).setLevel(logging.CRITICAL)
    except ModuleNotFoundError as fault:
        raise ClusterUnusable(address, "Dask is not installed; install kilnpack[cluster]") from fault
    try:
        client = client_type(address, timeout=JOIN_S, set_as_default=False)
    except (OSError, ValueError, TypeError) as fault:
        reason = f"no scheduler answers there ({_first_line(fault)}); the usual port is {USUAL_PORT}"
        raise ClusterUnusable(address, reason) from fault
    try:
        _insist_same(address, client)
    except BaseException:
        _close(client)
        raise
    return Cluster(address, client)


def _close(client: Any) -> None:
    """Let go of a cluster that may not answer any more."""
    with suppress(TimeoutError, OSError):
        client.close(timeout=LOOK_S)


def _insist_same(address: str, client: Any) -> None:
    """Go on only with workers that run this very source code."""
    try:
        codes: dict[str, str] = client.run(source_code)
    except Exception as fault:
        raise ClusterUnusable(address, f"a worker cannot run kilnpack: {_first_line(fault)}") from fault
    if not codes:
        raise ClusterUnusable(address, "it has no worker; start one with: dask worker ADDRESS --nthreads 1")
    own = source_code()
    other = [f"{worker} has {code}" for worker, code in sorted(codes.items()) if code != own]
    if other:
        raise ClusterUnusable(address, "; ".join([f"its workers must have what is here, {own}", *other]))


def _first_line(fault: BaseException) -> str:
    return (str(fault).splitlines() or [type(fault).__name__])[0]


@contextmanager
def anywhere(workers: int) -> Iterator[Executor]:
    """Give the cluster that is in use, or else an executor with so many workers here."""
    cluster = _used.get()
    if cluster is not None:
        yield cluster
        return
    with executor(workers) as pool:
        yield pool


@contextmanager
def beside(count: int) -> Iterator[Executor]:
    """Give the cluster that is in use, or else so many processes besides this one, which works too."""
    cluster = _used.get()
    if cluster is not None:
        yield cluster
        return
    with processes(count) as pool:
        yield pool
