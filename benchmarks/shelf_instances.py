"""One-shelf instances: read them, pack them, and measure layouts once more from their outlines."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from shapely import affinity, union_all
from shapely.geometry import Point, Polygon, box

from kilnpack.model.geometry import Disc, RoundedPolygon
from kilnpack.packing.shelf.fill import fill_shelf
from kilnpack.packing.shelf.shelves import pack_shelves
from kilnpack.search.budget import Budget
from kilnpack.shapes.decompose import decompose
from kilnpack.shapes.primitives import ShelfBody
from kilnpack.shapes.room import HalfDiscOutline, PostSquare, RectOutline, Room

if TYPE_CHECKING:
    from pathlib import Path

    from shapely.geometry.base import BaseGeometry

    from kilnpack.packing.shelf.setting import ShelfSetting

HEIGHT_MM = 50.0
"""The instances are flat; any height does."""

CHECKED_MM = 0.05

Places = list[list[list[float]]]


@dataclass(frozen=True, kw_only=True)
class Instance:
    """An instance as read, with its room and its bodies."""

    data: dict[str, Any]
    room: Room
    bodies: tuple[ShelfBody, ...]

    @property
    def name(self) -> str:
        """Name the layout has to carry."""
        return str(self.data["name"])


def read(path: Path) -> Instance:
    """Read an instance file."""
    data = json.loads(path.read_text(encoding="utf-8"))
    shelf = data["shelf"]
    is_rect = shelf["kind"] == "rect"
    room = Room(
        outline=RectOutline(width_mm=shelf["w"], depth_mm=shelf["h"])
        if is_rect
        else HalfDiscOutline(radius_mm=shelf["R"]),
        posts=tuple(PostSquare(x0_mm=a, y0_mm=b, x1_mm=c, y1_mm=d) for a, b, c, d in data["posts"]),
        gap_mm=data["spacing"]["piece_piece"],
        post_gap_mm=data["spacing"]["piece_post"],
    )
    bodies = tuple(
        ShelfBody(
            code=kind["id"],
            primitives=decompose(_outline(kind["parts"]), from_z_mm=0.0, to_z_mm=HEIGHT_MM),
            height_mm=HEIGHT_MM,
            value=kind["area"] / data["free_area"],
            count=kind["count"],
        )
        for kind in data["types"]
    )
    return Instance(data=data, room=room, bodies=bodies)


def _outline(parts: list[dict[str, Any]]) -> tuple[Disc | RoundedPolygon, ...]:
    return tuple(
        Disc(x_mm=part["disc"][0], y_mm=part["disc"][1], r_mm=part["disc"][2])
        if "disc" in part
        else RoundedPolygon(corners_mm=tuple((x, y) for x, y in part["poly"]), round_mm=part.get("round", 0.0))
        for part in parts
    )


def solve(instance: Instance, seconds: float, *, workers: int, seed: int) -> Places:
    """Return the layout: for each shelf the rows [kind, angle in degrees, x, y]."""
    budget = Budget(seconds=max(0.05, seconds))
    if instance.data["family"] == "B":
        settings = pack_shelves(instance.room, instance.bodies, budget=budget, seed=seed, workers=workers)
        return [rows(setting) for setting in settings]
    return [rows(fill_shelf(instance.room, instance.bodies, budget=budget, seed=seed, workers=workers))]


def rows(setting: ShelfSetting) -> list[list[float]]:
    """Return the placements of one shelf as a layout file has them."""
    return [[p.body, p.turn_deg, p.x_mm, p.y_mm] for p in setting.placements]


def value_of(instance: Instance, layout: Places) -> float:
    """Return the covered share of the free area, or the number of shelves."""
    if instance.data["family"] == "B":
        return float(len(layout))
    return float(sum(instance.bodies[int(row[0])].value for row in layout[0]))


def faults(instance: Instance, layout: Places) -> list[str]:
    """Measure a layout from the outlines alone."""
    found = _count_faults(instance, layout)
    shapes = [outline_of(kind["parts"]) for kind in instance.data["types"]]
    posts = union_all([box(*post) for post in instance.data["posts"]])
    for number, shelf in enumerate(layout):
        placed: list[BaseGeometry] = []
        for kind, angle, x, y in shelf:
            solid = affinity.translate(affinity.rotate(shapes[int(kind)], angle, origin=(0, 0)), x, y)
            if _outside_mm(solid, instance.data["shelf"]) > CHECKED_MM:
                found.append(f"shelf {number}: {instance.bodies[int(kind)].code} leaves the shelf")
            if solid.distance(posts) < instance.room.post_gap_mm - CHECKED_MM:
                found.append(f"shelf {number}: {instance.bodies[int(kind)].code} too near a post")
            if any(solid.distance(other) < instance.room.gap_mm - CHECKED_MM for other in placed):
                found.append(f"shelf {number}: {instance.bodies[int(kind)].code} too near another body")
            placed.append(solid)
    return found


def _count_faults(instance: Instance, layout: Places) -> list[str]:
    used = [0] * len(instance.bodies)
    for shelf in layout:
        for row in shelf:
            used[int(row[0])] += 1
    found = [
        f"{b.code}: {n} placed, {b.count} exist" for b, n in zip(instance.bodies, used, strict=True) if n > b.count
    ]
    if instance.data["family"] == "B" and sum(used) != sum(body.count for body in instance.bodies):
        found.append("not every body is placed")
    return found


def outline_of(parts: list[dict[str, Any]]) -> BaseGeometry:
    """Return the outline of a type of piece."""
    return union_all(
        [
            Point(part["disc"][:2]).buffer(part["disc"][2], quad_segs=64)
            if "disc" in part
            else Polygon(part["poly"]).buffer(part.get("round", 0.0), quad_segs=32)
            for part in parts
        ]
    )


def _outside_mm(solid: BaseGeometry, shelf: dict[str, Any]) -> float:
    left, low, right, high = solid.bounds
    if shelf["kind"] == "rect":
        return float(max(-left, -low, right - shelf["w"], high - shelf["h"]))
    corners = solid.convex_hull.boundary.coords
    return float(max(-low, max(math.hypot(x, y) for x, y in corners) - shelf["R"]))
