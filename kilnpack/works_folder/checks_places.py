"""Checks of what stands where in a kiln: shelves, posts, keep-outs, cone packs, offset readings."""

from __future__ import annotations

import math
from itertools import combinations
from typing import TYPE_CHECKING

import shapely

from kilnpack.model.geometry import ConvexPolygon
from kilnpack.model.pieces import Stage
from kilnpack.rules.clearances import shelf_wall_mm
from kilnpack.rules.sight import bottom_clears, corridor, pack_in_reach
from kilnpack.shapes.outlines import in_kiln, region_polygon, square
from kilnpack.works_folder.build_parts import is_convex
from kilnpack.works_folder.checks_kilns import kiln_finding

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from shapely.geometry.base import BaseGeometry

    from kilnpack.errors import Finding
    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.kilns import Kiln, Peephole
    from kilnpack.model.works import Works
    from kilnpack.works_folder.reading import Reading

NEAR_MM = 0.01
"""Distances are told apart no finer than this."""


def sound_chamber(kiln: Kiln) -> bool:
    """Tell whether a chamber is one that can be reckoned with."""
    return not isinstance(kiln.chamber, ConvexPolygon) or is_convex(kiln.chamber.corners_mm)


def _sound_kilns(works: Works) -> list[Kiln]:
    return [kiln for kiln in works.kilns if sound_chamber(kiln)]


def chambers(_reading: Reading, works: Works) -> Iterator[Finding]:
    """A chamber of corners is convex."""
    for kiln in works.kilns:
        if not sound_chamber(kiln):
            wanted = "corners of a convex polygon, counter-clockwise"
            yield kiln_finding(kiln, "chamber.corners_mm", kiln.chamber.corners_mm, wanted)  # type: ignore[union-attr]


def _placed_shelves(works: Works, kiln: Kiln) -> dict[str, BaseGeometry]:
    shelves = {shelf.code: shelf for shelf in works.furniture.shelves}
    return {
        place.code: in_kiln(region_polygon(shelves[place.shelf].outline), place)
        for place in kiln.places
        if place.shelf in shelves
    }


def shelf_places(_reading: Reading, works: Works) -> Iterator[Finding]:
    """Shelves clear the wall and each other (rule F10)."""
    settings = works.settings
    for kiln in _sound_kilns(works):
        clear_mm = shelf_wall_mm(settings, kiln)
        chamber, placed = region_polygon(kiln.chamber), _placed_shelves(works, kiln)
        for code, shelf in placed.items():
            inside = chamber.contains(shelf)
            off_mm = chamber.boundary.distance(shelf) if inside else 0.0
            if off_mm < clear_mm - NEAR_MM:
                found = f"{off_mm:.1f} mm from the wall" if inside else "partly outside the chamber"
                yield kiln_finding(kiln, f"places[{code}]", found, f"at least {clear_mm:g} mm from the wall (F10)")
        for (code, shelf), (other_code, other) in combinations(placed.items(), 2):
            if shelf.distance(other) < settings.shelf_gap_mm - NEAR_MM:
                wanted = f"at least {settings.shelf_gap_mm:g} mm between the shelves of two places (F10)"
                found = f"{shelf.distance(other):.1f} mm from the shelf of {other_code}"
                yield kiln_finding(kiln, f"places[{code}]", found, wanted)


def _round_the_middle(shelf: ShelfType) -> bool:
    return bool(shapely.MultiPoint(shelf.posts_mm).convex_hull.contains(region_polygon(shelf.outline).centroid))


def post_patterns(reading: Reading, works: Works) -> Iterator[Finding]:
    """Three posts or more, not in a line, round the middle of the shelf, each wholly on it (rule F5, F7, F13)."""
    side_mm = min((post.side_mm for post in works.furniture.posts), default=None)
    for shelf in works.furniture.shelves:
        points = shapely.MultiPoint(shelf.posts_mm)
        outline = region_polygon(shelf.outline)
        if points.convex_hull.area == 0 or len(set(shelf.posts_mm)) < 3:
            wanted = "three posts or more that are not in a line (F5)"
            yield reading.at("shelves", shelf.code, "posts_mm", _points(shelf.posts_mm), wanted)
            continue
        if not _round_the_middle(shelf):
            wanted = "posts round the middle of the shelf (F13)"
            yield reading.at("shelves", shelf.code, "posts_mm", _points(shelf.posts_mm), wanted)
        if side_mm is None:
            continue
        inset_mm = works.settings.post_inset_mm
        inner = outline.buffer(NEAR_MM - inset_mm, join_style="mitre")
        off = [point for point in shelf.posts_mm if not inner.contains(square(*point, side_mm))]
        if off:
            wanted = f"posts of {side_mm:g} mm wholly on the shelf, {inset_mm:g} mm inside its edge (F7)"
            yield reading.at("shelves", shelf.code, "posts_mm", _points(tuple(off)), wanted)


def _points(points: tuple[tuple[float, float], ...]) -> str:
    return " | ".join(f"{x:g} {y:g}" for x, y in points)


