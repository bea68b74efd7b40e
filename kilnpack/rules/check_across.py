"""Check the gap between bodies of different stacks: C1, C11, C12 hold across the joint between two shelves too."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from kilnpack.rules.check_notes import Tight
from kilnpack.rules.check_room import REAL_MM, gap_wanted_mm
from kilnpack.rules.check_solids import Profile, widest_mm
from kilnpack.rules.check_stacks import NEAR_MM

if TYPE_CHECKING:
    from kilnpack.rules.check_notes import Notes
    from kilnpack.rules.check_scene import Level, Placed, Scene

LOOK_MM = 60.0
"""Bodies farther apart than this are not measured."""


def check_across(scene: Scene, notes: Notes) -> None:
    """Check all bodies of different stacks that stand near each other and share a height."""
    rows = [(level, body) for level in scene.levels for body in level.bodies]
    if not rows:
        return
    at = np.array([level.point_of(body) for level, body in rows])
    reach = np.array([body.solid.rim_reach_mm for _, body in rows])
    low = np.array([level.floor_mm for level, _ in rows])
    high = low + np.array([body.solid.body.top_mm for _, body in rows])
    stack = np.array([level.place.code for level, _ in rows])
    for j in range(1, len(rows)):
        near = np.hypot(*(at[:j] - at[j]).T) <= reach[:j] + reach[j] + LOOK_MM
        meets = (low[:j] <= high[j]) & (low[j] <= high[:j]) & (stack[:j] != stack[j])
        for i in np.flatnonzero(near & meets):
            _pair(scene, rows[int(i)], rows[j], notes)


def _pair(scene: Scene, first: tuple[Level, Placed], second: tuple[Level, Placed], notes: Notes) -> None:
    (below, a), (level, b) = first, second
    rise_mm = round(level.floor_mm - below.floor_mm, 6)
    own: list[Profile] = [tuple((z + rise_mm, r) for z, r in profile) for profile in b.solid.profiles]
    needs = np.array([[widest_mm(p, q) for q in own] for p in a.solid.profiles])
    apart = shapely.distance(below.cores_of(a)[:, None], level.cores_of(b)[None, :])
    gap = float(np.min(apart - needs))
    settings, both = scene.works.settings, a.fillings + b.fillings
    wanted = gap_wanted_mm(settings, scene.programme.stage, scene.peak_degc, both)
    if gap < wanted - NEAR_MM:
        found = f"{gap:.1f} mm between {b.label} and {a.label} of {below.where}"
        notes.fault("C1", b.where, found, f"{wanted:g} mm")
    if gap < REAL_MM:
        what = f"{b.label} and {a.label} of {below.where}"
        notes.gap(Tight(mm=gap, place=level.place.code, tier=level.tier.number, what=what))
