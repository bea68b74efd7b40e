"""The search over whole loads: as good as trying everything on tiny loads, monotone, repeatable, few settings."""

from __future__ import annotations

import copy
import threading
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.packing.clusters import Clusters
from kilnpack.packing.improve import Tuning, tiers_of
from kilnpack.packing.state import OPEN, LoadState
from kilnpack.packing.together import Round, pack_together, packed, prepare, sent, unpacked, work_round
from kilnpack.search.budget import Budget
from tests.packing.tiny_loads import best_value, tiny_problem

if TYPE_CHECKING:
    from kilnpack.packing.problem import LoadProblem, Site
    from kilnpack.search.listener import Progress
    from kilnpack.shapes.room import Room

SMALL = Tuning(polish_evaluations=0, fills=4)


class Ear:
    """Keeps all it hears and says stop after so many times."""

    def __init__(self, most: int = 10**9) -> None:
        self.values: list[float] = []
        self.most = most

    def heard(self, progress: Progress) -> bool:
        """Note the value."""
        self.values.append(progress.value)
        return len(self.values) < self.most


def stock_is_kept(problem: LoadProblem, state: LoadState) -> None:
    """Assert that counts, posts, shelves and heights of a state are those of its tiers and within the stock."""
    again = unpacked(problem, packed(state))
    assert (again.spare >= 0).all()
    assert min(again.posts, default=0) >= 0
    assert min(again.shelves) >= 0
    assert again.value == pytest.approx(state.value)
    for stack, site in enumerate(problem.stacks):
        assert state.slack_mm(stack) >= -1e-6
        if site.open_top and state.stacks[stack]:
            assert [tier.column == OPEN for tier in state.stacks[stack]].index(True) == len(state.stacks[stack]) - 1
    for stack, base_mm, tier in tiers_of(state):
        room = state.room(stack, base_mm, tier.column)
        assert room is not None
        for spot in tier.filled.spots:
            assert problem.wares[spot.ware].body.height_mm <= room.clear_height_mm + 1e-9
            assert state.allowed(stack, base_mm, tier.column) >> spot.ware & 1


@pytest.mark.parametrize("open_top", [False, True])
def test_tiny_loads_reach_the_best_of_all(open_top: bool) -> None:
    """Guards the whole search: 24 tiny loads (shelves, posts, zones bind) reach the value found by enumeration."""
    for seed in range(12):
        problem = tiny_problem(seed, open_top=open_top)
        best = best_value(problem)
        plan = pack_together(problem, budget=Budget(effort=60), seed=1, tuning=SMALL)
        stock_is_kept(problem, unpacked(problem, plan))
        assert plan.value <= best + 1e-6
        assert plan.value == pytest.approx(best), seed


def test_few_settings_are_kept_and_lose_little() -> None:
    """Guards the limit on different settings: never more than asked for, stock kept, no more worth than without."""
    for seed in range(6):
        problem = tiny_problem(seed, open_top=seed % 2 == 0, settings_most=2)
        free = best_value(replace(problem, settings_most=None))
        plan = pack_together(problem, budget=Budget(effort=60), seed=1, tuning=replace(SMALL, polish_evaluations=200))
        state = unpacked(problem, plan)
        stock_is_kept(problem, state)
        assert len({tier.filled.spots for _, _, tier in tiers_of(state) if tier.filled.spots}) <= 2
        assert plan.value <= free + 1e-6


def test_effort_and_seed_repeat_and_progress_never_falls() -> None:
    """Guards repeatability and the promise that more time is never worse."""
    problem = tiny_problem(3)
    ears = (Ear(), Ear())
    runs = [pack_together(problem, budget=Budget(effort=40), seed=5, listener=ear, tuning=SMALL) for ear in ears]
    assert runs[0] == runs[1]
    assert ears[0].values == sorted(ears[0].values)
    more = pack_together(problem, budget=Budget(effort=40), seed=6, tuning=SMALL, start=runs[0])
    assert more.value >= runs[0].value


