"""How products are told apart on paper: tint, hatch and code together, so that colour is never the only sign.

Tints are those of Okabe and Ito's set for colour-blind readers, thinned with white. Hatch lines are real lines cut
to the outline. Eight tints and seven hatches share no divisor, so 56 products differ before a pair comes back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely
from shapely import affinity

if TYPE_CHECKING:
    from collections.abc import Iterable

    from shapely.geometry.base import BaseGeometry

TINTS = ("#F6D899", "#BBE1F6", "#99D8C7", "#F9F4B4", "#99C7E0", "#EEBF99", "#EBC9DC", "#D6D6D6")
HATCHES: tuple[tuple[float, ...], ...] = ((), (45.0,), (135.0,), (0.0,), (90.0,), (45.0, 135.0), (0.0, 90.0))
"""Directions of the hatch lines of each kind."""

APART_MM = 2.6
"""Distance of hatch lines, mm of paper."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tone:
    """Tint and hatch of one product; `mixed` ware of a place that changes from tier to tier has neither."""

    tint: str
    hatch: tuple[float, ...]


PLAIN = Tone(tint="#FFFFFF", hatch=())


def tones_of(codes: Iterable[str]) -> dict[str, Tone]:
    """Return a tone for each code, given out in the order the codes first come."""
    order = dict.fromkeys(codes)
    return {code: Tone(tint=TINTS[k % len(TINTS)], hatch=HATCHES[k % len(HATCHES)]) for k, code in enumerate(order)}


def hatch_lines(area: BaseGeometry, hatch: tuple[float, ...], apart_mm: float) -> BaseGeometry:
    """Return the hatch lines inside an area, both in mm of the thing drawn.

    Parameters
    ----------
    area
        What to fill.
    hatch
        Directions of the lines, degrees from the x axis.
    apart_mm
        Distance from line to line.
    """
    lines: list[BaseGeometry] = []
    for direction_deg in hatch:
        level = affinity.rotate(area, -direction_deg, origin=(0, 0))
        left, low, right, high = level.bounds
        first, last = math.ceil(low / apart_mm), math.floor(high / apart_mm)
        rules = [shapely.LineString([(left, k * apart_mm), (right, k * apart_mm)]) for k in range(first, last + 1)]
        cut = shapely.intersection(shapely.MultiLineString(rules), level)
        lines.extend(shapely.get_parts(affinity.rotate(cut, direction_deg, origin=(0, 0))))
    return shapely.geometrycollections(lines)
