"""Guards the one number that carries the third dimension: the distance two axes must keep."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.shapes.primitives import (
    Primitive,
    ShelfBody,
    edge_inset,
    need,
    outer_profiles,
    profile_need,
    radius_at,
    widest_between,
)

SAUCER = Primitive(x_mm=0, y_mm=0, profile=((0, 40), (20, 75)))
BOWL = Primitive(x_mm=0, y_mm=0, profile=((0, 25), (30, 30), (60, 90)))


def test_a_flared_rim_passes_over_a_low_saucer() -> None:
    """Guards W3: at 20 mm the bowl is 25 + 5 * 20/30 wide, the saucer 75; higher up only the bowl is there."""
    assert need(SAUCER, BOWL, 5) == pytest.approx(75 + 25 + 5 * 20 / 30 + 5)


def test_bodies_at_different_heights_keep_nothing() -> None:
    """Guards the zero of `need`: a knob over a saucer."""
    knob = Primitive(x_mm=0, y_mm=0, profile=((30, 9), (50, 9)))
    assert need(SAUCER, knob, 5) == 0.0
    assert profile_need(SAUCER.profile, knob.profile) == -1.0


def test_touching_heights_count() -> None:
    """Guards the closed ends: a rim at 20 mm meets what begins at 20 mm."""
    above = Primitive(x_mm=0, y_mm=0, profile=((20, 10), (30, 10)))
    assert need(SAUCER, above, 0) == 85


def test_a_step_counts_with_its_wider_side() -> None:
    """Guards vertical jumps of a profile."""
    stepped = ((0.0, 20.0), (10.0, 20.0), (10.0, 50.0), (30.0, 50.0))
    assert radius_at(stepped, 10.0) == 50.0
    assert radius_at(stepped, 9.0) == 20.0
    assert radius_at(stepped, 31.0) is None
    assert widest_between(stepped, 0.0, 9.0) == 20.0
    assert widest_between(stepped, 40.0, math.inf) is None


profiles = st.lists(st.tuples(st.floats(0, 100), st.floats(0, 80)), min_size=1, max_size=6).map(
    lambda points: tuple(sorted(points, key=lambda p: p[0]))
)


@given(profiles, profiles, st.floats(0, 100))
def test_no_height_needs_more(
    first: tuple[tuple[float, float], ...], second: tuple[tuple[float, float], ...], z: float
) -> None:
    """Guards `need` as a maximum over heights: symmetric, and never under the sum at any one height."""
    assert profile_need(first, second) == profile_need(second, first)
    one, other = radius_at(first, z), radius_at(second, z)
    if one is not None and other is not None:
        assert profile_need(first, second) >= one + other - 1e-9


def test_the_foot_stands_wholly_on_the_shelf_while_the_rim_may_overhang() -> None:
    """Guards W2: max(rim - overhang, foot + inset)."""
    assert edge_inset(BOWL, 20, 5, has_own_foot=False) == 70
    assert edge_inset(BOWL, 70, 5, has_own_foot=False) == 30
    assert edge_inset(BOWL, 95, 5, has_own_foot=True) == -5


def test_nested_profiles_become_one() -> None:
    """Guards the envelope of a stack: two cones (r = 10 + z, up to 20 high), the second lifted by 8.

    At height z the first has 10 + z, the second 2 + z; over 20 only the second is left.
    """
    cone = ((0.0, 10.0), (20.0, 30.0))
    lifted = ((8.0, 10.0), (28.0, 30.0))
    (stack,) = outer_profiles([cone, lifted])
    assert radius_at(stack, 15.0) == pytest.approx(25.0)
    assert radius_at(stack, 24.0) == pytest.approx(26.0)
    assert stack[-1] == (28.0, 30.0)


def test_crossing_profiles_change_places() -> None:
    """Guards the crossing of two straight walls, at half height."""
    (both,) = outer_profiles([((0.0, 10.0), (20.0, 30.0)), ((0.0, 30.0), (20.0, 10.0))])
    assert radius_at(both, 10.0) == pytest.approx(20.0)
    assert radius_at(both, 5.0) == pytest.approx(25.0)
    assert len(outer_profiles([((0.0, 1.0), (2.0, 1.0)), ((5.0, 1.0), (6.0, 1.0))])) == 2


@given(
    st.lists(st.tuples(st.floats(0, 50), st.floats(1, 40), st.floats(1, 60), st.floats(1, 60)), min_size=1, max_size=4)
)
def test_the_envelope_holds_every_part(parts: list[tuple[float, float, float, float]]) -> None:
    """Guards that merging round parts never makes a body smaller."""
    made = [((z, r0), (z + h, r1)) for z, h, r0, r1 in parts]
    merged = outer_profiles(made)
    for profile in made:
        for z, r in profile:
            assert max(radius_at(m, z) or 0.0 for m in merged) >= r - 1e-6


def test_bad_bodies_are_refused() -> None:
    """Guards the invariants the tables rest on."""
    with pytest.raises(ValueError, match="order of height"):
        Primitive(x_mm=0, y_mm=0, profile=((5, 1), (0, 1)))
    with pytest.raises(ValueError, match="negative"):
        Primitive(x_mm=0, y_mm=0, profile=((0, -1),))
    with pytest.raises(ValueError, match="at least one primitive"):
        ShelfBody(code="x", primitives=(), height_mm=1, value=1, count=1)
    with pytest.raises(ValueError, match="must be placed"):
        ShelfBody(code="x", primitives=(BOWL,), height_mm=1, value=1, count=1, must_pieces=2)


def test_only_centred_discs_are_round() -> None:
    """Guards that a handle makes the turn matter."""
    handle = Primitive(x_mm=50, y_mm=0, hx_mm=20, profile=((0, 6), (40, 6)))
    assert ShelfBody(code="b", primitives=(BOWL,), height_mm=60, value=1, count=1).is_round
    assert not ShelfBody(code="m", primitives=(BOWL, handle), height_mm=60, value=1, count=1).is_round
    assert handle.reach_mm == 70
