"""Guards that discs and capsules cover an outline, and stand out over it by no more than said."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest
from shapely import union_all
from shapely.geometry import LineString, Point, Polygon

from kilnpack.model.geometry import Disc, ExtrudedPart, RoundedPolygon, TurnedPart
from kilnpack.shapes.decompose import decompose, primitives_of
from kilnpack.shapes.outlines import outline_polygon

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from kilnpack.shapes.primitives import Primitive


def union(cover: tuple[Primitive, ...]) -> BaseGeometry:
    """Return the cover as one polygon, its arcs drawn from outside so that a covered point is never missed."""
    shapes = []
    for p in cover:
        axis = LineString([(p.x_mm - p.hx_mm, p.y_mm - p.hy_mm), (p.x_mm + p.hx_mm, p.y_mm + p.hy_mm)])
        line = axis if p.hx_mm or p.hy_mm else Point(p.x_mm, p.y_mm)
        shapes.append(line.buffer(p.profile[0][1] / math.cos(math.pi / 512) + 1e-6, quad_segs=128))
    return union_all(shapes)


def ellipse(a_mm: float, b_mm: float, sides: int) -> tuple[tuple[float, float], ...]:
    """Return the corners of a drawn oval."""
    turns = [2 * math.pi * k / sides for k in range(sides)]
    return tuple((a_mm * math.cos(t), b_mm * math.sin(t)) for t in turns)


def soft_square() -> tuple[tuple[float, float], ...]:
    """Return the corners of a square with rounded corners, drawn with many sides."""
    ring = Polygon([(-60, -60), (60, -60), (60, 60), (-60, 60)]).buffer(30).exterior
    return tuple((float(point[0]), float(point[1])) for point in ring.coords)


CASES = {
    "disc": ((Disc(r_mm=50),), 0.02, 1),
    "mug": ((Disc(r_mm=42.5), RoundedPolygon(corners_mm=((20, 0), (66, 0)), round_mm=6)), 0.02, 2),
    "rounded square": (
        (RoundedPolygon(corners_mm=((-70, -70), (70, -70), (70, 70), (-70, 70)), round_mm=40),),
        0.02,
        5,
    ),
    "sharp square": ((RoundedPolygon(corners_mm=((-50, -50), (50, -50), (50, 50), (-50, 50))),), 0.02, 9),
    "bar": ((RoundedPolygon(corners_mm=((0, -8), (70, -8), (70, 8), (0, 8))),), 0.02, 9),
    "drawn circle": ((RoundedPolygon(corners_mm=ellipse(38, 38, 32)),), 0.82, 1),
    "oval": ((RoundedPolygon(corners_mm=ellipse(175, 125, 48)),), 0.82, 17),
    "narrow oval": ((RoundedPolygon(corners_mm=ellipse(90, 40, 40)),), 0.82, 49),
    "grown oval": ((RoundedPolygon(corners_mm=ellipse(80, 60, 32), round_mm=10),), 0.82, 17),
    "soft square": (
        (RoundedPolygon(corners_mm=soft_square()),),
        0.82,
        20,
    ),
    "clockwise triangle": ((RoundedPolygon(corners_mm=((0, 0), (30, 50), (60, 0)), round_mm=2),), 0.02, 7),
}


@pytest.mark.parametrize("name", CASES)
def test_the_cover_holds_the_outline_within_its_excess(name: str) -> None:
    """Guards both sides: nothing of the outline is left out, little beyond it is taken, in few primitives."""
    outline, excess_mm, most = CASES[name]
    cover = decompose(outline, from_z_mm=0, to_z_mm=40)
    drawn, ours = outline_polygon(outline), union(cover)
    rim = drawn.boundary
    assert all(ours.distance(rim.interpolate(k / 720, normalized=True)) < 1e-3 for k in range(720))
    assert ours.hausdorff_distance(drawn) < excess_mm + 0.05 or ours.difference(drawn.buffer(excess_mm + 0.02)).is_empty
    assert len(cover) <= most


def test_the_inside_leaves_no_hole_a_mug_could_hide_in() -> None:
    """Guards the skeleton: what is left free inside a sharp square holds no disc of 16 mm."""
    cover = decompose(CASES["sharp square"][0], from_z_mm=0, to_z_mm=40)
    free = outline_polygon(CASES["sharp square"][0]).difference(union(cover))
    assert free.buffer(-16).is_empty


def test_an_outline_part_has_to_be_convex() -> None:
    """Guards against a cover of edges only."""
    arrow = RoundedPolygon(corners_mm=((0, 0), (60, 0), (20, 20), (0, 60)))
    with pytest.raises(ValueError, match="convex"):
        decompose((arrow,), from_z_mm=0, to_z_mm=1)


def test_a_stack_of_turned_parts_is_one_disc() -> None:
    """Guards the compact form of nested ware beside a handle."""
    cone = TurnedPart(profile_mm=((0, 30), (40, 60)))
    lifted = TurnedPart(profile_mm=((10, 30), (50, 60)))
    handle = ExtrudedPart(from_z_mm=5, to_z_mm=35, outline=(RoundedPolygon(corners_mm=((40, 0), (70, 0)), round_mm=5),))
    cover = primitives_of((cone, lifted, handle))
    assert [p.profile[-1] for p in cover] == [(50, 60), (35, 5)]
    assert [p.x_mm for p in cover] == [0, 55]
    assert [abs(p.hx_mm) for p in cover] == [0, 15]
