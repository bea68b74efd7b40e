"""Check where bodies stand: C1-C6, C8, C10-C12, W2, W3."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import ops

from kilnpack.model.kilns import ChamberKind, WallKind
from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import Stage
from kilnpack.rules.check_notes import Tight
from kilnpack.rules.check_solids import NEVER_MM, Array, between_mm, moved, past_mm, widest_mm
from kilnpack.rules.check_stacks import NEAR_MM
from kilnpack.shapes.outlines import in_kiln, region_polygon

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kilnpack.model.settings import WorksSettings
    from kilnpack.rules.check_notes import Notes
    from kilnpack.rules.check_scene import Filling, Level, Scene
    from kilnpack.rules.check_solids import Solid

REAL_MM = -NEVER_MM / 2
"""A gap above this belongs to bodies that share no height."""
LOOK_MM = 60.0
"""Bodies farther apart than the gap asked for and this are not measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cores:
    """All cores of a tier's bodies in the kiln: geometry, greatest radius, and whose they are."""

    shapes: Array
    radii_mm: Array
    owner: Array


def check_room(scene: Scene, notes: Notes) -> None:
    """Check every tier: bodies against each other, posts, edges, walls, neighbours, roof and keep-outs."""
    gaps = Gaps(scene)
    for level in scene.levels:
        if not level.bodies:
            continue
        cores = gather(level)
        _headroom(scene, level, notes)
        _between(scene, level, gaps, notes)
        _posts(scene, level, cores, notes)
        _edge(scene, level, notes)
        _walls(scene, level, cores, notes)
        _neighbours(scene, level, cores, notes)
        _keep_outs(scene, level, notes)


def gather(level: Level) -> Cores:
    """Return all cores of a tier in one row, so that one call measures them all."""
    shapes = [level.cores_of(body) for body in level.bodies]
    return Cores(
        shapes=np.concatenate(shapes),
        radii_mm=np.concatenate([body.solid.radii_mm for body in level.bodies]),
        owner=np.repeat(np.arange(len(shapes)), [len(row) for row in shapes]),
    )


def worst(values: Array, cores: Cores) -> Iterator[tuple[int, float]]:
    """Yield for each body its greatest value."""
    for k in np.unique(cores.owner):
        yield int(k), float(np.max(values[cores.owner == k]))


def gap_wanted_mm(settings: WorksSettings, stage: Stage, peak_degc: float, both: tuple[Filling, ...]) -> float:
    """Return the gap that two bodies keep, mm: C1 by stage, C11 where nothing shrinks away, C12 for the hand."""
    own = {Stage.BISCUIT: settings.gap_biscuit_mm, Stage.GLOST: settings.gap_glost_mm}.get(stage)
    if own is None:
        soft = [one.glaze.softening_degc for one in both if one.glaze]
        hot = any(peak_degc >= degc - settings.soft_margin_k for degc in soft)
        own = settings.gap_decoration_hot_mm if hot else settings.gap_decoration_mm
    grows = stage is Stage.DECORATION or any(one.lot.kind is LotKind.REFIRE for one in both)
    return own + settings.placing_mm + (settings.hot_growth_mm if grows else 0.0)


