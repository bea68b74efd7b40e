"""What stands beside a finished plan: bounds it cannot beat, and what would save its late lines."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.planning.bounds import least_firings
from kilnpack.planning.clock import NEVER_H, Clock
from kilnpack.planning.matching import firing_codes
from kilnpack.planning.outcomes import outcomes_of
from kilnpack.planning.packs import EstimatedPack
from kilnpack.planning.remedies import with_remedies
from kilnpack.planning.run import run
from kilnpack.planning.soonest import Soonest

if TYPE_CHECKING:
    from kilnpack.model.plans import Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.planning_call import Planning
    from kilnpack.planning.policies import Policy

REMEDY_SHARE = 0.1
"""Share of the seconds that is added for what would save late lines; with effort, so many works are tried."""


def explained(planning: Planning, plan: Plan, policy: Policy) -> Plan:
    """Return the plan with its bounds, the soonest finish of every line, and what would save the late ones.

    Parameters
    ----------
    planning
        The call that made it, with what it learnt of loads.
    plan
        The plan.
    policy
        How firings are laid out where one thing of the works is made more of.
    """
    works, clock = planning.works, Clock(planning.works.calendar, planning.works.now)
    soonest = Soonest(works, clock)
    hours = {line.code: soonest.line_h(line) for line in works.lines}
    outcomes = tuple(
        replace(row, soonest=clock.moment(hours[row.line]) if hours[row.line] < NEVER_H else None)
        for row in plan.outcomes
    )
    begun_s, budget, tries = planning.meter.elapsed_s, planning.meter.budget, 0
    pack = EstimatedPack(planning.estimate, planning.pack.typical if planning.pack is not None else {})

    def try_works(tried: Works) -> dict[str, int] | None:
        nonlocal tries
        tries += 1
        spent_s = planning.meter.elapsed_s - begun_s
        over = tries > (budget.effort or 0) if budget.seconds is None else spent_s > REMEDY_SHARE * budget.seconds
        if planning.stopped or over:
            return None
        found = run(tried, policy, pack, planning.estimate, seed=planning.seed, given=planning.given)
        return {row.line: row.late_days for row in outcomes_of(found, firing_codes(found)) if not row.open_pieces}

    planned = Counter(firing.programme for firing in plan.firings)
    return replace(plan, outcomes=with_remedies(works, outcomes, try_works), bounds=least_firings(works, planned))
