"""Placing order: a free way down for every body, and a shelf that never tips."""

from __future__ import annotations

import pytest

from kilnpack.packing.placing_order import Base, Piece, piece_at, placing_order
from kilnpack.shapes.primitives import Primitive

WIDE = Base(mass_kg=8.0, x_mm=200.0, y_mm=150.0, corners=((20, 20), (380, 20), (380, 280), (20, 280)), margin_mm=26.0)


def piece(
    profile: tuple[tuple[float, float], ...], x_mm: float, y_mm: float, *, kg: float = 0.5, value: float = 1.0
) -> Piece:
    """Return a round body."""
    return piece_at([Primitive(x_mm=0.0, y_mm=0.0, profile=profile)], x_mm, y_mm, 0.0, mass_kg=kg, value=value)


FLARED = ((0.0, 25.0), (60.0, 60.0))
SAUCER = ((0.0, 20.0), (12.0, 22.0))


def test_low_body_goes_in_before_the_rim_that_passes_over_it() -> None:
    """Guards W13: the saucer stands in front, but under the rim of the bowl behind it, so it goes in first."""
    order, off = placing_order([piece(FLARED, 100, 150), piece(SAUCER, 100, 85)], WIDE)
    assert (order, off) == ([1, 0], [])


def test_back_before_front_left_before_right() -> None:
    """Guards the order where nothing is in the way: back to front, left to right."""
    pieces = [piece(SAUCER, x, y) for x, y in ((300, 50), (60, 50), (300, 250), (60, 250))]
    assert placing_order(pieces, WIDE) == ([3, 2, 1, 0], [])


def test_two_that_lean_over_each_other_cannot_both_stand() -> None:
    """Guards W13: two bodies each under a part of the other; the less valuable is left off."""
    hook_a = piece_at(
        [
            Primitive(x_mm=0.0, y_mm=0.0, profile=((0.0, 10.0), (60.0, 10.0))),
            Primitive(x_mm=30.0, y_mm=0.0, hx_mm=25.0, profile=((50.0, 4.0), (60.0, 4.0))),
            Primitive(x_mm=30.0, y_mm=40.0, hx_mm=25.0, profile=((5.0, 4.0), (10.0, 4.0))),
        ],
        100.0, 100.0, 0.0, mass_kg=0.5, value=2.0,
    )  # fmt: skip
    hook_b = piece_at(
        [
            Primitive(x_mm=0.0, y_mm=0.0, profile=((0.0, 10.0), (60.0, 10.0))),
            Primitive(x_mm=-30.0, y_mm=40.0, hx_mm=25.0, profile=((50.0, 4.0), (60.0, 4.0))),
            Primitive(x_mm=-30.0, y_mm=0.0, hx_mm=25.0, profile=((5.0, 4.0), (10.0, 4.0))),
        ],
        160.0, 100.0, 0.0, mass_kg=0.5, value=1.0,
    )  # fmt: skip
    order, off = placing_order([hook_a, hook_b], WIDE)
    assert (order, off) == ([0], [1])


def test_shelf_that_would_tip_is_loaded_from_the_other_side_first() -> None:
    """Guards F13 after every body: on a light shelf the heavy corner waits until the other side holds it down."""
    light = Base(mass_kg=1.0, x_mm=200.0, y_mm=150.0, corners=WIDE.corners, margin_mm=60.0)
    heavy = piece(SAUCER, 380, 280, kg=1.6)
    counter = piece(SAUCER, 120, 80, kg=1.0)
    assert placing_order([heavy, counter], light) == ([1, 0], [])
    order, off = placing_order([heavy], light)
    assert (order, off) == ([], [0])


@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 215.0])
def test_turn_moves_the_axes(turn_deg: float) -> None:
    """Guards the frame: the far end of a handle lies at its reach in the direction of the turn."""
    import math

    handle = Primitive(x_mm=30.0, y_mm=0.0, hx_mm=20.0, profile=((0.0, 5.0), (9.0, 5.0)))
    ax, ay, _, _, _ = piece_at([handle], 10.0, 20.0, turn_deg, mass_kg=1.0, value=1.0).axes[0]
    turn = math.radians(turn_deg)
    assert ax == pytest.approx(10 + 50 * math.cos(turn))
    assert ay == pytest.approx(20 + 50 * math.sin(turn))