def keep_outs(_reading: Reading, works: Works) -> Iterator[Finding]:
    """A keep-out touches the chamber, and none stands through a shelf over the whole height (rule C8)."""
    for kiln in _sound_kilns(works):
        chamber, placed = region_polygon(kiln.chamber), _placed_shelves(works, kiln)
        for one in kiln.keep_outs:
            outline = region_polygon(one.outline)
            if not chamber.intersects(outline):
                yield kiln_finding(kiln, f"keep_outs[{one.code}].outline", "outside the chamber", "a place inside it")
            if one.from_z_mm > 0 or one.to_z_mm < kiln.usable_height_mm:
                continue
            for code, shelf in placed.items():
                if shelf.distance(outline) < one.clear_mm or shelf.intersects(outline):
                    wanted = f"a place that keeps {one.clear_mm:g} mm off {one.what} {one.code} (C8)"
                    yield kiln_finding(kiln, f"places[{code}]", f"a shelf across {one.code}", wanted)


def bottoms(reading: Reading, works: Works) -> Iterator[Finding]:
    """Some stub lifts the bottom shelf of every place far enough over what is hot under it (rule C6)."""
    shelves = {shelf.code: shelf for shelf in works.furniture.shelves}
    stubs = [stub for stub in works.furniture.stubs if stub.height_mm >= works.settings.bottom_clear_mm]
    for kiln in _sound_kilns(works):
        for place in kiln.places if stubs and reading.is_whole("stubs") else ():
            shelf = shelves.get(place.shelf)
            if shelf and not any(bottom_clears(works.settings, kiln, place, shelf, one.height_mm) for one in stubs):
                found = f"stubs of {max(one.height_mm for one in stubs):g} mm at most"
                most = works.settings.bottom_clear_hot_mm
                wanted = f"stubs that lift its shelf {most:g} mm over the element, burner or vent under it (C6)"
                yield kiln_finding(kiln, f"places[{place.code}]", found, wanted)


def cone_packs(_reading: Reading, works: Works) -> Iterator[Finding]:
    """The packs stand inside the chamber, and a kiln that fires glost has as many as the works asks (rule C7)."""
    settings = works.settings
    glost = {programme.code for programme in works.programmes if programme.stage is Stage.GLOST}
    for kiln in _sound_kilns(works):
        chamber = region_polygon(kiln.chamber)
        packs = [hole for hole in kiln.peepholes if hole.has_pack]
        for hole in packs:
            if not chamber.contains(shapely.Point(_along(hole, hole.pack_away_mm))):
                found = f"{hole.pack_away_mm:g} mm, outside the chamber"
                wanted = "a distance that ends inside the chamber (C7)"
                yield kiln_finding(kiln, f"peepholes[{hole.code}].pack_away_mm", found, wanted)
            elif not pack_in_reach(settings, hole):
                wanted = (
                    f"{settings.pack_away_least_mm:g} to {settings.pack_away_most_mm:g} mm, as the settings say (C7)"
                )
                yield kiln_finding(kiln, f"peepholes[{hole.code}].pack_away_mm", hole.pack_away_mm, wanted)
        least = settings.glost_packs_least
        if glost & set(kiln.programmes) and len(packs) < least:
            wanted = f"at least {least} with has_pack, as it fires glost (C7)"
            yield kiln_finding(kiln, "peepholes", f"{len(packs)} with a cone pack", wanted)


def sights(_reading: Reading, works: Works) -> Iterator[Finding]:
    """No post stands between a peephole and its cones (rule C7)."""
    shelves = {shelf.code: shelf for shelf in works.furniture.shelves if _round_the_middle(shelf)}
    side_mm = max((post.side_mm for post in works.furniture.posts), default=0.0)
    for kiln in _sound_kilns(works):
        for hole in kiln.peepholes:
            sight = corridor(works.settings, hole)
            for place in kiln.places if hole.has_pack else ():
                points = shelves[place.shelf].posts_mm if place.shelf in shelves else ()
                if any(in_kiln(square(*point, side_mm), place).intersects(sight) for point in points):
                    wanted = "a line of sight clear of posts, or has_pack = false (C7)"
                    yield kiln_finding(
                        kiln, f"peepholes[{hole.code}]", f"a post of stack {place.code} before it", wanted
                    )


def _along(hole: Peephole, away_mm: float) -> tuple[float, float]:
    turn = math.radians(hole.direction_deg)
    return (hole.x_mm + away_mm * math.cos(turn), hole.y_mm + away_mm * math.sin(turn))


def offset_readings(reading: Reading, works: Works) -> Iterator[Finding]:
    """Offsets were read inside the chamber (rule Z1)."""
    kilns = {kiln.code: kiln for kiln in _sound_kilns(works)}
    for row in reading.sound_rows("offsets"):
        kiln = kilns.get(row.text("kiln"))
        if kiln is None:
            continue
        x_mm, y_mm, z_mm = (row.number_at(heading) for heading in ("x_mm", "y_mm", "z_mm"))
        if not region_polygon(kiln.chamber).buffer(NEAR_MM).contains(shapely.Point(x_mm, y_mm)):
            yield row.fault("x_mm", f"{x_mm:g} {y_mm:g}", f"a place inside the chamber of {kiln.code} (Z1)")
        if z_mm > kiln.usable_height_mm:
            yield row.fault("z_mm", z_mm, f"at most usable_height_mm {kiln.usable_height_mm:g} of {kiln.code} (Z1)")


PLACE_CHECKS: tuple[Callable[[Reading, Works], Iterator[Finding]], ...] = (
    chambers,
    shelf_places,
    post_patterns,
    keep_outs,
    bottoms,
    cone_packs,
    sights,
    offset_readings,
)
