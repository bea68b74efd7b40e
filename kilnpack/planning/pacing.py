"""What lines can aim at: all their firings laid out at once, line after line, kilns taken as rooms that fill up.

Sets
    lines, each with the chains of its ware: the firings still to come, in order; groups of kilns that share programmes.
Rules
    a firing of ware takes of the kiln hours of its group what it takes of a full kiln; none is used twice, nor where a
    kiln is down or holds a firing that stays; a firing begins once its ware is ready and ends fire, cooling and hands
    after its last kiln hour; between firings ware rests, is glazed and dries.
Goal
    weighted lateness, then finishing soon.

Whole firings, furniture and hands are left to the dispatcher. For a given order of lines each is laid out as early as
can be in what those before it left, and the order is annealed. A line that is late in the best order aims at its finish
there instead of its due moment: it stands back where that saves others.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.model.orders import LotKind
from kilnpack.planning import pace_kernel
from kilnpack.planning.clock import NEVER_H
from kilnpack.planning.routes import good_share, needs_glazing
from kilnpack.search.seeds import stream

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from kilnpack.model.programmes import Programme
    from kilnpack.model.works import Works
    from kilnpack.planning.backlog import Ware
    from kilnpack.planning.estimate import Estimate
    from kilnpack.planning.shop import Shop

STRETCH_H = 6.0
"""Kiln hours are counted in stretches of so many hours."""
FULL_SHARE = 0.9
"""How full a firing is taken to get. From memory."""
HANDLED_H = 12.0
"""Hours from the last kiln hour of ware until it is unloaded, beside fire and cooling. From memory."""
MOVES = 3000
HOT_H, COLD_H = 48.0, 0.5
"""Hours late of one line that a move may cost, at first and in the end."""
USUAL_PIECES, SHELVES_A_STACK = 300, 6
"""A full firing, to tell how long hands take. From memory."""
LIVELY = 3.0
"""Lines' mean kiln hours over which urgency falls to 1/e in the order that annealing begins from."""
MOST_KILN_DAYS = 3650


