"""Whole-load instances of the benchmark: read, turned into a load problem, and layouts written."""

from __future__ import annotations

import json
from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import TYPE_CHECKING, Any

from kilnpack.model.geometry import ExtrudedPart, Part, RoundedPolygon, TurnedPart
from kilnpack.packing.covers import cover_of
from kilnpack.packing.improve import tiers_of
from kilnpack.packing.problem import Bottom, Column, LoadProblem, Shelf, StackSite, Ware
from kilnpack.shapes.primitives import ShelfBody
from kilnpack.shapes.room import HalfDiscOutline, PostSquare, RectOutline, Room

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.packing.state import LoadState

SLICE_TOP_MM = 1e-5
"""Taken off the top of a slice, which ends below its upper height."""

Instance = dict[str, Any]


def read_instance(path: Path) -> Instance:
    """Return the instance of a file as it stands."""
    found: Instance = json.loads(path.read_text(encoding="utf-8"))
    return found


@dataclass(frozen=True)
class BenchSite:
    """Rooms and zones of an instance; every tier of one height has the same room."""

    instance: Instance
    zone_masks: tuple[int, ...]
    plain: Room

    def room(self, stack: int, base_mm: float, posts_mm: float | None) -> Room:
        """Return the room of a tier with posts of that height."""
        del stack, base_mm
        plain = self.plain
        return Room(
            outline=plain.outline,
            posts=plain.posts,
            gap_mm=plain.gap_mm,
            post_gap_mm=plain.post_gap_mm,
            clear_height_mm=(posts_mm or 0.0) - self.instance["headroom"],
            load_limit_kg=plain.load_limit_kg,
        )

    def allowed(self, stack: int, base_mm: float, posts_mm: float | None) -> int:
        """Return the kinds allowed in the zone of that height."""
        del stack, posts_mm
        return int(self.zone_masks[sum(base_mm >= limit for limit in self.instance["zone_limits"])])


def outline_of(shelf: Instance) -> RectOutline | HalfDiscOutline:
    """Return the outline of the instance's shelf."""
    if shelf["kind"] == "rect":
        return RectOutline(width_mm=shelf["w"], depth_mm=shelf["h"])
    return HalfDiscOutline(radius_mm=shelf["R"], x_mm=shelf["w"] / 2)


def problem_of(instance: Instance, *, settings_most: int | None = None) -> LoadProblem:
    """Return the load problem of an instance.

    Every load has stacks and stock of its own; a type is a group, with one ware for every height of its nest.
    """
    wares = tuple(ware for k, kind in enumerate(instance["types"]) for ware in _wares(instance, k, kind))
    half = instance["post_side"] / 2
    plain = Room(
        outline=outline_of(instance["shelf"]),
        posts=tuple(
            PostSquare(x0_mm=x - half, y0_mm=y - half, x1_mm=x + half, y1_mm=y + half) for x, y in instance["posts"]
        ),
        gap_mm=instance["gap"],
        post_gap_mm=instance["gap"],
        load_limit_kg=instance["shelf_load_kg"],
    )
    masks = tuple(
        sum(1 << k for k, ware in enumerate(wares) if zone in instance["types"][ware.group]["zones"])
        for zone in range(len(instance["zone_limits"]) + 1)
    )
    loads = range(instance["loads"])
    columns, kinds = _columns(instance), len(instance["post_stock"])
    stacks = tuple(
        StackSite(
            code="",
            shelf=load,
            top_mm=instance["usable_height"],
            open_top=False,
            bottoms=(Bottom(stub=None, base_mm=0.0),),
            columns=tuple(range(load * len(columns), (load + 1) * len(columns))),
        )
        for load in loads
        for _ in range(instance["columns"])
    )
    shelf = Shelf(
        code="shelf",
        thickness_mm=instance["shelf_thickness"],
        points=len(instance["posts"]),
        stock_pieces=instance["shelves_per_load"],
    )
    return LoadProblem(
        wares=wares,
        counts=tuple(kind["demand"] for kind in instance["types"]),
        supports=(),
        columns=tuple(
            Column(parts=tuple(part + load * kinds for part in column.parts), height_mm=column.height_mm)
            for load in loads
            for column in columns
        ),
        posts=tuple(count for _, count in instance["post_stock"]) * len(loads),
        stubs=(),
        shelves=(shelf,) * len(loads),
        stacks=stacks,
        site=BenchSite(instance, masks, plain),
        headroom_mm=instance["headroom"],
        allowance_mm=0.0,
        settings_most=settings_most,
    )


