"""Guards the compiled kernels by answers worked by hand; the same cases run once more with the compiler off."""

from __future__ import annotations

import math
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from kilnpack.shapes.kernel.descent import SCRATCH_ROWS, relax
from kilnpack.shapes.kernel.distance import closest, off_block, turned, worst_share
from kilnpack.shapes.kernel.overlap import overlap, spot_energy
from kilnpack.shapes.kernel.press import ANY, press
from kilnpack.shapes.kernel.search import search
from kilnpack.shapes.kernel.spots import best_spot
from kilnpack.shapes.warm import kernel_modules, warm, warm_side_by_side

if TYPE_CHECKING:
    from collections.abc import Sequence

pytestmark = pytest.mark.kernel

FLOATS = np.float64


def shelf(kinds: list[int], poses: list[tuple[float, float, float]]) -> dict[str, np.ndarray]:
    """Return the arrays of a shelf of 200 by 100 mm in a disc of 130 mm with a post at (90..110, 45..55).

    Kind 0 is a disc of 20 mm, kind 1 a capsule of 10 mm round an axis of 60 mm; the gap is 4 mm, to posts 3 mm.
    """
    radii = np.array([20.0, 10.0])
    need = radii[:, None] + radii[None, :] + 4.0
    reach = np.array([0.0, 30.0])
    insets = np.repeat(radii[:, None], 4, axis=1)
    return {
        "kinds": np.array([*kinds, 0, 0], dtype=np.int64),
        "pose": np.array(poses, dtype=FLOATS).reshape(-1, 3),
        "prims": np.array([[0.0, 0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 30.0, 0.0, 30.0]]),
        "spans": np.array([[0, 1, 1], [1, 2, 0]], dtype=np.int64),
        "need": need,
        "reach2": (need + reach[:, None] + reach[None, :]) ** 2,
        "planes": np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [-1.0, 0.0, -200.0], [0.0, -1.0, -100.0]]),
        "plane_in": insets,
        "plane_far": insets + reach[:, None],
        "rings": np.array([[100.0, 50.0, 130.0]]),
        "ring_in": radii[:, None].copy(),
        "ring_far": (radii + reach)[:, None].copy(),
        "blocks": np.array([[90.0, 45.0, 110.0, 55.0]]),
        "block_need": (radii + 3.0)[:, None].copy(),
        "block_far": (radii + reach + 3.0)[:, None].copy(),
    }


GEOMETRY = (
    "prims", "spans", "need", "reach2", "planes", "plane_in", "plane_far", "rings", "ring_in", "ring_far",
    "blocks", "block_need", "block_far",
)  # fmt: skip


def energy(room: dict[str, np.ndarray]) -> tuple[float, np.ndarray]:
    """Return the squared overlap and its slope."""
    n = len(room["pose"])
    slope = np.zeros((n, 3))
    total = overlap(n, room["kinds"], room["pose"], *(room[name] for name in GEOMETRY), np.zeros((n, 1, 4)), slope)
    return total, slope


def axis_of(pose: Sequence[float]) -> LineString:
    """Return the axis of a bar."""
    x, y, angle = pose
    return LineString([(x + s * 30 * math.cos(angle), y + s * 30 * math.sin(angle)) for s in (-1, 1)])