class Paced:
    """The chains of all lines as the kernel takes them.

    `first` (lines + 1), `begin` (chains + 1), `group`, `work_h`, `lead_h`, `after_h` (firings), `due_h`, `weight`
    (lines), `room_h` (groups, stretches); see `pace_kernel`.
    """

    def __init__(self, shop: Shop, estimate: Estimate) -> None:
        self.shop, self.estimate = shop, estimate
        self.lines = [line.code for line in shop.works.lines]
        self.groups = kiln_groups(shop.works)
        self.span_h = {code: self._span_h(row) for code, row in shop.programmes.items()}
        first, begin, rows = [0], [0], []
        chains = self._chains()
        for code in self.lines:
            for ware in chains.get(code, ()):
                rows += list(self._steps(ware))
                begin.append(len(rows))
            first.append(len(begin) - 1)
        table = np.array(rows, np.float64).reshape(-1, 4)
        self.first, self.begin = np.array(first, np.int64), np.array(begin, np.int64)
        self.group = table[:, 0].astype(np.int64)
        self.work_h, self.lead_h, self.after_h = (np.ascontiguousarray(table[:, k]) for k in (1, 2, 3))
        self.due_h = np.array([shop.aim_h[code] for code in self.lines])
        self.weight = np.array([line.priority_factor for line in shop.works.lines])
        self.room_h = self._room_h()

    def best_order(self, *, seed: int, moves: int = MOVES) -> NDArray[np.float64]:
        """Return the finish of every line in the best order found, h."""
        given = (
            self.first, self.begin, self.group, self.work_h, self.lead_h, self.after_h, self.due_h, self.weight,
            self.room_h, STRETCH_H,
            np.zeros_like(self.room_h), np.zeros(len(self.room_h), np.int64), np.zeros(len(self.lines)),
        )  # fmt: skip
        orders = [np.argsort(self.due_h, kind="stable").astype(np.int64), self._by_gain()]
        order = min(orders, key=lambda one: float(pace_kernel.lay_out(one, *given)))
        pace_kernel.anneal_order(order, stream(seed, 6).random((moves, 4)), HOT_H, COLD_H, *given)
        pace_kernel.lay_out(order, *given)
        finish: NDArray[np.float64] = given[-1]
        return finish

    def _chains(self) -> dict[str, list[Ware]]:
        """Return the ware of every line."""
        found: dict[str, list[Ware]] = {}
        for wares in self.shop.pools.values():
            for ware in wares:
                if ware.line is not None and ware.kind not in {LotKind.SAMPLE, LotKind.FILLER}:
                    found.setdefault(ware.line, []).append(ware)
        return found

    def _span_h(self, programme: Programme) -> float:
        """Return about how long a full firing keeps the quickest kiln, h; 0 where none fires it."""
        states = [state for state in self.shop.kilns if programme.code in state.kiln.programmes]
        spans = (
            self.shop.span_h(state, programme, 0.0, USUAL_PIECES, len(state.kiln.places) * SHELVES_A_STACK)
            for state in states
        )
        return min((span for span in spans if span < NEVER_H), default=0.0)

    def _steps(self, ware: Ware) -> Iterator[tuple[float, float, float, float]]:
        """Give group, kiln hours, hours before and hours after of every firing of ware."""
        shop, route = self.shop, self.shop.products[ware.product].route
        pieces, lead_h = float(ware.pieces), ware.ready_h
        rate = shop.works.supply.glazing_pieces_per_hour
        for number, step in enumerate(route[ware.step :], ware.step):
            programme = shop.programmes[step.programme]
            work_h = pieces * self._share(programme, ware.product, number) * self.span_h[programme.code] / FULL_SHARE
            fired_h = programme.recorded_fire_h + programme.recorded_cool_h + programme.cool_outside_h
            yield self.groups.get(programme.code, 0), work_h, lead_h, fired_h + HANDLED_H
            pieces *= good_share(step)
            lead_h = step.rest_after_h
            if number + 1 < len(route):
                glazed_h = pieces / rate if rate and needs_glazing(route, number + 1) else 0.0
                lead_h += route[number + 1].ready_after_h + glazed_h

    def _share(self, programme: Programme, product: str, step: int) -> float:
        """Return what one piece takes of a kiln, on the mean of those that fire the programme."""
        kilns = [state.kiln for state in self.shop.kilns if programme.code in state.kiln.programmes]
        shares = [self.estimate.piece_share(kiln, programme, product, step) for kiln in kilns]
        rooms = sum(1.0 / share for share in shares if 0.0 < share < math.inf)
        return len(shares) / rooms if rooms > 0.0 else 0.0

    def _room_h(self) -> NDArray[np.float64]:
        """Return the kiln hours of every group, stretch by stretch; the last stretch has no end."""
        count = max(self.groups.values(), default=0) + 1
        work_h = max((float(self.work_h[self.group == g].sum()) for g in range(count)), default=0.0)
        leads_h = float(self.lead_h.max(initial=0.0)) + 10.0 * float(self.after_h.max(initial=0.0))
        stretches = math.ceil(min(24.0 * MOST_KILN_DAYS, 1.5 * work_h + leads_h + 24.0 * 60) / STRETCH_H)
        room_h = np.zeros((count, stretches))
        for state in self.shop.kilns:
            own_h = np.full(stretches, STRETCH_H)
            for start_h, end_h in state.closed_h:
                own_h[int(start_h // STRETCH_H) : math.ceil(min(end_h, stretches * STRETCH_H) / STRETCH_H)] = 0.0
            for group in {self.groups[code] for code in state.kiln.programmes if code in self.groups}:
                room_h[group] += own_h
        return room_h

    def _by_gain(self) -> NDArray[np.int64]:
        """Return the lines by weight and urgency over the hours they take of the group that has most to do."""
        rooms = np.maximum(1e-9, self.room_h.mean(axis=1) / STRETCH_H)
        hours = np.array([self.work_h[self.group == g].sum() for g in range(len(rooms))]) / rooms
        tight = int(hours.argmax())
        inside = np.concatenate([[0.0], np.cumsum(np.where(self.group == tight, self.work_h, 0.0))])
        edges = inside[self.begin[self.first]]
        takes = np.maximum(1e-3, np.diff(edges) / rooms[tight])
        left, now_h, order = np.ones(len(takes), np.bool_), 0.0, []
        for _ in range(len(takes)):
            spare_h = np.maximum(0.0, self.due_h - takes - now_h)
            gain = self.weight / takes * np.exp(-spare_h / (LIVELY * takes.mean()))
            best = int(np.where(left, gain, -1.0).argmax())
            left[best] = False
            order.append(best)
            now_h += takes[best]
        return np.array(order, np.int64)


def kiln_groups(works: Works) -> dict[str, int]:
    """Return the group of every programme: programmes that a kiln fires share it, and so do kilns that fire one."""
    found: dict[str, int] = {}
    for number, kiln in enumerate(works.kilns):
        joined = {found[code] for code in kiln.programmes if code in found}
        found |= dict.fromkeys(kiln.programmes, number)
        found = {code: number if group in joined else group for code, group in found.items()}
    numbers = {group: rank for rank, group in enumerate(sorted(set(found.values())))}
    return {code: numbers[group] for code, group in found.items()}


def paced_aims(shop: Shop, estimate: Estimate, *, seed: int, moves: int = MOVES) -> tuple[tuple[str, float], ...]:
    """Return by how many hours (below 0, as later) the lines had better aim sooner that are late in the best order."""
    if not shop.lines or not shop.kilns:
        return ()
    paced = Paced(shop, estimate)
    late_h = paced.best_order(seed=seed, moves=moves) - paced.due_h
    return tuple((code, -float(hours)) for code, hours in zip(paced.lines, late_h, strict=True) if hours > 0.0)
