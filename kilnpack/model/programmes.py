"""Firing programmes."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from kilnpack.model.pieces import Stage


class Atmosphere(StrEnum):
    """What the kiln gas does to the ware."""

    OXIDATION = "oxidation"
    REDUCTION = "reduction"
    NEUTRAL = "neutral"


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """Heat (or cool) to a temperature at a rate, then hold."""

    to_degc: float
    rate_k_h: float
    hold_h: float = 0.0
    atmosphere: Atmosphere = Atmosphere.OXIDATION
    lambda_factor: float | None = None
    """Air ratio of a gas kiln over this segment; None = the kiln's usual one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """A firing curve with what was recorded of it.

    `recorded_fire_h` and `recorded_cool_h` hold for `recorded_kg` of ware and furniture; planning scales them by mass
    (rule T3). `atmosphere` is that of the whole load (rule Z4).
    """

    code: str
    name: str
    stage: Stage
    segments: tuple[Segment, ...]
    atmosphere: Atmosphere
    recorded_fire_h: float
    recorded_cool_h: float
    recorded_kg: float
    cool_outside_h: float = 0.0
    """Hours that a drawn car still cools outside before it may be unloaded by hand."""

    @property
    def peak_degc(self) -> float:
        """Hottest temperature of the curve, degC."""
        return max(segment.to_degc for segment in self.segments)