@pytest.mark.parametrize(
    ("first", "second", "distance"),
    [
        ((0, 0, 10, 0), (0, 5, 10, 0), 5.0),
        ((0, 0, 10, 0), (30, 5, 10, 0), math.hypot(10, 5)),
        ((0, 0, 10, 0), (0, 0, 0, 10), 0.0),
        ((0, 0, 10, 0), (15, 8, 0, 4), math.hypot(5, 4)),
        ((0, 0, 0, 0), (3, 4, 0, 0), 5.0),
        ((0, 0, 0, 0), (3, 4, 10, 0), 4.0),
        ((3, 4, 10, 0), (0, 0, 0, 0), 4.0),
        ((0, 0, 10, 0), (-25, 3, 5, 0), math.hypot(10, 3)),
    ],
)
def test_closest_points_of_two_axes(
    first: tuple[float, float, float, float], second: tuple[float, float, float, float], distance: float
) -> None:
    """Guards the distance of segments that lie side by side, cross, end to end, or shrink to a point."""
    ax, ay, ahx, ahy = map(float, first)
    bx, by, bhx, bhy = map(float, second)
    s, t = closest(ax, ay, ahx, ahy, bx, by, bhx, bhy)
    assert math.dist((ax + s * ahx, ay + s * ahy), (bx + t * bhx, by + t * bhy)) == pytest.approx(distance, abs=1e-12)


def test_closest_points_agree_with_a_library() -> None:
    """Guards the same for axes at random, against the distance shapely measures."""
    rng = np.random.default_rng(3)
    for ax, ay, ahx, ahy, bx, by, bhx, bhy in rng.uniform(-10, 10, (200, 8)):
        s, t = closest(ax, ay, ahx, ahy, bx, by, bhx, bhy)
        ours = math.dist((ax + s * ahx, ay + s * ahy), (bx + t * bhx, by + t * bhy))
        one = LineString([(ax - ahx, ay - ahy), (ax + ahx, ay + ahy)])
        other = LineString([(bx - bhx, by - bhy), (bx + bhx, by + bhy)])
        if not one.crosses(other):
            assert ours == pytest.approx(one.distance(other), abs=1e-9)


def test_distance_off_a_post() -> None:
    """Guards sides, corners and the inside of a rectangle: 3-4-5 at a corner, minus the nearest side within."""
    assert off_block(5.0, 14.0, 0.0, 0.0, 10.0, 10.0)[0] == 4.0
    assert off_block(13.0, 14.0, 0.0, 0.0, 10.0, 10.0) == (5.0, 0.6, 0.8)
    assert off_block(2.0, 5.0, 0.0, 0.0, 10.0, 10.0) == (-2.0, -1.0, 0.0)
    assert off_block(5.0, 9.0, 0.0, 0.0, 10.0, 10.0) == (-1.0, 0.0, 1.0)


def test_an_axis_comes_nearest_to_a_post_at_an_end_or_a_corner() -> None:
    """Guards capsules against posts, against the distance shapely measures."""
    rng = np.random.default_rng(4)
    post = box(0, 0, 10, 6)
    for x, y, hx, hy in rng.uniform(-20, 20, (200, 4)):
        share = worst_share(x, y, hx, hy, 0.0, 0.0, 10.0, 6.0)
        found, _, _ = off_block(x + share * hx, y + share * hy, 0.0, 0.0, 10.0, 6.0)
        true = LineString([(x - hx, y - hy), (x + hx, y + hy)]).distance(post)
        assert max(0.0, found) == pytest.approx(true, abs=1e-9)


def test_two_discs_by_hand() -> None:
    """Guards the measure: 40 mm apart instead of 44 is 4^2 = 16, pushing apart with 2 * 4 each."""
    total, slope = energy(shelf([0, 0], [(50, 21, 0), (50, 61, 0)]))
    assert total == pytest.approx(16.0)
    assert slope[0] == pytest.approx((0, 8, 0))
    assert slope[1] == pytest.approx((0, -8, 0))


def test_edge_disc_and_post_by_hand() -> None:
    """Guards walls: 15 mm from the edge instead of 20 is 25; 30 mm beside a post's middle lacks 3 mm of 23."""
    assert energy(shelf([0], [(60, 15, 0)]))[0] == pytest.approx(25.0)
    assert energy(shelf([0], [(70, 50, 0)]))[0] == pytest.approx(9.0)
    assert energy(shelf([0], [(40, 50, 0)]))[0] == 0.0
    # in the corner (-3, -3) the ring counts as well: 146.5 + 20 - 130 mm too far out, and twice 23 mm over the edges
    far = math.hypot(103, 53)
    assert energy(shelf([0], [(-3, -3, 0)]))[0] == pytest.approx(2 * 23.0**2 + (far + 20 - 130) ** 2)


