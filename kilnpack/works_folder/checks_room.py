"""Checks of room: every product, on one of its supports, fits some kiln that fires it.

Each is a necessary condition: what passes may still not find its place in a load, what fails never will.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import shapely
from shapely import affinity

from kilnpack.model.furniture import Stilt
from kilnpack.model.geometry import TurnedPart
from kilnpack.model.loads import BodyForm
from kilnpack.rules.clearances import roof_mm, wall_clear_mm
from kilnpack.rules.supports import bars_stilts, unsuited
from kilnpack.shapes.bodies import stand, support
from kilnpack.shapes.outlines import disc_polygon, outline_polygon, region_polygon
from kilnpack.words import listed
from kilnpack.works_folder.checks_heat import kilns_for, least_furniture_degc, shelves_of, usable_stubs
from kilnpack.works_folder.checks_places import sound_chamber

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from shapely.geometry.base import BaseGeometry

    from kilnpack.errors import Finding
    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.pieces import Product, RouteStep
    from kilnpack.model.works import Works
    from kilnpack.shapes.bodies import Body
    from kilnpack.works_folder.reading import Reading

TURNS_DEG = range(0, 180, 15)
NEAR_MM = 0.01


def fits(reading: Reading, works: Works) -> Iterator[Finding]:
    """Every product fits some kiln that fires it, on the shelf or on a support that suits it."""
    if not (reading.kilns.whole and reading.is_whole("shelves", "stubs", "stilts", "setters", "catch_discs")):
        return
    seen: dict[tuple[object, ...], list[str]] = {}
    for product in works.products:
        for step in product.route:
            key = (product.shape, step.stage, step.programme, step.supports)
            if key not in seen:
                seen[key] = _reasons(works, product, step)
            if seen[key]:
                heading = f"support_{step.stage.value}" if step.supports else "shape"
                found = f"{product.shape} in {step.programme}"
                wanted = f"ware that fits a kiln: {'; '.join(seen[key])}"
                yield reading.at("products", product.code, heading, found, wanted)


def _reasons(works: Works, product: Product, step: RouteStep) -> list[str]:
    """Return why a piece fits nowhere, one reason a support and kiln; nothing if it fits somewhere."""
    kilns = [kiln for kiln in kilns_for(works, step.programme) if sound_chamber(kiln) and shelves_of(works, kiln)]
    reasons = []
    for code in step.supports or (None,):
        form = BodyForm(code="bare", shape=product.shape, stage=step.stage, support=code)
        body = stand(works, form)
        unsuited = _unsuited(works, product, step, code) if code else None
        for kiln in kilns:
            reason = unsuited or too_hot(works, kiln, step, code) or _no_room(works, kiln, body)
            if reason is None:
                return []
            reasons.append(f"{kiln.code}{f' on {code}' if code else ''}: {reason}")
    return list(dict.fromkeys(reasons))


def _unsuited(works: Works, product: Product, step: RouteStep, code: str) -> str | None:
    """Return why a support does not suit a shape whatever the kiln (rule W7, W8, W10)."""
    under = support(works, code)
    bare = stand(works, BodyForm(code="bare", shape=product.shape, stage=step.stage))
    barred = unsuited(works.settings, under, bare)
    return f"{barred.reason} ({barred.rule})" if barred else None


def too_hot(works: Works, kiln: Kiln, step: RouteStep, code: str | None) -> str | None:
    """Return why a support does not stand the firing, None if it does or there is none (rule F1, W7)."""
    if code is None:
        return None
    programme, under = works.programme(step.programme), support(works, code)
    need_degc = least_furniture_degc(works, kiln, programme)
    if under.top_degc < need_degc:
        return f"it stands {under.top_degc:g} degC, {need_degc:g} is asked (F1)"
    if isinstance(under, Stilt) and bars_stilts(works.settings, step.stage, programme.peak_degc):
        return "hard porcelain is not stilted in glost (W7)"
    return None


def _no_room(works: Works, kiln: Kiln, body: Body) -> str | None:
    """Return why a body cannot stand in a kiln, the first reason of the place that comes nearest."""
    settings = works.settings
    stub_mm = min((stub.height_mm for stub in usable_stubs(works)), default=settings.bottom_clear_mm)
    reasons = []
    for shelf in shelves_of(works, kiln):
        room_mm = roof_mm(settings, kiln) - stub_mm - shelf.thickness_mm
        if body.top_mm > room_mm + NEAR_MM:
            reasons.append(f"{body.top_mm:.0f} mm high as loaded, {room_mm:.0f} mm is free over {shelf.code} (F17, C6)")
        elif (excess_mm := _off_shelf_mm(works, shelf, body)) > NEAR_MM:
            reasons.append(f"{excess_mm:.0f} mm too wide for {shelf.code} (W2)")
        elif (excess_mm := _off_chamber_mm(works, kiln, body)) > NEAR_MM:
            reasons.append(f"{excess_mm:.0f} mm too wide for the chamber (C4, C10)")
        else:
            return None
    return listed(reasons)


def _off_shelf_mm(works: Works, shelf: ShelfType, body: Body) -> float:
    """Return by how much the foot, or the rim less its overhang, is too wide for a shelf."""
    region = region_polygon(shelf.outline)
    foot, whole = outline_polygon(body.foot), _seen_from_above(body)
    over_mm = max(min(works.settings.overhang_most_mm, _reach(whole) - _reach(foot)), 0.0)
    foot_room = region.buffer(-works.settings.foot_edge_mm, join_style="mitre")
    return max(_excess_mm(foot, foot_room), _excess_mm(whole, region.buffer(over_mm, join_style="mitre")))


def _off_chamber_mm(works: Works, kiln: Kiln, body: Body) -> float:
    clear_mm = wall_clear_mm(works.settings, kiln)
    room = region_polygon(kiln.chamber).buffer(-clear_mm, join_style="mitre")
    return _excess_mm(_seen_from_above(body), room)


def _seen_from_above(body: Body) -> BaseGeometry:
    """Return the union of all sections of a body."""
    return shapely.union_all(
        [
            disc_polygon(part.x_mm, part.y_mm, max(r for _, r in part.profile_mm))
            if isinstance(part, TurnedPart)
            else outline_polygon(part.outline)
            for part in body.parts
        ]
    )


def _reach(geometry: BaseGeometry) -> float:
    return float(geometry.hausdorff_distance(shapely.Point(0, 0)))


def _inner_radius_mm(room: BaseGeometry) -> float:
    """Return the radius of the largest disc inside a convex room."""
    circle = shapely.maximum_inscribed_circle(cast("shapely.Polygon", room), tolerance=NEAR_MM)
    return float(circle.length)


def _excess_mm(piece: BaseGeometry, room: BaseGeometry) -> float:
    """Return by how much a piece is too large for a convex room at its best turn; exact for round pieces.

    Of other pieces only the width and the depth are compared.
    """
    if room.is_empty:
        return _reach(piece) * 2
    left, front, right, back = piece.bounds
    if abs((right - left) - (back - front)) < NEAR_MM and piece.area > 0.999 * (right - left) ** 2 * 0.7853981:
        return right - left - 2 * _inner_radius_mm(room)
    left, front, right, back = room.bounds
    width_mm, depth_mm = right - left, back - front
    best_mm = float("inf")
    for turn_deg in TURNS_DEG:
        x0, y0, x1, y1 = affinity.rotate(piece, turn_deg, origin=(0, 0)).bounds
        best_mm = min(best_mm, max(x1 - x0 - width_mm, y1 - y0 - depth_mm, 0.0))
    return best_mm


ROOM_CHECKS: tuple[Callable[[Reading, Works], Iterator[Finding]], ...] = (fits,)
