"""Checks of shapes: masses, foot, lid, stacking."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely

from kilnpack.model.geometry import Disc, ExtrudedPart, TurnedPart
from kilnpack.model.pieces import StackWay
from kilnpack.shapes.bodies import top_mm
from kilnpack.shapes.outlines import outline_polygon

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from shapely.geometry.base import BaseGeometry

    from kilnpack.errors import Finding
    from kilnpack.model.geometry import Part
    from kilnpack.model.pieces import Shape, Stacking
    from kilnpack.model.works import Works
    from kilnpack.works_folder.reading import Reading

DRAWN_MM = 0.2
"""By how much a foot may pass the body that is drawn over it: rounding of drawings."""


def masses(reading: Reading, works: Works) -> Iterator[Finding]:
    """Biscuit loses water and glaze adds to it."""
    for shape in works.shapes:
        if shape.biscuit_kg > shape.dry_kg:
            wanted = f"at most dry_kg {shape.dry_kg:g}"
            yield reading.at("shapes", shape.code, "biscuit_kg", shape.biscuit_kg, wanted)
        if shape.glazed_kg < shape.biscuit_kg:
            wanted = f"at least biscuit_kg {shape.biscuit_kg:g}"
            yield reading.at("shapes", shape.code, "glazed_kg", shape.glazed_kg, wanted)


def standing(reading: Reading, works: Works) -> Iterator[Finding]:
    """Something of every shape stands at height 0, under its axis, and the foot is no wider than it."""
    for shape in works.shapes:
        at_bottom = [outline for part in shape.parts if (outline := _at_bottom(part)) is not None]
        if not at_bottom:
            yield reading.at("shapes", shape.code, "code", shape.code, "a part that begins at height 0")
            continue
        bottom, foot = shapely.union_all(at_bottom), outline_polygon(shape.foot)
        if not bottom.buffer(DRAWN_MM).contains(foot):
            found = f"a foot {_size(foot)}"
            yield reading.at(
                "shapes", shape.code, "foot_r_mm", found, f"a foot inside the body's bottom {_size(bottom)}"
            )
        elif not foot.convex_hull.contains(shapely.Point(0, 0)):
            yield reading.at("shapes", shape.code, "foot_r_mm", "a foot beside the axis", "the axis over the foot")


def _at_bottom(part: Part) -> BaseGeometry | None:
    if isinstance(part, ExtrudedPart):
        return outline_polygon(part.outline) if part.from_z_mm == 0 else None
    return _turned_at_bottom(part)


def _turned_at_bottom(part: TurnedPart) -> BaseGeometry | None:
    if part.profile_mm[0][0] != 0:
        return None
    radius = max(r for z, r in part.profile_mm if z == 0)
    return outline_polygon((Disc(x_mm=part.x_mm, y_mm=part.y_mm, r_mm=radius),)) if radius else None


def _size(geometry: BaseGeometry) -> str:
    left, front, right, back = geometry.bounds
    return f"{right - left:.4g} x {back - front:.4g} mm"


def lids(reading: Reading, works: Works) -> Iterator[Finding]:
    """A lid is another shape, has no lid itself, and sits on its pot (rule W9)."""
    for shape in works.shapes:
        if shape.lid is None:
            continue
        lid = works.shape(shape.lid.shape)
        if lid.code == shape.code or lid.lid is not None:
            yield reading.at("shapes", shape.code, "lid", lid.code, "another shape, which has no lid itself")
        elif shape.lid.seat_mm > top_mm(shape.parts):
            wanted = f"at most the height of the pot {top_mm(shape.parts):g}"
            yield reading.at("shapes", shape.code, "lid_seat_mm", shape.lid.seat_mm, wanted)


def stackings(reading: Reading, works: Works) -> Iterator[Finding]:
    """What is stacked stands on itself without a lid, by a step over its wall, within its limit (rule W4)."""
    rows = {(row.get("shape"), row.get("way")): row for row in reading.tables["stacking"].rows}
    for shape in works.shapes:
        for one in shape.stackings:
            row = rows[shape.code, one.way.value]
            for heading, found, wanted in _stacking_faults(works, shape, one):
                yield row.fault(heading, found, f"{wanted} (W4)")


def _stacking_faults(works: Works, shape: Shape, one: Stacking) -> Iterator[tuple[str, object, str]]:
    if shape.lid is not None:
        yield "shape", shape.code, "a shape without a lid; ware with its lid on is not stacked"
    if one.way is not StackWay.BOXED and one.step_mm < shape.wall_mm:
        yield "step_mm", one.step_mm, f"at least the wall thickness {shape.wall_mm:g}"
    if one.way is StackWay.NESTED and one.loose_mm < works.settings.nest_loose_mm:
        yield "loose_mm", one.loose_mm, f"at least {works.settings.nest_loose_mm:g}, so that the inner piece is loose"
    if one.way is StackWay.PILED and one.spacer is None and one.most_pieces > one.bare_most_pieces:
        yield "spacer", "", f"a spacer for more than {one.bare_most_pieces} pieces"
    if one.most_pieces - 1 > one.load_limit_factor:
        wanted = (
            f"at most {int(one.load_limit_factor) + 1}, as the lowest carries {one.load_limit_factor:g} times itself"
        )
        yield "most_pieces", one.most_pieces, wanted


SHAPE_CHECKS: tuple[Callable[[Reading, Works], Iterator[Finding]], ...] = (masses, standing, lids, stackings)
