"""The smallest change that would let one more body of a kind into a packed load.

Looked for in this order: a free place on a shelf whose heat is wrong, a free place under posts that are too low, and a
tier more. What a tier more or higher posts lack is named as it would be fetched: shelves by type, posts by their
height and number, millimetres of the kiln.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from kilnpack.packing.free_place import free_radius_mm, reach_mm
from kilnpack.packing.state import LEVEL_MM, OPEN

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.packing.filler import Spot
    from kilnpack.packing.firing_rules import FiringRules
    from kilnpack.packing.state import LoadState
    from kilnpack.packing.works_problem import WorksProblem
    from kilnpack.shapes.room import Room

SHELF_COST, KILN_COST, POST_COST = 8.0, 50.0, 1.0
"""What weighs more in "smallest": a shelf is dearer than a post, and a kiln cannot grow at all."""
MM_COST = 1.0


@dataclass(frozen=True, slots=True)
class Lacking:
    """What one change takes: posts by index, shelves, millimetres of kiln height."""

    posts: Counter[int]
    shelves: int
    height_mm: float

    @property
    def cost(self) -> float:
        """How big a change it is."""
        height = KILN_COST + MM_COST * self.height_mm if self.height_mm > LEVEL_MM else 0.0
        return height + SHELF_COST * self.shelves + POST_COST * sum(self.posts.values())


@dataclass(frozen=True, slots=True, eq=False)
class Changes:
    """Looks for the smallest change in one packed load."""

    rules: FiringRules
    built: WorksProblem
    state: LoadState
    _free_mm: dict[tuple[Room, tuple[Spot, ...]], float] = field(default_factory=dict)

    def smallest(self, ware: int) -> tuple[str, str]:
        """Return why one more body of a kind finds no place, and what would give it one."""
        free = list(self._free_tiers(ware))
        for stack, at in free:
            if self._over_mm(ware, stack, at) <= LEVEL_MM and self._allows(ware, stack, at):
                place = f"tier {at + 1} of stack {self.built.places[stack].code}"
                return f"{place} has a free place that the search did not fill", "a longer search, or set it there"
        for stack, at in free:
            wrong = self._heat_words(ware, stack, at)
            if wrong is not None:
                return wrong
        raised = [(self._higher_posts(ware, stack, at), stack, at) for stack, at in free]
        options = [(found.cost, self._raise_words(found, ware, stack, at)) for found, stack, at in raised if found]
        options += [(found.cost, self._tier_words(found, stack)) for found, stack in self._tiers_more(ware)]
        if not options and self._has_column(ware):
            return "no place left on the shelves", "the next firing"
        if not options:
            need_mm = self.built.problem.wares[ware].body.height_mm + self.built.problem.headroom_mm
            return "no posts are high enough for another tier", f"posts of {math.ceil(need_mm)} mm together"
        return min(options)[1]

    # --- a free place ----------------------------------------------------------------------------------------------

    def _free_tiers(self, ware: int) -> Iterator[tuple[int, int]]:
        """Yield the tiers on which one more body would find a place if height and heat were no matter."""
        for stack, tiers in enumerate(self.state.stacks):
            for at, tier in enumerate(tiers):
                base_mm = self.state.bases_mm(stack)[at]
                room = self.state.room(stack, base_mm, tier.column)
                if room is not None and self._has_place(stack, room, tier.filled.spots, ware):
                    yield stack, at

    def _has_place(self, stack: int, room: Room, spots: tuple[Spot, ...], ware: int) -> bool:
        wares = self.built.problem.wares
        mass_kg = sum(wares[spot.ware].body.mass_kg for spot in spots) + wares[ware].body.mass_kg
        if mass_kg > room.load_limit_kg:
            return False
        plain = replace(room, clear_height_mm=math.inf, load_limit_kg=math.inf)
        key = (plain, spots)
        if key not in self._free_mm:
            self._free_mm[key] = free_radius_mm(plain, self.built.shelves[stack], wares, spots)
        return reach_mm(wares[ware]) <= self._free_mm[key]

    def _heat_words(self, ware: int, stack: int, at: int) -> tuple[str, str] | None:
        """Say by how much a tier with a free place that is high enough is too cold or too hot."""
        tier, base_mm = self.state.stacks[stack][at], self.state.bases_mm(stack)[at]
        room = self.state.room(stack, base_mm, tier.column)
        tall = self.built.problem.wares[ware].body.height_mm
        if room is None or tall > room.clear_height_mm + LEVEL_MM or self._allows(ware, stack, at):
            return None
        group = self.built.ware.groups[self.built.problem.wares[ware].group]
        low_k, high_k = self.built.site.heat_of(stack, base_mm, self.state.posts_mm(tier.column))
        peak, place = self.rules.peak_degc, f"tier {at + 1} of stack {self.built.places[stack].code}"
        cold = 0.0 if group.low_degc is None else group.low_degc - peak - low_k
        hot = 0.0 if group.high_degc is None else peak + high_k - group.high_degc
        if cold >= hot:
            return f"free places are up to {cold:.0f} K too cold for it", f"{place} {cold:.0f} K hotter"
        return f"free places are up to {hot:.0f} K too hot for it", f"{place} {hot:.0f} K cooler"

    def _allows(self, ware: int, stack: int, at: int) -> bool:
        base_mm, column = self.state.bases_mm(stack)[at], self.state.stacks[stack][at].column
        return bool(self.state.allowed(stack, base_mm, column) >> ware & 1)

    # --- posts, shelves, height ------------------------------------------------------------------------------------

    def _higher_posts(self, ware: int, stack: int, at: int) -> Lacking | None:
        """Return what higher posts on a tier with a free place would take; None for an open top tier."""
        tier = self.state.stacks[stack][at]
        if tier.column == OPEN:
            top = self.state.room(stack, self.state.bases_mm(stack)[at], OPEN)
            over = self.built.problem.wares[ware].body.height_mm - (top.clear_height_mm if top else 0.0)
            return Lacking(Counter(), 0, max(over, 0.0))
        slack_mm = self._slack_mm(stack) + self.built.problem.columns[tier.column].height_mm
        back = Counter({part: n * self._points(stack) for part, n in self._parts(tier.column).items()})
        return self._cheapest(ware, stack, slack_mm, back, shelves=0)

    def _tiers_more(self, ware: int) -> Iterator[tuple[Lacking, int]]:
        """Yield what one tier more on each stack would take, under the tier that is on top now."""
        problem = self.built.problem
        for stack, site in enumerate(problem.stacks):
            shelf = problem.shelves[site.shelf]
            slack_mm = self._slack_mm(stack) - shelf.thickness_mm - problem.allowance_mm
            lacking = int(self.state.shelves[site.shelf] < 1)
            found = self._cheapest(ware, stack, slack_mm, Counter(), shelves=lacking, sight=True)
            if found is not None:
                yield found, stack

    def _cheapest(
        self, ware: int, stack: int, room_mm: float, back: Counter[int], *, shelves: int, sight: bool = False
    ) -> Lacking | None:
        """Return the least that columns of enough height take, with so much height and these posts to give back.

        With `sight`, columns whose shelves would lie where none may, on a tier more under the top one, are left out.
        """
        problem = self.built.problem
        need_mm = problem.wares[ware].body.height_mm + problem.headroom_mm
        options = []
        for column in problem.stacks[stack].columns:
            height_mm = problem.columns[column].height_mm
            if height_mm >= need_mm - LEVEL_MM and not (sight and self._bars(stack, column, room_mm)):
                wanted = Counter({part: n * self._points(stack) for part, n in self._parts(column).items()})
                short = Counter({part: n - self.state.posts[part] - back[part] for part, n in wanted.items()})
                options.append(Lacking(+short, shelves, max(0.0, height_mm - room_mm)))
        return min(options, key=lambda one: one.cost, default=None)

    def _bars(self, stack: int, column: int, room_mm: float) -> bool:
        """Whether a tier more with these posts would lay a shelf where none may lie, though there is the height."""
        state = self.state
        if self.built.problem.columns[column].height_mm > room_mm + LEVEL_MM:
            return False
        tiers = state.stacks[stack]
        base_mm = state.bases_mm(stack)[max(0, len(tiers) - 1)]
        above_mm = base_mm + state.pitch_mm(stack, column)
        return any(state.room(stack, at_mm, one) is None for at_mm, one in ((base_mm, column), (above_mm, OPEN)))

    def _slack_mm(self, stack: int) -> float:
        """Return the height of a stack that its ware leaves free."""
        state, problem = self.state, self.built.problem
        tiers = state.stacks[stack]
        if not tiers or tiers[-1].column != OPEN:
            return state.slack_mm(stack)
        tall = max((problem.wares[s.ware].body.height_mm for s in tiers[-1].filled.spots), default=0.0)
        return state.slack_mm(stack) - problem.shelves[problem.stacks[stack].shelf].thickness_mm - tall

    def _has_column(self, ware: int) -> bool:
        need_mm = self.built.problem.wares[ware].body.height_mm + self.built.problem.headroom_mm
        return any(column.height_mm >= need_mm - LEVEL_MM for column in self.built.problem.columns)

    def _points(self, stack: int) -> int:
        return self.built.problem.shelves[self.built.problem.stacks[stack].shelf].points

    def _parts(self, column: int) -> Counter[int]:
        return Counter(self.built.problem.columns[column].parts)

    # --- words -----------------------------------------------------------------------------------------------------

    def _raise_words(self, found: Lacking, ware: int, stack: int, at: int) -> tuple[str, str]:
        over_mm = self._over_mm(ware, stack, at)
        place = f"tier {at + 1} of stack {self.built.places[stack].code}"
        lacks = self._words(found, stack)
        change = f"{place} {over_mm:.0f} mm higher" + (f", with {lacks}" if lacks else ", from posts in stock")
        return f"{over_mm:.0f} mm too tall for the free place on {place}", change

    def _over_mm(self, ware: int, stack: int, at: int) -> float:
        room = self.state.room(stack, self.state.bases_mm(stack)[at], self.state.stacks[stack][at].column)
        return self.built.problem.wares[ware].body.height_mm - (room.clear_height_mm if room else 0.0)

    def _tier_words(self, found: Lacking, stack: int) -> tuple[str, str]:
        lacks = self._words(found, stack)
        place = self.built.places[stack].code
        if not lacks:
            return "no place left on the shelves", f"one more tier on stack {place}, from furniture in stock"
        return "no place left on the shelves", f"one more tier on stack {place}, with {lacks}"

    def _words(self, found: Lacking, stack: int) -> str:
        """Name what is lacking as it would be fetched."""
        posts = self.rules.works.furniture.posts
        words = [f"{found.shelves} more shelf {self.built.shelves[stack].code}"] if found.shelves else []
        words += [
            f"{count} more {'post' if count == 1 else 'posts'} of {posts[part].nominal_mm:g} ({posts[part].code})"
            for part, count in sorted(found.posts.items())
        ]
        if found.height_mm > LEVEL_MM:
            words.append(f"{math.ceil(found.height_mm - LEVEL_MM)} mm more height")
        return ", ".join(words)
