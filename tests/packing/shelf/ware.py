"""Ware and a shelf for the tests, sizes made up."""

from __future__ import annotations

from kilnpack.model.geometry import ExtrudedPart, RoundedPolygon, TurnedPart
from kilnpack.shapes.decompose import primitives_of
from kilnpack.shapes.primitives import ShelfBody
from kilnpack.shapes.room import PostSquare, RectOutline, Room

SAUCER = ShelfBody(
    code="saucer",
    primitives=primitives_of((TurnedPart(profile_mm=((0, 40), (22, 75))),)),
    height_mm=22,
    mass_kg=0.3,
    value=2.0,
    count=6,
    overhang_mm=15,
)
MUG = ShelfBody(
    code="mug",
    primitives=primitives_of(
        (
            TurnedPart(profile_mm=((0, 30), (95, 42))),
            ExtrudedPart(
                from_z_mm=25, to_z_mm=80, outline=(RoundedPolygon(corners_mm=((38, 0), (68, 0)), round_mm=6),)
            ),
        )
    ),
    height_mm=95,
    mass_kg=0.35,
    value=1.0,
    count=12,
)
DISH = ShelfBody(
    code="dish",
    primitives=primitives_of(
        (
            ExtrudedPart(
                from_z_mm=0,
                to_z_mm=40,
                outline=(RoundedPolygon(corners_mm=((-60, -40), (60, -40), (60, 40), (-60, 40)), round_mm=20),),
            ),
        )
    ),
    height_mm=40,
    mass_kg=0.8,
    value=2.5,
    count=3,
)
WARE = (SAUCER, MUG, DISH)

SHELF = Room(
    outline=RectOutline(width_mm=450, depth_mm=380),
    posts=(
        PostSquare(x0_mm=0, y0_mm=0, x1_mm=40, y1_mm=40),
        PostSquare(x0_mm=410, y0_mm=0, x1_mm=450, y1_mm=40),
        PostSquare(x0_mm=205, y0_mm=340, x1_mm=245, y1_mm=380),
    ),
    gap_mm=5,
    post_gap_mm=6,
    clear_height_mm=150,
    foot_inset_mm=5,
)


def disc_body(radius_mm: float, count: int, *, value: float = 1.0) -> ShelfBody:
    """Return a plain cylinder."""
    profile = ((0.0, radius_mm), (50.0, radius_mm))
    return ShelfBody(
        code=f"disc{radius_mm:g}",
        primitives=primitives_of((TurnedPart(profile_mm=profile),)),
        height_mm=50,
        mass_kg=1.0,
        value=value,
        count=count,
    )
