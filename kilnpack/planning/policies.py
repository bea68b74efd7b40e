"""Ways to choose the next firing of a kiln, each a plain function of the shop and the moment.

`first_due_first` fires at once what holds the first-due ware. `most_gain` fires at once the programme whose ready
ware gains most: urgency times fill. `look_ahead` lays out the coming firings of the kiln with all ware known to come,
takes the first of them, and waits where the first of them waits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from kilnpack.planning.batches import Job, best_sequence
from kilnpack.planning.clock import NEVER_H, TICK_H
from kilnpack.planning.routes import chain_h
from kilnpack.planning.together import first_of_kiln

if TYPE_CHECKING:
    from kilnpack.model.orders import Lot
    from kilnpack.model.programmes import Programme
    from kilnpack.planning.backlog import Ware
    from kilnpack.planning.estimate import Estimate
    from kilnpack.planning.firings import KilnState
    from kilnpack.planning.shop import Shop

OFFERED_SHARE = 1.3
"""How much more than an estimated full kiln is offered to the packer, so that it has something to choose from."""
LOOK_AHEAD_JOBS = 40
TOGETHER_JOBS = 120
"""Jobs that are laid out for kilns together."""
HANDS_H = 24.0
"""Hours a firing takes beside fire, cooling and rests, until a works' own hands are known; for due dates only."""
LIVELY_H = 120.0
"""Hours over which gain falls to 1/e for ware that still has time."""


class PolicyKind(StrEnum):
    """How the next firing is chosen."""

    FIRST_DUE = "first due first"
    MOST_GAIN = "most gain"
    LOOK_AHEAD = "look ahead"


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """A way to choose, with its numbers: hours kept in hand before a due date, and the longest wait for more ware.

    Below `least_fill_share` of a full kiln a firing waits for ware that is still to come, whatever gets late by it;
    below `least_furniture_share` of what a full load takes, with ware for more, it waits for furniture to come back.
    With `together` the firings of all kilns that fire the same programmes are laid out at once. With `paced` lines aim
    at what `pacing` finds for all of them together.
    `sooner_h` aims at finishing single lines by so many hours sooner (or, below 0, later) than they are due; what the
    plan is judged by stays the due day.
    """

    kind: PolicyKind
    margin_h: float = 0.0
    longest_wait_h: float = NEVER_H
    horizon_h: float = 168.0
    least_fill_share: float = 0.0
    least_furniture_share: float = 0.0
    together: bool = False
    paced: bool = False
    sooner_h: tuple[tuple[str, float], ...] = ()

    @property
    def name(self) -> str:
        """The policy in words, as the plan says it."""
        if self.kind is not PolicyKind.LOOK_AHEAD:
            return self.kind.value
        wait = "any wait" if self.longest_wait_h == NEVER_H else f"wait up to {self.longest_wait_h:g} h"
        moved = f", lines shifted: {len(self.sooner_h)}" if self.sooner_h else ""
        fill = f", at least {self.least_fill_share:.0%} full" if self.least_fill_share else ""
        if self.least_furniture_share:
            fill += f", furniture for at least {self.least_furniture_share:.0%}"
        kilns = f", kilns together {self.horizon_h:g} h" if self.together else ""
        paced = ", lines paced" if self.paced else ""
        return f"{self.kind.value}{kilns}, {self.margin_h:g} h in hand, {wait}{fill}{paced}{moved}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What to do with a kiln now: fire these lots, the first `must` of them before all others, or wait.

    `ready` is all that is ready for the programme, in the order in which it is offered.
    """

    programme: Programme | None = None
    lots: tuple[Lot, ...] = ()
    ready: tuple[Lot, ...] = ()
    must: int = 0
    until_h: float = NEVER_H


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A programme the kiln could fire now, with what is ready for it."""

    programme: Programme
    ready: dict[str, list[Ware]]