def test_bodies_on_one_spot_are_pushed_apart() -> None:
    """Guards the case without a direction."""
    total, slope = energy(shelf([0, 0], [(40, 50, 0), (40, 50, 0)]))
    assert total == pytest.approx(44.0**2)
    assert abs(slope[0, 0]) == pytest.approx(88.0)


def test_the_slope_is_the_slope() -> None:
    """Guards every term against central differences, for discs and capsules at random, in and out of the room.

    Axes that cross are left out: there the push is chosen, not a slope.
    """
    rng = np.random.default_rng(5)
    for _ in range(40):
        poses = [(x, y, a) for x, y, a in rng.uniform((-10, -10, 0), (210, 110, 6), (5, 3))]
        room = shelf([0, 1, 1, 0, 1], poses)
        bars = [axis_of(poses[i]) for i in (1, 2, 4)]
        if any(bar.distance(other) == 0 for bar, other in combinations([*bars, box(90, 45, 110, 55)], 2)):
            continue
        _, slope = energy(room)
        for i in range(5):
            for c in range(3):
                step = 1e-6
                room["pose"][i, c] += step
                high, _ = energy(room)
                room["pose"][i, c] -= 2 * step
                low, _ = energy(room)
                room["pose"][i, c] += step
                assert slope[i, c] == pytest.approx((high - low) / (2 * step), rel=1e-4, abs=1e-2)


def test_one_spot_is_its_part_of_the_whole() -> None:
    """Guards the score of a spot: with two bodies only, it is all but the other's own walls."""
    room = shelf([0, 1], [(30, 30, 0), (50, 40, 0.4)])
    world, slope = np.zeros((4, 1, 4)), np.zeros((4, 3))
    whole = overlap(2, room["kinds"], room["pose"], *(room[name] for name in GEOMETRY), world, slope)
    args = (room["kinds"], room["pose"], *(room[name] for name in GEOMETRY), world, slope)
    assert spot_energy(1, 2, 1e9, *args) == pytest.approx(whole)
    assert spot_energy(1, 2, 0.0, *args) <= whole


@pytest.mark.parametrize("evaluations", [1, 2, 4, 40])
def test_what_is_listed_is_the_whole_overlap(evaluations: int) -> None:
    """Guards the lists of what is near: wherever a descent ends, its overlap is that of all bodies with all."""
    rng = np.random.default_rng(8)
    for _ in range(25):
        kinds = [int(kind) for kind in rng.integers(0, 2, 8)]
        room = shelf(kinds, [(x, y, a) for x, y, a in rng.uniform((-30, -30, -20), (230, 130, 20), (8, 3))])
        left = settle_down(room, evaluations)
        assert left == pytest.approx(energy(room)[0], rel=1e-6, abs=1e-6)


def test_cosine_and_sine_by_series() -> None:
    """Guards turning without a branch, at every angle, against the mathematical library of the language."""
    for angle in np.linspace(-12.0, 12.0, 997):
        assert turned(angle) == pytest.approx((math.cos(angle), math.sin(angle)), abs=2e-10)


def settle_down(room: dict[str, np.ndarray], limit: int = 300) -> float:
    """Relax all bodies and return the overlap left."""
    n = len(room["pose"])
    left: float = relax(
        np.int64(n), np.int64(limit), 1e-9, 1e300, room["kinds"], room["pose"], np.array([14.0, 28.0]),
        *(room[name] for name in GEOMETRY), np.zeros((SCRATCH_ROWS + 4, n + 8, 3)), np.zeros(8, dtype=np.int64),
    )  # fmt: skip
    return left


