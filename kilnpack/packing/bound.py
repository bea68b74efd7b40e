"""The proved bound of a whole load: a linear programme that every load keeps.

Sets
    tiers of one kind t: shelf and posts or open top, and the kinds of ware its height and heat allow
    places along a stack, in steps of `STEP_MM` from the floor
Variables
    y[a], how often arc a of a stack is used: a tier of a kind that begins at a step and takes so many steps
    c[p], how often a column of posts p stands in a stack; x[t, k], bodies of ware k on all tiers of kind t
Rules
    the arcs of a stack are paths from the bottom up; shelves, posts by height, pieces and supports are in stock
    on all tiers of a kind: areas, counts and mass (see `bound_counts`) times the number of tiers
Objective
    greatest worth of the bodies

Every load gives values of the variables that keep all rows, heights rounded down to whole steps, so the optimum is a
bound. Asking for whole numbers gains nothing on the loads tried; what a shelf truly holds is less than areas and counts
say, but there is no theorem for mixed ware on small shelves (see docs/method/bound.md).
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from kilnpack.packing.bound_counts import ShelfCounts
from kilnpack.search.linear import Programme, solve_linear

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from kilnpack.model.geometry import Part
    from kilnpack.packing.problem import LoadProblem, StackSite
    from kilnpack.shapes.room import Room

STEP_MM = 10.0
REACHED_MOST = 20000
"""With more heights than this that a shelf may come to lie at, heat is not told apart by height."""

LEVEL_MM = 1e-6
SOLVER_SHARE = 1e-6
"""What the solver's own tolerance may take off the optimum."""


@dataclass(frozen=True, slots=True)
class TierKind:
    """Tiers that offer the same: number of the kind of shelf, kinds of ware by bit."""

    shelf: int
    mask: int


@dataclass(frozen=True, slots=True)
class Arc:
    """A tier in a stack: step it begins at, steps it takes (0: an open top, nothing above), its kind, its height."""

    at: int
    steps: int
    kind: TierKind
    height: int
    """Kinds of ware low enough for its posts, by bit; -1 for an open top."""


@dataclass(frozen=True, slots=True)
class StackKind:
    """Stacks that are alike: how many, what may stand in them, and where they begin."""

    count: int
    site: StackSite
    arcs: tuple[Arc, ...]


@dataclass(slots=True)
class Frame:
    """Everything of the load but what stands on its shelves."""

    problem: LoadProblem
    shelves: list[ShelfCounts]
    stacks: list[StackKind]

    @property
    def kinds(self) -> list[TierKind]:
        """Every kind of tier that some stack may hold."""
        return list(dict.fromkeys(arc.kind for stack in self.stacks for arc in stack.arcs))


class Ended(Exception):
    """Nobody wants the bound any more."""


def proved_bound(
    problem: LoadProblem, parts: Sequence[Sequence[Part]], going: Callable[[], bool] = lambda: True
) -> float | None:
    """Return what no load of a problem can be worth more than, None where nothing could be proved.

    Parameters
    ----------
    parts
        The true geometry of a body of each ware, mm; the primitives of the packer may stand out over it.
    going
        Asked every now and then whether to go on; half a proof is none.
    """
    if not problem.wares or not problem.stacks:
        return None
    programme = Programme()
    try:
        frame = frame_of(problem, parts, going)
        add_ware(programme, frame, add_frame(programme, frame), going)
    except Ended:
        return None
    found = solve_linear(programme)
    if found is None:
        return None
    return min(found.value * (1.0 + SOLVER_SHARE), problem.ready_value)


def _insist(going: Callable[[], bool]) -> None:
    if not going():
        raise Ended


