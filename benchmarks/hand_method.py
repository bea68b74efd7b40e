"""How a load is set by hand, as the measure to beat: row by row, plain rectangles round the ware, no overhang.

Pieces go in by their value or by their value for the room they take, turned by a quarter where that saves room. Of the
rows a shelf may go on with, and of the posts the next tier may have, those worth most for what they take are set; the
best of these ways counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

    from benchmarks.load_instances import Instance

LEADS = 30
"""So many pieces are tried as the first of a row."""

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
    turn_deg: float = 0.0

    def turned(self) -> Box:
        """Return the box of the piece turned by a quarter."""
        return Box(self.number, self.d_mm, self.w_mm, self.d_mm - self.y_mm, self.x_mm, self.r_mm, 90.0)


@dataclass(frozen=True)
class Plan:
    """The shelf with its posts, seen from above."""

    wide_mm: float
    deep_mm: float
    is_half_disc: bool
    posts: tuple[tuple[float, float], ...]
    half_post_mm: float
    gap_mm: float


@dataclass
class Hand:
    """The load as it is being set."""

    instance: Instance
    plan: Plan
    order: list[int]
    left: list[int] = field(default_factory=list)
    posts: dict[float, int] = field(default_factory=dict)
    shelves: int = 0
    value: float = 0.0
    tiers: list[dict[str, Any]] = field(default_factory=list)


PER_HEIGHT = (0.0, 0.25)
"""A tier's value is divided by its height to this power when its posts are picked."""


def hand_load(instance: Instance) -> tuple[float, list[dict[str, Any]]]:
    """Return value and tiers of the best of the ways."""
    shelf, posts = instance["shelf"], tuple(map(tuple, instance["posts"]))
    wide, deep = float(shelf["w"]), float(shelf.get("h", shelf.get("R")))
    plan = Plan(wide, deep, shelf["kind"] == "halfdisc", posts, instance["post_side"] / 2, instance["gap"])
    ways = [_set_load(instance, plan, key, power) for key in (_value, _value_for_area) for power in PER_HEIGHT]
    return max(ways, key=lambda way: way[0])


def _value(kind: Instance, box: Box) -> float:
    del box
    return float(kind["value"])


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
    instance: Instance, plan: Plan, key: Callable[[Instance, Box], float], power: float
) -> tuple[float, list[dict[str, Any]]]:
    kinds = instance["types"]
    boxes = [_box(number, kind) for number, kind in enumerate(kinds)]
    hand = Hand(
        instance,
        plan,
        sorted(range(len(kinds)), key=lambda k: -key(kinds[k], boxes[k])),
        [kind["demand"] for kind in kinds],
    )
    for stack in range(instance["loads"] * instance["columns"]):
        if stack % instance["columns"] == 0:
            hand.posts, hand.shelves = dict(instance["post_stock"]), instance["shelves_per_load"]
        base = 0.0
        while hand.shelves:
            trials = [_set_tier(hand, boxes, stack, base, parts) for parts in _posts(hand, base)]
            if not trials:
                break
            hand, gain, pitch = max(trials, key=lambda trial: trial[1] / trial[2] ** power)
            if gain <= 0:
                break
            base += pitch
    return hand.value, hand.tiers


def _zone(instance: Instance, base: float) -> int:
    return sum(base >= limit for limit in instance["zone_limits"])


def _posts(hand: Hand, base: float) -> list[list[float]]:
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
    return found


def _set_tier(before: Hand, boxes: list[Box], stack: int, base: float, parts: list[float]) -> tuple[Hand, float, float]:
    """Return the load with one more tier, the tier's value and what it takes of the height."""
    instance = before.instance
    hand = Hand(
        instance, before.plan, before.order, list(before.left), dict(before.posts), before.shelves - 1, before.value
    )
    for part in parts:
        hand.posts[part] -= len(instance["posts"])
    depth_mm = hand.plan.deep_mm
    tier = Tier(sum(parts), _zone(instance, base))
    y = 0.0
    while y < depth_mm:
        row = _best_row(hand, boxes, tier, y, depth_mm - y)
        if row is None:
            y += STEP_MM
            continue
        _take(hand, tier, row)
        y += row.deep_mm + instance["gap"]
    load, column = divmod(stack, instance["columns"])
    told = {"load": load, "column": column, "base": base, "post_parts": parts, "pieces": tier.pieces}
    hand.tiers = [*before.tiers, told]
    return hand, hand.value - before.value, instance["shelf_thickness"] + sum(parts)


