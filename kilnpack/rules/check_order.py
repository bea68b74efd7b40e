"""Check the order of placing: F13 (the shelf never about to tip) and W13 (a free way down for every piece)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Point as ShapelyPoint

from kilnpack.rules.check_solids import Array, moved, way_down, widest_mm
from kilnpack.rules.check_stacks import NEAR_MM, shelf_hull

if TYPE_CHECKING:
    from kilnpack.rules.check_notes import Notes
    from kilnpack.rules.check_scene import Level, Placed, Scene


def check_order(scene: Scene, notes: Notes) -> None:
    """Check every tier after every piece; tiers set alike are walked once for the way down."""
    walked: dict[str, list[tuple[int, int]]] = {}
    for level in scene.levels:
        _balance(scene, level, notes)
        code = level.tier.setting
        if code not in walked:
            walked[code] = _blocked(level)
        for i, j in walked[code]:
            first, second = level.bodies[i], level.bodies[j]
            wanted = f"{second.label} set before {first.label}, or apart from it"
            notes.fault("W13", second.where, f"its way down is closed by {first.label}", wanted)


def _balance(scene: Scene, level: Level, notes: Notes) -> None:
    """F13: the centre of mass of shelf and ware stays inside the post polygon by a share of its short side.

    A body's mass is taken at its axis, the shelf's at the middle of its outline. The short side is that of the post
    polygon along the edges of the shelf's own frame.
    """
    hull = shelf_hull(level.shelf)
    left, front, right, back = hull.bounds
    margin = scene.works.settings.balance_share * min(right - left, back - front)
    middle = level.shelf_outline.centroid
    mass = level.shelf.mass_kg
    moment = mass * np.array([middle.x, middle.y])
    for count in range(len(level.bodies) + 1):
        if count:
            body = level.bodies[count - 1]
            mass += body.solid.body.mass_kg
            moment = moment + body.solid.body.mass_kg * np.array([body.standing.x_mm, body.standing.y_mm])
        centre = ShapelyPoint(*(moment / mass)) if mass > 0 else middle
        inside = float(centre.distance(hull.boundary)) if hull.covers(centre) else -float(centre.distance(hull))
        if inside < margin - NEAR_MM or hull.area == 0.0:
            after = f"after {level.bodies[count - 1].label}" if count else "with the empty shelf"
            found = f"centre of mass {inside:.1f} mm inside the posts {after}"
            notes.fault("F13", level.where, found, f"at least {margin:.1f} mm")
            return


def _blocked(level: Level) -> list[tuple[int, int]]:
    """Return pairs (standing, lowered): the body set later meets the one already there on its way down."""
    cores = [moved(b.solid.cores, b.standing.x_mm, b.standing.y_mm, b.standing.turn_deg) for b in level.bodies]
    known: dict[tuple[str, str], Array] = {}
    found = []
    for j, lowered in enumerate(level.bodies):
        for i, standing in enumerate(level.bodies[:j]):
            if _far(standing, lowered):
                continue
            key = (standing.solid.form.code, lowered.solid.form.code)
            if key not in known:
                ways = [way_down(profile) for profile in lowered.solid.profiles]
                known[key] = np.array([[widest_mm(p, way) for way in ways] for p in standing.solid.profiles])
            apart = shapely.distance(cores[i][:, None], cores[j][None, :])
            if np.any(apart < known[key] - NEAR_MM):
                found.append((i, j))
    return found


def _far(first: Placed, second: Placed) -> bool:
    dx = first.standing.x_mm - second.standing.x_mm
    dy = first.standing.y_mm - second.standing.y_mm
    return bool(np.hypot(dx, dy) > first.solid.rim_reach_mm + second.solid.rim_reach_mm)