def _columns(instance: Instance) -> tuple[Column, ...]:
    heights = [height for height, _ in instance["post_stock"]]
    rows = []
    for most in range(1, instance["posts_end_to_end"] + 1):
        for parts in combinations_with_replacement(range(len(heights)), most):
            tall = tuple(sorted(parts, key=lambda k: -heights[k]))
            rows.append(Column(parts=tall, height_mm=sum(heights[k] for k in parts)))
    return tuple(sorted(rows, key=lambda column: (column.height_mm, len(column.parts))))


def parts_of(kind: Instance, pieces: int) -> tuple[Part, ...]:
    """Return the parts of so many nested pieces of a type."""
    step = (kind.get("stack") or {"step": 0.0})["step"]
    lifts = [k * step for k in range(pieces)]
    if "profile_zr" in kind:
        return tuple(TurnedPart(profile_mm=tuple((z + lift, r) for z, r in kind["profile_zr"])) for lift in lifts)
    return tuple(
        ExtrudedPart(
            from_z_mm=part["from_z"] + lift,
            to_z_mm=part["to_z"] + lift - SLICE_TOP_MM,
            outline=(RoundedPolygon(corners_mm=tuple((x, y) for x, y in part["outline"])),),
        )
        for lift in lifts
        for part in kind["slices"]
    )


def _turns(kind: Instance) -> tuple[float, ...]:
    """Return the turns worth trying: quarter turns, halved for what looks the same upside down."""
    if "profile_zr" in kind:
        return (0.0,)
    if kind["id"].startswith("square"):
        return (0.0,)
    return (0.0, 90.0) if kind["id"].startswith("oval") else (0.0, 90.0, 180.0, 270.0)


def _wares(instance: Instance, number: int, kind: Instance) -> list[Ware]:
    stack = kind.get("stack") or {"step": 0.0, "most": 1}
    wares = []
    for pieces in range(1, stack["most"] + 1):
        body = ShelfBody(
            code=f"{kind['id']}x{pieces}",
            primitives=cover_of(parts_of(kind, pieces)),
            height_mm=kind["height"] + (pieces - 1) * stack["step"],
            mass_kg=kind["mass_kg"] * pieces,
            value=kind["value"] * pieces,
            count=kind["demand"] // pieces,
            overhang_mm=instance["overhang"],
        )
        wares.append(Ware(code=body.code, body=body, group=number, pieces=pieces, turns_deg=_turns(kind)))
    return wares


def layout_of(instance: Instance, problem: LoadProblem, state: LoadState) -> Instance:
    """Return the layout of a load as the checker of the benchmark reads it."""
    heights = [height for height, _ in instance["post_stock"]]
    tiers = []
    for stack, base_mm, tier in tiers_of(state):
        pieces = [
            {
                "type": problem.wares[spot.ware].group,
                "count": problem.wares[spot.ware].pieces,
                "angle": spot.turn_deg,
                "x": spot.x_mm,
                "y": spot.y_mm,
            }
            for spot in tier.filled.spots
        ]
        parts = [heights[part % len(heights)] for part in problem.columns[tier.column].parts]
        columns = instance["columns"]
        tiers.append(
            {
                "load": stack // columns,
                "column": stack % columns,
                "base": base_mm,
                "post_parts": parts,
                "pieces": pieces,
            }
        )
    return {"instance": instance["name"], "tiers": tiers}
