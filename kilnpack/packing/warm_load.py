"""The smallest load that calls every kernel of the whole-load packer, so that all are compiled and kept."""

from __future__ import annotations

from dataclasses import dataclass

from kilnpack.packing.problem import Bottom, Column, LoadProblem, Shelf, StackSite, Ware
from kilnpack.packing.together import pack_together
from kilnpack.search.budget import Budget
from kilnpack.shapes.primitives import Primitive, ShelfBody
from kilnpack.shapes.room import PostSquare, RectOutline, Room

EFFORT = 20


@dataclass(frozen=True, slots=True)
class _OneRoom:
    """Every tier has the same small shelf."""

    def room(self, stack: int, base_mm: float, posts_mm: float | None) -> Room | None:
        """Return the shelf with one post."""
        del stack, base_mm
        return Room(
            outline=RectOutline(width_mm=200.0, depth_mm=150.0),
            posts=(PostSquare(x0_mm=0.0, y0_mm=0.0, x1_mm=20.0, y1_mm=20.0),),
            gap_mm=5.0,
            clear_height_mm=posts_mm or 60.0,
        )

    def allowed(self, stack: int, base_mm: float, posts_mm: float | None) -> int:
        """Allow every kind everywhere."""
        del stack, base_mm, posts_mm
        return -1


def warm_problem(settings_most: int | None) -> LoadProblem:
    """Return a load of two shelves: a round body and one with a handle."""
    round_part = Primitive(x_mm=0.0, y_mm=0.0, profile=((0.0, 20.0), (50.0, 30.0)))
    handle = Primitive(x_mm=35.0, y_mm=0.0, hx_mm=15.0, profile=((10.0, 5.0), (40.0, 5.0)))
    wares = tuple(
        Ware(
            code=code,
            body=ShelfBody(code=code, primitives=parts, height_mm=50.0, mass_kg=0.2, value=1.0, count=9),
            group=group,
            turns_deg=turns,
        )
        for group, (code, parts, turns) in enumerate(
            (("cup", (round_part,), (0.0,)), ("mug", (round_part, handle), (0.0, 90.0)))
        )
    )
    stack = StackSite(
        code="A", shelf=0, top_mm=200.0, open_top=True, bottoms=(Bottom(stub=None, base_mm=0.0),), columns=(0,)
    )
    return LoadProblem(
        wares=wares,
        counts=(9, 9),
        supports=(),
        columns=(Column(parts=(0,), height_mm=70.0),),
        posts=(9,),
        stubs=(),
        shelves=(Shelf(code="s", thickness_mm=10.0, points=1, stock_pieces=2),),
        stacks=(stack,),
        site=_OneRoom(),
        headroom_mm=10.0,
        allowance_mm=0.0,
        settings_most=settings_most,
    )


def warm_load() -> float:
    """Pack the smallest load, free and with one setting; return what it is worth."""
    plans = [pack_together(warm_problem(most), budget=Budget(effort=EFFORT), seed=1) for most in (None, 1)]
    return min(plan.value for plan in plans)
