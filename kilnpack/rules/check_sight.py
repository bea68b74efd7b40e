"""Check the witness cones: C7, packs booked before the ware and a clear sight on each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from kilnpack.model.pieces import Stage
from kilnpack.rules.check_solids import between_mm
from kilnpack.rules.check_stacks import HEIGHT_MM, NEAR_MM
from kilnpack.shapes.outlines import point_in_kiln

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.kilns import Peephole
    from kilnpack.model.loads import ConePack
    from kilnpack.rules.check_notes import Notes
    from kilnpack.rules.check_scene import Level, Placed, Scene

ASIDE_MM = 5.0
"""A pack stands this near the axis of its peephole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """What a peephole books: the pack's footprint, the corridor to it, and the heights of both."""

    hole: Peephole
    pack: BaseGeometry
    corridor: BaseGeometry
    low_mm: float
    high_mm: float
    at_mm: tuple[float, float]


def sight(scene: Scene, hole: Peephole) -> Sight:
    """Return what a peephole books, in the kiln frame."""
    settings = scene.works.settings
    turn = math.radians(hole.direction_deg)
    along, across = np.array([math.cos(turn), math.sin(turn)]), np.array([-math.sin(turn), math.cos(turn)])
    start = np.array([hole.x_mm, hole.y_mm])
    near, far = hole.pack_away_mm - settings.cone_depth_mm / 2, hole.pack_away_mm + settings.cone_depth_mm / 2
    side = across * settings.cone_width_mm / 2

    def stretch(a: float, b: float) -> BaseGeometry:
        ends = (start + a * along, start + b * along)
        return Polygon([ends[0] - side, ends[1] - side, ends[1] + side, ends[0] + side])

    x, y = start + hole.pack_away_mm * along
    half = settings.cone_height_mm / 2
    return Sight(
        hole=hole,
        pack=stretch(near, far),
        corridor=stretch(0.0, far),
        low_mm=hole.z_mm - half,
        high_mm=hole.z_mm + half,
        at_mm=(float(x), float(y)),
    )


def check_sight(scene: Scene, notes: Notes) -> None:
    """Check the packs of a load against the peepholes of its kiln, then the sight on every pack."""
    packs: dict[str, ConePack] = {}
    holes = {hole.code: hole for hole in scene.kiln.peepholes}
    for pack in scene.load.cone_packs:
        if pack.peephole not in holes or not holes[pack.peephole].has_pack or pack.peephole in packs:
            notes.fault("C7", f"peephole {pack.peephole}", "a cone pack", "one pack for each peephole that wants one")
        packs[pack.peephole] = pack
    least = scene.works.settings.glost_packs_least
    standing = sum(code in holes for code in packs)
    if scene.programme.stage is Stage.GLOST and standing < least:
        notes.fault("C7", "", f"{standing} cone packs", f"at least {least} in glost")
    for hole in scene.kiln.peepholes:
        if hole.has_pack:
            seen = sight(scene, hole)
            pack_of = packs.get(hole.code)
            if pack_of is None:
                notes.fault("C7", f"peephole {hole.code}", "no cone pack", "a pack on its axis")
            else:
                _pack(scene, seen, pack_of, notes)
            for level in scene.levels:
                _clear(level, seen, pack_of, notes)


def _pack(scene: Scene, seen: Sight, pack: ConePack, notes: Notes) -> None:
    """The pack stands on a shelf, its middle on the axis of the hole."""
    where = f"peephole {seen.hole.code}"
    level = next((row for row in scene.levels if row.place.code == pack.place and row.tier.number == pack.tier), None)
    if level is None:
        notes.fault("C7", where, f"a pack on stack {pack.place} tier {pack.tier}", "a tier of the load")
        return
    x, y = point_in_kiln(pack.x_mm, pack.y_mm, level.place)
    aside = math.dist((x, y), seen.at_mm)
    _away(scene, seen, (x, y), notes)
    turned = (pack.turn_deg + level.place.turn_deg - seen.hole.direction_deg) % 180.0
    if not aside <= ASIDE_MM or not min(turned, 180.0 - turned) <= ASIDE_MM:
        notes.fault("C7", where, f"a pack {aside:.4g} mm off, turned {turned:.4g} deg", "a pack square on the axis")
    lift = seen.low_mm - level.floor_mm
    if pack.lift_mm < -NEAR_MM or not abs(pack.lift_mm - lift) <= HEIGHT_MM:
        notes.fault("C7", where, f"a pack lifted {pack.lift_mm:g} mm", f"{lift:.1f} mm, its middle on the axis")
    if not level.outline.buffer(NEAR_MM).covers(seen.pack):
        notes.fault("C7", where, "a pack over the edge", f"a pack wholly on the shelf of stack {pack.place}")


def _away(scene: Scene, seen: Sight, at_mm: tuple[float, float], notes: Notes) -> None:
    """The pack stands neither too near its hole nor too far, where the cones can be told apart."""
    least, most = scene.works.settings.pack_away_least_mm, scene.works.settings.pack_away_most_mm
    along = math.dist(at_mm, (seen.hole.x_mm, seen.hole.y_mm))
    if not least - NEAR_MM <= along <= most + NEAR_MM:
        found = f"a pack {along:.4g} mm from its hole"
        notes.fault("C7", f"peephole {seen.hole.code}", found, f"{least:g} to {most:g} mm")


def _clear(level: Level, seen: Sight, pack: ConePack | None, notes: Notes) -> None:
    """No shelf cuts the box of a pack or the corridor to it; nothing stands in either."""
    where, hole = level.where, seen.hole.code
    low, high = seen.low_mm, seen.high_mm
    if (
        level.outline.intersects(seen.corridor)
        and level.tier.base_mm < high - NEAR_MM
        and level.floor_mm > low + NEAR_MM
    ):
        notes.fault("C7", where, f"its shelf in the sight of peephole {hole}", f"none from {low:g} to {high:g} mm")
    top = level.floor_mm + level.room_mm
    if any(post.intersects(seen.corridor) for post in level.post_squares()) and level.floor_mm < high and top > low:
        notes.fault("C7", where, f"a post in the sight of peephole {hole}", "a clear sight on the cones")
    stands_here = pack is not None and (pack.place, pack.tier) == (level.place.code, level.tier.number)
    for body in level.bodies:
        in_way = _inside(level, body, seen.corridor, low, high)
        if in_way or (stands_here and _inside(level, body, seen.pack, level.floor_mm, high)):
            notes.fault(
                "C7", body.where, f"{body.solid.form.code} before the cones of {hole}", "the pack and its sight clear"
            )


def _inside(level: Level, body: Placed, region: BaseGeometry, low_mm: float, high_mm: float) -> bool:
    low, high = low_mm - level.floor_mm + NEAR_MM, high_mm - level.floor_mm - NEAR_MM
    radii = np.array([between_mm(profile, low, high) for profile in body.solid.profiles])
    return bool(np.any(shapely.distance(level.cores_of(body), region) < radii - NEAR_MM))