def choose(
    shop: Shop, state: KilnState, at_h: float, policy: Policy, estimate: Estimate, *, barred: set[str], seed: int
) -> Choice:
    """Choose what the kiln does now.

    Parameters
    ----------
    shop
        Where everything is.
    state
        The kiln.
    at_h
        Now, hours from the start.
    policy
        How to choose.
    estimate
        What share of a kiln a piece takes.
    barred
        Programmes of which the packer just could place nothing.
    seed
        For the search over coming firings.
    """
    options = [
        Option(programme=shop.programmes[code], ready=ready)
        for code in state.kiln.programmes
        if code not in barred and (ready := shop.ready(code, at_h)) and _is_wanted(shop, ready)
    ]
    if policy.kind is PolicyKind.LOOK_AHEAD:
        return _look_ahead(shop, state, at_h, policy, estimate, barred, seed)
    if not options:
        return Choice()
    if policy.kind is PolicyKind.FIRST_DUE:
        best = min(options, key=lambda option: (_first_due(shop, option), option.programme.code))
    else:
        best = max(options, key=lambda option: _gain(shop, state, at_h, option, estimate))
    lots = sorted(shop.lots(best.ready, at_h), key=lambda lot: (_due_h(shop, lot.order_line), lot.code))
    return _offer(state, best.programme, tuple(lots), estimate, must_share=1.0)


def _is_wanted(shop: Shop, ready: dict[str, list[Ware]]) -> bool:
    return any(shop.is_wanted(ware) for wares in ready.values() for ware in wares)


def _due_h(shop: Shop, line: str | None) -> float:
    return shop.aim_h.get(line or "", NEVER_H)


def _first_due(shop: Shop, option: Option) -> float:
    return min(_due_h(shop, ware.line) for rows in option.ready.values() for ware in rows if shop.is_wanted(ware))


def tail_h(shop: Shop, ware: Ware) -> float:
    """Return about how long ware takes from the end of this firing to finished, h."""
    product = shop.products[ware.product]
    later = len(product.route) - ware.step - 1
    if later <= 0:
        return 0.0
    rest = product.route[ware.step].rest_after_h + product.route[ware.step + 1].ready_after_h
    hands = HANDS_H if shop.works.settings.glazed_handling_s > 0 else 0.0
    return rest + chain_h(shop.works, product, ware.step + 1) + hands * later


def weight_of(shop: Shop, ware: Ware) -> float:
    """Return the priority of the line that ware is for; 0 without one."""
    line = shop.lines.get(ware.line or "")
    return line.priority_factor if line is not None else 0.0


def _gain(shop: Shop, state: KilnState, at_h: float, option: Option, estimate: Estimate) -> tuple[float, str]:
    """Add up urgency times fill over the most urgent ready ware that about fills the kiln."""
    rows = []
    for wares in option.ready.values():
        ware = wares[0]
        pieces = sum(row.pieces for row in wares)
        share = pieces * estimate.piece_share(state.kiln, option.programme, ware.product, ware.step)
        spare = _due_h(shop, ware.line) - tail_h(shop, ware) - at_h
        urgency = math.exp(-max(0.0, spare - LIVELY_H) / LIVELY_H) if spare < NEVER_H else 0.0
        rows.append((weight_of(shop, ware) * (0.1 + urgency), share))
    gain, room = 0.0, 1.0
    for urgency, share in sorted(rows, reverse=True):
        gain += urgency * min(share, room)
        room -= min(share, room)
    return gain, option.programme.code


def _offer(
    state: KilnState, programme: Programme, lots: tuple[Lot, ...], estimate: Estimate, *, must_share: float
) -> Choice:
    """Offer lots in their order until they are estimated to more than fill the kiln; cut the last one."""
    offered: list[Lot] = []
    share, must = 0.0, 0
    for lot in lots:
        each = estimate.piece_share(state.kiln, programme, lot.product, lot.step)
        pieces = min(lot.pieces, max(1, math.floor((OFFERED_SHARE - share) / each + 1e-9))) if each > 0 else lot.pieces
        if share >= OFFERED_SHARE - 1e-9:
            break
        offered.append(replace(lot, pieces=pieces))
        share += pieces * each
        if share <= must_share + 1e-9:
            must = len(offered)
    return Choice(programme=programme, lots=tuple(offered), ready=lots, must=must)


