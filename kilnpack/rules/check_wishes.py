"""Say which preferences a load misses: F11, C9, W11, W12, W14, Z3, Z6, Z7.

F8 (a post shared by two shelves) asks for nothing here: in this model every shelf stands on posts of its own.
"""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING

import shapely
from shapely import LineString

from kilnpack.model.furniture import Stilt
from kilnpack.model.kilns import WallKind
from kilnpack.model.pieces import Stage
from kilnpack.rules.check_solids import radius_mm
from kilnpack.shapes.bodies import support
from kilnpack.shapes.outlines import region_polygon

if TYPE_CHECKING:
    from kilnpack.rules.check_notes import Notes
    from kilnpack.rules.check_scene import Level, Placed, Scene

HOT_THINGS = ("element", "burner", "flame trench")


def check_wishes(scene: Scene, notes: Notes) -> None:
    """Write a remark for every preference that is missed."""
    if not any(level.bodies for level in scene.levels):
        return
    _furniture(scene, notes)
    if scene.kiln.wall is WallKind.GAS:
        _flame(scene, notes)
    _large_flat(scene, notes)
    _turns(scene, notes)
    _settings(scene, notes)
    _matching(scene, notes)
    _even_mass(scene, notes)


def ware_kg(level: Level) -> float:
    """Return the ware on a tier, kg."""
    return sum(body.solid.body.ware_kg for body in level.bodies)


def _furniture(scene: Scene, notes: Notes) -> None:
    """F11: kilograms of furniture a piece, where it outweighs the ware."""
    posts = sum(post.mass_kg * len(level.shelf.posts_mm) for level in scene.levels for post in level.posts)
    shelves = sum(level.shelf.mass_kg for level in scene.levels)
    under = sum(body.solid.body.support_kg for level in scene.levels for body in level.bodies)
    ware, furniture = sum(ware_kg(level) for level in scene.levels), posts + shelves + under
    if furniture > ware:
        each = furniture / max(1, sum(body.solid.body.pieces for level in scene.levels for body in level.bodies))
        notes.remark("F11", f"{furniture:.0f} kg of furniture for {ware:.0f} kg of ware, {each:.2f} kg a piece")


def _flame(scene: Scene, notes: Notes) -> None:
    """C9: enough of every horizontal section of a gas kiln stays open for the flame."""
    least, area = scene.works.settings.flame_open_share, scene.chamber.area
    heights = {level.tier.base_mm + level.shelf.thickness_mm / 2 for level in scene.levels}
    heights |= {level.floor_mm + body.solid.body.top_mm / 2 for level in scene.levels for body in level.bodies[:1]}
    shares = {z: 1.0 - sum(_section_mm2(level, z) for level in scene.levels) / area for z in heights}
    z, share = min(shares.items(), key=lambda row: (row[1], row[0]))
    if share < least:
        notes.remark("C9", f"{share:.0%} of the section open at {z:.0f} mm, {least:.0%} wanted for the flame")


def _section_mm2(level: Level, z_mm: float) -> float:
    """Return what a tier covers at a height: its shelf, or the sections of its ware (overlaps counted twice)."""
    if level.tier.base_mm <= z_mm <= level.floor_mm:
        return float(level.shelf_outline.area)
    z, covered = z_mm - level.floor_mm, 0.0
    for body in level.bodies if z > 0 else ():
        for core, profile in zip(body.solid.cores, body.solid.profiles, strict=True):
            r = radius_mm(profile, z)
            covered += core.area + r * core.length + math.pi * r * r if profile[0][0] <= z <= profile[-1][0] else 0.0
    return covered


def _large_flat(scene: Scene, notes: Notes) -> None:
    """W11: large flatware not on the bottom tier; on pins in decoration."""
    settings, shapes = scene.works.settings, {shape.code: shape for shape in scene.works.shapes}
    low = large = 0
    for level in scene.levels:
        for body in level.bodies:
            wide = 2 * body.solid.rim_reach_mm if shapes[body.solid.form.shape].flatware else 0.0
            low += wide > settings.large_flat_mm and level.tier.number == 1
            form = body.solid.form
            pins = form.support is not None and isinstance(support(scene.works, form.support), Stilt)
            large += scene.programme.stage is Stage.DECORATION and wide > settings.pin_flat_mm and not pins
    if low:
        notes.remark("W11", f"{low} of flatware over {settings.large_flat_mm:g} mm on the bottom tier")
    if large:
        notes.remark("W11", f"{large} of flatware over {settings.pin_flat_mm:g} mm without pins")


