"""What a body looks like from above, from the front and from a corner: outlines in mm about its own axis."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from kilnpack.model.geometry import ExtrudedPart, TurnedPart
from kilnpack.shapes.bodies import Body, stand
from kilnpack.shapes.outlines import disc_polygon, outline_polygon

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.geometry import Part
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A body's outlines seen from above.

    `foot` touches the shelf, `rim` is all that the body covers, `slices` are the outlines of its parts. `points_deg`
    is where the handle points at turn 0 (or the long side, with `two_ended`); None where turning changes nothing.
    """

    body: Body
    foot: BaseGeometry
    rim: BaseGeometry
    slices: tuple[BaseGeometry, ...]
    points_deg: float | None
    two_ended: bool


def figures_of(works: Works, load: Load) -> dict[str, Figure]:
    """Return the figure of every form of a load by the form's code."""
    figures = {}
    for form in load.forms:
        body = stand(works, form)
        handle_deg = works.shape(form.shape).handle_deg
        figures[form.code] = _figure(body, handle_deg)
    return figures


def _figure(body: Body, handle_deg: float | None) -> Figure:
    slices = tuple(outline for part in body.parts for outline in _outlines(part))
    rim = shapely.union_all(slices)
    is_round = all(isinstance(part, TurnedPart) and part.x_mm == part.y_mm == 0.0 for part in body.parts)
    two_ended = handle_deg is None and not is_round
    points_deg = _long_side_deg(rim) if two_ended else None if is_round else handle_deg
    return Figure(
        body=body,
        foot=outline_polygon(body.foot),
        rim=rim,
        slices=slices,
        points_deg=points_deg,
        two_ended=two_ended,
    )


def _outlines(part: Part) -> list[BaseGeometry]:
    """The widest outline of a part, and the one at its top where that is clearly smaller."""
    if isinstance(part, ExtrudedPart):
        return [outline_polygon(part.outline)]
    widest = max(r for _, r in part.profile_mm)
    top = part.profile_mm[-1][1]
    radii = [widest] if top > 0.95 * widest or top <= 0.0 else [widest, top]
    return [disc_polygon(part.x_mm, part.y_mm, r) for r in radii]


def _long_side_deg(outline: BaseGeometry) -> float:
    """Direction of the long side of the smallest rectangle round an outline, in [0, 180)."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(outline))
    sides = [(x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in pairwise(corners)]
    dx, dy = max(sides, key=lambda side: math.hypot(*side))
    return math.degrees(math.atan2(dy, dx)) % 180.0


def from_front(body: Body, turn_deg: float) -> BaseGeometry:
    """Return the silhouette seen from the front: x to the right, height up, foot at 0."""
    return shapely.union_all([_part_from_front(part, turn_deg) for part in body.parts])


def _part_from_front(part: Part, turn_deg: float) -> BaseGeometry:
    if isinstance(part, ExtrudedPart):
        left, _, right, _ = affinity.rotate(outline_polygon(part.outline), turn_deg, origin=(0, 0)).bounds
        return box(left, part.from_z_mm, right, part.to_z_mm)
    turn = math.radians(turn_deg)
    x = part.x_mm * math.cos(turn) - part.y_mm * math.sin(turn)
    right_side = [(x + r, z) for z, r in part.profile_mm]
    left_side = [(x - r, z) for z, r in reversed(part.profile_mm)]
    return shapely.make_valid(Polygon(right_side + left_side)).buffer(0)


def level_outlines(body: Body, turn_deg: float) -> list[tuple[float, float, BaseGeometry]]:
    """Return (from height, to height, outline) slabs that make up a body, for a picture from a corner."""
    slabs: list[tuple[float, float, BaseGeometry]] = []
    for part in body.parts:
        if isinstance(part, ExtrudedPart):
            outline = affinity.rotate(outline_polygon(part.outline), turn_deg, origin=(0, 0))
            slabs.append((part.from_z_mm, part.to_z_mm, outline))
        else:
            slabs += _turned_slabs(part, turn_deg)
    return slabs


def _turned_slabs(part: TurnedPart, turn_deg: float) -> list[tuple[float, float, BaseGeometry]]:
    turn = math.radians(turn_deg)
    x = part.x_mm * math.cos(turn) - part.y_mm * math.sin(turn)
    y = part.x_mm * math.sin(turn) + part.y_mm * math.cos(turn)
    slabs: list[tuple[float, float, BaseGeometry]] = []
    for (z0, r0), (z1, r1) in pairwise(part.profile_mm):
        if z1 > z0:
            slabs += [(z0, z0, shapely.Point(x, y).buffer(r0, 12)), (z1, z1, shapely.Point(x, y).buffer(r1, 12))]
    return slabs
