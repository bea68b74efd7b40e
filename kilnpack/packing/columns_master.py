"""Choose among known settings and stacks of posts: the master of the column generation.

Sets
    slots l: tiers that offer the same room and kinds of ware; settings j, each fitting some slots
    stacks s that are alike; structures p: the posts of a whole stack from the bottom up, so the slots it offers
Variables
    u[s, p], how many of the stacks s are built as p; n[j, l], how often setting j is set in slots l
    d[g], pieces of group g that settings hold beyond what is ready: they are left off again
Rules
    every stack is built once at most; shelves and posts are in stock
    slots: sum over j of n[j, l] <= slots that the built stacks offer
    ware: pieces in all settings - d[g] <= pieces ready; supports are in stock
    different settings at most, where that is limited; nothing is left off then, as that would make another setting
Objective
    greatest worth of the settings less that of the pieces left off
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from kilnpack.packing.state import OPEN
from kilnpack.search.linear import Programme, solve_linear, solve_whole

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from kilnpack.packing.filler import Filled
    from kilnpack.packing.problem import LoadProblem
    from kilnpack.packing.state import LoadState
    from kilnpack.shapes.room import Room


CHOICE_GAP = 1e-4
"""Relative gap at which the whole-number master is content."""


@dataclass(frozen=True, slots=True)
class Slot:
    """What tiers offer: their room without its height, and the kinds that heat and height allow, by bit."""

    room: Room
    mask: int


@dataclass(frozen=True, slots=True)
class Setting:
    """A filled shelf that may be set wherever the room is the same and its kinds are allowed."""

    room: Room
    kinds: int
    filled: Filled

    def fits(self, slot: Slot) -> bool:
        """Return whether it may be set in a slot."""
        return self.kinds & ~slot.mask == 0 and self.room == slot.room


@dataclass(frozen=True, slots=True)
class Structure:
    """The columns of one stack from the bottom up (OPEN for an open top tier) and the slots they make."""

    bottom: int
    columns: tuple[int, ...]
    slots: tuple[Slot, ...]


Built: TypeAlias = tuple[int, Structure, tuple[Setting | None, ...]]
"""A stack as it stands: the first of those like it, its structure, the setting of every tier."""


@dataclass(slots=True)
class Pool:
    """Settings and structures found so far; structures by the first of the stacks that are alike."""

    settings: dict[Setting, None] = field(default_factory=dict)
    structures: dict[int, dict[Structure, None]] = field(default_factory=lambda: defaultdict(dict))

    @property
    def slots(self) -> list[Slot]:
        """Every slot that some structure offers."""
        return list(dict.fromkeys(slot for own in self.structures.values() for one in own for slot in one.slots))


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What the master would pay: for one more piece by group (then supports), slot, shelf, post, and stack."""

    stock: NDArray[np.float64]
    slots: dict[Slot, float]
    shelves: NDArray[np.float64]
    posts: NDArray[np.float64]
    stacks: dict[int, float]


@dataclass(frozen=True, slots=True)
class Chosen:
    """What the master builds: for each stack a structure with the setting of every tier, from the bottom up."""

    stacks: dict[int, tuple[Structure, tuple[Setting | None, ...]]]


def slot_of(room: Room, mask: int) -> Slot:
    """Return the slot of a tier; `mask` has the kinds that are allowed and low enough."""
    return Slot(replace(room, clear_height_mm=np.inf), mask)


