"""Sight: witness cones booked before the ware, and what else a tier keeps free (C5, C6, C7, C8)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

import shapely

from kilnpack.model.geometry import Disc
from kilnpack.model.kilns import Peephole
from kilnpack.model.loads import ConePack
from kilnpack.rules.clearances import keep_out_clear_mm
from kilnpack.shapes.outlines import in_kiln, point_on_shelf, region_polygon, square
from kilnpack.shapes.room import DiscKeepOut, RectKeepOut

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.geometry import Point
    from kilnpack.model.kilns import KeepOut, Kiln, StackPlace
    from kilnpack.model.settings import WorksSettings
    from kilnpack.rules.heat import Span

KeepOuts: TypeAlias = tuple[DiscKeepOut | RectKeepOut, ...]

NEAR_MM = 1e-9
HOT_UNDER = ("element", "burner", "vent")
"""What a bottom shelf keeps farther off where it lies over it."""

EDGE_MM = 1e-6
"""A pack may stand flush with the edge of its shelf."""


def packs(kiln: Kiln) -> tuple[Peephole, ...]:
    """C7: the peepholes that want a cone pack.

    References
    ----------
    `pottery-forum`, `common-practice`; the size of the box is from `memory`.
    """
    return tuple(hole for hole in kiln.peepholes if hole.has_pack)


def box_z_mm(settings: WorksSettings, hole: Peephole) -> Span:
    """C7: the heights over the floor between which nothing stands in the sight on a pack, mm."""
    half = settings.cone_height_mm / 2
    return hole.z_mm - half, hole.z_mm + half


def pack_ends_mm(settings: WorksSettings, hole: Peephole) -> Span:
    """C7: where a pack begins and ends on the axis of its hole, mm from the hole."""
    half = settings.cone_depth_mm / 2
    return hole.pack_away_mm - half, hole.pack_away_mm + half


def corridor(settings: WorksSettings, hole: Peephole) -> BaseGeometry:
    """C7: the way of sight from the hole to the far side of its pack, in the kiln frame."""
    _, far_mm = pack_ends_mm(settings, hole)
    return shapely.Polygon(_stretch(settings, hole, 0.0, far_mm))


def pack_footprint(settings: WorksSettings, hole: Peephole) -> BaseGeometry:
    """C7: where a pack stands, in the kiln frame."""
    return shapely.Polygon(_stretch(settings, hole, *pack_ends_mm(settings, hole)))


def pack_in_reach(settings: WorksSettings, hole: Peephole) -> bool:
    """C7: whether the pack of a hole stands where its cones can be told apart, neither too near the hole nor too far.

    References
    ----------
    `memory`.
    """
    return settings.pack_away_least_mm <= hole.pack_away_mm <= settings.pack_away_most_mm


def bottom_clears(settings: WorksSettings, kiln: Kiln, place: StackPlace, shelf: ShelfType, base_mm: float) -> bool:
    """C6: whether the underside of a stack's bottom shelf lies high enough over floor or deck.

    Over an element, burner or vent that begins below it, the shelf keeps farther off: so much over the top of that.

    References
    ----------
    `kiln-maker-guide`; the distance over heat sources is `common-practice`.
    """
    outline = in_kiln(region_polygon(shelf.outline), place)
    under = (keep for keep in kiln.keep_outs if keep.what in HOT_UNDER and keep.from_z_mm < base_mm)
    hot = [keep.to_z_mm for keep in under if outline.intersects(region_polygon(keep.outline))]
    least_mm = max([settings.bottom_clear_mm, *(top + settings.bottom_clear_hot_mm for top in hot)])
    return base_mm >= least_mm - NEAR_MM


def _on_axis(hole: Peephole, along_mm: float, aside_mm: float) -> Point:
    turn = math.radians(hole.direction_deg)
    ux, uy = math.cos(turn), math.sin(turn)
    return hole.x_mm + along_mm * ux - aside_mm * uy, hole.y_mm + along_mm * uy + aside_mm * ux


def _stretch(settings: WorksSettings, hole: Peephole, from_mm: float, to_mm: float) -> list[Point]:
    half = settings.cone_width_mm / 2
    return [_on_axis(hole, a, b) for a, b in ((from_mm, -half), (to_mm, -half), (to_mm, half), (from_mm, half))]


def blocked_bases_mm(settings: WorksSettings, kiln: Kiln, place: StackPlace, shelf: ShelfType) -> list[Span]:
    """C5, C7, C8: the heights between which the underside of a shelf may not lie, mm.

    There it would cut the sight on a pack, or come too near to a keep-out.
    """
    outline, thick_mm = in_kiln(region_polygon(shelf.outline), place), shelf.thickness_mm
    rows = []
    for hole in packs(kiln):
        low, high = box_z_mm(settings, hole)
        if outline.intersects(corridor(settings, hole)):
            rows.append((low - thick_mm, high))
    for keep in kiln.keep_outs:
        if _too_near(settings, keep, outline):
            low, high = _keep_out_z_mm(settings, keep)
            rows.append((low - thick_mm, high))
    return rows


def post_spans_mm(
    settings: WorksSettings, kiln: Kiln, place: StackPlace, shelf: ShelfType, *, side_mm: float
) -> tuple[Span, ...]:
    """C5, C7, C8: the heights between which no post of a stack may stand, mm.

    There it would stand in the sight on a pack, or in a keep-out.

    Parameters
    ----------
    side_mm
        Side of the posts.
    """
    posts = in_kiln(shapely.union_all([square(x, y, side_mm) for x, y in shelf.posts_mm]), place)
    seen = [box_z_mm(settings, hole) for hole in packs(kiln) if posts.intersects(corridor(settings, hole))]
    kept = [_keep_out_z_mm(settings, keep) for keep in kiln.keep_outs if _too_near(settings, keep, posts)]
    return (*seen, *kept)


def meets(spans_mm: Iterable[Span], stretch_mm: Span) -> bool:
    """Return whether a stretch of height, lower and upper end, meets one of some spans."""
    bottom, top = stretch_mm
    return any(high > bottom and low < top for low, high in spans_mm)


def _keep_out_z_mm(settings: WorksSettings, keep: KeepOut) -> Span:
    clear_mm = keep_out_clear_mm(settings, keep)
    return keep.from_z_mm - clear_mm, keep.to_z_mm + clear_mm


def _too_near(settings: WorksSettings, keep: KeepOut, thing: BaseGeometry) -> bool:
    return bool(thing.distance(region_polygon(keep.outline)) < max(keep_out_clear_mm(settings, keep), NEAR_MM))


def near_keep_outs(
    settings: WorksSettings, kiln: Kiln, place: StackPlace, shelf: ShelfType
) -> tuple[KeepOut | Peephole, ...]:
    """C5, C7, C8: what the ware of a stack may come near to at some height: keep-outs, and packs with their sight."""
    outline = in_kiln(region_polygon(shelf.outline), place).buffer(settings.overhang_most_mm)
    return (
        *(
            keep
            for keep in kiln.keep_outs
            if outline.distance(region_polygon(keep.outline)) <= keep_out_clear_mm(settings, keep)
        ),
        *(hole for hole in packs(kiln) if outline.intersects(corridor(settings, hole))),
    )


def tier_keep_outs(
    settings: WorksSettings,
    near: Iterable[KeepOut | Peephole],
    place: StackPlace,
    *,
    floor_mm: float,
    room_mm: float,
) -> KeepOuts:
    """C5, C7, C8: what the ware of a tier keeps out of, in the frame of its shelf.

    Slanted boxes are held by the upright box round them.

    Parameters
    ----------
    near
        What the stack comes near to at some height.
    floor_mm
        Height of the shelf's upper side over floor or deck.
    room_mm
        Free height over it.
    """
    found: list[DiscKeepOut | RectKeepOut] = []
    for one in near:
        low, high = box_z_mm(settings, one) if isinstance(one, Peephole) else _keep_out_z_mm(settings, one)
        if not meets([(low, high)], (floor_mm, floor_mm + room_mm)):
            continue
        if isinstance(one, Peephole):
            found += _pack_keep_outs(settings, one, place, floor_mm)
        else:
            found.append(_seen(one, place, (low - floor_mm, high - floor_mm), keep_out_clear_mm(settings, one)))
    return tuple(found)


def _seen(keep: KeepOut, place: StackPlace, heights_mm: Span, clear_mm: float) -> DiscKeepOut | RectKeepOut:
    heights = {"from_z_mm": max(0.0, heights_mm[0]), "to_z_mm": heights_mm[1], "clearance_mm": clear_mm}
    one = keep.outline
    if isinstance(one, Disc):
        x, y = point_on_shelf(one.x_mm, one.y_mm, place)
        return DiscKeepOut(x_mm=x, y_mm=y, radius_mm=one.r_mm, **heights)
    corners = [(one.x_mm + dx, one.y_mm + dy) for dx in (0.0, one.w_mm) for dy in (0.0, one.d_mm)]
    return RectKeepOut(**_box(corners, place), **heights)


def _pack_keep_outs(
    settings: WorksSettings, hole: Peephole, place: StackPlace, floor_mm: float
) -> Iterator[RectKeepOut]:
    """The corridor at the heights of the box, and the pack from its shelf up."""
    low, high = box_z_mm(settings, hole)
    near, far = pack_ends_mm(settings, hole)
    for from_mm, bottom_mm in ((0.0, max(0.0, low - floor_mm)), (near, 0.0)):
        box = _box(_stretch(settings, hole, from_mm, far), place)
        heights = {"from_z_mm": bottom_mm, "to_z_mm": high - floor_mm}
        yield RectKeepOut(**box, **heights, clearance_mm=settings.placing_mm)


def _box(corners: Iterable[Point], place: StackPlace) -> dict[str, float]:
    """Return the upright box round some points of the kiln, in the frame of a shelf."""
    seen = [point_on_shelf(x, y, place) for x, y in corners]
    xs, ys = [x for x, _ in seen], [y for _, y in seen]
    return {"x0_mm": min(xs), "y0_mm": min(ys), "x1_mm": max(xs), "y1_mm": max(ys)}


def cone_pack(
    settings: WorksSettings, hole: Peephole, tiers: Iterable[tuple[StackPlace, int, float, ShelfType]]
) -> ConePack | None:
    """C7: where the pack of a peephole stands: wholly on the highest shelf under its box; None where there is none.

    Parameters
    ----------
    tiers
        Stack, number, height of the underside and type of every shelf of a load.
    """
    if not pack_in_reach(settings, hole):
        return None
    low, _ = box_z_mm(settings, hole)
    footprint = pack_footprint(settings, hole)
    under = [
        (base_mm + shelf.thickness_mm, place, number)
        for place, number, base_mm, shelf in tiers
        if base_mm + shelf.thickness_mm <= low + NEAR_MM
        and in_kiln(region_polygon(shelf.outline), place).buffer(EDGE_MM).covers(footprint)
    ]
    if not under:
        return None
    top_mm, place, number = max(under, key=lambda row: row[0])
    x, y = point_on_shelf(*_on_axis(hole, hole.pack_away_mm, 0.0), place)
    return ConePack(
        peephole=hole.code,
        place=place.code,
        tier=number,
        x_mm=round(x, 2),
        y_mm=round(y, 2),
        turn_deg=(hole.direction_deg - place.turn_deg) % 360.0,
        lift_mm=round(low - top_mm, 4),
    )
