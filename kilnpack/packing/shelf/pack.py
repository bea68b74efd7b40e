"""Pack one shelf: the call everyone else makes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.errors import SolverFault
from kilnpack.packing.shelf.construct import quick_setting
from kilnpack.packing.shelf.recheck import worst_lack
from kilnpack.packing.shelf.rows import in_fewer_rows, straighten
from kilnpack.packing.shelf.setting import Ease, Placement, ShelfSetting
from kilnpack.packing.shelf.tables import ShelfTables, tables_for
from kilnpack.packing.shelf.work import CHUNK, Demand, ShelfWork

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.shapes.primitives import ShelfBody
    from kilnpack.shapes.room import Room

HEAT_SHARE = 0.025
"""Annealing starts at this share of the best value so far, and cools to nothing in a straight line."""

EXCHANGE_SHARE = 0.4
"""Part of a search in which clear settings are exchanged; the rest presses the best of them."""

PRESS_FROM = 100_000
"""A search of fewer evaluations is not worth pressing."""

PRESS_HEAT_SHARE = 0.004
PRESS_WIDTH_SHARE = 0.014
"""Heat of pressing in units of a body's size squared; how much more than the best a target may be worth."""

QUICK_FROM = 30_000
"""A search of fewer evaluations is over before the quick constructors would be."""

ROW_SHARE = 0.1
"""Work on rows, where they are worth something, as a share of the search before it."""

EXACT_MM = 1e-3
"""Lack of distance in the exact re-check that is put down to rounding."""


def pack_shelf(
    room: Room,
    bodies: Sequence[ShelfBody],
    *,
    evaluations: int,
    seed: int,
    ease: Ease | None = None,
    start: Sequence[Placement] = (),
) -> ShelfSetting:
    """Choose and place bodies on one shelf so that their value is greatest.

    Parameters
    ----------
    room
        The shelf and the space above it.
    bodies
        Kinds of body with count and value. Kinds taller than the room are left out.
    evaluations
        Work to spend; about 300,000 a second on one core for a shelf of 20 pieces.
    seed
        Same seed, same setting.
    ease
        How easy the setting has to be for the hand that sets it.
    start
        A setting to begin from; it must keep every distance.

    Raises
    ------
    SolverFault
        If the exact re-check finds an overlap, or the start has one.
    """
    ease = ease or Ease()
    tables = tables_for(room, bodies, turn_step_deg=ease.turn_step_deg, from_above=ease.free_way_down)
    demand = demand_of(room, bodies)
    if not demand.count.any():
        return ShelfSetting(placements=(), value=0.0, evaluations=0, has_all_must=not demand.must.any())
    work = ShelfWork(tables, demand, seed=seed)
    if start:
        places = [(p.body, p.x_mm, p.y_mm, math.radians(p.turn_deg)) for p in start]
        _insist_clear(tables, places)
        work.start_from(places)
    elif evaluations >= QUICK_FROM:
        work.start_from(quick_setting(tables, demand))
        work.start_from([])
    if ease.turn_step_deg and ease.finer_gain_share is not None:
        anneal(work, evaluations // 2)
        finer = ShelfWork(tables_for(room, bodies, from_above=ease.free_way_down), demand, seed=seed)
        finer.start_from(work.best())
        anneal(finer, evaluations // 2)
        if finer.value >= work.value * (1.0 + ease.finer_gain_share):
            work = finer
    else:
        anneal(work, evaluations)
    return finish(work, ease)


def finish(work: ShelfWork, ease: Ease) -> ShelfSetting:
    """Return the best setting of a search, re-checked; in rows if asked, with some more work if they are worth it."""
    places, spent = work.best(), work.evaluations
    if ease.row_cost_share > 0 and places:
        places, more = in_fewer_rows(work.tables, work.demand, places, ease.row_cost_share, int(ROW_SHARE * spent))
        spent += more
    elif ease.in_rows and places:
        places = straighten(work.tables, places)
    return as_setting(work.tables, work.demand, places, evaluations=spent)


def demand_of(room: Room, bodies: Sequence[ShelfBody]) -> Demand:
    """Return counts, values and masses of the bodies that are low enough for the room."""
    fits = np.array([body.height_mm <= room.clear_height_mm for body in bodies], dtype=bool)
    return Demand(
        count=np.where(fits, np.array([body.count for body in bodies], dtype=np.int64), 0),
        must=np.array([body.must_pieces for body in bodies], dtype=np.int64),
        value=np.array([body.value for body in bodies], dtype=np.float64),
        mass_kg=np.array([body.mass_kg for body in bodies], dtype=np.float64),
        load_limit_kg=room.load_limit_kg,
    )


def anneal(work: ShelfWork, evaluations: int) -> None:
    """Spend evaluations on exchanges while cooling, and on pressing where there are enough of them."""
    begun = work.evaluations
    turn = evaluations if evaluations < PRESS_FROM else int(EXCHANGE_SHARE * evaluations)
    while (spent := work.evaluations - begun) < turn:
        exchange(work, min(CHUNK, turn - spent), 1.0 - spent / turn)
    if turn < evaluations:
        work.start_from(work.best())
    while (spent := work.evaluations - begun) < evaluations:
        press(work, min(CHUNK, evaluations - spent), 1.0 - (spent - turn) / (evaluations - turn))


def exchange(work: ShelfWork, evaluations: int, left: float) -> None:
    """Exchange clear settings, at a heat that falls with the share of the work that is left."""
    work.run(evaluations, heat=HEAT_SHARE * work.value * max(0.0, left))


def press(work: ShelfWork, evaluations: int, left: float, *, heat_share: float = PRESS_HEAT_SHARE) -> None:
    """Press targets worth more than the best, at a heat that falls with the share of the work that is left."""
    heat_share *= max(0.0, left)
    work.press(evaluations, heat_share=heat_share, width=PRESS_WIDTH_SHARE * work.value)


def as_setting(
    tables: ShelfTables, demand: Demand, places: Sequence[tuple[int, float, float, float]], *, evaluations: int
) -> ShelfSetting:
    """Return places as a setting, re-checked.

    Raises
    ------
    SolverFault
        If the exact re-check finds an overlap.
    """
    _insist_clear(tables, places)
    used = np.bincount([kind for kind, _, _, _ in places], minlength=len(demand.count))
    return ShelfSetting(
        placements=tuple(
            Placement(body=kind, x_mm=x_mm, y_mm=y_mm, turn_deg=_degrees(angle)) for kind, x_mm, y_mm, angle in places
        ),
        value=float(np.dot(used, demand.value)),
        evaluations=evaluations,
        has_all_must=bool((used >= demand.must).all()),
    )


def _degrees(angle: float) -> float:
    return round(math.degrees(angle), 4) % 360.0


def _insist_clear(tables: ShelfTables, places: Sequence[tuple[int, float, float, float]]) -> None:
    lack_mm = worst_lack(tables, places)
    if lack_mm > EXACT_MM:
        raise SolverFault(f"a setting lacks {lack_mm:.3f} mm of the distances it has to keep")