def frame_of(problem: LoadProblem, parts: Sequence[Sequence[Part]], going: Callable[[], bool] = lambda: True) -> Frame:
    """Return the frame of a problem; `parts` is the geometry of each ware.

    Raises
    ------
    Ended
        It is not to go on.
    """
    heights: dict[StackSite, list[float]] = {}
    shelves: dict[Room, int] = {}
    counts: list[ShelfCounts] = []
    sites: dict[tuple[StackSite, tuple[Arc, ...]], int] = defaultdict(int)
    for stack, site in enumerate(problem.stacks):
        plain = replace(site, code="")
        if plain not in heights:
            heights[plain] = _reached(problem, site)
        reached = heights[plain]
        numbers = {}
        for is_open in {site.open_top, False}:
            room = _room(problem, stack, reached, is_open=is_open)
            if room is None:
                continue
            if room not in shelves:
                _insist(going)
                shelves[room] = len(counts)
                counts.append(ShelfCounts(room, problem.wares, parts))
            numbers[is_open] = shelves[room]
        _insist(going)
        sites[plain, _arcs(problem, stack, reached, numbers)] += 1
    kinds = [StackKind(count, site, arcs) for (site, arcs), count in sites.items()]
    return Frame(problem, counts, kinds)


def _reached(problem: LoadProblem, site: StackSite) -> list[float]:
    """Return every height at which the underside of a shelf may come to lie."""
    pitches = {_pitch(problem, site, column) for column in site.columns}
    found = {round(bottom.base_mm, 6) for bottom in site.bottoms}
    edge = sorted(found)
    while edge and len(found) <= REACHED_MOST:
        base = edge.pop()
        for pitch in pitches:
            above = round(base + pitch, 6)
            if above <= site.top_mm and above not in found:
                found.add(above)
                edge.append(above)
    return sorted(found)


def _pitch(problem: LoadProblem, site: StackSite, column: int) -> float:
    return problem.shelves[site.shelf].thickness_mm + problem.columns[column].height_mm + problem.allowance_mm


def _room(problem: LoadProblem, stack: int, reached: Sequence[float], *, is_open: bool) -> Room | None:
    """Return the room of the stack's tiers, without its height and without what stands in the way of some."""
    columns = [None] if is_open else [problem.columns[c].height_mm for c in problem.stacks[stack].columns]
    for posts_mm in columns:
        for base in reached:
            room = problem.site.room(stack, base, posts_mm)
            if room is not None:
                return replace(room, keep_outs=(), clear_height_mm=math.inf)
    return None


def _low_enough(problem: LoadProblem, clear_mm: float) -> int:
    return sum(1 << k for k, ware in enumerate(problem.wares) if ware.body.height_mm <= clear_mm + LEVEL_MM)


def _arcs(problem: LoadProblem, stack: int, reached: Sequence[float], numbers: dict[bool, int]) -> tuple[Arc, ...]:
    site = problem.stacks[stack]
    everything = (1 << len(problem.wares)) - 1
    known = len(reached) <= REACHED_MOST
    masks: dict[tuple[int, int, int], int] = defaultdict(int)
    heights = {
        height: sorted({(_pitch(problem, site, c), problem.columns[c].height_mm) for c in columns})
        for height, columns in _height_classes(problem, site).items()
    }
    for base in reached:
        at = math.floor(base / STEP_MM + LEVEL_MM)
        for height, columns in heights.items() if False in numbers else ():
            steps = math.floor(columns[0][0] / STEP_MM + LEVEL_MM)
            for pitch, posts_mm in columns:
                if height and masks.get((at, steps, height), 0) == height:
                    break
                if base + pitch <= site.top_mm + LEVEL_MM:
                    told = problem.site.allowed(stack, base, posts_mm) if known else everything
                    masks[at, steps, height] |= told & height
        if True in numbers:
            clear = site.top_mm - base - problem.shelves[site.shelf].thickness_mm
            told = problem.site.allowed(stack, base, None) if known else everything
            masks[at, 0, -1] |= told & _low_enough(problem, clear)
    return tuple(
        Arc(at, steps, TierKind(numbers[height == -1], mask & everything), height)
        for (at, steps, height), mask in sorted(masks.items())
    )


def _height_classes(problem: LoadProblem, site: StackSite) -> dict[int, list[int]]:
    """Return the stack's columns by the kinds of ware that are low enough for them."""
    classes: dict[int, list[int]] = defaultdict(list)
    for column in site.columns:
        classes[_low_enough(problem, problem.columns[column].height_mm - problem.headroom_mm)].append(column)
    return classes


