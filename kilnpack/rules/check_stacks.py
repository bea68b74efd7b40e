"""Check shelves, posts and heights: F1-F7, F9, F10, F12, F14-F17, C6, C8."""

from __future__ import annotations

import math
from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING

import shapely

from kilnpack.model.kilns import WallKind
from kilnpack.model.pieces import Stage
from kilnpack.rules.check_scene import shelf_points
from kilnpack.shapes.outlines import in_kiln, region_polygon, square

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.furniture import ShelfType
    from kilnpack.rules.check_notes import Notes
    from kilnpack.rules.check_scene import Level, Scene, Stack

NEAR_MM = 0.05
"""Lengths this close count as equal: arcs are polygons and places are rounded."""
HEIGHT_MM = 0.5
"""Heights that a person writes down may be rounded by so much."""
G_N_PER_KG = 9.80665
CORNER_FACTOR = 1.25


def check_stacks(scene: Scene, notes: Notes) -> None:
    """Check every stack by itself, then the stock and the places of the shelves."""
    for stack in scene.stacks:
        _heights(scene, stack, notes)
        _pattern(scene, stack, notes)
        for level in stack.levels:
            _column(scene, level, notes)
            _posts_on_shelf(scene, level, notes)
            _heat(scene, level, notes)
            _bending(scene, level, notes)
            _flat(scene, level, notes)
    _stock(scene, notes)
    _shelf_places(scene, notes)


def _heights(scene: Scene, stack: Stack, notes: Notes) -> None:
    """F14, C6: the bottom shelf on its stubs; F15: heights add up; F17: an open top and nothing above it."""
    settings, where = scene.works.settings, f"stack {stack.place.code}"
    wanted = stack.stub.height_mm if stack.stub else 0.0
    for k, level in enumerate(stack.levels):
        base = level.tier.base_mm
        if k == 0:
            _bottom(scene, level, notes)
        if abs(base - wanted) > HEIGHT_MM:
            rule = "F14" if k == 0 else "F15"
            notes.fault(rule, level.where, f"underside at {base:g} mm", f"{wanted:g} mm by what stands under it")
            wanted = base
        if abs(level.tier.room_mm - level.room_mm) > HEIGHT_MM:
            notes.fault("F15", level.where, f"room of {level.tier.room_mm:g} mm", f"{level.room_mm:g} mm")
        if level.is_top == bool(level.tier.posts):
            found = "posts" if level.is_top else "no posts"
            notes.fault("F17", level.where, found, "posts under every shelf and none on the top tier")
        # From the floor up by the furniture alone: what one tier is rounded by must not add up over the tiers.
        wanted += level.shelf.thickness_mm + level.room_mm + settings.tier_allowance_mm
    if stack.levels and stack.levels[-1].floor_mm > scene.kiln.usable_height_mm - settings.top_clear_mm + NEAR_MM:
        notes.fault("C6", where, f"top shelf at {stack.levels[-1].floor_mm:g} mm", "room under the roof")


def _bottom(scene: Scene, level: Level, notes: Notes) -> None:
    """C6: the bottom shelf off the floor, and farther off an element, burner or vent that it lies over."""
    settings, base = scene.works.settings, level.tier.base_mm
    if base < settings.bottom_clear_mm - NEAR_MM:
        notes.fault("C6", level.where, f"{base:g} mm off the floor", f"at least {settings.bottom_clear_mm:g} mm")
    for keep in scene.kiln.keep_outs:
        least = keep.to_z_mm + settings.bottom_clear_hot_mm
        over = keep.what in {"element", "burner", "vent"} and keep.from_z_mm < base < least - NEAR_MM
        if over and shapely.intersects(level.outline, region_polygon(keep.outline)):
            notes.fault("C6", level.where, f"{base:g} mm over {keep.what} {keep.code}", f"at least {least:g} mm")


def _pattern(scene: Scene, stack: Stack, notes: Notes) -> None:
    """F6: every post over the post below, the pattern the same all the way up."""
    most = scene.works.settings.post_offset_mm
    for below, level in pairwise(stack.levels):
        here, under = level.shelf.posts_mm, below.shelf.posts_mm
        apart = [min((math.dist(point, other) for other in under), default=math.inf) for point in here]
        if len(here) != len(under) or max(apart, default=0.0) > most + NEAR_MM:
            notes.fault(
                "F6", level.where, f"posts of {level.shelf.code} not over the posts below", f"within {most:g} mm"
            )


