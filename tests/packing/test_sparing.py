"""A load that holds all that is ready is stood on fewer shelves, of fewer settings; nothing of it is lost."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest

from kilnpack.packing.filler import Filled, Spot
from kilnpack.packing.improve import Tuning
from kilnpack.packing.problem import Bottom, Column, LoadProblem, Shelf, StackSite, Ware
from kilnpack.packing.sparing import Sparing, UntilAllIsIn
from kilnpack.packing.state import LoadState, TierState
from kilnpack.packing.together import Packed, packed, unpacked
from kilnpack.search.budget import Budget
from kilnpack.search.listener import Progress, Silent
from kilnpack.shapes.primitives import Primitive, ShelfBody
from kilnpack.shapes.room import RectOutline, Room

TUNING = Tuning(polish_evaluations=3000, fills=8)


@dataclass(frozen=True)
class FourPlaceSite:
    """Shelves of 175 mm, on which four bodies of 80 mm stand."""

    def room(self, stack: int, base_mm: float, posts_mm: float | None) -> Room | None:
        """Return the room under posts of any height."""
        del stack, base_mm
        return Room(outline=RectOutline(width_mm=175.0, depth_mm=175.0), clear_height_mm=(posts_mm or 60.0) - 5.0)

    def allowed(self, stack: int, base_mm: float, posts_mm: float | None) -> int:
        """Allow every kind everywhere."""
        del stack, base_mm, posts_mm
        return -1


def spread(pieces: int) -> tuple[LoadProblem, Packed]:
    """A stack of eight shelves with one body on each of the first `pieces`."""
    body = ShelfBody(
        code="w",
        primitives=(Primitive(x_mm=0.0, y_mm=0.0, profile=((0.0, 40.0), (40.0, 40.0))),),
        height_mm=40.0,
        mass_kg=0.5,
        value=1.0,
        count=9,
    )
    problem = LoadProblem(
        wares=(Ware(code="w", body=body, group=0),),
        counts=(pieces,),
        supports=(),
        columns=(Column(parts=(0,), height_mm=50.0),),
        posts=(32,),
        stubs=(),
        shelves=(Shelf(code="s", thickness_mm=10.0, points=4, stock_pieces=8),),
        stacks=(
            StackSite(
                code="A", shelf=0, top_mm=600.0, open_top=False, bottoms=(Bottom(stub=None, base_mm=0.0),), columns=(0,)
            ),
        ),
        site=FourPlaceSite(),
        headroom_mm=5.0,
        allowance_mm=0.0,
        settings_most=12,
    )
    state = LoadState(problem)
    for k in range(pieces):
        spot = Spot(0, 40.0 + 0.25 * k, 40.0, 0.0)
        state.insert(0, k, TierState(0, Filled(1.0, (spot,))))
    return problem, packed(state)


def sparing(problem: LoadProblem, *, effort: int = 400) -> Sparing:
    """A search for a smaller load."""
    until = UntilAllIsIn(Silent(), problem.ready_value)
    return Sparing(
        problem=problem, meter=Budget(effort=effort).start(), listener=until, tuning=TUNING, seed=1, workers=1
    )


@pytest.mark.parametrize(("pieces", "shelves", "settings"), [(8, 2, 1), (7, 2, 2), (5, 2, 2)])
def test_a_spread_load_is_drawn_together(pieces: int, shelves: int, settings: int) -> None:
    """Guards sparing: by hand, four bodies stand on a shelf, so 8, 7 and 5 need two; 8 are two equal shelves."""
    problem, plan = spread(pieces)
    spared = sparing(problem).spared(plan)
    state = unpacked(problem, spared)
    assert not state.spare.any()
    assert len(spared.stacks[0]) == shelves
    assert len({tier.filled.spots for tier in spared.stacks[0]}) <= settings


def test_a_load_that_leaves_something_out_is_returned_as_it_is() -> None:
    """Guards the condition: where a piece is left out, no shelf is taken away."""
    problem, plan = spread(5)
    assert sparing(replace(problem, counts=(6,))).spared(plan) is plan


def test_no_time_left_means_no_change() -> None:
    """Guards the budget: without effort nothing is tried."""
    problem, plan = spread(5)
    assert sparing(problem, effort=0).spared(plan) is plan


def test_a_listener_that_stops_is_heard() -> None:
    """Guards Ctrl-C's twin: whoever listens may end it, and all being in ends one search but not the next."""

    class No:
        def heard(self, progress: Progress) -> bool:
            del progress
            return False

    progress = Progress(step="", value=5.0, share=0.5, elapsed_s=1.0)
    until = UntilAllIsIn(Silent(), 5.0)
    assert not until.heard(progress)
    assert not until.stopped
    until = UntilAllIsIn(No(), 9.0)
    assert not until.heard(progress)
    assert until.stopped
    problem, plan = spread(5)
    search = sparing(problem)
    search.listener = until
    assert search.spared(plan) is plan