def add_frame(programme: Programme, frame: Frame) -> dict[TierKind, int]:
    """Put stacks, shelves and posts into a programme; return the row of each kind of tier.

    Such a row says: tiers used for ware of this kind <= arcs of the kind; whoever fills them adds to it.
    """
    problem = frame.problem
    shelf_rows = [programme.row({}, high=float(shelf.stock_pieces)) for shelf in problem.shelves]
    post_rows = [programme.row({}, high=float(count)) for count in problem.posts]
    tier_rows = {kind: programme.row({}, high=0.0) for kind in frame.kinds}
    for stack in frame.stacks:
        _add_stack(programme, problem, stack, shelf_rows, post_rows, tier_rows)
    return tier_rows


def _add_stack(
    programme: Programme,
    problem: LoadProblem,
    stack: StackKind,
    shelf_rows: list[int],
    post_rows: list[int],
    tier_rows: dict[TierKind, int],
) -> None:
    site, count = stack.site, float(stack.count)
    top = math.floor(site.top_mm / STEP_MM + LEVEL_MM)
    nodes = [programme.row({}, high=0.0) for _ in range(top + 1)]
    begin = programme.row({}, high=count)
    for base in sorted({math.floor(bottom.base_mm / STEP_MM + LEVEL_MM) for bottom in site.bottoms}):
        source = programme.variable(0.0)
        programme.term(begin, source, 1.0)
        programme.term(nodes[base], source, -1.0)
    for low, high in pairwise(nodes):
        waste = programme.variable(0.0)
        programme.term(low, waste, 1.0)
        programme.term(high, waste, -1.0)
    class_rows = {height: programme.row({}, high=0.0) for height in _height_classes(problem, site)}
    for arc in stack.arcs:
        used = programme.variable(0.0)
        programme.term(nodes[arc.at], used, 1.0)
        programme.term(shelf_rows[site.shelf], used, 1.0)
        programme.term(tier_rows[arc.kind], used, -1.0)
        if arc.steps:
            programme.term(nodes[min(top, arc.at + arc.steps)], used, -1.0)
            programme.term(class_rows[arc.height], used, 1.0)
    lowest = min(bottom.base_mm for bottom in site.bottoms)
    height_row = programme.row({}, high=count * (site.top_mm - lowest) + LEVEL_MM)
    for height, columns in _height_classes(problem, site).items():
        for column in columns:
            stood = programme.variable(0.0)
            programme.term(class_rows[height], stood, -1.0)
            programme.term(height_row, stood, _pitch(problem, site, column))
            parts = problem.columns[column].parts
            for part in set(parts):
                points = problem.shelves[site.shelf].points
                programme.term(post_rows[part], stood, float(points * parts.count(part)))


def add_ware(
    programme: Programme, frame: Frame, tier_rows: dict[TierKind, int], going: Callable[[], bool] = lambda: True
) -> list[int]:
    """Put bodies on the tiers, in fractions; return the rows of the stock of pieces and supports.

    Raises
    ------
    Ended
        It is not to go on.
    """
    problem = frame.problem
    stock = [programme.row({}, high=float(count)) for count in (*problem.counts, *problem.supports)]
    for kind, tier_row in tier_rows.items():
        _insist(going)
        bodies = {}
        for k, ware in enumerate(problem.wares):
            if not kind.mask >> k & 1:
                continue
            bodies[k] = programme.variable(ware.body.value)
            programme.term(stock[ware.group], bodies[k], float(ware.pieces))
            if ware.support is not None:
                programme.term(stock[len(problem.counts) + ware.support], bodies[k], float(ware.support_pieces))
        tiers = programme.variable(0.0)
        programme.term(tier_row, tiers, 1.0)
        for weights, most in frame.shelves[kind.shelf].rows(kind.mask):
            programme.row({**{bodies[k]: weight for k, weight in weights.items()}, tiers: -most}, high=0.0)
    return stock
