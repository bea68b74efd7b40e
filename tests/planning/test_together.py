"""Guards the coming firings of kilns side by side: cases worked by hand, kilns shut or small, and whole runs."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.pieces import Stage
from kilnpack.planning.batches import Job, best_sequence, goals
from kilnpack.planning.clock import NEVER_H
from kilnpack.planning.packs import EstimatedPack
from kilnpack.planning.policies import Policy, PolicyKind
from kilnpack.planning.run import run
from kilnpack.planning.together import Beside, laid_out
from kilnpack.search.seeds import stream
from tests.planning.small import EvenShare, kiln, line, product, programme, works

if TYPE_CHECKING:
    from kilnpack.planning.batches import Batch

BOTH = frozenset({"A", "B"})


def job(code: str, family: str = "A", **more: float) -> Job:
    """Return a third of a kiln for ten hours."""
    return Job(
        code=code,
        family=family,
        size_share=more.get("size", 0.3),
        length_h=more.get("length", 10.0),
        ready_h=more.get("ready", 0.0),
        due_h=more.get("due", NEVER_H),
        weight=more.get("weight", 1.0),
    )


def inside(row: list[Batch]) -> list[tuple[int, ...]]:
    """Return the jobs of each firing of a kiln."""
    return [tuple(sorted(batch.jobs)) for batch in row]


def test_jobs_of_one_programme_share_a_firing() -> None:
    """Two programmes, two kilns: one firing each, at once, not four."""
    rows = laid_out(
        [job("1"), job("2", "B"), job("3"), job("4", "B")],
        [Beside(free_h=0.0, programmes=BOTH), Beside(free_h=0.0, programmes=BOTH)],
        seed=1,
    )
    assert sorted(inside(rows[0]) + inside(rows[1])) == [(0, 2), (1, 3)]
    assert [batch.start_h for row in rows for batch in row] == [0.0, 0.0]


def test_a_firing_waits_for_ware_that_is_nearly_there() -> None:
    """Waiting 2 h for the second job saves a firing, which counts as 1,200 h of waiting; 2,000 h do not pay."""
    one = [Beside(free_h=0.0, programmes=BOTH)]
    assert laid_out([job("1"), job("2", ready=2.0)], one, seed=1)[0][0].start_h == 2.0
    assert inside(laid_out([job("1"), job("2", ready=2000.0)], one, seed=1)[0]) == [(0,), (1,)]


def test_a_due_job_does_not_wait() -> None:
    """The same 2 h, but a weight that makes lateness dear: 10 h is its due moment."""
    one = [Beside(free_h=0.0, programmes=BOTH)]
    rows = laid_out([job("1", due=10.0, weight=100.0), job("2", ready=2.0)], one, seed=1)
    assert inside(rows[0]) == [(0,), (1,)]


def test_kilns_take_what_they_fire_and_hold_when_they_are_open() -> None:
    """The second kiln fires B alone, is half as large, and is shut from 5 h to 30 h: a firing of 10 h begins at 30."""
    other = Beside(free_h=0.0, programmes=frozenset({"B"}), room_share=0.5, closed_h=((5.0, 30.0),))
    first = Beside(free_h=100.0, programmes=frozenset({"A"}), closed_h=((300.0, NEVER_H),))
    rows = laid_out([job("1"), job("2", "B", size=0.5)], [first, other], seed=1)
    assert [(inside(row), row[0].start_h) for row in rows] == [([(0,)], 100.0), ([(1,)], 30.0)]


def test_there_is_time_for_any_backlog() -> None:
    """100 full kilns of 200 h, over two years, beside a kiln that is shut for good from 50 h on: all are laid out."""
    shut = Beside(free_h=0.0, programmes=BOTH, closed_h=((50.0, NEVER_H),))
    rows = laid_out([job(str(k), size=1.0, length=200.0) for k in range(100)], [shut, shut], seed=1, moves=200)
    assert sorted(n for row in rows for batch in row for n in batch.jobs) == list(range(100))


def test_one_kiln_is_as_good_as_the_exact_sequence() -> None:
    """Lateness of small cases on one kiln is within a firing's worth of the exact search over one kiln."""
    for seed in range(6):
        draw = stream(seed, 5)
        jobs = [
            job(str(k), "AB"[int(draw.integers(2))], size=0.4, ready=float(draw.integers(0, 20)),
                due=float(draw.integers(10, 60)))
            for k in range(7)
        ]  # fmt: skip
        found = goals(jobs, laid_out(jobs, [Beside(free_h=0.0, programmes=BOTH)], seed=seed)[0])
        exact = goals(jobs, best_sequence(jobs))
        assert found[0] <= exact[0] + 24.0 * max(0, exact[1] - found[1]) + 1.0
        assert sorted(int(one.code) for one in jobs) == list(range(7))


def test_runs_with_kilns_together_finish_every_line() -> None:
    """Two like kilns and one of another programme: no line stays open, and the same seed gives the same firings."""
    policy = Policy(kind=PolicyKind.LOOK_AHEAD, together=True)
    shop = works(
        kilns=(kiln("K1", "B1"), kiln("K2", "B1"), kiln("K3", "G1")),
        programmes=(programme("B1", Stage.BISCUIT), programme("G1", Stage.GLOST)),
        products=(product("P", "B1", "G1", stages=(Stage.BISCUIT, Stage.GLOST)),),
        lines=tuple(line(f"O{n}", "P", 30, due_days=4 + n) for n in range(8)),
    )
    estimate = EvenShare(50)
    found = [run(shop, policy, EstimatedPack(estimate), estimate, seed=3) for _ in range(2)]
    assert not any(ware for rows in found[0].shop.pools.values() for ware in rows)
    rows = [[(one.kiln.code, one.load_start_h, one.packed.taken) for one in each.shop.fired] for each in found]
    assert rows[0] == rows[1]
    assert {code for code, _, _ in rows[0]} == {"K1", "K2", "K3"}
    assert replace(policy, together=False).name in policy.name.replace(", kilns together 168 h", "")
