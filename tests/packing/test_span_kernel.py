"""Row-by-row kernels against plain geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.packing import span_kernel as kernel
from kilnpack.shapes.primitives import profile_need

number = st.floats(-80.0, 80.0).map(lambda v: round(v, 2))


@pytest.mark.kernel
@given(ax=number, ay=number, bx=number, by=number, r=st.floats(1.0, 60.0), y=number)
def test_row_through_capsule_is_where_the_row_is_inside(
    ax: float, ay: float, bx: float, by: float, r: float, y: float
) -> None:
    """Guards the stretch of a row inside a capsule: its ends lie at distance r of the axis, its middle nearer."""
    low, high = kernel.capsule_span(ax, ay, bx, by, r, y)
    axis = shapely.LineString([(ax, ay), (bx, by)]) if (ax, ay) != (bx, by) else shapely.Point(ax, ay)
    if low > high:
        row = shapely.LineString([(-500.0, y), (500.0, y)])
        assert axis.distance(row) >= r - 1e-6
        return
    for end in (low, high):
        assert axis.distance(shapely.Point(end, y)) == pytest.approx(r, abs=1e-6)
    assert axis.distance(shapely.Point((low + high) / 2, y)) <= r + 1e-6


@pytest.mark.kernel
@given(
    p=st.tuples(number, number, number, number),
    q=st.tuples(number, number, number, number),
    r=st.floats(2.0, 60.0),
    y=number,
)
def test_two_axes_keep_their_distance_outside_the_stretch(
    p: tuple[float, float, float, float], q: tuple[float, float, float, float], r: float, y: float
) -> None:
    """Guards the forbidden stretch of two axes: at and beyond its ends they keep the distance."""
    low, high = kernel.parallelogram_span(np.array(p), np.array(q), r, y)
    fixed = shapely.LineString([q[:2], q[2:]]) if q[:2] != q[2:] else shapely.Point(q[:2])

    def apart(x: float) -> float:
        ends = [(p[0] + x, p[1] + y), (p[2] + x, p[3] + y)]
        moved = shapely.LineString(ends) if p[:2] != p[2:] else shapely.Point(ends[0])
        return float(moved.distance(fixed))

    if low > high:
        assert min(apart(x) for x in np.linspace(-400, 400, 81)) >= r - 1e-6
        return
    for x in (low - 1e-6, high + 1e-6, low - 30.0, high + 30.0):
        assert apart(x) >= r - 1e-5
    assert min(apart(low + 0.01 * (high - low) + 1e-4), apart(low + 1e-3)) <= r + 1e-3


@pytest.mark.kernel
def test_random_numbers_are_spread_and_repeat() -> None:
    """Guards the generator of the kernels: same state, same numbers, all of them in [0, 1)."""
    first, second = np.array([7], np.uint64), np.array([7], np.uint64)
    one = [_draw(first) for _ in range(500)]
    assert one == [_draw(second) for _ in range(500)]
    assert min(one) >= 0.0
    assert max(one) < 1.0
    assert 0.4 < sum(one) / len(one) < 0.6


def _draw(state: np.ndarray[tuple[int, ...], np.dtype[np.uint64]]) -> float:
    return float(kernel.next_random(state))


@pytest.mark.kernel
@pytest.mark.parametrize("quarter", [0, 1, 2, 3])
def test_half_disc_keeps_its_straight_side_in_every_quarter_turn(quarter: int) -> None:
    """Guards the half disc: inset from the arc, and the full width from the side nothing reaches over."""
    numbers = np.array([0.0, 0.0, 100.0, float(quarter)])
    planes = np.zeros((0, 3))
    ux, uy = (math.cos(math.pi / 2 * (quarter + 1)), math.sin(math.pi / 2 * (quarter + 1)))
    for y in np.linspace(-98.7, 99.1, 67):
        low, high = kernel.clip_to_region(2, numbers, planes, 0.0, 0.0, 20.0, 30.0, y, -1e9, 1e9)
        for x in np.linspace(-119.7, 120.1, 49):
            inside = math.hypot(x, y) <= 80.0 and x * ux + y * uy >= 30.0
            assert (low <= x <= high) == inside or abs(math.hypot(x, y) - 80.0) < 1e-6


@pytest.mark.kernel
def test_planes_and_grown_corner_clip_a_row() -> None:
    """Guards a triangle of half planes, and the round corner of a shelf that a thin part may reach over."""
    planes = np.array([[0.0, -1.0, 0.0], [1.0, 1.0, 100.0], [-1.0, 1.0, 100.0]])
    planes[1:] /= np.array([[math.sqrt(2)], [math.sqrt(2)]])
    low, high = kernel.clip_to_region(3, np.zeros(4), planes, 0.0, 0.0, 0.0, 0.0, 20.0, -1e9, 1e9)
    assert (low, high) == (pytest.approx(-80.0), pytest.approx(80.0))
    assert kernel.clip_to_region(3, np.zeros(4), planes, 0.0, 0.0, 0.0, 0.0, -5.0, -1e9, 1e9)[0] > 1e8
    rect = np.array([0.0, 0.0, 100.0, 50.0])
    low, high = kernel.clip_to_region(0, rect, planes, 0.0, 0.0, -10.0, 0.0, 56.0, -1e9, 1e9)
    assert (low, high) == (pytest.approx(-8.0), pytest.approx(108.0))
    assert kernel.clip_to_region(0, rect, planes, 0.0, 0.0, -10.0, 0.0, 61.0, -1e9, 1e9)[0] > 1e8
    assert kernel.clip_to_region(0, rect, planes, 0.0, 0.0, 10.0, 0.0, 45.0, -1e9, 1e9)[0] > 1e8
    disc = np.array([0.0, 0.0, 50.0, 0.0])
    assert kernel.clip_to_region(1, disc, planes, 0.0, 0.0, 10.0, 0.0, 45.0, -1e9, 1e9)[0] > 1e8


@pytest.mark.kernel
def test_distances_by_class_are_those_of_the_profiles() -> None:
    """Guards the compiled table of distances against the plain one, steps and profiles that never meet among them."""
    profiles = (
        ((0.0, 20.0), (40.0, 50.0)),
        ((0.0, 30.0), (10.0, 30.0), (10.0, 12.0), (60.0, 15.0)),
        ((25.0, 8.0), (35.0, 8.0)),
        ((70.0, 5.0), (90.0, 9.0)),
        ((0.0, 33.0), (0.0, 33.0)),
    )
    points = np.array([point for profile in profiles for point in profile])
    starts = np.cumsum([0, *(len(profile) for profile in profiles)]).astype(np.int64)
    table = kernel.need_table(points, starts, np.array([False] * 4 + [True]), 2.5)
    for a, first in enumerate(profiles):
        for b, second in enumerate(profiles):
            radii = profile_need(first, second)
            assert table[a, b] == (-1.0 if radii < 0 or 4 in {a, b} else pytest.approx(radii + 2.5))


@pytest.mark.kernel
def test_pair_of_like_axes_is_taken_over_and_turned_round() -> None:
    """Guards the short cut for nested bodies: what is taken from a known pair is what would have been worked out.

    Turns 0 and 1 have the same two axes and differ in profile classes alone, turn 2 is a disc beside its own axis.
    """
    body = [(-30.0, 5.0, 20.0, -8.0), (25.0, 10.0, 25.0, 10.0)]
    axes = np.array([*body, *body, (3.0, -4.0, 3.0, -4.0)])
    first, profile = np.array([0, 2, 4, 5]), np.array([0, 1, 2, 1, 3])
    twins, twin_first = np.array([0, 1, 0, 1, 2]), np.array([0, 2, 4, 5])
    needs = np.full((4, 4), 31.0)
    needs[1, 3] = needs[3, 1] = 44.0

    def table(i: int, j: int) -> tuple[np.ndarray[tuple[int, int], np.dtype[np.float64]], int]:
        starts, reach, buffer = np.full((3, 3), -1), np.zeros((3, 3), np.int64), np.zeros((900, 2))
        kernel.pair_table(i, j, axes, first, profile, needs, 2.0, starts, reach, buffer, 0)
        rows = int(reach[i, j])
        return buffer[starts[i, j] - rows : starts[i, j] + rows + 1], rows

    starts, reach, buffer = np.full((3, 3), -1), np.zeros((3, 3), np.int64), np.zeros((900, 2))
    about = (first, profile, needs, twin_first, twins, starts, reach, buffer)
    assert kernel.known_pair(0, 2, *about, 0) == -2
    used = kernel.pair_table(0, 2, axes, first, profile, needs, 2.0, starts, reach, buffer, 0)
    assert kernel.known_pair(1, 2, *about, used) == used, "the very same stretches, no new ones"
    assert starts[1, 2] == starts[0, 2]
    assert kernel.known_pair(2, 1, *about, 899) == -1, "the buffer is full"
    fresh = kernel.known_pair(2, 1, *about, used)
    assert fresh == used + 2 * reach[2, 1] + 1
    expected, rows = table(2, 1)
    assert reach[2, 1] == rows
    np.testing.assert_allclose(buffer[starts[2, 1] - rows : starts[2, 1] + rows + 1], expected, atol=1e-9)
    needs[2, 3] = needs[3, 2] = 50.0
    starts[1, 2] = starts[2, 1] = -1
    assert kernel.known_pair(1, 2, *about, used) == -2, "other distances, so not the same pair"
