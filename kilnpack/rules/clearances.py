"""Clearances: how far ware keeps from ware, posts, walls, roof and what the kiln holds (C1-C6, C10-C12, F10, W2)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.kilns import ChamberKind, WallKind
from kilnpack.model.pieces import Stage

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.model.kilns import KeepOut, Kiln
    from kilnpack.model.settings import WorksSettings

THERMOCOUPLE = "thermocouple"
"""What a keep-out is called that has the bubble of C5."""


def ware_gap_mm(
    settings: WorksSettings, stage: Stage, peak_degc: float, softening_degc: Iterable[float], *, refires: bool
) -> float:
    """C1, C11, C12: gap between any two bodies of a firing at every height, mm.

    Raw ware may touch; glazed ware keeps apart, and farther where a fired glaze comes within the margin of its
    softening point again. What does not shrink away grows while hot. The hand that places adds its own.

    Parameters
    ----------
    softening_degc
        Softening points of all glazes in the load; they count in decoration only.
    refires
        Whether refired ware is in the load.

    References
    ----------
    `kiln-maker-guide`, `glazeware-loading`, `potters-lists` (C1); `common-practice` (C12); `own-calculation` (C11).
    """
    own = {
        Stage.BISCUIT: settings.gap_biscuit_mm,
        Stage.GLOST: settings.gap_glost_mm,
        Stage.DECORATION: settings.gap_decoration_mm,
    }[stage]
    decoration = stage is Stage.DECORATION
    if decoration and any(degc - peak_degc <= settings.soft_margin_k for degc in softening_degc):
        own = max(own, settings.gap_decoration_hot_mm)
    growth = settings.hot_growth_mm if refires or decoration else 0.0
    return own + growth + settings.placing_mm


def post_gap_mm(settings: WorksSettings, stage: Stage) -> float:
    """C2, C12: gap between ware and post, mm; raw ware may come nearer.

    References
    ----------
    `glazeware-loading`.
    """
    own = settings.post_gap_biscuit_mm if stage is Stage.BISCUIT else settings.post_gap_mm
    return own + settings.placing_mm


def roof_mm(settings: WorksSettings, kiln: Kiln) -> float:
    """C6, F17: height over floor or deck that the ware of an open top tier stays under, mm.

    References
    ----------
    `kiln-maker-guide`.
    """
    return kiln.usable_height_mm - settings.top_clear_mm


def wall_clear_mm(settings: WorksSettings, kiln: Kiln) -> float:
    """C4, C10: gap between ware and the wall, or the edge of a car, mm; the kiln's own word goes first.

    References
    ----------
    `teaching-notes`, `kiln-maker-guide` (C4); `trade-journal`, `memory` (C10).
    """
    if kiln.wall_clear_mm is not None:
        return kiln.wall_clear_mm
    if kiln.kind is ChamberKind.CAR:
        return settings.car_edge_mm
    return settings.ware_wall_electric_mm if kiln.wall is WallKind.ELECTRIC else settings.ware_wall_gas_mm


def shelf_wall_mm(settings: WorksSettings, kiln: Kiln) -> float:
    """F10: gap between a shelf and the wall, mm.

    References
    ----------
    `furniture-suppliers`, `pottery-forum`.
    """
    return settings.shelf_wall_electric_mm if kiln.wall is WallKind.ELECTRIC else settings.shelf_wall_gas_mm


def keep_out_clear_mm(settings: WorksSettings, keep: KeepOut) -> float:
    """C5, C8: what ware, shelves and posts stay off a keep-out by, mm; a thermocouple has its bubble.

    References
    ----------
    `glazeware-loading` (C5); `pottery-forum` (C8).
    """
    return max(keep.clear_mm, settings.thermocouple_mm) if keep.what == THERMOCOUPLE else keep.clear_mm
