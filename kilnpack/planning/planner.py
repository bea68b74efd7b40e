"""From works to plan: a load for each kiln says what fits, rules to dispatch by are tried by estimate, the best packed.

First due first served is always packed too, until it cannot be the better plan any more: no plan is worse than it with
the same packer.
"""

from __future__ import annotations

import signal
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from kilnpack.planning.clock import NEVER_H
from kilnpack.planning.estimate import AreaHeight
from kilnpack.planning.explaining import explained
from kilnpack.planning.given import NOTHING, urgent_works
from kilnpack.planning.interrupts import hear_interrupts, held_back_interrupts, remembered_interrupts
from kilnpack.planning.kiln_rooms import learn_rooms
from kilnpack.planning.matching import firing_codes
from kilnpack.planning.outcomes import cannot_beat, goals_of, outcomes_of, tight_days
from kilnpack.planning.packs import Checker, EstimatedPack, Packer
from kilnpack.planning.plan_values import plan_of
from kilnpack.planning.planning_call import Planning, planning_of
from kilnpack.planning.policies import Policy, PolicyKind
from kilnpack.planning.run import Run, run
from kilnpack.planning.settle import ANEW, Settled
from kilnpack.planning.shifting import shifted
from kilnpack.planning.told import Word
from kilnpack.search.executor import executor
from kilnpack.search.listener import Listener, Silent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.estimate import Estimate
    from kilnpack.planning.given import Given
    from kilnpack.planning.shifting import Rated
    from kilnpack.planning.shop import Shop
    from kilnpack.search.budget import Budget

FIRST_DUE = Policy(kind=PolicyKind.FIRST_DUE)
FURNISHED_SHARE = 0.8
POLICIES = (
    Policy(kind=PolicyKind.LOOK_AHEAD, together=True, margin_h=0.0, horizon_h=168.0),
    Policy(kind=PolicyKind.LOOK_AHEAD, margin_h=0.0, longest_wait_h=24.0, paced=True),
    *(
        Policy(
            kind=PolicyKind.LOOK_AHEAD,
            together=together,
            margin_h=0.0,
            longest_wait_h=wait_h,
            horizon_h=horizon_h,
            paced=paced,
            least_furniture_share=FURNISHED_SHARE,
        )
        for together, wait_h, horizon_h, paced in (
            (True, NEVER_H, 168.0, False),
            (False, 24.0, 168.0, True),
            (False, NEVER_H, 168.0, False),
        )
    ),
    *(
        Policy(kind=PolicyKind.LOOK_AHEAD, together=True, margin_h=margin_h, longest_wait_h=wait_h, horizon_h=horizon_h)
        for margin_h, wait_h, horizon_h in (
            (0.0, NEVER_H, 96.0),
            (48.0, NEVER_H, 168.0),
            (0.0, 24.0, 168.0),
        )
    ),
    Policy(kind=PolicyKind.LOOK_AHEAD, margin_h=48.0, paced=True),
    Policy(kind=PolicyKind.LOOK_AHEAD, together=True, margin_h=0.0, horizon_h=96.0, paced=True),
    Policy(kind=PolicyKind.LOOK_AHEAD, together=True, margin_h=48.0, paced=True),
    *(
        Policy(kind=PolicyKind.LOOK_AHEAD, margin_h=margin_h, longest_wait_h=wait_h)
        for margin_h in (0.0, 48.0)
        for wait_h in (NEVER_H, 24.0)
    ),
    Policy(kind=PolicyKind.MOST_GAIN),
)
"""Tried by estimate in this order, while there is time."""
ESTIMATE_SHARE = 0.1
"""Share of the budget after which no further policy is tried by estimate."""
SHIFT_SHARE = 0.15
"""Share of the budget that goes to shifting lines by estimate."""
SHIFT_EFFORT = 50
"""Effort that pays for one trial of shifting lines."""
SHIFT_TRIALS = 400
TIGHT_SHARE = 0.2
"""What a day that a line has too little in hand counts beside a late day, where loads are estimated by area."""


