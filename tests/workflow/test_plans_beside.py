"""Several plans beside each other: here, on a cluster, on one that loses a worker, and on one that is lost."""

from __future__ import annotations

import signal
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from kilnpack.packing.pack_load import pack_load
from kilnpack.planning.plan_audit import audit_plan
from kilnpack.planning.settle import ANEW, Asked
from kilnpack.search import cluster as clusters
from kilnpack.search.budget import Budget
from kilnpack.search.cluster import on_cluster
from kilnpack.search.listener import Progress
from kilnpack.workflow.planning import check_load, plan_asked
from kilnpack.workflow.plans_beside import PlanTask, UntilFile, best_of
from kilnpack.works_folder import read_works
from tests.planning.small import Counting
from tests.planning.test_planner import busy_works

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from kilnpack.model.plans import Plan
    from tests.search.real_cluster import RealCluster


def small_task() -> PlanTask:
    """Return a plan of a few firings with a packer that counts."""
    return PlanTask(
        works=busy_works(),
        settled=ANEW,
        packer=Counting(room_pieces=4),
        checker=no_fault,
        budget=Budget(effort=1),
        seed=3,
        number=0,
    )


def no_fault(*_: object) -> tuple[()]:
    """Find nothing, as the loads of a packer that counts cannot be measured."""
    return ()


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealCluster]:
    """A cluster of two workers."""
    pytest.importorskip("distributed", reason="the extra for clusters is not installed")
    from tests.search.real_cluster import real_cluster

    with real_cluster(tmp_path_factory.mktemp("cluster")) as found:
        found.filled(2)
        yield found


class Ear:
    """A listener that does something once it has heard often enough."""

    def __init__(self, at: int) -> None:
        self.at, self.left = at, at

    def heard(self, progress: Progress) -> bool:
        """Go on until it has heard often enough."""
        del progress
        self.left -= 1
        return self.left > 0


class Killer(Ear):
    """A listener that kills a worker in the middle and goes on."""

    def __init__(self, pair: RealCluster, at: int) -> None:
        super().__init__(at)
        self.pair = pair

    def heard(self, progress: Progress) -> bool:
        """Kill once."""
        if not super().heard(progress) and self.left == 0:
            self.pair.workers[0].kill()
        return True


@pytest.mark.long
def test_the_best_of_several_plans_is_kept_wherever_they_are_made(
    pair: RealCluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Guards plans over machines: the same best plan from processes and from a cluster; a lost cluster costs help."""
    task = small_task()
    alone, here = task.made(None), best_of(task, plans=3)
    assert here.goals.order <= alone.goals.order
    assert audit_plan(task.works, here) == ()
    with on_cluster(pair.address):
        assert best_of(task, plans=3) == here
        monkeypatch.setattr(clusters, "LOST_S", 0.5)
        monkeypatch.setattr(clusters, "LOOK_S", 0.2)
        assert pair.scheduler is not None
        pair.scheduler.kill()
        pair.scheduler.wait()
        lost = best_of(task, plans=3)
    assert lost.goals == alone.goals
    assert "Planned with less help than asked for" in lost.remarks[-1]


def test_the_plan_made_here_is_the_one_that_would_be_made_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards `--workers`: the plan here has first due first served beside it as a plan alone has; the others do not."""
    task = replace(small_task(), workers=2)
    made: list[dict[str, Any]] = []
    alone = task.made(None)

    def heard(*_: object, **asked: Any) -> Plan:
        made.append(asked)
        return alone

    monkeypatch.setattr("kilnpack.workflow.plans_beside.plan_firings", heard)
    assert task.made(None) == replace(task, number=1, workers=1).made(None) == alone
    assert [(one["workers"], one["first_due"]) for one in made] == [(2, True), (1, False)]
    monkeypatch.undo()
    other = replace(task, number=1, workers=1).made(None)
    assert audit_plan(task.works, other) == ()
    assert best_of(task, plans=2).goals.order <= min(alone.goals.order, other.goals.order)


@pytest.mark.long
def test_real_plans_beside_each_other_are_no_worse_than_one(studio: Path) -> None:
    """Guards what a second worker is for: with the same effort and seed the plan of two is no worse than that of one.

    It was worse here while the plan made in this process packed first due first served last, behind its other rules.
    """
    works = read_works(studio)
    one, two = (
        plan_asked(works, Asked(), budget=Budget(effort=20), seed=1, workers=2, plans=plans) for plans in (1, 2)
    )
    assert two.goals.order <= one.goals.order


def test_one_that_listens_ends_all_of_them() -> None:
    """Guards the early end: whoever stops the plan here does not wait for those made elsewhere."""
    stopped = best_of(small_task(), plans=2, listener=Ear(1))
    assert stopped.cut_short


def test_a_file_ends_a_plan_elsewhere(tmp_path: Path) -> None:
    """Guards the word between processes: a plan goes on until the file is there."""
    word = UntilFile(tmp_path / "stop")
    progress = Progress(step="a", value=1.0, share=0.1, elapsed_s=1.0)
    assert word.heard(progress)
    word.path.touch()
    assert not word.heard(progress)
    assert not replace(word, path=word.path).heard(progress)


@pytest.mark.long
def test_a_plan_of_real_loads_is_the_same_with_a_worker_killed(studio: Path, tmp_path: Path) -> None:
    """Guards a real plan over machines: a worker dies while it packs, and the plan is what processes here make."""
    pytest.importorskip("distributed", reason="the extra for clusters is not installed")
    from tests.search.real_cluster import real_cluster

    task = PlanTask(
        works=read_works(studio),
        settled=ANEW,
        packer=pack_load,
        checker=check_load,
        budget=Budget(effort=30),
        seed=3,
        number=0,
    )
    here = best_of(task, plans=3)
    with real_cluster(tmp_path) as processes:
        processes.filled(2)
        with on_cluster(processes.address):
            there = best_of(task, plans=3, listener=Killer(processes, at=3))
        assert processes.workers[0].wait(timeout=60) == -signal.SIGKILL
    assert there == here
