"""Bodies: a shape as it stands in one stage, with its stack, stilt, setter or catch disc.

Sizes are those on entry to the stage (rule W1), grown by the works' size scatter so that every piece of the lot
fits. Supports are not grown: they are measured things.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.model.furniture import CatchDisc, Setter, Stilt
from kilnpack.model.geometry import Disc, ExtrudedPart, Outline, Part, RoundedPolygon, TurnedPart
from kilnpack.model.pieces import Shape, StackWay, Stage

if TYPE_CHECKING:
    from kilnpack.model.loads import BodyForm
    from kilnpack.model.works import Works


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Geometry and mass of one body, its foot on the shelf at z = 0 and its axis at (0, 0).

    `ware_kg` is all ware of the body, `support_kg` its stilt, setters, disc or spacers. `top_mm` is the height
    including knob, stilt, setter and disc. `pieces` is the number of pieces that stand in it.
    """

    form: BodyForm
    parts: tuple[Part, ...]
    foot: Outline
    top_mm: float
    ware_kg: float
    support_kg: float
    pieces: int

    @property
    def mass_kg(self) -> float:
        """Mass on the shelf, kg."""
        return self.ware_kg + self.support_kg


def entry_factor(shape: Shape, stage: Stage) -> float:
    """Size on entry to a stage as a multiple of the final size (rule W1).

    Each shrinkage is a share of the size on entry to its own stage, so the factors divide.
    """
    factor = 1.0 / (1.0 - shape.decoration_shrinkage_share)
    if stage is not Stage.DECORATION:
        factor /= 1.0 - shape.glost_shrinkage_share
    if stage is Stage.BISCUIT:
        factor /= 1.0 - shape.biscuit_shrinkage_share
    return factor


def entry_kg(shape: Shape, stage: Stage) -> float:
    """Mass of one piece on entry to a stage, kg: bone dry, glazed biscuit, or glost ware (taken as glazed)."""
    return shape.dry_kg if stage is Stage.BISCUIT else shape.glazed_kg


def scaled(part: Part, factor: float) -> Part:
    """Return the part with every length multiplied."""
    if isinstance(part, TurnedPart):
        profile = tuple((z * factor, r * factor) for z, r in part.profile_mm)
        return TurnedPart(profile_mm=profile, x_mm=part.x_mm * factor, y_mm=part.y_mm * factor)
    return ExtrudedPart(
        from_z_mm=part.from_z_mm * factor,
        to_z_mm=part.to_z_mm * factor,
        outline=scaled_outline(part.outline, factor),
    )


def scaled_outline(outline: Outline, factor: float) -> Outline:
    """Return the outline with every length multiplied."""
    return tuple(
        Disc(x_mm=member.x_mm * factor, y_mm=member.y_mm * factor, r_mm=member.r_mm * factor)
        if isinstance(member, Disc)
        else RoundedPolygon(
            corners_mm=tuple((x * factor, y * factor) for x, y in member.corners_mm),
            round_mm=member.round_mm * factor,
        )
        for member in outline
    )


def lifted(part: Part, by_mm: float) -> Part:
    """Return the part raised."""
    if isinstance(part, TurnedPart):
        return replace(part, profile_mm=tuple((z + by_mm, r) for z, r in part.profile_mm))
    return replace(part, from_z_mm=part.from_z_mm + by_mm, to_z_mm=part.to_z_mm + by_mm)


def upturned(part: Part, height_mm: float) -> Part:
    """Return the part upside down, so that its top at `height_mm` comes to lie at 0."""
    if isinstance(part, TurnedPart):
        return replace(part, profile_mm=tuple((height_mm - z, r) for z, r in reversed(part.profile_mm)))
    return replace(part, from_z_mm=height_mm - part.to_z_mm, to_z_mm=height_mm - part.from_z_mm)


def top_mm(parts: tuple[Part, ...]) -> float:
    """Greatest height of the parts, mm."""
    return max(part.profile_mm[-1][0] if isinstance(part, TurnedPart) else part.to_z_mm for part in parts)


