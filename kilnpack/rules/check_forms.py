"""Check how pieces stand and what they stand on: W4-W10, and the heat of supports (F1)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.furniture import CatchDisc, Setter, Stilt
from kilnpack.model.kilns import ChamberKind
from kilnpack.model.loads import BodyForm
from kilnpack.model.pieces import FootState, StackWay, Stage
from kilnpack.rules.check_solids import solid
from kilnpack.rules.check_stacks import NEAR_MM
from kilnpack.shapes.bodies import piece_kg, support

if TYPE_CHECKING:
    from kilnpack.model.pieces import Shape, Stacking
    from kilnpack.rules.check_notes import Notes
    from kilnpack.rules.check_scene import Filling, Level, Placed, Scene
    from kilnpack.rules.check_solids import Solid

LEAST_POINTS = 3


def check_forms(scene: Scene, notes: Notes) -> None:
    """Check every form that stands somewhere, then every place by the heat there."""
    used = {body.solid.form.code: body.solid for level in scene.levels for body in level.bodies}
    for built in used.values():
        shape = scene.works.shape(built.form.shape)
        _stacked(scene, shape, built.form, notes)
        _lid(scene, shape, built.form, notes)
        if built.form.support is not None:
            _support(scene, built.form, notes)
    for level in scene.levels:
        for body in level.bodies:
            _foot(scene, level, body, notes)


def _stacked(scene: Scene, shape: Shape, form: BodyForm, notes: Notes) -> None:
    """W4: raw ware as its shape allows; W5: one piece a place in glost and decoration."""
    where = f"form {form.code}"
    on_setter = isinstance(support(scene.works, form.support), Setter) if form.support else False
    if form.way is None:
        if form.pieces > 1 and not on_setter:
            notes.fault("W5", where, f"{form.pieces} pieces at one place", "one piece, or a way of stacking")
        return
    if form.stage is not Stage.BISCUIT:
        notes.fault("W5", where, f"{form.way.value} in {form.stage.value}", "one piece a place outside setters")
        return
    if scene.kiln.kind is ChamberKind.CAR and form.way is StackWay.PILED and form.spacer is None:
        notes.fault("C10", where, "a loose pile on a car", "piles on spacers, or none")
    if shape.lid is not None:
        notes.fault("W4", where, f"{form.way.value} with a lid in place", "ware with lids not stacked")
    stacking = next(way for way in shape.stackings if way.way is form.way)
    _stack_limits(scene, shape, form, stacking, notes)


def _stack_limits(scene: Scene, shape: Shape, form: BodyForm, stacking: Stacking, notes: Notes) -> None:
    where = f"form {form.code}"
    if form.pieces > stacking.most_pieces:
        notes.fault("W4", where, f"{form.pieces} {form.way}", f"at most {stacking.most_pieces}")
    own = piece_kg(scene.works, shape, form.stage)
    spacer = next((row for row in scene.works.furniture.spacers if row.code == form.spacer), None)
    between = spacer.mass_kg * spacer.pieces_per_gap if spacer else 0.0
    above = (form.pieces - 1) * (own + between)
    if above > stacking.load_limit_factor * own + 1e-6:
        most = stacking.load_limit_factor * own
        notes.fault("W4", where, f"{above:.2f} kg on the lowest piece", f"at most {most:.2f} kg")
    if form.way is StackWay.NESTED and stacking.loose_mm < scene.works.settings.nest_loose_mm:
        loose = scene.works.settings.nest_loose_mm
        notes.fault("W4", where, f"{stacking.loose_mm:g} mm of play", f"at least {loose:g} mm")
    if form.way is StackWay.PILED and form.pieces > stacking.bare_most_pieces and spacer is None:
        notes.fault("W4", where, f"{form.pieces} piled bare", f"spacers above {stacking.bare_most_pieces}")
    if spacer and spacer.top_degc < scene.peak_degc + scene.works.settings.overshoot_k:
        notes.fault("F1", where, f"{spacer.code} for {spacer.top_degc:g} degC", f"above {scene.peak_degc:g} degC")


def _lid(scene: Scene, shape: Shape, form: BodyForm, notes: Notes) -> None:
    """W9: in biscuit and glost a lid is fired on its pot, never alone."""
    lids = {row.lid.shape for row in scene.works.shapes if row.lid}
    if shape.code in lids and form.stage is not Stage.DECORATION:
        notes.fault("W9", f"form {form.code}", f"lid {shape.code} alone in {form.stage.value}", "the lid on its pot")


def _support(scene: Scene, form: BodyForm, notes: Notes) -> None:
    """W7, W8, W10: the support suits the piece."""
    bare = solid(scene.works, BodyForm(code=form.code, shape=form.shape, stage=form.stage))
    under = support(scene.works, form.support or "")
    if isinstance(under, Stilt):
        _stilt(scene, form, bare, under, notes)
    elif isinstance(under, Setter):
        _setter(form, bare, under, notes)
    elif bare.foot_reach_mm > under.outer_mm / 2 + NEAR_MM:
        found = f"a foot of {2 * bare.foot_reach_mm:.1f} mm"
        notes.fault("W10", f"form {form.code}", found, f"at most {under.outer_mm:g} mm, the catch disc")


def _stilt(scene: Scene, form: BodyForm, bare: Solid, under: Stilt, notes: Notes) -> None:
    where, most = f"form {form.code}", scene.works.settings.stilt_overhang_mm
    soft_degc = scene.works.settings.hard_porcelain_degc
    if form.stage is Stage.GLOST and scene.programme.peak_degc > soft_degc:
        notes.fault("W7", where, f"on stilts at {scene.programme.peak_degc:g} degC", f"none above {soft_degc:g} degC")
    if under.points < LEAST_POINTS:
        notes.fault("W7", where, f"{under.points} points", f"at least {LEAST_POINTS}")
    if under.contact_r_mm > bare.foot_inner_mm + NEAR_MM:
        notes.fault(
            "W7", where, f"points {under.contact_r_mm:g} mm from the axis", f"within {bare.foot_inner_mm:.1f} mm"
        )
    if bare.rim_reach_mm - under.contact_r_mm > most + NEAR_MM:
        over = bare.rim_reach_mm - under.contact_r_mm
        notes.fault("W7", where, f"ware {over:.1f} mm over the stilt", f"at most {most:g} mm")


def _setter(form: BodyForm, bare: Solid, under: Setter, notes: Notes) -> None:
    where = f"form {form.code}"
    if form.pieces > under.most_pieces:
        notes.fault("W8", where, f"{form.pieces} setters", f"at most {under.most_pieces} on each other")
    if 2 * bare.rim_reach_mm > under.inner_mm + NEAR_MM:
        notes.fault("W8", where, f"ware {2 * bare.rim_reach_mm:.1f} mm wide", f"at most {under.inner_mm:g} mm")
    if form.pieces > 1 and bare.body.top_mm > under.pitch_mm + NEAR_MM:
        notes.fault("W8", where, f"ware {bare.body.top_mm:.1f} mm high", f"at most the pitch, {under.pitch_mm:g} mm")


def _foot(scene: Scene, level: Level, body: Placed, notes: Notes) -> None:
    """W6, W7, W8, W10: the support that the firing asks for; F1: it stands the heat of its place."""
    x, y = level.point_of(body)
    _, hot_k = scene.offsets_k([(x, y, level.floor_mm)])
    under = support(scene.works, body.solid.form.support) if body.solid.form.support else None
    if under and under.top_degc < scene.peak_degc + hot_k + scene.works.settings.overshoot_k:
        hottest = scene.peak_degc + hot_k + scene.works.settings.overshoot_k
        notes.fault("F1", body.where, f"{under.code} for {under.top_degc:g} degC", f"a support for {hottest:.0f} degC")
    for one in body.fillings:
        _asked_for(body, under, one, notes)
        _glazed(scene, body, under, one, scene.peak_degc + hot_k, notes)


def _asked_for(body: Placed, under: Stilt | Setter | CatchDisc | None, one: Filling, notes: Notes) -> None:
    if one.step.supports and (under is None or under.code not in one.step.supports):
        found = under.code if under else "the bare shelf"
        notes.fault("W8", body.where, f"{one.product.code} on {found}", f"one of {', '.join(one.step.supports)}")


def _glazed(
    scene: Scene,
    body: Placed,
    under: Stilt | Setter | CatchDisc | None,
    one: Filling,
    heat_degc: float,
    notes: Notes,
) -> None:
    """W6: a glazed foot touches nothing where its glaze softens; W10: a runny glaze stands on its own disc."""
    stage = scene.programme.stage
    if one.glaze is None or stage is Stage.BISCUIT:
        return
    soft = heat_degc > one.glaze.softening_degc
    if one.step.foot is FootState.GLAZED and soft and not isinstance(under, Stilt | Setter):
        found = f"the glazed foot of {one.product.code} at {heat_degc:.0f} degC"
        notes.fault("W6", body.where, found, f"a stilt or setter above {one.glaze.softening_degc:g} degC")
    if one.glaze.runny and stage is Stage.GLOST and not isinstance(under, CatchDisc):
        notes.fault("W10", body.where, f"runny {one.glaze.code} on no disc", "a catch disc of its own")
