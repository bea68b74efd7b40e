"""The order in which the bodies of a shelf are set: a free way down for each, the shelf never about to tip.

A body that another leans over goes in before it (rule W13). Else the back of the shelf is set before the front,
left before right, as long as the centre of mass stays well inside the posts (rule F13).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.shapes.primitives import Primitive, Profile, profile_need, swept

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.geometry import Point

TOUCH_MM = 1e-6
BALANCE_SPARE = 1.02
"""The balance is kept this much better than the rule, so that rounding cannot break it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A body to be set: its primitives in the shelf's frame, its mass and where that acts."""

    axes: tuple[tuple[float, float, float, float, Profile], ...]
    x_mm: float
    y_mm: float
    mass_kg: float
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """The empty shelf: mass, centre of mass, corners of the post polygon and the margin to keep inside it."""

    mass_kg: float
    x_mm: float
    y_mm: float
    corners: tuple[Point, ...]
    margin_mm: float


def piece_at(
    primitives: Sequence[Primitive], x_mm: float, y_mm: float, turn_deg: float, *, mass_kg: float, value: float
) -> Piece:
    """Return a body with its primitives moved into the shelf's frame."""
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    axes = []
    for p in primitives:
        ends = []
        for sign in (1.0, -1.0):
            dx, dy = p.x_mm + sign * p.hx_mm, p.y_mm + sign * p.hy_mm
            ends += [x_mm + cos * dx - sin * dy, y_mm + sin * dx + cos * dy]
        axes.append((ends[0], ends[1], ends[2], ends[3], p.profile))
    return Piece(axes=tuple(axes), x_mm=x_mm, y_mm=y_mm, mass_kg=mass_kg, value=value)


def placing_order(pieces: Sequence[Piece], base: Base) -> tuple[list[int], list[int]]:
    """Return the order of those that can be set, and those that have to be left off.

    Left off are the least valuable of bodies that are in each other's way, and bodies that would let the shelf tip.
    """
    before = _must_precede(pieces)
    order: list[int] = []
    off: list[int] = []
    waiting = sorted(range(len(pieces)), key=lambda k: (-round(pieces[k].y_mm, 1), round(pieces[k].x_mm, 1)))
    while waiting:
        free = [k for k in waiting if not any(other in waiting for other in before[k])]
        if not free:
            worst = min(waiting, key=lambda k: pieces[k].value)
            waiting.remove(worst)
            off.append(worst)
            continue
        steady = next((k for k in free if _inside_mm([pieces[i] for i in (*order, k)], base) >= base.margin_mm), None)
        if steady is None:
            worst = min(waiting, key=lambda k: _inside_mm([pieces[i] for i in (*order, k)], base))
            waiting.remove(worst)
            off.append(worst)
            continue
        waiting.remove(steady)
        order.append(steady)
    return order, off


def _must_precede(pieces: Sequence[Piece]) -> list[set[int]]:
    """Return for each body those that have to be set before it: their way down is closed once it stands."""
    before: list[set[int]] = [set() for _ in pieces]
    for i, lowered in enumerate(pieces):
        for j, standing in enumerate(pieces):
            if i != j and _blocks(standing, lowered):
                before[j].add(i)
    return before


def _blocks(standing: Piece, lowered: Piece) -> bool:
    for ax, ay, bx, by, profile in lowered.axes:
        way = swept(profile)
        for cx, cy, dx, dy, other in standing.axes:
            need_mm = profile_need(way, other)
            if need_mm >= 0 and _apart_mm((ax, ay), (bx, by), (cx, cy), (dx, dy)) < max(need_mm - TOUCH_MM, TOUCH_MM):
                return True
    return False


def _apart_mm(a: Point, b: Point, c: Point, d: Point) -> float:
    """Return the distance of two segments."""
    if _cross(a, b, c) * _cross(a, b, d) < 0 and _cross(c, d, a) * _cross(c, d, b) < 0:
        return 0.0
    return min(_to_segment(a, c, d), _to_segment(b, c, d), _to_segment(c, a, b), _to_segment(d, a, b))


def _cross(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _to_segment(p: Point, a: Point, b: Point) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    length2 = dx * dx + dy * dy
    share = 0.0 if length2 == 0 else min(1.0, max(0.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2))
    return math.hypot(a[0] + share * dx - p[0], a[1] + share * dy - p[1])


def _inside_mm(pieces: Sequence[Piece], base: Base) -> float:
    """Return how far inside the post polygon the centre of mass lies; negative outside."""
    mass = base.mass_kg + sum(piece.mass_kg for piece in pieces)
    if mass <= 0:
        return math.inf
    x = (base.mass_kg * base.x_mm + sum(piece.mass_kg * piece.x_mm for piece in pieces)) / mass
    y = (base.mass_kg * base.y_mm + sum(piece.mass_kg * piece.y_mm for piece in pieces)) / mass
    corners = base.corners
    return (
        min(_cross(a, b, (x, y)) / math.dist(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True))
        / BALANCE_SPARE
    )