def _column(scene: Scene, level: Level, notes: Notes) -> None:
    """F3, F4: how posts stand end to end."""
    settings, posts = scene.works.settings, level.posts
    if not posts:
        return
    if len(posts) > settings.posts_end_to_end_most:
        notes.fault("F3", level.where, f"{len(posts)} posts end to end", f"at most {settings.posts_end_to_end_most}")
    heights = [post.height_mm for post in posts]
    if heights != sorted(heights, reverse=True):
        notes.fault("F3", level.where, " + ".join(f"{h:g}" for h in heights), "the tallest post lowest")
    ratio = sum(heights) / min(post.side_mm for post in posts)
    most = settings.single_post_slender_ratio if len(posts) == 1 else settings.joined_post_slender_ratio
    if ratio > most + 1e-9:
        notes.fault("F3", level.where, f"height {ratio:.1f} times the width", f"at most {most:g} times")
    spread = sum(post.spread_mm for post in posts)
    if spread > settings.post_spread_mm + 1e-9:
        notes.fault("F4", level.where, f"posts {spread:g} mm uneven", f"at most {settings.post_spread_mm:g} mm")


def _posts_on_shelf(scene: Scene, level: Level, notes: Notes) -> None:
    """F5, F7: three posts or more, each wholly on the shelf and well inside its edge."""
    if len(level.shelf.posts_mm) < 3:
        notes.fault("F5", level.where, f"{len(level.shelf.posts_mm)} posts", "at least three")
    side, inset = level.post_side_mm, scene.works.settings.post_inset_mm
    inner = level.shelf_outline.buffer(NEAR_MM - inset, join_style="mitre")
    off = [point for point in level.shelf.posts_mm if side and not inner.covers(square(*point, side))]
    if off:
        points = ", ".join(f"{x:g}/{y:g}" for x, y in off)
        notes.fault("F7", level.where, f"posts at {points}", f"wholly on the shelf, {inset:g} mm inside its edge")


def _heat(scene: Scene, level: Level, notes: Notes) -> None:
    """F1: shelf, posts and the stubs under it stand the heat of their place with the overshoot."""
    _, hot_k = scene.offsets_k(shelf_points(level))
    hottest = scene.peak_degc + hot_k + scene.works.settings.overshoot_k
    things = [(level.shelf.code, level.shelf.top_degc), *((post.code, post.top_degc) for post in level.posts)]
    stub = next(stack.stub for stack in scene.stacks if stack.place is level.place)
    if stub and level.tier.number == 1:
        things.append((stub.code, stub.top_degc))
    for code, top in things:
        if top < hottest:
            notes.fault("F1", level.where, f"{code} for {top:g} degC", f"furniture for {hottest:.0f} degC")


def bending_mpa(shelf: ShelfType, ware_kg: float) -> float:
    """Return the bending stress of a shelf under its own and the ware's weight spread evenly, MPa.

    F9: between its posts it is a beam on two supports, 0.75 q L^2 / t^2, and 1.25 times that on four posts or more.
    F16: what reaches beyond the posts is a cantilever, 3 q c^2 / t^2. The greater of the two.

    References
    ----------
    `roark`: moments q L^2 / 8 and q c^2 / 2, section modulus t^2 / 6, each for a strip of unit width.
    """
    outline = region_polygon(shelf.outline)
    q_mpa = (shelf.mass_kg + ware_kg) * G_N_PER_KG / outline.area
    hull = shelf_hull(shelf)
    ring = shapely.get_coordinates(hull)
    span = max((math.dist(a, b) for a, b in pairwise(ring)), default=0.0)
    free = shapely.hausdorff_distance(outline, hull)
    corners = CORNER_FACTOR if len(shelf.posts_mm) > 3 else 1.0
    return max(0.75 * corners * q_mpa * span**2, 3.0 * q_mpa * free**2) / shelf.thickness_mm**2


def shelf_hull(shelf: ShelfType) -> BaseGeometry:
    """Return the polygon of a shelf's posts in its own frame."""
    return shapely.MultiPoint(shelf.posts_mm).convex_hull


def _bending(scene: Scene, level: Level, notes: Notes) -> None:
    """F9, F16: the shelf's stress stays under its share of the strength."""
    settings, shelf = scene.works.settings, level.shelf
    if shelf.strength_mpa is not None:
        limit = shelf.strength_mpa * settings.strength_share
    else:
        limit = (shelf.cold_strength_mpa or 0.0) * settings.cold_strength_share
    stress = bending_mpa(shelf, sum(body.solid.body.mass_kg for body in level.bodies))
    if stress > limit * (1 + 1e-9):
        notes.fault("F9", level.where, f"{stress:.2f} MPa in {shelf.code}", f"at most {limit:.2f} MPa")


def _flat(scene: Scene, level: Level, notes: Notes) -> None:
    """F12: flatware in glost, and what asks for it, stands on a flat shelf."""
    shapes = {shape.code: shape for shape in scene.works.shapes}
    for body in level.bodies:
        flatware = shapes[body.solid.form.shape].flatware and scene.programme.stage is Stage.GLOST
        if (flatware or any(one.step.flat_shelf for one in body.fillings)) and not level.tier.flat:
            wanted = f"a shelf with a bow of at most {scene.works.settings.flat_bow_mm:g} mm"
            notes.fault("F12", level.where, f"{body.label} on any shelf", wanted)
            return


