"""A second look at a load, unlike the checker's: points drawn on the skin of every body, measured against all else.

Nothing here grows, intersects or buffers an outline. A point at a height is measured against the section that another
solid has at that height, by formulas of this file alone; sizes as loaded come from `shapes.bodies.stand`.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.model.geometry import ConvexPolygon, Disc, HalfDisc, Rectangle, Region, RoundedPolygon, TurnedPart
from kilnpack.model.kilns import ChamberKind, WallKind
from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import Stage
from kilnpack.shapes.bodies import stand

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.geometry import Outline, Part, Point
    from kilnpack.model.kilns import Kiln, StackPlace
    from kilnpack.model.loads import Load, Tier
    from kilnpack.model.works import Works
    from kilnpack.shapes.bodies import Body

TRUE_MM = 0.02
"""A lack up to this is rounding."""
MARGIN_MM = 80.0


@dataclass(frozen=True)
class Thing:
    """A body where it stands: turn and axis in the kiln, foot height, and the tier it belongs to."""

    body: Body
    x: float
    y: float
    z: float
    turn_deg: float
    tier: int
    label: str

    @property
    def reach(self) -> float:
        """Farthest any corner or radius gets from the axis."""
        return max(_reach(part) for part in self.body.parts)


@dataclass(frozen=True)
class Shelved:
    """A tier in the kiln: shelf, posts in the kiln frame, floor and the height the ware stays under."""

    place: StackPlace
    shelf: ShelfType
    tier: Tier
    floor: float
    under: float
    posts: tuple[Point, ...]
    post_side: float


def faults(works: Works, load: Load, *, points: int, seed: int) -> list[str]:
    """Return what the points say is wrong: which body is too near to what, by how much it lacks."""
    rng = random.Random(seed)
    kiln = works.kiln(load.kiln)
    tiers = list(_tiers(works, load, kiln))
    things = [thing for k, row in enumerate(tiers) for thing in _things(works, load, k, row)]
    wanted = _gap_mm(works, load)
    said: dict[tuple[str, str], float] = {}
    for thing in things:
        near = [o for o in things if o is not thing and _may_meet(thing, o)]
        for x, y, z in _skin(thing, rng, points):
            for what, lack in _lacks(works, load, kiln, tiers, thing, near, (x, y, z), wanted):
                if lack > TRUE_MM:
                    key = (thing.label, what)
                    said[key] = max(said.get(key, 0.0), lack)
    return [f"{label}: {what} lacks {lack:.2f} mm" for (label, what), lack in said.items()]


def _lacks(
    works: Works,
    load: Load,
    kiln: Kiln,
    tiers: list[Shelved],
    thing: Thing,
    near: list[Thing],
    at: tuple[float, float, float],
    wanted: tuple[float, float],
) -> Iterator[tuple[str, float]]:
    x, y, z = at
    own, settings = tiers[thing.tier], works.settings
    for other in near:
        yield "C1 " + other.label, wanted[0] - _to_thing(other, x, y, z)
    yield "C3 height", z - own.under
    local = _on_shelf(x, y, own.place)
    for px, py in own.posts:
        half = own.post_side / 2
        yield "C2 post", wanted[1] - _to_box(local, (px - half, py - half, px + half, py + half))
    over = min(settings.overhang_most_mm, max(0.0, (thing.reach - _foot_reach(thing.body.foot)) / 2))
    yield "W2 rim", -_inside(own.shelf.outline, local) - over
    yield "C4 wall", _wall_mm(works, kiln) - _inside(kiln.chamber, (x, y))
    for keep in kiln.keep_outs:
        clear = max(keep.clear_mm, settings.thermocouple_mm if keep.what == "thermocouple" else 0.0)
        if keep.from_z_mm - clear + TRUE_MM < z < keep.to_z_mm + clear - TRUE_MM:
            yield f"keep-out {keep.code}", clear + _inside(keep.outline, (x, y))
    for row in tiers:
        if row.place.code != own.place.code and row.tier.base_mm < z < row.floor:
            yield "another shelf", _inside(row.shelf.outline, _on_shelf(x, y, row.place))


def _tiers(works: Works, load: Load, kiln: Kiln) -> Iterator[Shelved]:
    shelves = {item.code: item for item in works.furniture.shelves}
    posts = {item.code: item for item in works.furniture.posts}
    places = {item.code: item for item in kiln.places}
    for stack in load.stacks:
        for tier in stack.tiers:
            shelf, settings = shelves[tier.shelf], works.settings
            floor = tier.base_mm + shelf.thickness_mm
            high = sum(posts[code].height_mm for code in tier.posts)
            roof = kiln.usable_height_mm - settings.top_clear_mm
            yield Shelved(
                place=places[stack.place],
                shelf=shelf,
                tier=tier,
                floor=floor,
                under=floor + high - settings.headroom_mm if tier.posts else roof,
                posts=shelf.posts_mm if tier.posts else (),
                post_side=max((posts[code].side_mm for code in tier.posts), default=0.0),
            )


def _things(works: Works, load: Load, number: int, row: Shelved) -> Iterator[Thing]:
    for one in load.setting(row.tier.setting).standings:
        x, y = _in_kiln(one.x_mm, one.y_mm, row.place)
        turn = one.turn_deg + row.place.turn_deg
        label = f"{row.place.code}{row.tier.number}/{one.place}"
        yield Thing(stand(works, load.form(one.form)), x, y, row.floor, turn, number, label)


def _gap_mm(works: Works, load: Load) -> tuple[float, float]:
    """Gap of ware to ware and of ware to post, for the whole load at its widest."""
    settings, stage = works.settings, load.stage
    codes = {fill.lot for stack in load.stacks for tier in stack.tiers for fill in tier.fills}
    lots = [works.lot(code) for code in codes]
    glazes = {glaze.code: glaze for glaze in works.glazes}
    peak = works.programme(load.programme).peak_degc
    own = {Stage.BISCUIT: settings.gap_biscuit_mm, Stage.GLOST: settings.gap_glost_mm}.get(stage)
    if own is None:
        soft = [glazes[works.product(lot.product).glaze or ""].softening_degc for lot in lots]
        # Only where all pairs are alike is the load's gap that of every pair.
        hot = bool(soft) and peak >= max(soft) - settings.soft_margin_k
        own = settings.gap_decoration_hot_mm if hot else settings.gap_decoration_mm
    grows = stage is Stage.DECORATION or (bool(lots) and all(lot.kind is LotKind.REFIRE for lot in lots))
    ware = own + settings.placing_mm + (settings.hot_growth_mm if grows else 0.0)
    post = settings.post_gap_biscuit_mm if stage is Stage.BISCUIT else settings.post_gap_mm
    return ware, post + settings.placing_mm


def _wall_mm(works: Works, kiln: Kiln) -> float:
    settings = works.settings
    if kiln.wall_clear_mm is not None:
        return kiln.wall_clear_mm
    if kiln.kind is ChamberKind.CAR:
        return settings.car_edge_mm
    return settings.ware_wall_electric_mm if kiln.wall is WallKind.ELECTRIC else settings.ware_wall_gas_mm


def _may_meet(a: Thing, b: Thing) -> bool:
    flat = math.hypot(a.x - b.x, a.y - b.y) < a.reach + b.reach + MARGIN_MM
    return flat and a.z <= b.z + b.body.top_mm and b.z <= a.z + a.body.top_mm


def _reach(part: Part) -> float:
    if isinstance(part, TurnedPart):
        return math.hypot(part.x_mm, part.y_mm) + max(r for _, r in part.profile_mm)
    return _foot_reach(part.outline)


def _foot_reach(outline: Outline) -> float:
    reach = 0.0
    for member in outline:
        if isinstance(member, Disc):
            reach = max(reach, math.hypot(member.x_mm, member.y_mm) + member.r_mm)
        else:
            reach = max(reach, max(math.hypot(*corner) for corner in member.corners_mm) + member.round_mm)
    return reach


def _skin(thing: Thing, rng: random.Random, count: int) -> Iterator[tuple[float, float, float]]:
    """Points on the sides of all parts: at breaks of a profile, where a rim is widest, and anywhere between."""
    parts = thing.body.parts
    cos, sin = math.cos(math.radians(thing.turn_deg)), math.sin(math.radians(thing.turn_deg))
    for k in range(count):
        part = parts[k % len(parts)]
        if isinstance(part, TurnedPart):
            heights = [z for z, _ in part.profile_mm]
            z = rng.choice(heights) if rng.random() < 0.5 else rng.uniform(heights[0], heights[-1])
            angle = rng.uniform(0.0, 2 * math.pi)
            r = _radius(part, z)
            x, y = part.x_mm + r * math.cos(angle), part.y_mm + r * math.sin(angle)
        else:
            z = rng.choice([part.from_z_mm, part.to_z_mm, rng.uniform(part.from_z_mm, part.to_z_mm)])
            x, y = _on_edge(rng.choice(part.outline), rng)
        yield thing.x + cos * x - sin * y, thing.y + sin * x + cos * y, thing.z + z


def _radius(part: TurnedPart, z: float) -> float:
    """Greatest radius at a height; a step of the profile counts with both of its ends."""
    rows = part.profile_mm
    found = [r for height, r in rows if height == z]
    for (z0, r0), (z1, r1) in pairwise(rows):
        if z0 < z < z1:
            found.append(r0 + (r1 - r0) * (z - z0) / (z1 - z0))
    return max(found)


def _on_edge(member: Disc | RoundedPolygon, rng: random.Random) -> Point:
    angle = rng.uniform(0.0, 2 * math.pi)
    way = (math.cos(angle), math.sin(angle))
    if isinstance(member, Disc):
        return member.x_mm + member.r_mm * way[0], member.y_mm + member.r_mm * way[1]
    corners = member.corners_mm
    if rng.random() < 0.5:
        x, y = max(corners, key=lambda c: c[0] * way[0] + c[1] * way[1])
        return x + member.round_mm * way[0], y + member.round_mm * way[1]
    k = rng.randrange(len(corners))
    (ax, ay), (bx, by) = corners[k], corners[(k + 1) % len(corners)]
    length, share = math.hypot(bx - ax, by - ay), rng.random()
    nx, ny = (by - ay) / length, (ax - bx) / length
    return ax + share * (bx - ax) + member.round_mm * nx, ay + share * (by - ay) + member.round_mm * ny


def _to_thing(thing: Thing, x: float, y: float, z: float) -> float:
    """Distance in the plane from a point to the section of a body at its height; negative inside, far if none."""
    cos, sin = math.cos(math.radians(thing.turn_deg)), math.sin(math.radians(thing.turn_deg))
    dx, dy, h = x - thing.x, y - thing.y, z - thing.z
    px, py = cos * dx + sin * dy, -sin * dx + cos * dy
    least = math.inf
    for part in thing.body.parts:
        if isinstance(part, TurnedPart):
            if part.profile_mm[0][0] <= h <= part.profile_mm[-1][0]:
                least = min(least, math.hypot(px - part.x_mm, py - part.y_mm) - _radius(part, h))
        elif part.from_z_mm <= h <= part.to_z_mm:
            least = min(least, *(_to_member(member, px, py) for member in part.outline))
    return least


def _to_member(member: Disc | RoundedPolygon, x: float, y: float) -> float:
    if isinstance(member, Disc):
        return math.hypot(x - member.x_mm, y - member.y_mm) - member.r_mm
    corners = member.corners_mm
    away = min(_to_line((x, y), a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True))
    return (-away if len(corners) > 2 and _within(corners, (x, y)) else away) - member.round_mm


def _inside(region: Region, at: Point) -> float:
    """How far inside a region a point lies; negative outside."""
    x, y = at
    if isinstance(region, Disc):
        return region.r_mm - math.hypot(x - region.x_mm, y - region.y_mm)
    if isinstance(region, HalfDisc):
        return _inside_half(region, x - region.x_mm, y - region.y_mm)
    if isinstance(region, Rectangle):
        corners: tuple[Point, ...] = (
            (region.x_mm, region.y_mm),
            (region.x_mm + region.w_mm, region.y_mm),
            (region.x_mm + region.w_mm, region.y_mm + region.d_mm),
            (region.x_mm, region.y_mm + region.d_mm),
        )
    else:
        assert isinstance(region, ConvexPolygon)
        corners = region.corners_mm
    away = min(_to_line(at, a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True))
    return away if _within(corners, at) else -away


def _inside_half(region: HalfDisc, x: float, y: float) -> float:
    r = math.hypot(x, y)
    if y >= 0 and r <= region.r_mm:
        return min(y, region.r_mm - r)
    if y >= 0:
        return region.r_mm - r
    return -math.hypot(max(0.0, abs(x) - region.r_mm), y)


def _within(corners: tuple[Point, ...], at: Point) -> bool:
    ring = np.array([*corners, corners[0]])
    way, to = np.diff(ring, axis=0), np.array(at) - ring[:-1]
    return bool(np.all(way[:, 0] * to[:, 1] - way[:, 1] * to[:, 0] >= 0))


def _to_line(p: Point, a: Point, b: Point) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    share = 0.0 if square == 0 else min(1.0, max(0.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square))
    return math.hypot(a[0] + share * dx - p[0], a[1] + share * dy - p[1])


def _to_box(at: Point, box: tuple[float, float, float, float]) -> float:
    x0, y0, x1, y1 = box
    dx, dy = max(x0 - at[0], 0.0, at[0] - x1), max(y0 - at[1], 0.0, at[1] - y1)
    if dx > 0 or dy > 0:
        return math.hypot(dx, dy)
    return -min(at[0] - x0, x1 - at[0], at[1] - y0, y1 - at[1])


def _in_kiln(x: float, y: float, place: StackPlace) -> Point:
    cos, sin = math.cos(math.radians(place.turn_deg)), math.sin(math.radians(place.turn_deg))
    return place.x_mm + cos * x - sin * y, place.y_mm + sin * x + cos * y


def _on_shelf(x: float, y: float, place: StackPlace) -> Point:
    cos, sin = math.cos(math.radians(place.turn_deg)), math.sin(math.radians(place.turn_deg))
    dx, dy = x - place.x_mm, y - place.y_mm
    return cos * dx + sin * dy, -sin * dx + cos * dy
