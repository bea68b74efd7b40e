"""A real Dask cluster of this machine for tests: a scheduler and workers as processes of their own."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

Client = import_module("distributed").Client
ROOT = Path(__file__).parents[2]
PATIENCE_S = 60.0


@dataclass(slots=True)
class RealCluster:
    """The processes of a cluster; any of them may be killed, `filled` starts others in their stead."""

    folder: Path
    port: int
    scheduler: subprocess.Popen[bytes] | None = None
    workers: list[subprocess.Popen[bytes]] = field(default_factory=list)

    @property
    def address(self) -> str:
        """Where the scheduler listens."""
        return f"tcp://127.0.0.1:{self.port}"

    def filled(self, workers: int) -> None:
        """Start what is missing and wait until so many workers are there; a task may kill one worker, not two."""
        if self.scheduler is None or self.scheduler.poll() is not None:
            self.end()
            words = ("--host", "127.0.0.1", "--port", str(self.port), "--no-dashboard")
            self.scheduler = self.started("dask_scheduler", *words)
        self.workers = [process for process in self.workers if process.poll() is None]
        while len(self.workers) < workers:
            self.worker()
        self.wait_for(workers)

    def wait_for(self, workers: int) -> None:
        """Wait until so many workers are there, no more and no less."""
        with Client(self.address, timeout=PATIENCE_S, set_as_default=False) as client:
            client.wait_for_workers(workers, timeout=PATIENCE_S)
            until_s = time.monotonic() + PATIENCE_S
            while len(client.scheduler_info()["workers"]) != workers:
                assert time.monotonic() < until_s, "a worker that was killed is still counted"
                time.sleep(0.02)

    def worker(self, *, path: Path = ROOT) -> subprocess.Popen[bytes]:
        """Start a worker that finds this package under a path."""
        words = ("--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", str(self.folder))
        self.workers.append(self.started("dask_worker", self.address, *words, path=path))
        return self.workers[-1]

    def started(self, module: str, *words: str, path: Path = ROOT) -> subprocess.Popen[bytes]:
        """Start one program of the cluster; what it says goes into a file of the folder."""
        command = [sys.executable, "-m", f"distributed.cli.{module}", *words]
        told = {"PYTHONPATH": str(path), "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "1"}
        with (self.folder / f"{module}-{time.monotonic_ns()}.txt").open("wb") as said:
            return subprocess.Popen(command, stdout=said, stderr=said, cwd=self.folder, env={**os.environ, **told})

    def end(self) -> None:
        """End every process."""
        for process in (*self.workers, *([self.scheduler] if self.scheduler else [])):
            process.kill()
            process.wait(timeout=PATIENCE_S)


@contextmanager
def real_cluster(folder: Path) -> Iterator[RealCluster]:
    """Give a cluster without any process yet, and end whatever was started."""
    cluster = RealCluster(folder, free_port())
    try:
        yield cluster
    finally:
        cluster.end()


def free_port() -> int:
    """Return a port that nobody listens at."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])
