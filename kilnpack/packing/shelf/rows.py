"""Straighten a setting: bodies that nearly stand in a row are moved into it where they stay clear.

`straighten` gives up no value: a body moves only as far as the reach, and only if it keeps every distance there.
`in_fewer_rows` weighs value against rows at a price.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from kilnpack.packing.shelf.construct import in_rows
from kilnpack.packing.shelf.work import ENOUGH_MM2, ShelfWork
from kilnpack.shapes.kernel.overlap import overlap, spot_energy

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.packing.shelf.tables import ShelfTables
    from kilnpack.packing.shelf.work import Demand

    Places = list[tuple[int, float, float, float]]

REACH_MM = 25.0
SAME_MM = 0.5
"""Bodies whose origins differ by less stand in one row."""

STEP = 300
"""Evaluations between two looks at the rows."""

HEAT_SHARE = 0.02
"""Heat of the exchanges between two looks at the rows, as a share of the value."""


def row_count(places: Sequence[tuple[int, float, float, float]]) -> int:
    """Return the number of rows: different distances of the origins from the front."""
    lines: list[float] = []
    for y_mm in sorted(place[2] for place in places):
        if not lines or y_mm - lines[-1] > SAME_MM:
            lines.append(y_mm)
    return len(lines)


def straighten(
    tables: ShelfTables, places: Sequence[tuple[int, float, float, float]], *, reach_mm: float = REACH_MM
) -> list[tuple[int, float, float, float]]:
    """Return the setting with its bodies moved into rows from front to back as far as they stay clear.

    Parameters
    ----------
    places
        (kind, x in mm, y in mm, angle in radians) of each body, clear of each other.
    reach_mm
        Farthest a body is moved towards the front or the back.
    """
    n = len(places)
    kinds = np.array([place[0] for place in places], dtype=np.int64)
    pose = np.array([place[1:] for place in places], dtype=np.float64).reshape(n, 3)
    axes = int((tables.spans[:, 1] - tables.spans[:, 0]).max())
    world, slope = np.zeros((n + 1, axes, 4)), np.zeros((n + 1, 3))
    overlap(np.int64(n), kinds, pose, *tables.geometry(), world, slope)

    def is_clear(i: int, y_mm: float) -> bool:
        old = pose[i, 1]
        pose[i, 1] = y_mm
        lack = spot_energy(np.int64(i), np.int64(n), 1e9, kinds, pose, *tables.geometry(), world, slope)
        if lack > ENOUGH_MM2 / n:
            pose[i, 1] = old
            spot_energy(np.int64(i), np.int64(n), 1e9, kinds, pose, *tables.geometry(), world, slope)
            return False
        return True

    lines: list[float] = []
    for i in np.argsort(pose[:, 1], kind="stable"):
        near = sorted((line for line in lines if abs(line - pose[i, 1]) <= reach_mm), key=lambda y: abs(y - pose[i, 1]))
        if not any(is_clear(int(i), line) for line in near):
            lines.append(float(pose[i, 1]))
    return [(int(kinds[i]), float(pose[i, 0]), float(pose[i, 1]), float(pose[i, 2])) for i in range(n)]


def in_fewer_rows(
    tables: ShelfTables, demand: Demand, found: Places, row_cost_share: float, evaluations: int
) -> tuple[Places, int]:
    """Return a setting whose value, less a price for each row, is greatest, and the evaluations spent on it.

    Begins from a setting in straight rows and from the one found; exchanges bodies, straightens, and goes on from what
    is better.

    Parameters
    ----------
    found
        The setting of the greatest value; its value is the measure of the price.
    row_cost_share
        Price of a row, as a share of that value.
    """
    work = ShelfWork(tables, demand, seed=len(found))
    price = row_cost_share * sum(float(demand.value[place[0]]) for place in found)

    def score(places: Places) -> float:
        used = np.bincount([place[0] for place in places], minlength=len(demand.count))
        must = work.must_value * float(np.minimum(used, demand.must).sum())
        return float(demand.value @ used) + must - price * row_count(places)

    best = max(straighten(tables, found), straighten(tables, in_rows(tables, demand)), key=score)
    while (spent := work.evaluations) < evaluations:
        work.start_from(best)
        left = 1.0 - spent / evaluations
        work.run(STEP, heat=HEAT_SHARE * left * sum(float(demand.value[place[0]]) for place in best))
        _, in_hand = work.in_hand()
        tried = straighten(tables, in_hand) if in_hand else []
        if score(tried) > score(best) + 1e-9:
            best = tried
    return best, work.evaluations
