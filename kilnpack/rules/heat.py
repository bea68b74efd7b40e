"""Heat: what a place, a piece and the furniture stand (Z1, Z2, F1)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

from kilnpack.model.pieces import Stage

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln, OffsetMap
    from kilnpack.model.pieces import Product, RouteStep
    from kilnpack.model.settings import WorksSettings
    from kilnpack.model.works import Works

Span: TypeAlias = tuple[float, float]
"""A lowest and a highest value."""

Window: TypeAlias = tuple[float | None, float | None]
"""Lowest and highest temperature ware stands, degC; None where nothing is said."""

SAME_MM = 1e-6
NEAR_K = 1e-9


def offset_map(kiln: Kiln, stage: Stage) -> OffsetMap | None:
    """Z1: the map of a kiln for a stage, None where the works has made none."""
    return next((chart for chart in kiln.offsets if chart.stage is stage), None)


def offset_range_k(settings: WorksSettings, kiln: Kiln, stage: Stage, at_mm: tuple[float, float, float]) -> Span:
    """Z1: how much colder and hotter than the programme a place may be, K.

    Between readings they are weighted by the inverse square of their distance, so that every value lies between the
    coldest and the hottest reading. Without readings a place is known only to plus and minus the spread.

    References
    ----------
    `ams-2750f` for the size of a spread; `common-practice` for reading it off witness cones.
    """
    chart = offset_map(kiln, stage)
    if chart is None or not chart.readings:
        return offset_ends_k(settings, kiln, stage)
    weight_sum = weighted_k = 0.0
    for row in chart.readings:
        apart = math.dist(at_mm, (row.x_mm, row.y_mm, row.z_mm))
        if apart < SAME_MM:
            return row.offset_k, row.offset_k
        weight_sum += 1.0 / apart**2
        weighted_k += row.offset_k / apart**2
    return weighted_k / weight_sum, weighted_k / weight_sum


def offset_ends_k(settings: WorksSettings, kiln: Kiln, stage: Stage) -> Span:
    """Z1: the coldest and the hottest offset that any place of the kiln may have, K."""
    chart = offset_map(kiln, stage)
    if chart is None:
        return -settings.offset_spread_k, settings.offset_spread_k
    if not chart.readings:
        return -chart.spread_k, chart.spread_k
    return min(row.offset_k for row in chart.readings), max(row.offset_k for row in chart.readings)


def furniture_degc(settings: WorksSettings, peak_degc: float, offset_k: float) -> float:
    """F1: what furniture must stand at a place: the peak, the offset there, and what a controller overshoots, degC.

    References
    ----------
    `furniture-suppliers`, `sic-data`, `shelf-maker-data` for top temperatures; `common-practice` for the overshoot.
    """
    return peak_degc + offset_k + settings.overshoot_k


def window_degc(works: Works, product: Product, step: RouteStep) -> Window:
    """Z2: the temperatures that product, glaze (in glost) and decorations all stand in one firing, degC.

    References
    ----------
    `common-practice`.
    """
    rows: list[Window] = [(step.low_degc, step.high_degc)]
    if step.stage is Stage.GLOST:
        rows += [(row.low_degc, row.high_degc) for row in works.glazes if row.code == product.glaze]
    if step.stage is Stage.DECORATION:
        rows += [(row.low_degc, row.high_degc) for row in works.decorations if row.code in step.decorations]
    lows, highs = [low for low, _ in rows if low is not None], [high for _, high in rows if high is not None]
    return max(lows, default=None), min(highs, default=None)


def window_met(window: Window, low_degc: float, high_degc: float) -> bool:
    """Z2: whether ware stands everything between the coldest and the hottest that its place may become."""
    low, high = window
    return (low is None or low_degc >= low - NEAR_K) and (high is None or high_degc <= high + NEAR_K)
