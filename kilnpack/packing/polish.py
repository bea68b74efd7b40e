"""Hand one filled shelf to the shelf engine, which moves and turns bodies to get more in."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.packing.filler import Filled, Spot
from kilnpack.packing.shelf.pack import pack_shelf
from kilnpack.packing.shelf.setting import Ease, Placement

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from kilnpack.packing.problem import LoadProblem
    from kilnpack.shapes.room import Room


def polished(
    problem: LoadProblem,
    room: Room,
    kinds: Sequence[int],
    spare: NDArray[np.int64],
    old: Filled,
    *,
    evaluations: int,
    seed: int,
    turn_step_deg: float,
) -> tuple[Filled, int]:
    """Return the shelf after so many evaluations, or as it was, and the evaluations spent.

    `spare` holds what was on the shelf as well. Where several kinds take pieces of one group, or one stock of
    supports, the engine cannot see it; a result that takes too much is not used.
    """
    index = {kind: k for k, kind in enumerate(kinds)}
    if not old.spots or any(spot.ware not in index for spot in old.spots):
        return old, 0
    wares = [problem.wares[kind] for kind in kinds]
    bodies = [replace(ware.body, count=int(spare[ware.group]) // ware.pieces) for ware in wares]
    start = [Placement(body=index[s.ware], x_mm=s.x_mm, y_mm=s.y_mm, turn_deg=s.turn_deg) for s in old.spots]
    got = pack_shelf(
        room, bodies, evaluations=evaluations, seed=seed, ease=Ease(turn_step_deg=turn_step_deg), start=start
    )
    if got.value <= old.value + 1e-9:
        return old, got.evaluations
    spots = tuple(Spot(kinds[p.body], p.x_mm, p.y_mm, p.turn_deg) for p in got.placements)
    if _takes_too_much(problem, spots, spare):
        return old, got.evaluations
    return Filled(got.value, spots), got.evaluations


def _takes_too_much(problem: LoadProblem, spots: Sequence[Spot], spare: NDArray[np.int64]) -> bool:
    left = spare.copy()
    for spot in spots:
        ware = problem.wares[spot.ware]
        left[ware.group] -= ware.pieces
        if ware.support is not None:
            left[len(problem.counts) + ware.support] -= ware.support_pieces
    return bool((left < 0).any())