def plan_firings(  # noqa: PLR0913 - what is planned, with what, for how long, and who listens
    works: Works,
    *,
    budget: Budget,
    seed: int,
    packer: Packer,
    checker: Checker | None = None,
    listener: Listener | None = None,
    estimate: Estimate | None = None,
    policies: Sequence[Policy] = POLICIES,
    workers: int = 1,
    settled: Settled = ANEW,
    first_due: bool = True,
) -> Plan:
    """Lay out the firings over the backlog.

    Parameters
    ----------
    works
        With its order lines, lots, kilns, furniture, supply and working hours; planning starts at its `now`.
    budget
        Seconds or effort for the whole plan; nearly all of it goes to packing.
    seed
        With an effort budget the plan repeats.
    packer
        Packs one load.
    checker
        Checks one load; a load it finds fault with is not fired.
    listener
        Hears of progress and may end the planning with the best plan so far, as an interrupt does.
    estimate
        What share of a kiln a piece takes before it is packed; the default goes by area and height and learns.
    policies
        Ways to dispatch, tried beside first due first served.
    workers
        With two, first due first served is packed in a second process meanwhile; packer and checker must then be
        picklable.
    settled
        What stays of an earlier plan, kilns that are down and lines that are urgent.
    first_due
        False where another plan made beside this one packs first due first served, so that the time is for the others.

    Returns
    -------
    Plan
        The best plan found by the order of `PlanGoals`; with a remark where planning was stopped early.
    """
    with remembered_interrupts() as interrupts:
        area = estimate if estimate is not None else AreaHeight(works)
        works = urgent_works(works, settled.given.urgent)
        planning = planning_of(works, budget, seed, listener or Silent(), area, interrupts, packer, checker)
        _keep_most(planning, policies[0] if policies else FIRST_DUE, settled.ways)
        planning.given = settled.given
        if workers > 1 and first_due and policies and not planning.stopped:
            _try_beside(planning, policies)
        elif not (planning.plans and planning.stopped):
            _try_all(planning, policies, first_due=first_due or not policies)
        best = explained(planning, min(planning.plans, key=lambda plan: plan.goals.order), POLICIES[0])
    return replace(best, remarks=settled.remarks + best.remarks, cut_short=planning.stopped)


def plan_with(
    works: Works,
    policy: Policy,
    *,
    budget: Budget,
    seed: int,
    packer: Packer,
    checker: Checker | None = None,
    listener: Listener | None = None,
) -> Plan:
    """Lay out the firings with one policy and no other; parameters as for `plan_firings`."""
    with remembered_interrupts() as interrupts:
        area = AreaHeight(works)
        planning = planning_of(works, budget, seed, listener or Silent(), area, interrupts, packer, checker)
        planning.expect(_estimated(planning, policy).shop.fired)
        _packed(planning, policy, runs_after=0)
    return planning.plans[0]


def plan_beside_first_due(
    works: Works, *, budget: Budget, seed: int, packer: Packer, checker: Checker | None = None
) -> tuple[Plan, Plan]:
    """Return first due first served, packed to its end, and the best plan, in two processes and the same seconds.

    Parameters as for `plan_firings`; packer and checker must be picklable.
    """
    with remembered_interrupts() as interrupts:
        planning = planning_of(works, budget, seed, Silent(), AreaHeight(works), interrupts, packer, checker)
        first = _try_beside(planning, POLICIES, to_the_end=True)
        assert first is not None
        return first, explained(planning, min(planning.plans, key=lambda plan: plan.goals.order), POLICIES[0])


def _keep_most(planning: Planning, policy: Policy, ways: Sequence[Given]) -> None:
    """Keep as much of the plan before as still holds and plan only the rest, in each of several ways."""
    for number, given in enumerate(ways):
        if planning.stopped:
            break
        planning.given = given
        planning.expect(_estimated(planning, policy).shop.fired)
        _packed(planning, policy, runs_after=len(ways) - 1 - number + planning.packed_policies + 1)


def _try_all(planning: Planning, policies: Sequence[Policy], *, first_due: bool) -> None:
    """Pack the policies that look best, last first due first served where it is wanted."""
    _try_policies(planning, policies, runs_after=int(first_due))
    if first_due and not (planning.plans and planning.stopped):
        _packed(planning, FIRST_DUE, runs_after=0)


def _try_beside(planning: Planning, policies: Sequence[Policy], *, to_the_end: bool = False) -> Plan | None:
    """Pack first due first served in a second process, all other policies in this one; return the plan of the former.

    It is None where it was given up as it could not be the better one, unless it was asked for `to_the_end`.
    """
    assert planning.pack is not None
    pack = planning.pack
    with TemporaryDirectory() as folder, executor(2) as pool:
        word = Word(Path(folder) / "word")
        with held_back_interrupts():
            aside = pool.submit(
                _aside,
                planning.works,
                planning.meter.budget,
                planning.seed,
                pack.packer,
                pack.checker,
                word,
                planning.given,
            )
        _try_policies(planning, policies, runs_after=0)
        if planning.stopped:
            word.say(None)
        elif not to_the_end:
            word.say(min((plan.goals for plan in planning.plans), key=lambda one: one.order))
        first = aside.result()
    if first is not None:
        planning.keep(first)
    return first


def first_due_plan(
    works: Works,
    budget: Budget,
    seed: int,
    packer: Packer,
    checker: Checker | None,
    word: Word,
    given: Given = NOTHING,
) -> Plan | None:
    """Pack first due first served in a process of its own; None once it hears of goals that it cannot beat."""
    with remembered_interrupts() as interrupts:
        hear_interrupts()
        planning = planning_of(works, budget, seed, Silent(), AreaHeight(works), interrupts, packer, checker)
        planning.word, planning.given = word, given
        planning.expect(_estimated(planning, FIRST_DUE).shop.fired)
        _packed(planning, FIRST_DUE, runs_after=0)
    return planning.plans[0] if planning.plans else None


