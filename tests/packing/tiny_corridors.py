"""Tiny loads of boxes in a row on narrow shelves: flared boxes as deep as the shelf, best value by enumeration.

A box takes the whole depth of its shelf and is wider than half of it, so that turning it never helps; what stands on a
shelf is then an order of boxes along it. Rims may pass over lower boxes and hang over both ends, feet may not.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import cache
from itertools import combinations_with_replacement, permutations, product

from kilnpack.model.geometry import ExtrudedPart, Part, RoundedPolygon
from kilnpack.packing.covers import cover_of
from kilnpack.packing.problem import Bottom, Column, LoadProblem, Shelf, StackSite, Ware
from kilnpack.shapes.primitives import ShelfBody
from kilnpack.shapes.room import RectOutline, Room
from tests.packing.tiny_loads import stack_plans

DEEP_MM = 60.0
HEADROOM_MM = 5.0
THICK_MM = 10.0


@dataclass(frozen=True)
class Box:
    """A box: half widths of foot and rim, height at which it widens, its own height."""

    foot_mm: float
    rim_mm: float
    neck_mm: float
    height_mm: float

    def half_mm(self, z_mm: float) -> float:
        """Return the half width at a height it exists at."""
        return self.rim_mm if z_mm >= self.neck_mm else self.foot_mm

    def parts(self) -> tuple[Part, ...]:
        """Return its geometry."""
        spans = ((0.0, self.neck_mm - 1e-5, self.foot_mm), (self.neck_mm, self.height_mm, self.rim_mm))
        return tuple(
            ExtrudedPart(from_z_mm=low, to_z_mm=high, outline=(RoundedPolygon(corners_mm=_corners(half)),))
            for low, high, half in spans
        )


def _corners(half: float) -> tuple[tuple[float, float], ...]:
    deep = DEEP_MM / 2
    return ((-half, -deep), (half, -deep), (half, deep), (-half, deep))


@dataclass(frozen=True)
class CorridorSite:
    """Narrow shelves; some kinds may stand only from a height on."""

    long_mm: float
    gap_mm: float
    top_mm: float
    from_mm: tuple[float, ...]

    def room(self, stack: int, base_mm: float, posts_mm: float | None) -> Room | None:
        """Return the room of a tier."""
        del stack
        clear = self.top_mm - base_mm - THICK_MM if posts_mm is None else posts_mm - HEADROOM_MM
        outline = RectOutline(width_mm=self.long_mm, depth_mm=DEEP_MM)
        return None if clear <= 0 else Room(outline=outline, gap_mm=self.gap_mm, clear_height_mm=clear)

    def allowed(self, stack: int, base_mm: float, posts_mm: float | None) -> int:
        """Return the kinds allowed at a height."""
        del stack, posts_mm
        return sum(1 << k for k, low in enumerate(self.from_mm) if base_mm >= low)


@dataclass(frozen=True)
class Corridor:
    """A tiny load with the boxes of its wares."""

    problem: LoadProblem
    boxes: tuple[Box, ...]
    overhang_mm: float

    @property
    def parts(self) -> tuple[tuple[Part, ...], ...]:
        """The geometry of each ware."""
        return tuple(box.parts() for box in self.boxes)


def corridor(seed: int) -> Corridor:
    """Return a tiny load of one or two stacks, up to four shelves, three kinds of boxes."""
    rng = random.Random(seed)
    overhang = rng.choice([0.0, 6.0])
    boxes = tuple(
        Box(foot := rng.uniform(15.5, 20.0), foot + rng.uniform(0.5, 9.0), rng.uniform(8, 18), rng.uniform(22, 60))
        for _ in range(3)
    )
    wares = tuple(_ware(k, box, round(rng.uniform(1, 9), 2), overhang) for k, box in enumerate(boxes))
    heights = [float(h) for h in rng.sample([30, 40, 50, 70], 2)]
    top = float(rng.randint(90, 170))
    site = StackSite(
        code="A", shelf=0, top_mm=top, open_top=rng.random() < 0.4, bottoms=(Bottom(stub=None, base_mm=0.0),),
        columns=(0, 1),
    )  # fmt: skip
    problem = LoadProblem(
        wares=wares,
        counts=tuple(rng.randint(1, 6) for _ in wares),
        supports=(),
        columns=tuple(Column(parts=(k,), height_mm=height) for k, height in enumerate(heights)),
        posts=tuple(4 * rng.randint(0, 3) for _ in heights),
        stubs=(),
        shelves=(Shelf(code="s", thickness_mm=THICK_MM, points=4, stock_pieces=rng.randint(1, 4)),),
        stacks=(site,) * rng.choice([1, 2]),
        site=CorridorSite(
            rng.uniform(70, 190), rng.choice([0.0, 3.0]), top, tuple(rng.choice([0.0, 0.0, 40.0]) for _ in wares)
        ),
        headroom_mm=HEADROOM_MM,
        allowance_mm=0.0,
    )
    return Corridor(problem, boxes, overhang)


def _ware(number: int, box: Box, value: float, overhang_mm: float) -> Ware:
    body = ShelfBody(
        code=f"b{number}", primitives=cover_of(box.parts()), height_mm=box.height_mm, mass_kg=0.4, value=value,
        count=9, overhang_mm=overhang_mm,
    )  # fmt: skip
    return Ware(code=body.code, body=body, group=number)


def best_in_corridor(case: Corridor) -> float:
    """Return the greatest value of a tiny load by trying every stack of columns and every row of boxes."""
    problem = case.problem
    assert isinstance(problem.site, CorridorSite)
    site = problem.site
    rows = [pattern for pattern in _patterns(case) if _fits(case, site, pattern)]

    @cache
    def best(tiers: tuple[int, ...], left: tuple[int, ...]) -> float:
        if not tiers:
            return 0.0
        found = best(tiers[1:], left)
        for pattern in rows:
            used = tuple(pattern.count(k) for k in range(len(left)))
            if all(tiers[0] >> k & 1 for k in pattern) and all(u <= n for u, n in zip(used, left, strict=True)):
                value = sum(problem.wares[k].body.value for k in pattern)
                rest = tuple(n - u for u, n in zip(used, left, strict=True))
                found = max(found, value + best(tiers[1:], rest))
        return found

    plans = [stack_plans(problem, stack) for stack in range(len(problem.stacks))]
    worth = 0.0
    for plan in product(*plans):
        tiers = [(column, base) for row in plan for column, base in row]
        used = [sum(4 for column, _ in tiers if column == part) for part in range(len(problem.posts))]
        if len(tiers) > problem.shelves[0].stock_pieces or any(u > n for u, n in zip(used, problem.posts, strict=True)):
            continue
        worth = max(worth, best(tuple(sorted(_kinds(problem, *tier) for tier in tiers)), problem.counts))
    return worth


def _kinds(problem: LoadProblem, column: int, base_mm: float) -> int:
    posts = None if column < 0 else problem.columns[column].height_mm
    room = problem.site.room(0, base_mm, posts)
    low = sum(1 << k for k, w in enumerate(problem.wares) if room and w.body.height_mm <= room.clear_height_mm)
    return problem.site.allowed(0, base_mm, posts) & low


def _patterns(case: Corridor) -> list[tuple[int, ...]]:
    kinds = range(len(case.boxes))
    return [many for count in range(1, 7) for many in combinations_with_replacement(kinds, count)]


def _fits(case: Corridor, site: CorridorSite, pattern: tuple[int, ...]) -> bool:
    """Return whether the boxes stand beside each other in some order."""
    boxes = case.boxes
    if sum(2 * boxes[k].foot_mm for k in pattern) > site.long_mm:
        return False
    return any(_row_mm(case, site, order) <= site.long_mm + 1e-9 for order in dict.fromkeys(permutations(pattern)))


def _row_mm(case: Corridor, site: CorridorSite, order: tuple[int, ...]) -> float:
    """Return the least length of shelf for boxes in this order."""
    boxes = [case.boxes[k] for k in order]
    ends = [max(box.foot_mm, box.rim_mm - case.overhang_mm) for box in boxes]
    places: list[float] = []
    for box, end in zip(boxes, ends, strict=True):
        places.append(max([end, *(x + _need_mm(o, box, site.gap_mm) for x, o in zip(places, boxes, strict=False))]))
    return max(x + end for x, end in zip(places, ends, strict=True))


def _need_mm(one: Box, other: Box, gap_mm: float) -> float:
    low = min(one.height_mm, other.height_mm)
    levels = [0.0, *(z for z in (one.neck_mm, other.neck_mm) if z <= low)]
    return max(one.half_mm(z) + other.half_mm(z) for z in levels) + gap_mm
