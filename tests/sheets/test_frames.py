"""The shelf as the loader sees it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.sheets.frames import shelf_view
from tests.sheets.small_works import HALF, SHELF


@given(st.floats(0, 480), st.floats(0, 420), st.sampled_from([0.0, 90.0, 180.0, 270.0]))
def test_a_turned_shelf_keeps_its_points_inside_and_its_distances(x_mm: float, y_mm: float, turn_deg: float) -> None:
    """Guards that turning the view only turns: a point stays on the shelf, as far from the four edges as before."""
    view = shelf_view(SHELF, turn_deg)
    x, y = view.point(x_mm, y_mm)
    edges = sorted([x, view.width_mm - x, y, view.depth_mm - y])
    assert edges == pytest.approx(sorted([x_mm, 480.0 - x_mm, y_mm, 420.0 - y_mm]), abs=1e-9)


def test_a_shelf_turned_half_round_counts_from_the_edge_at_the_door() -> None:
    """Guards that distances hold for the shelf as it stands: (100, 50) turned by 180 is 380 from the left, 370 deep."""
    view = shelf_view(SHELF, 180.0)
    assert view.point(100.0, 50.0) == pytest.approx((380.0, 370.0))
    assert (view.side_edge, view.near_edge) == ("left", "front")


@pytest.mark.parametrize(
    ("turn_deg", "side", "near"),
    [(0.0, "left", "front"), (90.0, "right", "front"), (180.0, "left", "back"), (270.0, "left", "front")],
)
def test_a_half_shelf_is_measured_from_its_straight_side(turn_deg: float, side: str, near: str) -> None:
    """Guards that a ruler is laid against the straight side of a half shelf, wherever that lies."""
    view = shelf_view(HALF, turn_deg)
    assert (view.side_edge, view.near_edge) == (side, near)
    straight = view.point(200.0, 0.0)
    assert 0.0 in (pytest.approx(view.across_mm(straight[0])), pytest.approx(view.deep_mm(straight[1])))


def test_a_shelf_at_an_odd_angle_is_drawn_square_and_says_how_far_it_is_off() -> None:
    """Guards shelves that do not face the door: the drawing stays square, the rest of the turn is told."""
    assert shelf_view(SHELF, 100.0).rest_deg == pytest.approx(10.0)
    assert shelf_view(SHELF, 80.0).rest_deg == pytest.approx(-10.0)
    assert shelf_view(SHELF, 350.0).square_deg == 0.0