def _aside(
    works: Works, budget: Budget, seed: int, packer: Packer, checker: Checker | None, word: Word, given: Given
) -> Plan | None:
    """Do so, and then let no interrupt end the idle process with a traceback."""
    found = first_due_plan(works, budget, seed, packer, checker, word, given)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    return found


def _try_policies(planning: Planning, policies: Sequence[Policy], *, runs_after: int) -> None:
    """Learn what kilns hold, and pack the policies that then look best; `runs_after` more share the time."""
    if not policies:
        return
    if planning.meter.budget.seconds is not None:
        learn_rooms(planning)
    planning.expect(_estimated(planning, policies[0]).shop.fired)
    ranked = _ranked(planning, policies)
    ranked = [_shifted(planning, ranked[0]), *ranked]
    ranked = list(dict.fromkeys(ranked))[: planning.packed_policies]
    for number, policy in enumerate(ranked):
        if not number or planning.has_time():
            _packed(planning, policy, runs_after=runs_after + len(ranked) - 1 - number)


def _estimated(planning: Planning, policy: Policy) -> Run:
    """Run a policy with estimated loads."""
    typical = planning.pack.typical if planning.pack is not None else {}
    pack = EstimatedPack(planning.estimate, typical)

    def goes_on(shop: Shop) -> bool:
        return len(shop.fired) % 10 > 0 or planning.hear(f"trying {policy.name}", shop)

    return run(
        planning.works, policy, pack, planning.estimate, seed=planning.seed, goes_on=goes_on, given=planning.given
    )


def _ranked(planning: Planning, policies: Sequence[Policy]) -> list[Policy]:
    """Return the policies, the best by estimate first; those there was no time to try come last."""
    rated: list[tuple[tuple[float, ...], int]] = []
    begun_s, seconds = planning.meter.elapsed_s, planning.meter.budget.seconds
    for number, policy in enumerate(policies):
        spent = planning.meter.elapsed_s - begun_s
        if planning.stopped or (seconds is not None and number and spent > ESTIMATE_SHARE * seconds):
            break
        rated.append((_rated(planning, policy)[0], number))
    tried = [policies[number] for _, number in sorted(rated)]
    return tried + [policy for policy in policies if policy not in tried]


def _rated(planning: Planning, policy: Policy) -> Rated:
    """Run a policy with estimated loads; return its goals and late lines."""
    found = _estimated(planning, policy)
    planning.stopped |= found.stopped
    outcomes = outcomes_of(found, firing_codes(found))
    late = frozenset(row.line for row in outcomes if row.late_days or row.open_pieces)
    unfinished, days, *rest = goals_of(found, outcomes).order
    if isinstance(planning.estimate, AreaHeight):
        days += TIGHT_SHARE * tight_days(found.shop, outcomes)
    return (unfinished, days, *rest), late


def _shifted(planning: Planning, policy: Policy) -> Policy:
    """Improve the policy that looks best by shifting lines, as long as the budget says."""
    budget, begun_s = planning.meter.budget, planning.meter.elapsed_s

    def goes_on(trial: int) -> bool:
        if planning.stopped or trial >= SHIFT_TRIALS:
            return False
        if budget.seconds is None:
            return trial < (budget.effort or 0) // SHIFT_EFFORT
        return planning.meter.elapsed_s - begun_s < SHIFT_SHARE * budget.seconds

    lines = [line.code for line in planning.works.lines]
    return shifted(policy, lines, lambda tried: _rated(planning, tried), goes_on, seed=planning.seed)


def _packed(planning: Planning, policy: Policy, *, runs_after: int) -> None:
    """Run a policy with packed loads and keep its plan."""
    assert planning.pack is not None
    left_s = (planning.meter.budget.seconds or 0.0) - planning.meter.elapsed_s
    planning.run_ends_s = planning.meter.elapsed_s + left_s / (1 + runs_after)
    planning.begun_calls = planning.pack.calls

    beaten = False

    def goes_on(shop: Shop) -> bool:
        nonlocal beaten
        goals = [plan.goals for plan in planning.plans]
        told = planning.word.goals() if planning.word is not None else None
        beaten = any(cannot_beat(shop, one) for one in ([*goals, told] if told is not None else goals))
        return not beaten and planning.hear(f"packing, {policy.name}", shop)

    found = run(
        planning.works,
        policy,
        planning.pack,
        planning.estimate,
        seed=planning.seed,
        goes_on=goes_on,
        given=planning.given,
    )
    if beaten:
        return
    planning.stopped |= found.stopped
    planning.expect(found.shop.fired)
    planning.keep(plan_of(found, seed=planning.seed, refused=planning.pack.refused))
