"""How a load is set by hand, as the measure to beat: row by row, plain rectangles round the ware, no overhang.

Pieces go in the tallest first or by the greatest value for the room they take, and the posts are the lowest over the
first piece, or those whose tier is worth most for its height or most of all; the best of these ways counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

    from benchmarks.load_instances import Instance

STEP_MM = 5.0
"""What a hand moves a piece on by when a post or the round edge is in its way."""


@dataclass(frozen=True)
class Box:
    """A type of piece as the hand sees it: number, size of its rectangle and where its axis lies in it."""

    number: int
    w_mm: float
    d_mm: float
    x_mm: float
    y_mm: float
    r_mm: float = 0.0
    """Radius of a round piece, 0 for all others."""


@dataclass
class Hand:
    """The load as it is being set."""

    instance: Instance
    order: list[int]
    left: list[int] = field(default_factory=list)
    posts: dict[float, int] = field(default_factory=dict)
    shelves: int = 0
    value: float = 0.0
    tiers: list[dict[str, Any]] = field(default_factory=list)


PER_HEIGHT = (None, 0.0, 0.25, 0.5, 0.75, 1.0)
"""None: posts over the first piece in order; else the tier's value is divided by its height to this power."""


def hand_load(instance: Instance) -> tuple[float, list[dict[str, Any]]]:
    """Return value and tiers of the best of the ways."""
    ways = [_set_load(instance, key, power) for key in (_tallest, _value_for_area) for power in PER_HEIGHT]
    return max(ways, key=lambda way: way[0])


def _tallest(kind: Instance, box: Box) -> float:
    del box
    return float(kind["height"])


def _value_for_area(kind: Instance, box: Box) -> float:
    return float(kind["value"]) * float((kind.get("stack") or {"most": 1})["most"]) / (box.w_mm * box.d_mm)


def _box(number: int, kind: Instance) -> Box:
    if "profile_zr" in kind:
        r = max(radius for _, radius in kind["profile_zr"])
        return Box(number, 2 * r, 2 * r, r, r, r)
    xs = [x for part in kind["slices"] for x, _ in part["outline"]]
    ys = [y for part in kind["slices"] for _, y in part["outline"]]
    return Box(number, max(xs) - min(xs), max(ys) - min(ys), -min(xs), -min(ys))


def _set_load(
    instance: Instance, key: Callable[[Instance, Box], float], power: float | None
) -> tuple[float, list[dict[str, Any]]]:
    kinds = instance["types"]
    boxes = [_box(number, kind) for number, kind in enumerate(kinds)]
    hand = Hand(
        instance,
        sorted(range(len(kinds)), key=lambda k: -key(kinds[k], boxes[k])),
        [kind["demand"] for kind in kinds],
        dict(instance["post_stock"]),
        instance["shelves_per_load"],
    )
    for column in range(instance["columns"]):
        base = 0.0
        while hand.shelves:
            trials = [
                _set_tier(hand, boxes, column, base, parts) for parts in _posts(hand, base, only_first=power is None)
            ]
            if not trials:
                break
            height = power or 0.0
            hand, gain, pitch = max(trials, key=lambda trial: trial[1] / trial[2] ** height)
            if gain <= 0:
                break
            base += pitch
    return hand.value, hand.tiers


def _zone(instance: Instance, base: float) -> int:
    return sum(base >= limit for limit in instance["zone_limits"])


def _posts(hand: Hand, base: float, *, only_first: bool) -> list[list[float]]:
    """Return the lowest posts over each piece, in order, which the stack still has the height for."""
    instance = hand.instance
    left_mm = instance["usable_height"] - base - instance["shelf_thickness"]
    points = len(instance["posts"])
    heights = sorted(height for height, count in hand.posts.items() if count >= points)
    pairs = [[a, b] for b in heights for a in heights if a > b or (a == b and hand.posts[a] >= 2 * points)]
    stock = sorted([[h] for h in heights] + pairs, key=lambda parts: (sum(parts), len(parts)))
    found: list[list[float]] = []
    for k in hand.order:
        kind = instance["types"][k]
        if not hand.left[k] or _zone(instance, base) not in kind["zones"]:
            continue
        stack = kind.get("stack") or {"step": 0.0, "most": 1}
        for pieces in range(stack["most"], 0, -1):
            need_mm = kind["height"] + (pieces - 1) * stack["step"] + instance["headroom"]
            fitting = next((parts for parts in stock if need_mm <= sum(parts) <= left_mm), None)
            if fitting is not None and fitting not in found:
                found.append(fitting)
                if only_first:
                    return found
    return found


