"""Outlines as shapely geometry: areas against closed forms, and the way from shelf to kiln and back."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.model.geometry import ConvexPolygon, Disc, HalfDisc, Rectangle, RoundedPolygon
from kilnpack.model.kilns import StackPlace
from kilnpack.shapes.outlines import (
    bounds_mm,
    in_kiln,
    outline_polygon,
    placed,
    point_in_kiln,
    point_on_shelf,
    region_polygon,
    square,
)


def test_areas_equal_closed_forms() -> None:
    """Disc pi r^2, capsule 2 r L + pi r^2, half disc pi r^2 / 2, each within the polygon's 5e-5."""
    assert outline_polygon((Disc(r_mm=100.0),)).area == pytest.approx(math.pi * 1e4, rel=6e-5)
    capsule = RoundedPolygon(corners_mm=((0.0, 0.0), (50.0, 0.0)), round_mm=10.0)
    assert outline_polygon((capsule,)).area == pytest.approx(1000 + math.pi * 100, rel=6e-5)
    assert region_polygon(HalfDisc(x_mm=280.0, r_mm=280.0)).area == pytest.approx(math.pi * 280**2 / 2, rel=6e-5)
    assert region_polygon(Disc(x_mm=5.0, y_mm=5.0, r_mm=5.0)).area == pytest.approx(math.pi * 25, rel=6e-5)
    assert region_polygon(Rectangle(w_mm=500.0, d_mm=400.0)).area == 200_000.0
    triangle = ConvexPolygon(corners_mm=((0.0, 0.0), (10.0, 0.0), (0.0, 10.0)))
    assert region_polygon(triangle).area == 50.0
    assert outline_polygon((RoundedPolygon(corners_mm=((0.0, 0.0), (10.0, 0.0), (0.0, 10.0))),)).area == 50.0
    assert square(100.0, 100.0, 40.0).bounds == (80.0, 80.0, 120.0, 120.0)


@given(st.floats(-500, 500), st.floats(-500, 500), st.floats(-1000, 1000), st.floats(-1000, 1000), st.floats(0, 360))
def test_shelf_to_kiln_and_back(x: float, y: float, px: float, py: float, turn: float) -> None:
    """A point that goes into the kiln frame and comes back is where it was."""
    place = StackPlace(code="A", shelf="s", x_mm=px, y_mm=py, turn_deg=turn)
    back = point_on_shelf(*point_in_kiln(x, y, place), place)
    assert back == pytest.approx((x, y), abs=1e-6)


def test_a_turned_shelf_lies_where_it_should() -> None:
    """A 500 x 400 shelf turned by 180 degrees about its corner at (500, 400) covers 0..500 by 0..400."""
    place = StackPlace(code="A", shelf="s", x_mm=500.0, y_mm=400.0, turn_deg=180.0)
    shelf = in_kiln(region_polygon(Rectangle(w_mm=500.0, d_mm=400.0)), place)
    assert bounds_mm([shelf]) == pytest.approx((0.0, 0.0, 500.0, 400.0))


def test_placed_turns_before_it_moves() -> None:
    """A handle along x, turned by 90 degrees and moved to (100, 200), reaches to y = 266 + 6."""
    handle = (RoundedPolygon(corners_mm=((20.0, 0.0), (66.0, 0.0)), round_mm=6.0),)
    assert placed(handle, 100.0, 200.0, 90.0).bounds == pytest.approx((94.0, 214.0, 106.0, 272.0))
