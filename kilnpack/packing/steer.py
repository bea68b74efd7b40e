"""Better-mannered loads of the same ware: tiers change places until mass, sets, flame and handles lie as wished.

What is packed stays packed. Whole fillings of shelves change places, tiers of a stack change their order, a filling is
turned half round, or one body turns its handle away from the heat, wherever every distance, height, window and keep-out
still holds. A change is kept when it brings the load nearer to the wishes of `wishes.py`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import TYPE_CHECKING

from kilnpack.packing.filler import EMPTY, Filled, Spot
from kilnpack.packing.read_back import ordered
from kilnpack.packing.shelf.recheck import worst_lack
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.packing.state import OPEN
from kilnpack.packing.wishes import Wishes
from kilnpack.search.budget import Budget
from kilnpack.search.seeds import stream

if TYPE_CHECKING:
    from kilnpack.packing.firing_rules import FiringRules
    from kilnpack.packing.state import LoadState
    from kilnpack.packing.works_problem import WorksProblem
    from kilnpack.search.budget import Meter
    from kilnpack.shapes.room import Room

SWEEPS = 4
TIME_SHARE = 0.1
LEAST_TRIES, TRIES_PER_EFFORT = 100, 4
"""Changes looked at in one load, at least and for every thousand evaluations of the search."""
MET = 1e-6
CLEAR_MM = 1e-6
FULL_TURN_DEG = 360.0
USUAL_STEP_DEG = 15.0
EVALUATIONS_A_TRY = 1000
Change = Callable[["LoadState"], bool]


def steered(state: LoadState, built: WorksProblem, rules: FiringRules, budget: Budget) -> LoadState:
    """Return a load of the same ware that misses the wishes by less, or the load itself.

    A small part of the search's budget goes into it.
    """
    steerer = _Steerer(
        built, Wishes(rules, built), rules.settings.turn_step_deg or USUAL_STEP_DEG, _part(budget).start()
    )
    return steerer.run(state)


def _part(budget: Budget) -> Budget:
    if budget.seconds is not None:
        return Budget(seconds=TIME_SHARE * budget.seconds)
    return Budget(effort=max(LEAST_TRIES, TRIES_PER_EFFORT * (budget.effort or 0)))


@dataclass(slots=True, eq=False)
class _Steerer:
    """One run over one load."""

    built: WorksProblem
    wishes: Wishes
    step_deg: float
    meter: Meter
    _fits: dict[tuple[Room, tuple[Spot, ...]], bool] = field(default_factory=dict)
    _half_turned: dict[tuple[int, tuple[Spot, ...]], Filled] = field(default_factory=dict)

    def run(self, state: LoadState) -> LoadState:
        missed = self.wishes.misses(state).total
        most = max(_settings(state), self.built.problem.settings_most or 0)
        for sweep in range(SWEEPS):
            before = missed
            for change in self._shuffled(state, sweep):
                if missed <= MET or self.meter.is_up:
                    return state
                self.meter.spend(EVALUATIONS_A_TRY)
                trial = state.copy()
                if not change(trial):
                    continue
                found = self.wishes.misses(trial).total
                if found < missed - MET and _settings(trial) <= most:
                    state, missed = trial, found
            if missed >= before - MET:
                break
        return state

    def _shuffled(self, state: LoadState, sweep: int) -> list[Change]:
        """Return the changes in an order that mixes their kinds, as there may be no time for all of them."""
        changes = list(self._changes(state))
        order = stream(sweep, len(changes)).permutation(len(changes))
        return [changes[int(k)] for k in order]

    def _changes(self, state: LoadState) -> Iterator[Change]:
        """Yield every change worth a look; places stay what they are while fillings move."""
        places = [(stack, at) for stack, tiers in enumerate(state.stacks) for at in range(len(tiers))]
        for stack, at, number in self.wishes.facing(state):
            yield from (self._turn_one(stack, at, number, k * self.step_deg) for k in self._turns())
        for first, second in combinations(places, 2):
            yield self._swap(first, second)
        for stack, tiers in enumerate(state.stacks):
            for low, high in combinations([at for at, tier in enumerate(tiers) if tier.column != OPEN], 2):
                yield self._reorder(stack, low, high)
        for place in places:
            yield self._half_turn(place)
            for stack, tiers in enumerate(state.stacks):
                yield from (self._move(place, (stack, to)) for to in range(len(tiers)))

    def _turns(self) -> list[int]:
        """Return the steps of a turn, small ones to either side first."""
        steps = round(FULL_TURN_DEG / self.step_deg)
        return [sign * k for k in range(1, steps // 2 + 1) for sign in (1, -1)]

    # --- changes ---------------------------------------------------------------------------------------------------

    def _swap(self, first: tuple[int, int], second: tuple[int, int]) -> Change:
        def change(state: LoadState) -> bool:
            if not (_there(state, first) and _there(state, second)):
                return False
            one, two = (state.stacks[stack][at].filled for stack, at in (first, second))
            shelves = [state.problem.stacks[stack].shelf for stack, _ in (first, second)]
            if one == two or shelves[0] != shelves[1]:
                return False
            new = self._fitting(state, first, two), self._fitting(state, second, one)
            if new[0] is None or new[1] is None:
                return False
            state.refill(*first, new[0])
            state.refill(*second, new[1])
            return True

        return change

    def _reorder(self, stack: int, low: int, high: int) -> Change:
        def change(state: LoadState) -> bool:
            tiers = state.stacks[stack]
            if (
                not _there(state, (stack, high))
                or tiers[low] == tiers[high]
                or OPEN in (tiers[low].column, tiers[high].column)
            ):
                return False
            tiers[low], tiers[high] = tiers[high], tiers[low]
            return self._stands(state, stack)

        return change

    def _move(self, place: tuple[int, int], to: tuple[int, int]) -> Change:
        """Take a tier with its posts out and put it in elsewhere, under what stands there."""

        def change(state: LoadState) -> bool:
            (stack, at), (other, below) = place, to
            shelves = [state.problem.stacks[one].shelf for one in (stack, other)]
            if not _there(state, place) or not _there(state, to) or place == to or shelves[0] != shelves[1]:
                return False
            if state.stacks[stack][at].column == OPEN:
                return False
            tier = state.remove(stack, at)
            under = min(below, len(state.stacks[other]) - 1)
            state.insert(other, under, tier)
            filled = self._fitting(state, (other, under), tier.filled)
            if filled is None:
                return False
            state.refill(other, under, filled)
            return all(self._stands(state, one) for one in {stack, other})

        return change

    def _stands(self, state: LoadState, stack: int) -> bool:
        """Whether all tiers of a stack may stand where they are now."""
        if state.slack_mm(stack) < -MET:
            return False
        tiers = state.stacks[stack]
        return all(self._may_stand(state, (stack, at), tier.filled) for at, tier in enumerate(tiers))

    def _half_turn(self, place: tuple[int, int]) -> Change:
        def change(state: LoadState) -> bool:
            stack, at = place
            if not _there(state, place):
                return False
            filled = state.stacks[stack][at].filled
            return self._all_alike(state, stack, filled, self._turned(stack, filled))

        return change

    def _turned(self, stack: int, filled: Filled) -> Filled:
        """Return a filling turned half round on the shelf of a stack."""
        left, front, right, back = self.wishes.rules.bounds(self.built.shelves[stack])
        spots = tuple(
            Spot(spot.ware, left + right - spot.x_mm, front + back - spot.y_mm, (spot.turn_deg + 180.0) % FULL_TURN_DEG)
            for spot in filled.spots
        )
        return replace(filled, spots=spots, recipe=())

    def _turn_one(self, stack: int, at: int, number: int, by_deg: float) -> Change:
        def change(state: LoadState) -> bool:
            filled = state.stacks[stack][at].filled if _there(state, (stack, at)) else EMPTY
            if number >= len(filled.spots):
                return False
            spot = filled.spots[number]
            turned = replace(spot, turn_deg=(spot.turn_deg + by_deg) % FULL_TURN_DEG)
            if self.wishes.faces_heat(stack, turned, state.bases_mm(stack)[at]):
                return False
            spots = (*filled.spots[:number], turned, *filled.spots[number + 1 :])
            return self._all_alike(state, stack, filled, replace(filled, spots=spots, recipe=()))

        return change

    def _all_alike(self, state: LoadState, stack: int, old: Filled, new: Filled) -> bool:
        """Change all tiers that are set like one, so that no further setting comes up; False where one cannot."""
        shelf = state.problem.stacks[stack].shelf
        new = self._ordered(stack, new)
        if len(new.spots) < len(old.spots) or not new.spots:
            return False
        for other, tiers in enumerate(state.stacks):
            for at, tier in enumerate(tiers):
                if tier.filled.spots == old.spots and state.problem.stacks[other].shelf == shelf:
                    if not self._may_stand(state, (other, at), new):
                        return False
                    state.refill(other, at, new)
        return True

    # --- what may be ----------------------------------------------------------------------------------------------

    def _fitting(self, state: LoadState, place: tuple[int, int], filled: Filled) -> Filled | None:
        """Return a filling as it may stand on a tier: as it is, or turned half round; None where neither may."""
        room = self._room_for(state, place, filled)
        if room is None or self._clears(room, filled.spots):
            return None if room is None else filled
        key = (place[0], filled.spots)
        if key not in self._half_turned:
            self._half_turned[key] = self._ordered(place[0], self._turned(place[0], filled))
        turned = self._half_turned[key]
        return turned if len(turned.spots) == len(filled.spots) and self._clears(room, turned.spots) else None

    def _ordered(self, stack: int, filled: Filled) -> Filled:
        return ordered(filled, self.built.ware, self.built.shelves[stack], self.wishes.rules.settings.balance_share)

    def _may_stand(self, state: LoadState, place: tuple[int, int], filled: Filled) -> bool:
        """Whether a filling may stand on a tier: heat, height, mass and every distance."""
        room = self._room_for(state, place, filled)
        return room is not None and self._clears(room, filled.spots)

    def _room_for(self, state: LoadState, place: tuple[int, int], filled: Filled) -> Room | None:
        """Return the room of a tier where it has the heat, the height and the strength for a filling."""
        stack, at = place
        base_mm, column = state.bases_mm(stack)[at], state.stacks[stack][at].column
        room = state.room(stack, base_mm, column)
        if room is None:
            return None
        wares = self.built.ware.wares
        allowed = state.allowed(stack, base_mm, column)
        kinds = {spot.ware for spot in filled.spots}
        if not all(allowed >> k & 1 and wares[k].body.height_mm <= room.clear_height_mm for k in kinds):
            return None
        mass_kg = sum(wares[spot.ware].body.mass_kg for spot in filled.spots)
        return room if mass_kg <= room.load_limit_kg else None

    def _clears(self, room: Room, spots: tuple[Spot, ...]) -> bool:
        """Whether bodies keep every distance in a room."""
        key = (replace(room, clear_height_mm=math.inf, load_limit_kg=math.inf), spots)
        if key not in self._fits:
            kinds = sorted({spot.ware for spot in spots})
            index = {kind: k for k, kind in enumerate(kinds)}
            bodies = [self.built.ware.wares[kind].body for kind in kinds]
            tables = tables_for(room, bodies) if bodies else None
            places = [(index[s.ware], s.x_mm, s.y_mm, math.radians(s.turn_deg)) for s in spots]
            self._fits[key] = tables is None or worst_lack(tables, places) <= CLEAR_MM
        return self._fits[key]


def _there(state: LoadState, place: tuple[int, int]) -> bool:
    return place[1] < len(state.stacks[place[0]])


def _settings(state: LoadState) -> int:
    """Return how many different settings a load has."""
    shelves = state.problem.stacks
    return len({(shelves[k].shelf, tier.filled.spots) for k, tiers in enumerate(state.stacks) for tier in tiers})
