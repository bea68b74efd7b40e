"""Column generation: never loses a load, finds what changes of single tiers miss, keeps stock and settings."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from kilnpack.packing.clusters import Clusters
from kilnpack.packing.columns import add_load, build, generate
from kilnpack.packing.columns_master import Chosen, Master, Pool, alike_stacks, best_worths
from kilnpack.packing.columns_pricing import Care
from kilnpack.packing.crew import Round, Trace, alike, bench_for, packed, sent, unpacked, work_round
from kilnpack.packing.filler import Filler
from kilnpack.packing.improve import Tuning
from kilnpack.packing.rebuild import Estimates, first_load
from kilnpack.packing.state import LoadState
from kilnpack.packing.together import pack_together
from kilnpack.search.budget import Budget
from kilnpack.search.seeds import stream
from tests.packing.test_whole_load import SMALL, Ear, stock_is_kept
from tests.packing.tiny_loads import best_value, tiny_problem

if TYPE_CHECKING:
    from kilnpack.packing.columns import Generated
    from kilnpack.packing.columns_master import Setting, Structure
    from kilnpack.packing.problem import LoadProblem
    from kilnpack.search.listener import Listener, Progress


def care(polish: int = 0) -> Care:
    """Return the care of small tests."""
    return Care(rng=np.random.default_rng(3), polish_evaluations=polish)


def first(problem: LoadProblem, filler: Filler) -> LoadState:
    """Return a poor load to begin from."""
    state = LoadState(problem)
    first_load(state, Estimates(filler, fills=2), fills=2, rng=stream(1, 1), rounds=1)
    return state


def grown(problem: LoadProblem, effort: int = 600, polish: int = 0, listener: Listener | None = None) -> Generated:
    """Return what column generation makes of the first load."""
    filler = Filler(problem)
    state = first(problem, filler)
    ear = listener or Trace()
    return generate(state, filler, [], care=care(polish), meter=Budget(effort=effort).start(), listener=ear)


@pytest.mark.parametrize("open_top", [False, True])
def test_columns_keep_the_stock_and_the_optimum(open_top: bool) -> None:
    """Guards the improver on 16 tiny loads: never under the load begun with, never over the best of all, in stock."""
    reached = 0
    for seed in range(8):
        problem = tiny_problem(seed, open_top=open_top)
        begun = first(problem, Filler(problem))
        got = grown(problem)
        stock_is_kept(problem, got.best)
        best = best_value(problem)
        assert begun.value - 1e-9 <= got.best.value <= best + 1e-6
        reached += got.best.value > best - 1e-6
    assert reached >= 6


def test_linear_worth_is_over_the_choice_and_under_everything_ready() -> None:
    """Guards the worth of the master in fractions: at least that of its whole-number choice, at most all ware."""
    problem = tiny_problem(3)
    got = grown(problem, polish=100)
    assert got.linear_value is not None
    assert got.best.value - 1e-6 <= got.linear_value <= problem.ready_value + 1e-6
    assert got.rounds >= 2
    assert len(got.pool.settings) >= 2


def test_interrupt_and_listener_give_the_best_so_far() -> None:
    """Guards Ctrl-C: an interrupt at any look, and a listener that wants to stop, still give the load begun with."""
    problem = tiny_problem(4)

    class Interrupted:
        def heard(self, progress: Progress) -> bool:
            del progress
            raise KeyboardInterrupt

    begun = first(problem, Filler(problem)).value
    for listener in (Interrupted(), Ear(most=1)):
        got = grown(problem, listener=listener)
        assert got.best.value >= begun
        stock_is_kept(problem, got.best)


def test_few_settings_hold_in_the_master() -> None:
    """Guards the limit on different settings: the choice has no more of them, and its tiers are bound by them."""
    for seed in range(6):
        problem = tiny_problem(seed, settings_most=2)
        bench = bench_for(problem)
        start = packed(LoadState(problem))
        few = pack_together(problem, budget=Budget(effort=20), seed=1, tuning=replace(SMALL, columns=False))
        task = Round(
            start=few, budget=Budget(effort=600), span=(0.0, 1.0), seed=2, tuning=SMALL, pool=Pool(), seen=(start,)
        )
        worked = work_round(sent(problem), task, f"few {seed}")
        state = unpacked(problem, worked.plan)
        stock_is_kept(problem, state)
        assert worked.plan.value >= few.value
        assert len({tier.filled.spots for tiers in state.stacks for tier in tiers if tier.filled.spots}) <= 2
        assert worked.pool is not None
        assert worked.trace[-1][1] == worked.plan.value
        labels = worked.plan.labels
        assert labels is not None
        assert len({label for row in labels for label in row}) <= 2
        clusters = Clusters(state, alike(state))
        assert all(clusters.common(clusters.places(label)) for label in clusters.numbers())
        assert bench.problem is problem


def test_empty_tiers_count_for_no_setting() -> None:
    """Guards the limit once more: tiers without ware are taken out of a choice, where nothing keeps them in."""
    problem = tiny_problem(3, settings_most=2)
    filler = Filler(problem)
    state = first(problem, filler)
    pool = Pool()
    groups = alike_stacks(LoadState(problem), [0.0, 80.0])
    rows = add_load(pool, state, filler, groups)
    empty: dict[int, tuple[Structure, tuple[Setting | None, ...]]] = {
        stack: (structure, (None,) * len(structure.slots)) for stack, structure, _ in rows
    }
    built = build(Chosen(empty), LoadState(problem), filler, np.random.default_rng(1), Budget(effort=50).start())
    assert sum(len(tiers) for tiers in state.stacks) > 0
    assert sum(len(tiers) for tiers in built.stacks) == 0


def test_nothing_to_generate_from_changes_nothing() -> None:
    """Guards the empty load: no settings known, so nothing is priced."""
    problem = tiny_problem(2)
    state = LoadState(problem)
    got = generate(state, Filler(problem), [], care=care(), meter=Budget(effort=50).start(), listener=Trace())
    assert got.best is state
    assert got.linear_value is None


def test_hint_stands_for_the_load_itself() -> None:
    """Guards the start of the whole-number master: the hint is worth exactly the load it was made from."""
    problem = tiny_problem(6)
    filler = Filler(problem)
    state = first(problem, filler)
    pool = Pool()
    groups = alike_stacks(LoadState(problem), [0.0, 80.0])
    rows = add_load(pool, state, filler, groups)
    master = Master(problem, pool, groups)
    hint = master.hint(rows)
    gains = sum(gain * value for gain, value in zip(master.programme.gains, hint, strict=True))
    assert gains == pytest.approx(state.value)
    assert max(best_worths(problem)) == max(ware.body.value for ware in problem.wares)


def test_columns_take_turns_with_changes_and_repeat() -> None:
    """Guards the whole search with columns: repeatable with effort and seed, monotone, as good as enumeration."""
    problem = tiny_problem(9)
    ears = (Ear(), Ear())
    runs = [pack_together(problem, budget=Budget(effort=1200), seed=5, listener=ear, tuning=SMALL) for ear in ears]
    assert runs[0] == runs[1]
    assert ears[0].values == sorted(ears[0].values)
    assert runs[0].linear_value is not None
    assert runs[0].value == pytest.approx(best_value(problem))
    together = pack_together(
        problem, budget=Budget(effort=1200), seed=5, workers=2, tuning=Tuning(polish_evaluations=0, fills=4)
    )
    assert together.value == pytest.approx(best_value(problem))