def _set_tier(
    before: Hand, boxes: list[Box], column: int, base: float, parts: list[float]
) -> tuple[Hand, float, float]:
    """Return the load with one more tier, the tier's value and what it takes of the height."""
    instance = before.instance
    hand = Hand(instance, before.order, list(before.left), dict(before.posts), before.shelves - 1, before.value)
    for part in parts:
        hand.posts[part] -= len(instance["posts"])
    depth_mm = instance["shelf"].get("h", instance["shelf"].get("R"))
    pieces: list[dict[str, Any]] = []
    y = 0.0
    weight = 0.0
    while y < depth_mm:
        row_mm, weight = _set_row(hand, boxes, y, depth_mm - y, sum(parts), _zone(instance, base), weight, pieces)
        y += row_mm + instance["gap"] if row_mm else STEP_MM
    tier = {"load": 0, "column": column, "base": base, "post_parts": parts, "pieces": pieces}
    hand.tiers = [*before.tiers, tier]
    return hand, hand.value - before.value, instance["shelf_thickness"] + sum(parts)


def _set_row(
    hand: Hand,
    boxes: list[Box],
    y: float,
    depth_mm: float,
    room_mm: float,
    zone: int,
    weight: float,
    pieces: list[dict[str, Any]],
) -> tuple[float, float]:
    """Set one row from the left; the first piece says how deep it is. Return its depth and the shelf's weight."""
    instance = hand.instance
    x, row_mm = 0.0, 0.0
    while True:
        for k in hand.order:
            kind, box = instance["types"][k], boxes[k]
            if not hand.left[k] or zone not in kind["zones"] or box.d_mm > (row_mm or depth_mm):
                continue
            count = _nested(kind, hand.left[k], room_mm - instance["headroom"])
            if not count or weight + count * kind["mass_kg"] > instance["shelf_load_kg"]:
                continue
            at = _free_x(instance, box, x, y)
            if at is None:
                continue
            pieces.append({"type": k, "count": count, "angle": 0.0, "x": at + box.x_mm, "y": y + box.y_mm})
            hand.left[k] -= count
            hand.value += count * kind["value"]
            weight += count * kind["mass_kg"]
            row_mm = row_mm or box.d_mm
            x = at + box.w_mm + instance["gap"]
            break
        else:
            return row_mm, weight


def _nested(kind: Instance, left: int, room_mm: float) -> int:
    """Return how many pieces stand at one place under that height."""
    if kind["height"] > room_mm:
        return 0
    stack = kind.get("stack")
    if not stack:
        return 1
    return min(left, int(stack["most"]), 1 + int((room_mm - kind["height"]) / stack["step"] + 1e-9))


def _free_x(instance: Instance, box: Box, x: float, y: float) -> float | None:
    """Return the first place from x on where the piece stands on the shelf and off the posts."""
    shelf = instance["shelf"]
    end = shelf["w"]
    if y + box.d_mm > shelf.get("h", shelf.get("R")):
        return None
    while x + box.w_mm <= end + 1e-9:
        if _on_shelf(shelf, box, x, y) and not _hits_post(instance, box, x, y):
            return x
        x += STEP_MM
    return None


def _on_shelf(shelf: Instance, box: Box, x: float, y: float) -> bool:
    if shelf["kind"] != "halfdisc":
        return True
    middle = shelf["w"] / 2
    if box.r_mm:
        return math.hypot(x + box.r_mm - middle, y + box.r_mm) <= float(shelf["R"]) - box.r_mm
    return max(math.hypot(cx - middle, y + box.d_mm) for cx in (x, x + box.w_mm)) <= float(shelf["R"])


def _hits_post(instance: Instance, box: Box, x: float, y: float) -> bool:
    half, gap = instance["post_side"] / 2, instance["gap"]
    for px, py in instance["posts"]:
        if box.r_mm:
            dx = max(abs(x + box.r_mm - px) - half, 0.0)
            dy = max(abs(y + box.r_mm - py) - half, 0.0)
            if math.hypot(dx, dy) < box.r_mm + gap:
                return True
        elif (
            x < px + half + gap
            and x + box.w_mm > px - half - gap
            and y < py + half + gap
            and y + box.d_mm > py - half - gap
        ):
            return True
    return False