@dataclass
class Tier:
    """The shelf that is being set: its height, zone, what stands on it and what that weighs."""

    room_mm: float
    zone: int
    pieces: list[dict[str, Any]] = field(default_factory=list)
    weight_kg: float = 0.0


@dataclass
class Row:
    """A row from left to right; the first piece says how deep it is."""

    deep_mm: float
    value: float = 0.0
    weight_kg: float = 0.0
    pieces: list[dict[str, Any]] = field(default_factory=list)
    used: dict[int, int] = field(default_factory=dict)


def _best_row(hand: Hand, boxes: list[Box], tier: Tier, y: float, depth_mm: float) -> Row | None:
    """Return the row worth most for its depth, over the first pieces it may begin with; None if none fits."""
    rows: list[Row] = []
    for lead in hand.order:
        for deep in {boxes[lead].d_mm, boxes[lead].w_mm}:
            if len(rows) >= LEADS or deep > depth_mm or any(row.deep_mm == deep for row in rows):
                continue
            row = _row(hand, boxes, tier, y, deep)
            if row.pieces:
                rows.append(row)
    return max(rows, key=lambda row: row.value / (row.deep_mm + hand.instance["gap"]), default=None)


def _row(hand: Hand, boxes: list[Box], tier: Tier, y: float, deep_mm: float) -> Row:
    """Set a row of that depth from the left, piece by piece in the hand's order."""
    instance = hand.instance
    row, x = Row(deep_mm), 0.0
    for k in hand.order:
        kind, box = instance["types"][k], _narrow(boxes[k], deep_mm)
        if box is None or tier.zone not in kind["zones"]:
            continue
        while count := _nested(kind, hand.left[k] - row.used.get(k, 0), tier.room_mm - instance["headroom"]):
            kg = count * kind["mass_kg"]
            at = _free_x(hand.plan, box, x, y)
            if at is None or tier.weight_kg + row.weight_kg + kg > instance["shelf_load_kg"]:
                break
            row.pieces.append({"type": k, "count": count, "angle": box.turn_deg, "x": at + box.x_mm, "y": y + box.y_mm})
            row.used[k] = row.used.get(k, 0) + count
            row.value += count * kind["value"]
            row.weight_kg += kg
            x = at + box.w_mm + instance["gap"]
    return row


def _narrow(box: Box, deep_mm: float) -> Box | None:
    """Return the piece as it stands or turned, whichever takes less of a row so deep; None if neither fits."""
    fitting = [one for one in (box, box.turned()) if one.d_mm <= deep_mm]
    return min(fitting, key=lambda one: one.w_mm, default=None)


def _take(hand: Hand, tier: Tier, row: Row) -> None:
    tier.pieces += row.pieces
    tier.weight_kg += row.weight_kg
    hand.value += row.value
    for k, count in row.used.items():
        hand.left[k] -= count


def _nested(kind: Instance, left: int, room_mm: float) -> int:
    """Return how many pieces stand at one place under that height."""
    if kind["height"] > room_mm or not left:
        return 0
    stack = kind.get("stack")
    if not stack:
        return 1
    return min(left, int(stack["most"]), 1 + int((room_mm - kind["height"]) / stack["step"] + 1e-9))


@lru_cache(maxsize=1 << 18)
def _free_x(plan: Plan, box: Box, x: float, y: float) -> float | None:
    """Return the first place from x on where the piece stands on the shelf and off the posts."""
    if y + box.d_mm > plan.deep_mm:
        return None
    while x + box.w_mm <= plan.wide_mm + 1e-9:
        if _on_shelf(plan, box, x, y) and not _hits_post(plan, box, x, y):
            return x
        x += STEP_MM
    return None


def _on_shelf(plan: Plan, box: Box, x: float, y: float) -> bool:
    if not plan.is_half_disc:
        return True
    middle = plan.wide_mm / 2
    if box.r_mm:
        return math.hypot(x + box.r_mm - middle, y + box.r_mm) <= plan.deep_mm - box.r_mm
    return max(math.hypot(cx - middle, y + box.d_mm) for cx in (x, x + box.w_mm)) <= plan.deep_mm


def _hits_post(plan: Plan, box: Box, x: float, y: float) -> bool:
    half, gap = plan.half_post_mm, plan.gap_mm
    for px, py in plan.posts:
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