class Master:
    """The programme over a pool, with the places of its rows and variables."""

    def __init__(self, problem: LoadProblem, pool: Pool, alike: dict[int, list[int]]) -> None:
        self.problem = problem
        self.pool = pool
        self.alike = alike
        self.slots = pool.slots
        self.programme = Programme()
        row = self.programme.row
        self.stock = [row({}, high=float(count)) for count in (*problem.counts, *problem.supports)]
        self.shelves = [row({}, high=float(shelf.stock_pieces)) for shelf in problem.shelves]
        self.posts = [row({}, high=float(count)) for count in problem.posts]
        self.stacks = {first: row({}, high=float(len(own))) for first, own in alike.items()}
        self.offered = {slot: row({}, high=0.0) for slot in self.slots}
        self.built: dict[tuple[int, Structure], int] = {}
        self.set: dict[tuple[Setting, Slot], int] = {}
        self.switches: dict[Setting, int] = {}
        self._structures()
        self._settings()
        if problem.settings_most is None:
            self._leave_off()
        else:
            self._few(problem.settings_most)

    def _structures(self) -> None:
        term = self.programme.term
        for first, own in self.pool.structures.items():
            site = self.problem.stacks[first]
            points = self.problem.shelves[site.shelf].points
            for structure in own:
                used = self.programme.variable(0.0, top=float(len(self.alike[first])), whole=True)
                self.built[first, structure] = used
                term(self.stacks[first], used, 1.0)
                term(self.shelves[site.shelf], used, float(len(structure.columns)))
                for slot in dict.fromkeys(structure.slots):
                    term(self.offered[slot], used, -float(structure.slots.count(slot)))
                parts = [p for c in structure.columns if c != OPEN for p in self.problem.columns[c].parts]
                for part in dict.fromkeys(parts):
                    term(self.posts[part], used, float(points * parts.count(part)))

    def _settings(self) -> None:
        for setting in self.pool.settings:
            takes = taken(self.problem, setting.filled)
            for slot in self.slots:
                if not setting.fits(slot):
                    continue
                number = self.programme.variable(setting.filled.value, whole=True)
                self.set[setting, slot] = number
                self.programme.term(self.offered[slot], number, 1.0)
                for stock in np.flatnonzero(takes):
                    self.programme.term(self.stock[stock], number, float(takes[stock]))

    def _leave_off(self) -> None:
        worth = best_worths(self.problem)
        for group, count in enumerate(self.problem.counts):
            if worth[group] > 0.0 and count:
                left = self.programme.variable(-worth[group])
                self.programme.term(self.stock[group], left, -1.0)

    def _few(self, most: int) -> None:
        """Hold the number of different settings: a setting is set at all only where its switch is on."""
        tiers = sum(shelf.stock_pieces for shelf in self.problem.shelves)
        by_setting: dict[Setting, list[int]] = defaultdict(list)
        for (setting, _), number in self.set.items():
            by_setting[setting].append(number)
        stock = np.array([*self.problem.counts, *self.problem.supports])
        for setting, numbers in by_setting.items():
            self.switches[setting] = switch = self.programme.variable(0.0, top=1.0, whole=True)
            takes = taken(self.problem, setting.filled)
            often = min([tiers, *(stock[takes > 0] // takes[takes > 0])])
            self.programme.row({**dict.fromkeys(numbers, 1.0), switch: -float(often)}, high=0.0)
        self.programme.row(dict.fromkeys(self.switches.values(), 1.0), high=float(most))

    def priced(self) -> tuple[float, Prices] | None:
        """Return the worth of the programme in fractions, and its prices."""
        found = solve_linear(self.programme)
        if found is None:
            return None
        duals = np.maximum(found.duals, 0.0)
        return found.value, Prices(
            stock=duals[self.stock],
            slots={slot: float(duals[row]) for slot, row in self.offered.items()},
            shelves=duals[self.shelves],
            posts=duals[self.posts],
            stacks={first: float(duals[row]) for first, row in self.stacks.items()},
        )

    def hint(self, rows: Sequence[Built]) -> list[float]:
        """Return the values of the variables that stand for a load whose settings and structures are in the pool."""
        values = [0.0] * len(self.programme.gains)
        for first, structure, settings in rows:
            values[self.built[first, structure]] += 1.0
            for setting, slot in zip(settings, structure.slots, strict=True):
                if setting is not None:
                    values[self.set[setting, slot]] += 1.0
        for setting, switch in self.switches.items():
            values[switch] = float(any(values[self.set[setting, slot]] for slot in self.slots if setting.fits(slot)))
        return values

    def chosen(self, *, seconds: float | None, nodes: int | None, now: Sequence[Built] = ()) -> Chosen | None:
        """Return the best whole-number choice found within the limits, from the load `now` on."""
        hint = self.hint(now) if now else None
        found = solve_whole(self.programme, seconds=seconds, nodes=nodes, gap=CHOICE_GAP, hint=hint)
        if found is None:
            return None
        ready: dict[Slot, list[Setting]] = defaultdict(list)
        for (setting, slot), number in self.set.items():
            ready[slot] += [setting] * round(found.values[number])
        for own in ready.values():
            own.sort(key=lambda setting: setting.filled.value)
        stacks: dict[int, tuple[Structure, tuple[Setting | None, ...]]] = {}
        free = {first: list(own) for first, own in self.alike.items()}
        for (first, structure), number in self.built.items():
            for _ in range(round(found.values[number])):
                settings = tuple(ready[slot].pop() if ready[slot] else None for slot in structure.slots)
                stacks[free[first].pop(0)] = structure, settings
        return Chosen(stacks)


def taken(problem: LoadProblem, filled: Filled) -> NDArray[np.int64]:
    """Return the pieces by group, then the supports, that a filled shelf takes."""
    takes = np.zeros(len(problem.counts) + len(problem.supports), np.int64)
    for spot in filled.spots:
        ware = problem.wares[spot.ware]
        takes[ware.group] += ware.pieces
        if ware.support is not None:
            takes[len(problem.counts) + ware.support] += ware.support_pieces
    return takes


def best_worths(problem: LoadProblem) -> list[float]:
    """Return the best worth of a piece of each group."""
    best = [0.0] * len(problem.counts)
    for ware in problem.wares:
        best[ware.group] = max(best[ware.group], ware.body.value / ware.pieces)
    return best


def alike_stacks(state: LoadState, probes_mm: Sequence[float]) -> dict[int, list[int]]:
    """Return the stacks by the first that is like them, seen from the rooms at some heights."""
    problem = state.problem
    known: dict[object, int] = {}
    groups: dict[int, list[int]] = defaultdict(list)
    for stack, site in enumerate(problem.stacks):
        heights = [problem.columns[c].height_mm for c in site.columns[::7]]
        look = [
            (problem.site.room(stack, base, posts), problem.site.allowed(stack, base, posts))
            for base in probes_mm
            for posts in (*heights, *([None] if site.open_top else []))
        ]
        groups[known.setdefault((replace(site, code=""), *look), stack)].append(stack)
    return dict(groups)
