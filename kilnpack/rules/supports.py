"""Supports: stilts, setters and catch discs, when one is needed and which suits (W6, W7, W8, W10, F1)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from kilnpack.model.furniture import CatchDisc, Setter, Stilt
from kilnpack.model.geometry import Disc, TurnedPart
from kilnpack.model.pieces import FootState, Stage
from kilnpack.rules.strength import segment_mm

if TYPE_CHECKING:
    from kilnpack.model.geometry import Outline, RoundedPolygon
    from kilnpack.model.pieces import Product, RouteStep
    from kilnpack.model.settings import WorksSettings
    from kilnpack.model.works import Works
    from kilnpack.shapes.bodies import Body

LEAST_POINTS = 3
"""Points of a stilt round the centre of mass."""

NEAR_MM = 1e-6

Support: TypeAlias = Stilt | Setter | CatchDisc


@dataclass(frozen=True, slots=True, kw_only=True)
class Barred:
    """Why ware may not stand in a firing, with the smallest change that would let it."""

    rule: str
    reason: str
    change: str | None = None


def supports_for(
    works: Works, product: Product, step: RouteStep, *, peak_degc: float, asked_degc: float
) -> tuple[str | None, ...] | Barred:
    """W6, W7, W8, W10, F1: the supports one of which must be used, (None,) for the bare shelf, or what bars the ware.

    A runny glaze stands on a catch disc of its own in glost (W10). A glazed foot touches nothing where the firing is
    hotter than the point at which its glaze softens, so it needs a stilt or a setter (W6). Hard porcelain is not
    stilted in glost; below that heat an all-clay stilt is held to its own top temperature (W7).

    Parameters
    ----------
    peak_degc
        Peak of the programme.
    asked_degc
        What furniture must stand, see `heat.furniture_degc`.

    References
    ----------
    `pottery-forum` (W6, W10); `furniture-suppliers`, `porcelain-handbook` (W7); `ceramics-glossary` (W8).
    """
    allowed = supports_left(works, product, step, asked_degc)
    if isinstance(allowed, Barred):
        return allowed
    if not allowed:
        return (None,)
    furniture = works.furniture
    stock: tuple[Support, ...] = furniture.stilts + furniture.setters + furniture.catch_discs
    fit = [row for row in stock if row.code in allowed and row.top_degc >= asked_degc]
    if not fit:
        return Barred(rule="F1", reason=f"no support of {product.code} stands {asked_degc:.0f} degC")
    if bars_stilts(works.settings, step.stage, peak_degc):
        fit = [row for row in fit if not isinstance(row, Stilt)]
    if not fit:
        reason = f"{product.code} has stilts only, and hard porcelain is not stilted in glost"
        return Barred(rule="W7", reason=reason, change="a setter, or a dry foot")
    return tuple(row.code for row in fit)


def bars_stilts(settings: WorksSettings, stage: Stage, peak_degc: float) -> bool:
    """W7: whether a firing is a glost of hard porcelain, so soft at its peak that stilts would sink in.

    References
    ----------
    `furniture-suppliers`, `porcelain-handbook`.
    """
    return stage is Stage.GLOST and peak_degc > settings.hard_porcelain_degc


def supports_left(works: Works, product: Product, step: RouteStep, heat_degc: float) -> set[str] | Barred:
    """W6, W10: the supports that glaze and foot leave at a heat; empty where the bare shelf will do.

    References
    ----------
    `pottery-forum`.
    """
    glaze = next((row for row in works.glazes if row.code == product.glaze), None)
    discs = {item.code for item in works.furniture.catch_discs}
    allowed = set(step.supports)
    if glaze is None or step.stage is Stage.BISCUIT:
        return allowed
    if glaze.runny and step.stage is Stage.GLOST:
        allowed = (allowed or discs) & discs
        if not allowed:
            reason = f"{product.code} has a runny glaze and no catch disc"
            return Barred(rule="W10", reason=reason, change="a catch disc")
    if step.foot is FootState.GLAZED and heat_degc > glaze.softening_degc:
        allowed -= discs
        if not allowed:
            reason = f"the foot of {product.code} is glazed and no stilt or setter is named"
            return Barred(rule="W6", reason=reason, change="wipe the foot")
    return allowed


def unsuited(settings: WorksSettings, under: Support, bare: Body) -> Barred | None:
    """W7, W8, W10: why a support does not suit a piece whatever the firing, None where it does.

    A stilt has three points or more, all inside the foot of the smallest piece, and the ware overhangs it by no more
    than a works allows. A setter takes the widest piece; a catch disc takes the whole foot.

    Parameters
    ----------
    bare
        The body of the piece without its support, grown by the size scatter of the works.

    References
    ----------
    `furniture-suppliers`, `glazeware-loading` (W7); `ceramics-glossary` (W8); `pottery-forum` (W10).
    """
    if isinstance(under, Stilt):
        reason = _off_stilt(settings, under, bare)
        return Barred(rule="W7", reason=reason) if reason else None
    if isinstance(under, Setter):
        wide_mm = 2 * reach_mm(bare)
        if wide_mm <= under.inner_mm + NEAR_MM:
            return None
        return Barred(rule="W8", reason=f"the setter takes {under.inner_mm:g} mm, the ware is {wide_mm:.0f} mm wide")
    foot_mm = 2 * outline_reach_mm(bare.foot)
    if foot_mm <= under.outer_mm + NEAR_MM:
        return None
    return Barred(rule="W10", reason=f"the disc is {under.outer_mm:g} mm wide, the foot {foot_mm:.0f} mm")


def _off_stilt(settings: WorksSettings, under: Stilt, bare: Body) -> str | None:
    smallest_mm = outline_inner_mm(bare.foot) / (1.0 + settings.size_scatter_share) ** 2
    if under.points < LEAST_POINTS:
        return f"a stilt needs {LEAST_POINTS} points"
    if under.contact_r_mm > smallest_mm + NEAR_MM:
        return f"the stilt touches at {under.contact_r_mm:g} mm, the foot ends at {smallest_mm:.0f} mm"
    if reach_mm(bare) - under.contact_r_mm > settings.stilt_overhang_mm + NEAR_MM:
        return f"the ware overhangs the stilt by more than {settings.stilt_overhang_mm:g} mm"
    return None


def reach_mm(body: Body) -> float:
    """Return how far any part of a body gets from its axis, mm."""
    return max(
        math.hypot(part.x_mm, part.y_mm) + max(r for _, r in part.profile_mm)
        if isinstance(part, TurnedPart)
        else outline_reach_mm(part.outline)
        for part in body.parts
    )


def outline_reach_mm(outline: Outline) -> float:
    """Return how far an outline gets from the axis, mm: a convex part is farthest at one of its corners."""
    return max(
        math.hypot(member.x_mm, member.y_mm) + member.r_mm
        if isinstance(member, Disc)
        else max(math.hypot(x, y) for x, y in member.corners_mm) + member.round_mm
        for member in outline
    )


def outline_inner_mm(outline: Outline) -> float:
    """Return the radius of the largest disc round the axis in one member of an outline, mm; below 0 off them all."""
    return max(
        member.r_mm - math.hypot(member.x_mm, member.y_mm) if isinstance(member, Disc) else _inner_mm(member)
        for member in outline
    )


def _inner_mm(member: RoundedPolygon) -> float:
    ring = member.corners_mm
    edges = list(zip(ring, ring[1:] + ring[:1], strict=True))
    apart_mm = min(segment_mm((0.0, 0.0), a, b) for a, b in edges)
    inside = len(ring) > 2 and all(ax * by - ay * bx >= 0 for (ax, ay), (bx, by) in edges)
    return member.round_mm + (apart_mm if inside else -apart_mm)
