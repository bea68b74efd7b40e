"""Lateness against energy: the best way of planning for each weight of a kWh against a late day.

All ways are run with estimated loads, in which a firing takes what firings of its kiln and programme took in a packed
plan. For each weight the best of them is packed; what is reported is of the packed and checked plans.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.questions import TradePoint
from kilnpack.planning.clock import NEVER_H
from kilnpack.planning.estimate import AreaHeight
from kilnpack.planning.matching import firing_codes
from kilnpack.planning.outcomes import goals_of, outcomes_of
from kilnpack.planning.packs import EstimatedPack, packed_of
from kilnpack.planning.policies import Policy, PolicyKind
from kilnpack.planning.run import run

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from kilnpack.model.plans import Firing, Plan
    from kilnpack.model.works import Works
    from kilnpack.planning.firings import Packed

WEIGHTS_DAYS_PER_MWH = (0.0, 1.0, 4.0, 16.0, 64.0)
"""Weighted late days that a MWh weighs as much as."""
FILLS = (0.0, 0.3, 0.5, 0.7, 0.85)
FURNITURE_SHARES = (0.0, 0.8)
MARGINS_H = (0.0, 48.0)
WAITS_H = (NEVER_H, 0.0)
OPEN_DAYS = 10_000.0
"""What a line that is never done weighs."""


def ways() -> tuple[Policy, ...]:
    """Return the ways of planning that are tried: hours in hand, waits, and how full a firing must be and can be."""
    return tuple(
        Policy(
            kind=PolicyKind.LOOK_AHEAD, margin_h=margin, longest_wait_h=wait, least_fill_share=fill,
            least_furniture_share=furniture,
        )
        for fill in FILLS
        for furniture in FURNITURE_SHARES
        for margin in MARGINS_H
        for wait in WAITS_H
    )  # fmt: skip


def mean_kwh(plan: Plan) -> dict[tuple[str, str], float]:
    """Return the mean energy of a firing by kiln and programme; firings without energy are left out."""
    rows: dict[tuple[str, str], list[float]] = {}
    for firing in plan.firings:
        if firing.energy_kwh is not None:
            rows.setdefault((firing.kiln, firing.programme), []).append(firing.energy_kwh)
    return {key: sum(found) / len(found) for key, found in rows.items()}


def typical_loads(works: Works, plan: Plan) -> dict[tuple[str, str], Packed]:
    """Return the load with the most pieces of a packed plan, by kiln and programme: what furniture a full one takes."""
    found: dict[tuple[str, str], Firing] = {}
    for firing in plan.firings:
        before = found.get((firing.kiln, firing.programme))
        if before is None or before.load.pieces < firing.load.pieces:
            found[firing.kiln, firing.programme] = firing
    return {key: packed_of(works, firing) for key, firing in found.items()}


def best_ways(
    works: Works,
    kwh: Mapping[tuple[str, str], float],
    *,
    seed: int,
    typical: Mapping[tuple[str, str], Packed] | None = None,
    weights: Sequence[float] = WEIGHTS_DAYS_PER_MWH,
    goes_on: Callable[[], bool] = lambda: True,
) -> dict[float, Policy]:
    """Return the best way of planning for each weight, by estimated loads.

    Parameters
    ----------
    works
        The works.
    kwh
        Mean energy of a firing by kiln and programme; one that is not in it takes the mean of all.
    seed
        For the search over coming firings.
    typical
        The fullest load by kiln and programme (`typical_loads`); without one no firing waits for furniture.
    weights
        Weighted late days that a MWh weighs as much as.
    goes_on
        Asked before each way; False ends the trials after at least one.
    """
    usual = sum(kwh.values()) / len(kwh) if kwh else 0.0
    rated: list[tuple[float, float, int, Policy]] = []
    for number, policy in enumerate(ways()):
        if rated and not goes_on():
            break
        estimate = AreaHeight(works)
        found = run(works, policy, EstimatedPack(estimate, typical or {}), estimate, seed=seed)
        goals = goals_of(found, outcomes_of(found, firing_codes(found)))
        energy = sum(kwh.get((row.kiln.code, row.programme.code), usual) for row in found.shop.fired)
        rated.append((goals.weighted_late_days + OPEN_DAYS * goals.open_lines, energy / 1000.0, number, policy))
    return {
        weight: min(rated, key=lambda row: (row[0] + weight * row[1], row[1], row[0], row[2]))[3] for weight in weights
    }


def points_of(plans: Iterable[tuple[float, Plan]]) -> tuple[TradePoint, ...]:
    """Return the points of the curve, the least energy first, with those marked that no other beats."""
    rows = [
        (weight, plan, plan.goals.weighted_late_days + OPEN_DAYS * plan.goals.open_lines,
         sum(firing.energy_kwh or 0.0 for firing in plan.firings))
        for weight, plan in plans
    ]  # fmt: skip
    found = []
    for weight, plan, late, kwh in rows:
        beaten = any(
            other_late <= late and other_kwh <= kwh and (other_late, other_kwh) != (late, kwh)
            for _, _, other_late, other_kwh in rows
        )
        found.append(
            TradePoint(
                weight_days_per_mwh=weight,
                weighted_late_days=plan.goals.weighted_late_days,
                open_lines=plan.goals.open_lines,
                energy_kwh=round(kwh, 1),
                firings=plan.goals.firings,
                mean_finish_h=plan.goals.mean_finish_h,
                policy=plan.policy,
                best=not beaten,
            )
        )
    return tuple(sorted(found, key=lambda row: (row.energy_kwh, row.weighted_late_days)))
