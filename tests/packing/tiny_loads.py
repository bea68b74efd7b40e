"""Tiny loads whose best value is found by trying everything."""

from __future__ import annotations

import random
from dataclasses import dataclass
from itertools import product

from kilnpack.packing.problem import Bottom, Column, LoadProblem, Shelf, StackSite, Ware
from kilnpack.shapes.primitives import Primitive, ShelfBody
from kilnpack.shapes.room import RectOutline, Room


@dataclass(frozen=True)
class OnePlaceSite:
    """Shelves that hold one body each; some kinds may stand only above a height."""

    shelf_mm: float
    headroom_mm: float
    top_mm: float
    thickness_mm: float
    open_top: bool
    from_mm: tuple[float, ...]

    def room(self, stack: int, base_mm: float, posts_mm: float | None) -> Room | None:
        """Return a square just too small for two bodies."""
        del stack
        clear = self.top_mm - base_mm - self.thickness_mm if posts_mm is None else posts_mm - self.headroom_mm
        if clear <= 0:
            return None
        outline = RectOutline(width_mm=self.shelf_mm, depth_mm=self.shelf_mm)
        return Room(outline=outline, clear_height_mm=clear)

    def allowed(self, stack: int, base_mm: float, posts_mm: float | None) -> int:
        """Return the kinds allowed at a height."""
        del stack, posts_mm
        return sum(1 << k for k, low in enumerate(self.from_mm) if base_mm >= low)


def tiny_problem(seed: int, *, open_top: bool = False, settings_most: int | None = None) -> LoadProblem:
    """Return one or two stacks of shelves with one place each; stock of shelves and posts binds."""
    rng = random.Random(seed)
    heights = [float(h) for h in rng.sample([30, 40, 50, 60, 70, 90], 3)]
    tall = [float(rng.choice([20, 28, 33, 45, 55, 62, 80])) for _ in range(4)]
    values = [round(rng.uniform(1, 9), 2) for _ in tall]
    wares = tuple(
        Ware(
            code=f"w{k}",
            body=ShelfBody(
                code=f"w{k}",
                primitives=(Primitive(x_mm=0.0, y_mm=0.0, profile=((0.0, 40.0), (height, 40.0))),),
                height_mm=height,
                mass_kg=0.5,
                value=value,
                count=9,
            ),
            group=k,
        )
        for k, (height, value) in enumerate(zip(tall, values, strict=True))
    )
    top = float(rng.randint(150, 240))
    stacks = rng.choice([1, 2])
    low = tuple(rng.choice([0.0, 0.0, 60.0]) for _ in wares)
    return LoadProblem(
        wares=wares,
        counts=tuple(rng.randint(1, 3) for _ in wares),
        supports=(),
        columns=tuple(Column(parts=(k,), height_mm=height) for k, height in enumerate(heights)),
        posts=tuple(4 * rng.randint(0, 3) for _ in heights),
        stubs=(),
        shelves=(Shelf(code="s", thickness_mm=10.0, points=4, stock_pieces=rng.randint(2, 5)),),
        stacks=(
            StackSite(
                code="A", shelf=0, top_mm=top, open_top=open_top, bottoms=(Bottom(stub=None, base_mm=0.0),),
                columns=tuple(range(len(heights))),
            ),
        )
        * stacks,
        site=OnePlaceSite(100.0, 5.0, top, 10.0, open_top, low),
        headroom_mm=5.0,
        allowance_mm=0.0,
        settings_most=settings_most,
    )  # fmt: skip


def best_value(problem: LoadProblem) -> float:
    """Return the greatest value of a tiny problem by trying every stack of columns and every body on each shelf."""
    plans = [stack_plans(problem, stack) for stack in range(len(problem.stacks))]
    return max((_worth(problem, plan) for plan in product(*plans)), default=0.0)


Plan = tuple[tuple[int, float], ...]


def stack_plans(problem: LoadProblem, stack: int) -> list[Plan]:
    """Return every stack as (column, base) from the bottom up; column -1 is an open top tier."""
    site = problem.stacks[stack]
    thick = problem.shelves[0].thickness_mm
    found: list[Plan] = [()]
    grown: list[Plan] = [()]
    while grown:
        longer = []
        for plan in grown:
            base = sum(problem.columns[c].height_mm + thick for c, _ in plan)
            for column, item in enumerate(problem.columns):
                if base + thick + item.height_mm <= site.top_mm and len(plan) < problem.shelves[0].stock_pieces:
                    longer.append((*plan, (column, base)))
            if site.open_top:
                found.append((*plan, (-1, base)))
        if not site.open_top:
            found += longer
        grown = longer
    return found


def _worth(problem: LoadProblem, plan: tuple[Plan, ...]) -> float:
    tiers = [(stack, column, base) for stack, rows in enumerate(plan) for column, base in rows]
    if len(tiers) > problem.shelves[0].stock_pieces:
        return 0.0
    used = [sum(4 for _, column, _ in tiers if column == part) for part in range(len(problem.posts))]
    if any(count > stock for count, stock in zip(used, problem.posts, strict=True)):
        return 0.0
    return _assign(problem, tiers, list(problem.counts))


def _assign(problem: LoadProblem, tiers: list[tuple[int, int, float]], left: list[int]) -> float:
    if not tiers:
        return 0.0
    stack, column, base = tiers[0]
    posts = None if column < 0 else problem.columns[column].height_mm
    room = problem.site.room(stack, base, posts)
    best = _assign(problem, tiers[1:], left)
    allowed = problem.site.allowed(stack, base, posts)
    for k, ware in enumerate(problem.wares):
        if room and left[k] and allowed >> k & 1 and ware.body.height_mm <= room.clear_height_mm:
            left[k] -= 1
            best = max(best, ware.body.value + _assign(problem, tiers[1:], left))
            left[k] += 1
    return best
