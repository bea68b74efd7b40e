"""Check what shares the heat and the gas of one load: Z2, Z4, Z5, W5, T9."""

from __future__ import annotations

from itertools import combinations_with_replacement
from typing import TYPE_CHECKING

from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import Stage

if TYPE_CHECKING:
    from kilnpack.rules.check_notes import Notes
    from kilnpack.rules.check_scene import Filling, Level, Placed, Scene

PLAIN = "plain"
"""The class of ware that gives off nothing."""


def check_chemistry(scene: Scene, notes: Notes) -> None:
    """Check the lots of a load against its programme and each other, and every place against its window."""
    fillings = {one.lot.code: one for level in scene.levels for body in level.bodies for one in body.fillings}
    for one in fillings.values():
        _programme(scene, one, notes)
    _vapours(scene, tuple(fillings.values()), notes)
    _refires(scene, tuple(fillings.values()), notes)
    for level in scene.levels:
        for body in level.bodies:
            _window(scene, level, body, notes)


def _programme(scene: Scene, one: Filling, notes: Notes) -> None:
    """W5: raw and glazed ware apart; Z4: one atmosphere; and every lot waits for this very programme."""
    where = f"lot {one.lot.code}"
    if (one.step.stage is Stage.BISCUIT) != (scene.programme.stage is Stage.BISCUIT):
        notes.fault("W5", where, f"ware for {one.step.stage.value}", f"ware for {scene.programme.stage.value} only")
    elif one.step.programme != scene.programme.code:
        own = next((row for row in scene.works.programmes if row.code == one.step.programme), None)
        other = own is not None and own.atmosphere is not scene.programme.atmosphere
        found = f"waits for {one.step.programme}" + (f" in {own.atmosphere.value}" if own and other else "")
        notes.fault("Z4" if other else "programme", where, found, f"ware for {scene.programme.code}")
    if scene.programme.stage is Stage.GLOST and not one.lot.glazed:
        notes.fault("W5", where, "ware not glazed yet", "glazed ware only")


def classes(scene: Scene, one: Filling) -> frozenset[str]:
    """Return the classes of vapour that a lot brings: of its firing, its glaze in glost, its decorations (Z5)."""
    found = set(one.step.vapours)
    if scene.programme.stage is Stage.GLOST and one.glaze and one.glaze.vapour:
        found.add(one.glaze.vapour)
    found |= {row.vapour for row in scene.works.decorations if row.code in one.step.decorations and row.vapour}
    return frozenset(found or {PLAIN})


def _vapours(scene: Scene, fillings: tuple[Filling, ...], notes: Notes) -> None:
    """Z5: excluded classes of vapour never share a load."""
    lots: dict[frozenset[str], str] = {}
    for one in fillings:
        lots.setdefault(classes(scene, one), one.lot.code)
    for (first, lot), (second, other) in combinations_with_replacement(lots.items(), 2):
        for a, b in scene.works.settings.excluded_vapours:
            if (a in first and b in second) or (b in first and a in second):
                notes.fault("Z5", f"lots {lot} and {other}", f"{a} with {b}", "loads of their own")


def _refires(scene: Scene, fillings: tuple[Filling, ...], notes: Notes) -> None:
    """T9: where a works fires refires apart, they share no load with other ware."""
    kinds = {one.lot.kind is LotKind.REFIRE: one.lot.code for one in fillings}
    if scene.works.settings.refires_apart and len(kinds) > 1:
        notes.fault("T9", f"lots {kinds[True]} and {kinds[False]}", "a refire with other ware", "loads of their own")


def _window(scene: Scene, level: Level, body: Placed, notes: Notes) -> None:
    """Z2: peak and offset at foot and top lie in the window of every piece, at both ends of what is known."""
    x, y = level.point_of(body)
    heights = (level.floor_mm, level.floor_mm + body.solid.body.top_mm)
    cold_k, hot_k = scene.offsets_k([(x, y, z) for z in heights])
    low, high = scene.peak_degc + cold_k, scene.peak_degc + hot_k
    for one in body.fillings:
        lows, highs = windows(scene, one)
        if low < max(lows, default=low) - 1e-6 or high > min(highs, default=high) + 1e-6:
            ends = f"{max(lows, default=0):g} to {min(highs, default=9999):g} degC for {one.product.code}"
            notes.fault("Z2", body.where, f"{low:.0f} to {high:.0f} degC", ends)


def windows(scene: Scene, one: Filling) -> tuple[list[float], list[float]]:
    """Return all lower and all upper ends that glaze, decorations and product set for this firing, degC."""
    rows: list[tuple[float | None, float | None]] = [(one.step.low_degc, one.step.high_degc)]
    if scene.programme.stage is Stage.GLOST and one.glaze:
        rows.append((one.glaze.low_degc, one.glaze.high_degc))
    if scene.programme.stage is Stage.DECORATION:
        own = [row for row in scene.works.decorations if row.code in one.step.decorations]
        rows += [(row.low_degc, row.high_degc) for row in own]
    return [low for low, _ in rows if low is not None], [high for _, high in rows if high is not None]