def piece_parts(works: Works, shape: Shape, stage: Stage) -> tuple[Part, ...]:
    """Parts of one bare piece on entry to the stage, with its lid in place, grown by the works' size scatter."""
    factor = entry_factor(shape, stage) * (1.0 + works.settings.size_scatter_share)
    parts = tuple(scaled(part, factor) for part in shape.parts)
    if shape.lid is None:
        return parts
    lid = works.shape(shape.lid.shape)
    lid_factor = entry_factor(lid, stage) * (1.0 + works.settings.size_scatter_share)
    seat = shape.lid.seat_mm * factor
    return parts + tuple(lifted(scaled(part, lid_factor), seat) for part in lid.parts)


def piece_kg(works: Works, shape: Shape, stage: Stage) -> float:
    """Mass of one piece on entry to the stage, lid included, kg."""
    lid_kg = entry_kg(works.shape(shape.lid.shape), stage) if shape.lid else 0.0
    return entry_kg(shape, stage) + lid_kg


def support(works: Works, code: str) -> Stilt | Setter | CatchDisc:
    """Find a support by code; KeyError if the works has none of that code."""
    furniture = works.furniture
    stock: tuple[Stilt | Setter | CatchDisc, ...] = furniture.stilts + furniture.setters + furniture.catch_discs
    return {item.code: item for item in stock}[code]


def stand(works: Works, form: BodyForm) -> Body:
    """Build the body of a form.

    Raises
    ------
    KeyError
        If the shape, the support or the spacer is not in the works.
    """
    shape = works.shape(form.shape)
    parts = piece_parts(works, shape, form.stage)
    factor = entry_factor(shape, form.stage) * (1.0 + works.settings.size_scatter_share)
    ware_kg = piece_kg(works, shape, form.stage) * form.pieces
    if form.way is not None:
        return _stacked(works, form, shape, parts, factor, ware_kg)
    foot = scaled_outline(shape.foot, factor)
    if form.support is None:
        return Body(form=form, parts=parts, foot=foot, top_mm=top_mm(parts), ware_kg=ware_kg, support_kg=0.0, pieces=1)
    return _supported(form, parts, ware_kg, support(works, form.support))


def _stacked(
    works: Works, form: BodyForm, shape: Shape, parts: tuple[Part, ...], factor: float, ware_kg: float
) -> Body:
    """Raw ware on raw ware: nested or piled by a step, boxed rim to rim and foot to foot."""
    stacking = {way.way: way for way in shape.stackings}[form.way] if form.way else None
    height = top_mm(parts)
    spacers = {item.code: item for item in works.furniture.spacers}
    spacer = spacers[form.spacer] if form.spacer else None
    built: list[Part] = []
    for k in range(form.pieces):
        if form.way is StackWay.BOXED:
            layer = parts if k % 2 == 0 else tuple(upturned(part, height) for part in parts)
            built += [lifted(part, k * height) for part in layer]
        else:
            step = (stacking.step_mm if stacking else 0.0) * factor + (spacer.height_mm if spacer else 0.0)
            built += [lifted(part, k * step) for part in parts]
    spacer_kg = spacer.mass_kg * spacer.pieces_per_gap * (form.pieces - 1) if spacer else 0.0
    return Body(
        form=form,
        parts=tuple(built),
        foot=scaled_outline(shape.foot, factor),
        top_mm=top_mm(tuple(built)),
        ware_kg=ware_kg,
        support_kg=spacer_kg,
        pieces=form.pieces,
    )


def _supported(form: BodyForm, parts: tuple[Part, ...], ware_kg: float, under: Stilt | Setter | CatchDisc) -> Body:
    """A piece on a stilt or a catch disc, or pieces in stacked setters; the support's foot is the body's."""
    if isinstance(under, Setter):
        radius, seat, rise, tall = under.outer_mm / 2, under.seat_mm, under.pitch_mm, under.pitch_mm * form.pieces
    elif isinstance(under, Stilt):
        radius, seat, rise, tall = under.foot_r_mm, under.height_mm, 0.0, under.height_mm
    else:
        radius, seat, rise, tall = under.outer_mm / 2, under.height_mm, 0.0, under.height_mm
    built = (TurnedPart(profile_mm=((0.0, radius), (tall, radius))),)
    ware = tuple(lifted(part, seat + k * rise) for k in range(form.pieces) for part in parts)
    return Body(
        form=form,
        parts=built + ware,
        foot=(Disc(r_mm=radius),),
        top_mm=top_mm(built + ware),
        ware_kg=ware_kg,
        support_kg=under.mass_kg * form.pieces,
        pieces=form.pieces,
    )
