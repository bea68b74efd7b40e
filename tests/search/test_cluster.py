"""Work on a real cluster of processes: the same results as here, also when a worker is killed in the middle."""

from __future__ import annotations

import os
import shutil
import signal
import time
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import ClusterUnusable
from kilnpack.packing.improve import Tuning
from kilnpack.packing.together import Packed, pack_together
from kilnpack.search import cluster as clusters
from kilnpack.search.budget import Budget
from kilnpack.search.cluster import anywhere, on_cluster
from tests.packing.tiny_loads import tiny_problem

pytest.importorskip("distributed", reason="the extra for clusters is not installed")

from tests.search.real_cluster import PATIENCE_S, ROOT, RealCluster, free_port, real_cluster

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from kilnpack.search.listener import Progress


SMALL = Tuning(polish_evaluations=0, fills=4)


@pytest.fixture(scope="module")
def processes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealCluster]:
    """The processes of one cluster."""
    with real_cluster(tmp_path_factory.mktemp("cluster")) as found:
        yield found


@pytest.fixture
def pair(processes: RealCluster) -> RealCluster:
    """A cluster of two workers, whatever the test before did to it."""
    processes.filled(2)
    return processes


def _half(number: int) -> float:
    return number / 2


def _fail(number: int) -> float:
    raise ValueError(number)


def _late(number: int) -> float:
    raise TimeoutError(number)


def _slow(folder: Path, seconds: float) -> int:
    (folder / str(os.getpid())).touch()
    time.sleep(seconds)
    return os.getpid()


def _murderous() -> None:
    os._exit(3)


def test_work_goes_to_the_cluster_and_comes_back(pair: RealCluster, tmp_path: Path) -> None:
    """Guards the cluster as an executor: results and faults come back, and no task is taken for one done before."""
    with on_cluster(pair.address.removeprefix("tcp://")) as joined, anywhere(1) as pool:
        assert joined is not None
        assert joined.workers == 2
        assert [one.result() for one in [pool.submit(_half, k) for k in range(3)]] == [0.0, 0.5, 1.0]
        with pytest.raises(ValueError, match="7"):
            pool.submit(_fail, 7).result()
        with pytest.raises(TimeoutError, match="7"):
            pool.submit(_late, 7).result()
        at_once = [pool.submit(_slow, tmp_path, 0.05) for _ in range(2)]
        pids = {one.result() for one in at_once}
        assert pids <= {process.pid for process in pair.workers}
        assert all(one.done() for one in at_once)
        waiting = pool.submit(_slow, tmp_path, 3.0)
        with pytest.raises(TimeoutError):
            waiting.result(timeout=0.01)
        assert waiting.cancel()
        with pytest.raises(ClusterUnusable, match="dropped a task"):
            waiting.result()
    with on_cluster(None) as none, anywhere(1) as pool:
        assert none is None
        assert pool.submit(os.getpid).result() == os.getpid()


def test_a_killed_worker_costs_time_alone(pair: RealCluster, tmp_path: Path) -> None:
    """Guards the loss of a machine: the process at work is really killed, and its task is done by the other one."""
    with on_cluster(pair.address), anywhere(2) as pool:
        task = pool.submit(_slow, tmp_path, 1.5)
        until_s = time.monotonic() + PATIENCE_S
        while not (begun := [int(path.name) for path in tmp_path.iterdir()]) and time.monotonic() < until_s:
            time.sleep(0.01)
        os.kill(begun[0], signal.SIGKILL)
        assert task.result() != begun[0]
        assert len(list(tmp_path.iterdir())) == 2


class Killing:
    """A listener that kills a worker when it hears of progress for the second time."""

    def __init__(self, pair: RealCluster) -> None:
        self.pair, self.heard_of = pair, 0

    def heard(self, progress: Progress) -> bool:
        """Take note; the search goes on."""
        del progress
        self.heard_of += 1
        if self.heard_of == 2:
            self.pair.workers[0].kill()
        return True


def test_a_load_is_the_same_here_and_on_a_cluster_that_loses_a_worker(pair: RealCluster) -> None:
    """Guards the search of a load over machines: the very load that processes of this machine find with the seed."""
    problem = tiny_problem(3)

    def packed(listener: Killing | None = None) -> Packed:
        return pack_together(problem, budget=Budget(effort=40), seed=5, workers=3, tuning=SMALL, listener=listener)

    here = packed()
    killing = Killing(pair)
    with on_cluster(pair.address):
        there, without = packed(), packed(killing)
    assert killing.heard_of > 2
    assert pair.workers[0].wait(timeout=PATIENCE_S) == -signal.SIGKILL
    assert there == here
    assert without == here


def test_a_worker_with_other_source_is_refused(pair: RealCluster, tmp_path: Path) -> None:
    """Guards against tasks that mean something else elsewhere: the worker is named, and nothing is handed to it."""
    shutil.copytree(ROOT / "kilnpack", tmp_path / "kilnpack", ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "kilnpack" / "units.py").write_text("# another\n", encoding="utf-8")
    other = pair.worker(path=tmp_path)
    pair.wait_for(3)
    with pytest.raises(ClusterUnusable, match=r"tcp://.* has Python .*, source") as refused, on_cluster(pair.address):
        pass
    assert refused.value.exit_code == 2
    other.kill()
    pair.wait_for(2)
    (tmp_path / "broken" / "kilnpack").mkdir(parents=True)
    (tmp_path / "broken" / "kilnpack" / "__init__.py").write_text("raise ImportError('half of it')\n", encoding="utf-8")
    without = pair.worker(path=tmp_path / "broken")
    pair.wait_for(3)
    with pytest.raises(ClusterUnusable, match="a worker cannot run kilnpack"), on_cluster(pair.address):
        pass
    without.kill()
    pair.wait_for(2)


def test_a_cluster_that_is_lost_is_said_in_words(pair: RealCluster, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the end of a cluster: a deadly task, no worker left and a dead scheduler each end the wait with words."""
    monkeypatch.setattr(clusters, "LOST_S", 0.5)
    monkeypatch.setattr(clusters, "LOOK_S", 0.2)
    with on_cluster(pair.address), anywhere(2) as pool:
        with pytest.raises(ClusterUnusable, match="workers die of a task"):
            pool.submit(_murderous).result()
        with pytest.raises(ClusterUnusable, match="no worker is left"):
            pool.submit(_half, 3).result()
        with pytest.raises(ClusterUnusable, match="it has no worker"), on_cluster(pair.address):
            pass
        assert pair.scheduler is not None
        waiting = pool.submit(_half, 3)
        pair.scheduler.kill()
        with pytest.raises(ClusterUnusable, match=r"its scheduler is gone|dropped a task"):
            waiting.result()


def test_nobody_at_the_address_and_no_extra_are_said_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the border: a wrong address, a wrong scheme, and a machine without Dask give a reason and exit code 2."""
    monkeypatch.setattr(clusters, "JOIN_S", 0.3)
    for address, said in ((f"127.0.0.1:{free_port()}", "no scheduler answers"), ("nonsense://x", "no scheduler")):
        with pytest.raises(ClusterUnusable, match=said), on_cluster(address):
            pass

    def missing(name: str) -> None:
        raise ModuleNotFoundError(name)

    monkeypatch.setattr(clusters, "import_module", missing)
    with pytest.raises(ClusterUnusable, match=r"kilnpack\[cluster\]"), on_cluster("tcp://there:1"):
        pass