def _turns(scene: Scene, notes: Notes) -> None:
    """W12: turns in steps, handles and spouts away from element and flame."""
    step = scene.works.settings.turn_step_deg
    odd = hot = 0
    for level in scene.levels:
        for body in level.bodies:
            if len(body.solid.cores) > 1 and step > 0:
                turn = body.standing.turn_deg % step
                odd += min(turn, step - turn) > 0.01
            hot += _faces_heat(scene, level, body)
    if odd:
        notes.remark("W12", f"{odd} bodies turned off the steps of {step:g} degrees")
    if hot:
        notes.remark("W12", f"{hot} handles point at an element or flame close by")


def _faces_heat(scene: Scene, level: Level, body: Placed) -> bool:
    """Whether a handle, carried on by the clearance to the wall, meets something hot at its height."""
    shape = scene.works.shape(body.solid.form.shape)
    if shape.handle_deg is None:
        return False
    x, y = level.point_of(body)
    way = math.radians(shape.handle_deg + body.standing.turn_deg + level.place.turn_deg)
    far = body.solid.rim_reach_mm + scene.works.settings.ware_wall_electric_mm
    ray = LineString([(x, y), (x + far * math.cos(way), y + far * math.sin(way))])
    low, high = level.floor_mm, level.floor_mm + body.solid.body.top_mm
    return any(
        keep.what in HOT_THINGS
        and keep.from_z_mm < high
        and keep.to_z_mm > low
        and shapely.intersects(ray, region_polygon(keep.outline))
        for keep in scene.kiln.keep_outs
    )


def _settings(scene: Scene, notes: Notes) -> None:
    """W14: few different settings, and ware of one form in few of them."""
    most, each = scene.works.settings.settings_most, scene.works.settings.settings_per_ware_most
    used: dict[str, set[str]] = defaultdict(set)
    for level in scene.levels:
        for body in level.bodies:
            used[body.solid.form.code].add(level.tier.setting)
    different = len(set().union(*used.values()))
    if different > most:
        notes.remark("W14", f"{different} different settings, at most {most} wanted")
    for form, settings in used.items():
        if len(settings) > each:
            notes.remark("W14", f"{form} in {len(settings)} different settings, at most {each} wanted")


def _matching(scene: Scene, notes: Notes) -> None:
    """Z3: pieces of a matching set of one order line lie within so many kelvin of each other."""
    heats: dict[str, list[float]] = defaultdict(list)
    within: dict[str, float] = {}
    for level in scene.levels:
        for body in level.bodies:
            x, y = level.point_of(body)
            low, high = scene.offsets_k([(x, y, level.floor_mm)])
            for one in body.fillings:
                if one.product.matching_k is not None and one.lot.order_line:
                    heats[one.lot.order_line].append((low + high) / 2)
                    known = within.get(one.lot.order_line, math.inf)
                    within[one.lot.order_line] = min(known, one.product.matching_k)
    for line, found in heats.items():
        spread = max(found) - min(found)
        if spread > within[line] + 1e-6:
            notes.remark("Z3", f"pieces of line {line} stand {spread:.0f} K apart, within {within[line]:g} K wanted")


def _even_mass(scene: Scene, notes: Notes) -> None:
    """Z6: mass even over tiers and sides, and low; Z7: enough ware in the kiln."""
    settings = scene.works.settings
    tiers = [(level, ware_kg(level) + level.shelf.mass_kg) for level in scene.levels]
    masses = [mass for _, mass in tiers]
    if max(masses) > settings.tier_mass_ratio * min(masses):
        ratio = max(masses) / min(masses)
        notes.remark("Z6", f"heaviest tier {ratio:.1f} times the lightest, at most {settings.tier_mass_ratio:g} wanted")
    _sides(scene, notes)
    height = sum(level.floor_mm * mass for level, mass in tiers) / sum(masses)
    if height > scene.kiln.usable_height_mm / 2:
        notes.remark("Z6", f"centre of mass at {height:.0f} mm, above the middle of the kiln")
    ware = sum(ware_kg(level) for level in scene.levels)
    if ware < scene.kiln.least_ware_kg:
        notes.remark("Z7", f"{ware:.1f} kg of ware, at least {scene.kiln.least_ware_kg:g} kg wanted: add fillers")


def _sides(scene: Scene, notes: Notes) -> None:
    middle = scene.chamber.centroid.x
    left = right = 0.0
    for level in scene.levels:
        for body in level.bodies:
            x, _ = level.point_of(body)
            left += body.solid.body.mass_kg * (x < middle)
            right += body.solid.body.mass_kg * (x >= middle)
    most = scene.works.settings.side_mass_ratio
    if max(left, right) > most * min(left, right):
        notes.remark("Z6", f"{left:.0f} kg of ware left and {right:.0f} kg right, at most {most:g} times wanted")