def test_relaxing_parts_two_discs_to_their_gap() -> None:
    """Guards the descent: the answer is 44 mm apart, half the way each."""
    room = shelf([0, 0], [(60, 25, 0), (60, 65, 0)])
    assert settle_down(room) <= 1e-9
    assert math.dist(room["pose"][0, :2], room["pose"][1, :2]) == pytest.approx(44.0, abs=1e-3)


def test_relaxing_turns_a_bar_out_of_the_way() -> None:
    """Guards angles: a bar across two discs finds a place for all three."""
    room = shelf([1, 0, 0], [(45, 50, 0.3), (25, 30, 0), (65, 75, 0)])
    assert settle_down(room) <= 1e-9
    bar = room["pose"][0]
    axis = LineString([(bar[0] + s * 30 * math.cos(bar[2]), bar[1] + s * 30 * math.sin(bar[2])) for s in (-1, 1)])
    assert all(axis.distance(Point(disc[:2])) >= 34 - 1e-3 for disc in room["pose"][1:])


def test_relaxing_gives_up_where_there_is_no_room() -> None:
    """Guards an honest end: eleven discs of 20 mm cannot stand on 200 by 100 mm with a post."""
    rng = np.random.default_rng(6)
    room = shelf([0] * 11, [(x, y, 0.0) for x, y in rng.uniform((20, 20), (180, 80), (11, 2))])
    assert settle_down(room) > 1.0


def shelf_state(n: int) -> dict[str, np.ndarray]:
    """Return the state arrays of a search for up to n bodies."""
    return {
        "world": np.zeros((n + 4, 1, 4)),
        "scratch": np.zeros((SCRATCH_ROWS + 4, n + 8, 3)),
        "kinds": np.zeros(n + 4, dtype=np.int64),
        "pose": np.zeros((n, 3)),
        "best_kinds": np.zeros((3, n + 4), dtype=np.int64),
        "best_pose": np.zeros((n, 3)),
        "used": np.zeros(2, dtype=np.int64),
        "tally": np.array([0, 0, 0, 0, 0, 77, 0, 0], dtype=np.int64),
    }


def demand(load_limit: float) -> tuple[object, ...]:
    """Return frame, limit, six discs worth 1, and two bars worth 3 of which one has to stand, 1 kg each."""
    frame, count, must = np.array([0.0, 0.0, 200.0, 100.0]), np.array([6, 2]), np.array([0, 1])
    return (frame, load_limit, 100.0, count, must, np.array([1.0, 3.0]), np.ones(2))


def best_of(state: dict[str, np.ndarray]) -> tuple[float, int, float]:
    """Return value, number and overlap of the best setting."""
    n = state["tally"][2]
    kinds = [int(kind) for kind in state["best_kinds"][0, :n]]
    poses = [(float(x), float(y), float(a)) for x, y, a in state["best_pose"][:n]]
    return float(sum((1, 3)[kind] for kind in kinds)), int(n), energy(shelf(kinds, poses))[0] if n else 0.0


def test_the_search_fills_what_must_hold() -> None:
    """Guards the exchange moves: 200 by 100 mm hold the two bars and two discs at least, and 5 kg no sixth body."""
    room, state = shelf([], []), shelf_state(8)
    for heat in (0.5, 0.2, 0.0):
        search(
            np.int64(1500), heat, 500.0, np.int64(10), np.int64(60), 1e-6, 400.0, *demand(5.0),
            np.array([1500.0, 1900.0]), np.zeros(2), np.array([14.0, 28.0]), *(room[name] for name in GEOMETRY),
            *state.values(),
        )  # fmt: skip
    value, bodies, overlapping = best_of(state)
    assert value >= 8
    assert bodies <= 5
    assert overlapping <= 1e-6
    assert state["tally"][0] >= 4500