def _look_ahead(
    shop: Shop, state: KilnState, at_h: float, policy: Policy, estimate: Estimate, barred: set[str], seed: int
) -> Choice:
    """Lay out the coming firings of the kiln and take the first one."""
    jobs, wares = _jobs(shop, state, at_h, policy, estimate, barred)
    if not jobs:
        return Choice()
    if policy.together:
        found = first_of_kiln(shop, state, jobs, wares, at_h, estimate, seed=seed)
        if found is None:
            return Choice()
        first = found
    else:
        first = best_sequence(jobs, free_h=at_h, seed=seed)[0]
    ready_h = min((job.ready_h for job in jobs), default=at_h)
    if first.start_h > at_h + TICK_H:
        if first.start_h - at_h <= policy.longest_wait_h or ready_h > at_h + TICK_H:
            return Choice(until_h=first.start_h)
        ready = [n for n, job in enumerate(jobs) if job.ready_h <= at_h + TICK_H]
        first = best_sequence([jobs[n] for n in ready], free_h=at_h, seed=seed)[0]
        first = replace(first, jobs=tuple(ready[n] for n in first.jobs))
    programme = shop.programmes[jobs[first.jobs[0]].family]
    inside = {wares[n].code for n in first.jobs}
    lots = shop.lots(shop.ready(programme.code, at_h), at_h)
    order = sorted(lots, key=lambda lot: (lot.code not in inside, _due_h(shop, lot.order_line), lot.code))
    return _offer(state, programme, tuple(order), estimate, must_share=1.0)


def _jobs(
    shop: Shop, state: KilnState, at_h: float, policy: Policy, estimate: Estimate, barred: set[str]
) -> tuple[list[Job], list[Ware]]:
    """Return the ware that is ready or known to come as jobs of at most one kiln each, the first due first."""
    rows: list[tuple[Job, Ware]] = []
    for code in state.kiln.programmes:
        if code in barred or not shop.waiting[code]:
            continue
        programme = shop.programmes[code]
        now = [replace(rows[0], pieces=sum(r.pieces for r in rows)) for rows in shop.ready(code, at_h).values()]
        wares = now + shop.coming(code, at_h, at_h + policy.horizon_h)
        wares = [ware for ware in wares if shop.is_wanted(ware)]
        if not wares:
            continue
        span = _span_h(shop, state, programme, at_h, wares, estimate)
        for ware in wares:
            each = estimate.piece_share(state.kiln, programme, ware.product, ware.step)
            rows += [(job, ware) for job in _job_of(shop, ware, each, span, at_h, policy.margin_h)]
    rows.sort(key=lambda row: (row[0].due_h, row[0].ready_h, row[0].code))
    rows = rows[: TOGETHER_JOBS if policy.together else LOOK_AHEAD_JOBS]
    return [job for job, _ in rows], [ware for _, ware in rows]


def _span_h(
    shop: Shop, state: KilnState, programme: Programme, at_h: float, wares: list[Ware], estimate: Estimate
) -> float:
    """Return about how long a full kiln of this ware keeps it, or what there is of it."""
    pieces = sum(ware.pieces for ware in wares)
    share = sum(ware.pieces * estimate.piece_share(state.kiln, programme, ware.product, ware.step) for ware in wares)
    full = max(1, round(pieces / max(1.0, share)))
    return shop.span_h(state, programme, at_h, full, len(state.kiln.places) * 6)


def _job_of(shop: Shop, ware: Ware, each: float, span: float, at_h: float, margin_h: float) -> list[Job]:
    """Return ware as one job, or as several where it fills more than a kiln."""
    per_kiln = max(1, math.floor(1.0 / each + 1e-9)) if each > 0 else ware.pieces
    jobs, left = [], ware.pieces
    while left > 0:
        pieces = min(left, per_kiln)
        left -= pieces
        jobs.append(
            Job(
                code=ware.code,
                size_share=min(1.0, pieces * each),
                length_h=span,
                ready_h=max(at_h, ware.ready_h),
                due_h=_due_h(shop, ware.line) - tail_h(shop, ware) - margin_h,
                weight=weight_of(shop, ware),
                family=shop.programme_of(ware),
            )
        )
    return jobs
