"""Circle packings against the best published: how close the shelf engine comes.

python3 run.py bench records [--most 60] [--effort 300] [--seed 1]

Equal circles in a square and in a circle, and circles of radius 1, 2, ..., N in a circle. The engine is asked whether
all N stand in a room; each yes makes the room smaller. Exit code 1 if a ratio is out of its bar.
"""

from __future__ import annotations

import argparse
import math
import sys
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.shelf.pack import demand_of
from kilnpack.packing.shelf.tables import tables_for
from kilnpack.packing.shelf.work import CHUNK, ShelfWork
from kilnpack.shapes.primitives import Primitive, ShelfBody
from kilnpack.shapes.room import DiscOutline, RectOutline, Room
from kilnpack.shared_tables import table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from kilnpack.packing.shelf.tables import ShelfTables
    from kilnpack.packing.shelf.work import Demand

UNIT_MM = 1000.0
"""Mean radius the circles are drawn with, so that the engine's margin of 0.02 mm does not count."""

PRESS_HEAT_SHARE = 0.001

MIXED_TIMES = 8
"""Circles of many sizes get this many times the effort."""

MIXED_STARTS = 6
MIXED_BAR = 0.01

START_SHARE = 0.25
MIXED_START_SHARE = 1.0
"""Part of the work on one size of room that goes into one start: equal circles, and circles of many sizes."""

Places = list[tuple[int, float, float, float]]


def room_of(size_mm: float, *, is_square: bool) -> Room:
    """Return a square of this side, or a disc of this radius."""
    return Room(
        outline=RectOutline(width_mm=size_mm, depth_mm=size_mm) if is_square else DiscOutline(radius_mm=size_mm)
    )


def smallest_room(radii: Sequence[float], *, is_square: bool, effort: int, seed: int) -> float:
    """Return the side of the smallest square, or radius of the smallest disc, that was found to hold all circles.

    Parameters
    ----------
    radii
        Radii of the circles, any unit; the answer is in the same.
    effort
        Thousands of evaluations to spend.
    """
    scale = UNIT_MM / float(np.mean(radii))
    kinds = sorted(set(radii))
    bodies = [
        ShelfBody(
            code=f"{radius:g}",
            primitives=(Primitive(x_mm=0.0, y_mm=0.0, profile=((0.0, radius * scale),)),),
            height_mm=1.0,
            value=1.0,
            count=sum(r == radius for r in radii),
        )
        for radius in kinds
    ]
    area = sum(math.pi * (radius * scale) ** 2 for radius in radii)
    size_mm = math.sqrt(area / 0.6 / (1.0 if is_square else math.pi))
    best_places: Places = []
    best_mm, shrink, spent = math.inf, 0.02, 0
    rng = np.random.default_rng(seed)
    while spent < 1000 * effort and shrink > 2e-5:
        budget = min(1000 * effort - spent, 1000 * effort // 12)
        places, used = _all_in(
            room_of(size_mm, is_square=is_square), bodies, best_places, budget, int(rng.integers(2**31))
        )
        spent += used
        if places:
            best_mm, best_places = size_mm, places
            size_mm *= 1.0 - shrink
        elif best_places:
            shrink /= 2.0
            size_mm = best_mm * (1.0 - shrink)
        else:
            size_mm *= 1.03
    return best_mm / scale


def _all_in(room: Room, bodies: Sequence[ShelfBody], start: Places, budget: int, seed: int) -> tuple[Places, int]:
    """Return places of all circles in a room, from the last places or at random; none if the budget runs out."""
    tables, demand = tables_for(room, bodies), demand_of(room, bodies)
    work = ShelfWork(tables, demand, seed=seed)
    total = int(demand.count.sum())
    rng = np.random.default_rng(seed)
    share = START_SHARE if len(bodies) == 1 else MIXED_START_SHARE
    places = start or _at_random(tables, demand, rng)
    while work.evaluations < budget:
        work.press_all(places)
        begun = work.evaluations
        while (spent := (work.evaluations - begun) / (share * budget)) < 1.0:
            work.press(CHUNK, heat_share=PRESS_HEAT_SHARE * (1.0 - spent), width=1.0)
            if work.tally[2] == total:
                return work.best(), work.evaluations
        places = _at_random(tables, demand, rng)
    return [], work.evaluations


def _at_random(tables: ShelfTables, demand: Demand, rng: np.random.Generator) -> Places:
    x0, y0, x1, y1 = tables.frame
    return [
        (kind, float(rng.uniform(x0, x1)), float(rng.uniform(y0, y1)), 0.0)
        for kind, count in enumerate(demand.count)
        for _ in range(count)
    ]


def rows(most: int, effort: int, seed: int) -> Iterator[tuple[str, int, float, float]]:
    """Yield (case, N, ours over published less 1, bar) for the numbers of circles up to `most`."""
    numbers = [n for n in (*range(2, 21), 25, 30, 40, 50, 60) if n <= most]
    for name, column, is_square in (
        ("equal_in_square", "side_for_unit_radius", True),
        ("equal_in_circle", "container_radius_for_unit_radius", False),
    ):
        published = {int(row["circles"]): float(row[column]) for row in table(name)}
        for n in numbers:
            ours = smallest_room([1.0] * n, is_square=is_square, effort=effort, seed=seed)
            yield name, n, ours / published[n] - 1.0, 0.001 if n <= 20 else 0.005
    published = {int(row["circles"]): float(row["container_radius"]) for row in table("radius_i_in_circle")}
    for n in (n for n in range(10, 31) if n <= most):
        yield "radius_i_in_circle", n, mixed_above(n, published[n], effort, seed)[0], MIXED_BAR


def mixed_above(n: int, published: float, effort: int, seed: int) -> tuple[float, int]:
    """Return by how much the disc for circles of radius 1 ... n is above the published one, and the starts made.

    A whole new start is made while the best is out of the bar, `MIXED_STARTS` at most.
    """
    radii, above, starts = [float(i) for i in range(1, n + 1)], math.inf, 0
    while above > MIXED_BAR and starts < MIXED_STARTS:
        ours = smallest_room(radii, is_square=False, effort=MIXED_TIMES * effort, seed=seed + starts)
        above, starts = min(above, ours / published - 1.0), starts + 1
    return above, starts


def main(words: list[str]) -> int:
    """Print the table and return the exit code."""
    parser = argparse.ArgumentParser(prog="bench records", description="Circle packings against published records.")
    parser.add_argument("--most", type=int, default=60, help="largest number of circles")
    parser.add_argument("--effort", type=int, default=300, help="thousands of evaluations for each case")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args(words)
    print(f"{'case':20} {'N':>3} {'above record':>13} {'bar':>7}")
    is_good = True
    for name, n, above, bar in rows(asked.most, asked.effort, asked.seed):
        is_good &= above <= bar
        print(f"{name:20} {n:3d} {100 * above:11.3f} % {100 * bar:5.1f} %{'' if above <= bar else '  OUT'}", flush=True)
    return 0 if is_good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