def test_pressing_goes_on_from_nothing_to_a_full_shelf() -> None:
    """Guards the press: targets worth more than the best are reached one after another, and stay clear."""
    room, state = shelf([], []), shelf_state(8)
    reached = []
    for _ in range(6):
        press(
            np.int64(700), 3.0, 103.0, np.int64(10), np.int64(60), 1e-6, *demand(6.0), np.zeros(2),
            np.array([14.0, 28.0]), *(room[name] for name in GEOMETRY), *state.values(),
        )  # fmt: skip
        reached.append(best_of(state)[0])
    assert reached == sorted(reached)
    assert reached[-1] >= 8
    assert best_of(state)[2] <= 1e-6


def test_pressing_parts_bodies_that_stand_on_one_heap() -> None:
    """Guards the moves of a fixed target: two bars and three discs on one spot end clear, the value is the target's."""
    room, state = shelf([], []), shelf_state(8)
    kinds = [1, 1, 0, 0, 0]
    state["kinds"][:5] = kinds
    state["pose"][:5] = [(100 + 3 * i, 50 + i, i) for i in range(5)]
    state["used"][:] = (3, 2)
    state["tally"][1] = 5
    state["scratch"][-2, 0, 1] = 108.9
    state["scratch"][-2, 1, 0] = ANY
    for heat in (30.0, 10.0, 3.0, 1.0, 0.0):
        press(
            np.int64(500), heat, 0.3, np.int64(10), np.int64(60), 1e-6, *demand(6.0), np.array([0.0, 0.5]),
            np.array([14.0, 28.0]), *(room[name] for name in GEOMETRY), *state.values(),
        )  # fmt: skip
        if state["tally"][2]:
            break
    assert best_of(state)[0] == 9.0
    assert best_of(state)[2] <= 1e-6


def test_pressing_ends_where_nothing_is_worth_more() -> None:
    """Guards the way out: no body at hand, no target, and the call comes back at once."""
    room, state = shelf([], []), shelf_state(8)
    frame, limit, must_value, count, must, value, mass = demand(5.0)
    press(
        np.int64(700), 3.0, 9.0, np.int64(10), np.int64(60), 1e-6, frame, limit, must_value, np.zeros_like(count), must,
        value, mass, np.zeros(2), np.array([14.0, 28.0]), *(room[name] for name in GEOMETRY), *state.values(),
    )  # fmt: skip
    assert state["tally"][0] == 1


def test_a_hopeless_descent_is_given_up_after_four_steps() -> None:
    """Guards the effort: far more overlap than bodies are large ends early, and the work is counted."""
    rng = np.random.default_rng(6)
    room = shelf([0] * 11, [(x, y, 0.0) for x, y in rng.uniform((20, 20), (180, 80), (11, 2))])
    tally = np.zeros(8, dtype=np.int64)
    relax(
        np.int64(11), np.int64(300), 1e-9, 1.0, room["kinds"], room["pose"], np.array([14.0, 28.0]),
        *(room[name] for name in GEOMETRY), np.zeros((SCRATCH_ROWS + 4, 19, 3)), tally,
    )  # fmt: skip
    assert tally[0] <= 4 * 6 + 1


def test_every_kernel_warms_up_in_one_form() -> None:
    """Guards set-up: warming compiles what the engine calls, and only once."""
    names = [name for name in kernel_modules() if name.startswith("kilnpack.shapes")]
    assert warm(names) == tuple(
        f"kilnpack.shapes.kernel.{name}" for name in ("descent", "places", "press", "search", "spots")
    )
    assert len(getattr(relax, "signatures", [0])) == 1
    assert len(getattr(best_spot, "signatures", [0])) == 1
    assert "kilnpack.shapes.kernel.overlap" in kernel_modules()
    assert len(getattr(search, "signatures", [0])) == 1
    assert len(getattr(press, "signatures", [0])) == 1


def test_what_others_call_is_warmed_first() -> None:
    """Guards set-up by two processes: the choice of a place is compiled before what calls it, in processes that end."""
    names = [name for name in kernel_modules() if name.endswith((".places", ".spots", ".overlap"))]
    assert warm_side_by_side(names) == ("kilnpack.shapes.kernel.spots", "kilnpack.shapes.kernel.places")