def _stock(scene: Scene, notes: Notes) -> None:
    """F2, F3, F12, F14, W4, W7, W8, W10: nothing is used more often than the works holds it."""
    furniture, bow = scene.works.furniture, scene.works.settings.flat_bow_mm
    used: Counter[tuple[str, str]] = Counter()
    for stack in scene.stacks:
        if stack.stub and stack.levels:
            used["F14", stack.stub.code] += len(stack.levels[0].shelf.posts_mm)
        for level in stack.levels:
            used["F2", level.shelf.code] += 1
            used["F12", level.shelf.code] += level.tier.flat
            for post in level.posts:
                used["F3", post.code] += len(level.shelf.posts_mm)
            for body in level.bodies:
                form = body.solid.form
                used["support", form.support or ""] += form.pieces
                used["spacer", form.spacer or ""] += form.pieces - 1
    held = [("F2", row.code, row.sound_pieces) for row in furniture.shelves]
    held += [
        ("F12", row.code, sum(lot.sound_pieces for lot in row.lots if lot.bow_mm <= bow)) for row in furniture.shelves
    ]
    held += [("F3", row.code, row.count_pieces) for row in furniture.posts]
    held += [("F14", row.code, row.count_pieces) for row in furniture.stubs]
    _compare(used, held, notes)
    few = [("W7", row.code, row.count_pieces) for row in furniture.stilts]
    few += [("W8", row.code, row.count_pieces) for row in furniture.setters]
    few += [("W10", row.code, row.count_pieces) for row in furniture.catch_discs]
    for rule, code, count in few:
        _compare(Counter({(rule, code): used["support", code]}), [(rule, code, count)], notes)
    for spacer in furniture.spacers:
        need = Counter({("W4", spacer.code): used["spacer", spacer.code] * spacer.pieces_per_gap})
        _compare(need, [("W4", spacer.code, spacer.count_pieces)], notes)


def _compare(used: Counter[tuple[str, str]], held: list[tuple[str, str, int]], notes: Notes) -> None:
    for rule, code, count in held:
        if used[rule, code] > count:
            kind = "flat ones of " if rule == "F12" else ""
            notes.fault(rule, f"stock {code}", f"{used[rule, code]} used", f"at most {count}, {kind}all there are")


def _shelf_places(scene: Scene, notes: Notes) -> None:
    """F10: shelves off the wall and off each other; C5, C8: off what must stay free."""
    settings = scene.works.settings
    electric = scene.kiln.wall is WallKind.ELECTRIC
    wall = settings.shelf_wall_electric_mm if electric else settings.shelf_wall_gas_mm
    seen = {(level.place.code, level.shelf.code): level for level in scene.levels}
    for (_, code), level in seen.items():
        where = f"stack {level.place.code}"
        inside = shapely.distance(level.outline, scene.chamber.boundary) if scene.chamber.covers(level.outline) else 0.0
        if inside < wall - NEAR_MM:
            notes.fault("F10", where, f"{code} {inside:.1f} mm from the wall", f"at least {wall:g} mm")
        for (other_place, _), other in seen.items():
            gap = shapely.distance(level.outline, other.outline)
            if other_place > level.place.code and gap < settings.shelf_gap_mm - NEAR_MM:
                found = f"{gap:.1f} mm to the shelf of stack {other_place}"
                notes.fault("F10", where, found, f"at least {settings.shelf_gap_mm:g} mm")
    for stack in scene.stacks:
        for level in stack.levels:
            _keep_off(scene, stack, level, notes)


def _keep_off(scene: Scene, stack: Stack, level: Level, notes: Notes) -> None:
    for keep in scene.kiln.keep_outs:
        thermocouple = keep.what == "thermocouple"
        clear = max(keep.clear_mm, scene.works.settings.thermocouple_mm if thermocouple else 0.0)
        low, high = keep.from_z_mm - clear, keep.to_z_mm + clear
        outline = region_polygon(keep.outline)
        things = [("the shelf", level.outline, level.tier.base_mm, level.floor_mm)]
        posts = [("a post", post, level.floor_mm, level.floor_mm + level.room_mm) for post in level.post_squares()]
        if stack.stub and level is stack.levels[0]:
            side = stack.stub.side_mm
            stubs = [in_kiln(square(x, y, side), level.place) for x, y in level.shelf.posts_mm]
            posts += [("a stub", one, 0.0, level.tier.base_mm) for one in stubs]
        for what, shape, bottom, top in things + posts:
            near = shapely.distance(shape, outline)
            if bottom < high - NEAR_MM and top > low + NEAR_MM and (near < clear - NEAR_MM or near == 0.0):
                rule = "C5" if thermocouple else "C8"
                notes.fault(rule, level.where, f"{what} {near:.1f} mm from {keep.code}", f"at least {clear:g} mm")