class Gaps:
    """Measured gaps; tiers set alike are measured once."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.needs: dict[tuple[str, str], Array] = {}
        self.known: dict[str, list[tuple[int, int, float]]] = {}

    def _need(self, a: Solid, b: Solid) -> Array:
        key = (a.form.code, b.form.code)
        if key not in self.needs:
            self.needs[key] = np.array([[widest_mm(p, q) for q in b.profiles] for p in a.profiles])
        return self.needs[key]

    def of(self, level: Level) -> list[tuple[int, int, float]]:
        """Return (body, body, gap in mm) for all bodies of a tier that stand near each other (W3)."""
        code = level.tier.setting
        if code not in self.known:
            self.known[code] = list(self._measured(level))
        return self.known[code]

    def _measured(self, level: Level) -> Iterator[tuple[int, int, float]]:
        at = [(b.standing.x_mm, b.standing.y_mm) for b in level.bodies]
        cores = [moved(b.solid.cores, *xy, b.standing.turn_deg) for b, xy in zip(level.bodies, at, strict=True)]
        reach = [body.solid.rim_reach_mm for body in level.bodies]
        for j, second in enumerate(level.bodies):
            for i, first in enumerate(level.bodies[:j]):
                if np.hypot(at[i][0] - at[j][0], at[i][1] - at[j][1]) > reach[i] + reach[j] + LOOK_MM:
                    continue
                apart = shapely.distance(cores[i][:, None], cores[j][None, :])
                yield i, j, float(np.min(apart - self._need(first.solid, second.solid)))


def _headroom(scene: Scene, level: Level, notes: Notes) -> None:
    """C3: air over the highest point; C6: ware of an open top tier stays off the roof."""
    wanted = scene.works.settings.headroom_mm if level.tier.posts else 0.0
    rule = "C3" if level.tier.posts else "C6"
    for body in level.bodies:
        free = level.room_mm - body.solid.body.top_mm
        if level.tier.posts:
            notes.headroom(Tight(mm=free, place=level.place.code, tier=level.tier.number, what=body.label))
        if free < wanted - NEAR_MM:
            notes.fault(rule, body.where, f"{free:.1f} mm over {body.solid.form.code}", f"at least {wanted:g} mm")


def _between(scene: Scene, level: Level, gaps: Gaps, notes: Notes) -> None:
    """C1, C11, C12, W3: bodies keep their gap at every height both exist."""
    for i, j, gap in gaps.of(level):
        first, second = level.bodies[i], level.bodies[j]
        both = first.fillings + second.fillings
        wanted = gap_wanted_mm(scene.works.settings, scene.programme.stage, scene.peak_degc, both)
        what = f"{first.label} and {second.label}"
        if gap < -NEAR_MM + wanted:
            notes.fault(
                "C1", f"{level.where} place {second.standing.place}", f"{gap:.1f} mm between {what}", f"{wanted:g} mm"
            )
        if gap < REAL_MM:
            notes.gap(Tight(mm=gap, place=level.place.code, tier=level.tier.number, what=what))


def _posts(scene: Scene, level: Level, cores: Cores, notes: Notes) -> None:
    """C2: bodies keep off the posts, which stand over the full height."""
    settings, squares = scene.works.settings, level.post_squares()
    if not squares:
        return
    biscuit = scene.programme.stage is Stage.BISCUIT
    wanted = (settings.post_gap_biscuit_mm if biscuit else settings.post_gap_mm) + settings.placing_mm
    apart = np.min(shapely.distance(cores.shapes[:, None], np.array(squares)[None, :]), axis=1)
    for k, gap in worst(cores.radii_mm - apart, cores):
        if -gap < wanted - NEAR_MM:
            body = level.bodies[k]
            notes.fault("C2", body.where, f"{-gap:.1f} mm from {body.solid.form.code} to a post", f"{wanted:g} mm")


def _edge(scene: Scene, level: Level, notes: Notes) -> None:
    """W2: the foot wholly on one shelf, the rim no farther over its edge than allowed."""
    settings, shelf = scene.works.settings, level.shelf_outline
    for body in level.bodies:
        at, built = body.standing, body.solid
        foot = moved(built.foot_cores, at.x_mm, at.y_mm, at.turn_deg)
        inside = -float(np.max(past_mm(shelf, foot, built.foot_radii_mm)))
        if inside < settings.foot_edge_mm - NEAR_MM:
            notes.fault(
                "W2", body.where, f"foot {inside:.1f} mm from the edge", f"at least {settings.foot_edge_mm:g} mm"
            )
        over = float(np.max(past_mm(shelf, moved(built.cores, at.x_mm, at.y_mm, at.turn_deg), built.radii_mm)))
        most = min(settings.overhang_most_mm, max(0.0, (built.rim_reach_mm - built.foot_reach_mm) / 2))
        if over > most + NEAR_MM:
            notes.fault("W2", body.where, f"rim {over:.1f} mm over the edge", f"at most {most:g} mm")


def _walls(scene: Scene, level: Level, cores: Cores, notes: Notes) -> None:
    """C4: ware off the walls; C10: everything on a car well inside its edge."""
    settings, kiln = scene.works.settings, scene.kiln
    car = kiln.kind is ChamberKind.CAR
    wanted = settings.ware_wall_electric_mm if kiln.wall is WallKind.ELECTRIC else settings.ware_wall_gas_mm
    wanted = settings.car_edge_mm if car else wanted
    wanted = wanted if kiln.wall_clear_mm is None else kiln.wall_clear_mm
    for k, past in worst(past_mm(scene.chamber, cores.shapes, cores.radii_mm), cores):
        if -past < wanted - NEAR_MM:
            what = "edge of the car" if car else "wall"
            found = f"{level.bodies[k].solid.form.code} {-past:.1f} mm from the {what}"
            notes.fault("C10" if car else "C4", level.bodies[k].where, found, f"at least {wanted:g} mm")


def _neighbours(scene: Scene, level: Level, cores: Cores, notes: Notes) -> None:
    """W2: no rim passes the line half way between its shelf and a neighbouring one."""
    shelves = {shelf.code: shelf for shelf in scene.works.furniture.shelves}
    own, reach = level.outline, scene.works.settings.overhang_most_mm
    for place in scene.kiln.places:
        other = shelves.get(place.shelf)
        if place.code == level.place.code or other is None:
            continue
        next_to = in_kiln(region_polygon(other.outline), place)
        here, there = ops.nearest_points(own, next_to)
        gap = float(here.distance(there))
        if not 0.0 < gap <= 2 * reach:
            continue
        way = np.array([there.x - here.x, there.y - here.y]) / gap
        middle = np.array([here.x + there.x, here.y + there.y]) / 2
        xy, index = shapely.get_coordinates(cores.shapes, return_index=True)
        passed = np.full(len(cores.shapes), -np.inf)
        np.maximum.at(passed, index, (xy - middle) @ way)
        for k, over in worst(passed + cores.radii_mm, cores):
            if over > NEAR_MM:
                found = f"rim {over:.1f} mm past the middle of the gap to stack {place.code}"
                notes.fault("W2", level.bodies[k].where, found, "its own half of the gap")


def _keep_outs(scene: Scene, level: Level, notes: Notes) -> None:
    """C5, C8: bodies keep off thermocouples, elements, burners, flues and what else must stay free."""
    for keep in scene.kiln.keep_outs:
        thermocouple = keep.what == "thermocouple"
        clear = max(keep.clear_mm, scene.works.settings.thermocouple_mm if thermocouple else 0.0)
        low, high = keep.from_z_mm - clear - level.floor_mm, keep.to_z_mm + clear - level.floor_mm
        outline = region_polygon(keep.outline)
        for body in level.bodies:
            apart = shapely.distance(level.cores_of(body), outline)
            radii = np.array([between_mm(profile, low + NEAR_MM, high - NEAR_MM) for profile in body.solid.profiles])
            near = float(np.min(apart - radii))
            if near < clear - NEAR_MM:
                found = f"{body.solid.form.code} {near:.1f} mm from {keep.code}"
                notes.fault("C5" if thermocouple else "C8", body.where, found, f"at least {clear:g} mm")