def test_listener_and_ctrl_c_end_with_the_best_so_far(monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards the early end: one that was told to stop, and one that was interrupted, still give a load."""
    problem = tiny_problem(4)
    stopped = pack_together(problem, budget=Budget(seconds=60.0), seed=1, listener=Ear(most=1), tuning=SMALL)
    assert stopped.value > 0

    class Interrupted(Ear):
        def heard(self, progress: Progress) -> bool:
            if progress.step.startswith("improving"):
                raise KeyboardInterrupt
            return super().heard(progress)

    cut = pack_together(problem, budget=Budget(seconds=60.0), seed=1, listener=Interrupted(), tuning=SMALL)
    assert cut.value > 0
    few = replace(problem, settings_most=2)
    assert pack_together(few, budget=Budget(seconds=60.0), seed=1, listener=Interrupted(), tuning=SMALL).value > 0


def test_one_ctrl_c_ends_the_whole_search() -> None:
    """Guards that a single interrupt is enough: what follows it in the budget is not searched any more."""
    problem = tiny_problem(4)

    class Once(Ear):
        pressed = False

        def heard(self, progress: Progress) -> bool:
            if progress.step.startswith("improving") and not self.pressed:
                self.pressed = True
                raise KeyboardInterrupt
            assert not self.pressed, "the search went on"
            return super().heard(progress)

    for workers in (1, 2):
        ear = Once()
        plan = pack_together(problem, budget=Budget(seconds=60.0), seed=1, workers=workers, listener=ear, tuning=SMALL)
        assert ear.pressed
        assert plan.value > 0


def test_two_workers_find_a_load_and_keep_the_limit() -> None:
    """Guards the rounds of several workers, in seconds and in effort."""
    problem = tiny_problem(2, settings_most=2)
    for budget in (Budget(seconds=2.5), Budget(effort=32)):
        ear = Ear()
        plan = pack_together(problem, budget=budget, seed=1, workers=2, listener=ear, tuning=SMALL)
        stock_is_kept(problem, unpacked(problem, plan))
        assert ear.values == sorted(ear.values)
    free = pack_together(
        replace(problem, settings_most=None), budget=Budget(effort=32), seed=1, workers=2, listener=Ear(3), tuning=SMALL
    )
    assert free.value >= plan.value - 1e-9


@dataclass(frozen=True)
class OwnThreadSite:
    """A site that may be pickled only in the thread that made it."""

    site: Site
    thread: int = field(default_factory=threading.get_ident)

    def room(self, stack: int, base_mm: float, posts_mm: float | None) -> Room | None:
        """Ask the other site."""
        return self.site.room(stack, base_mm, posts_mm)

    def allowed(self, stack: int, base_mm: float, posts_mm: float | None) -> int:
        """Ask the other site."""
        return self.site.allowed(stack, base_mm, posts_mm)

    def __reduce__(self) -> tuple[object, ...]:
        """Become the other site where it arrives."""
        assert threading.get_ident() == self.thread, "a pool's thread pickles what this one is working with"
        return copy.copy, (self.site,)


def test_problem_is_not_pickled_while_this_process_works_with_it() -> None:
    """Guards joint searches of real works: their sites note what they are asked, and break off a pickle meanwhile."""
    problem = tiny_problem(4)
    watched = replace(problem, site=OwnThreadSite(problem.site))
    plan = pack_together(watched, budget=Budget(effort=16), seed=1, workers=2, tuning=SMALL)
    assert plan.value > 0


def test_free_search_polishes_single_shelves() -> None:
    """Guards the search without a limit from the start, with the shelf engine as one of its moves."""
    problem = tiny_problem(5, open_top=True)
    tuning = Tuning(polish_evaluations=100, fills=2, bound_share=0.0, weights=(0.1, 0.1, 0.1, 0.6, 0.1))
    plan = pack_together(problem, budget=Budget(effort=30), seed=1, tuning=tuning)
    stock_is_kept(problem, unpacked(problem, plan))
    assert plan.value == pytest.approx(best_value(problem))


def test_round_of_a_worker_never_loses() -> None:
    """Guards what a worker process does with a round, with and without tables built ahead."""
    problem = tiny_problem(7)
    start = packed(LoadState(problem))
    task = Round(start=start, budget=Budget(effort=20), span=(0.0, 1.0), seed=1, tuning=SMALL)
    first = work_round(sent(problem), task, "one").plan
    assert first.value >= start.value
    assert prepare(sent(problem), "two")
    again = work_round(sent(problem), replace(task, start=first), "two").plan
    assert again.value >= first.value
    stock_is_kept(problem, unpacked(problem, again))


def test_clusters_copy_without_sharing() -> None:
    """Guards the copy that every change is tried on."""
    clusters = Clusters(LoadState(tiny_problem(1)), [[]])
    twin = clusters.copy()
    twin.labels[0].append(1)
    assert clusters.labels == [[]]
    assert clusters.places(1) == []
    assert twin.numbers() == [1]
