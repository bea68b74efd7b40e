"""Factors that fit the heat model to a works' own meter, and how wide its answers are without them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.model.kilns import EnergyKind

if TYPE_CHECKING:
    from kilnpack.model.kilns import Energy

UNCALIBRATED_ELECTRIC_SHARE = 0.15
UNCALIBRATED_GAS_SHARE = 0.25
LEAST_RANGE_SHARE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Factors of one kiln.

    Parameters
    ----------
    lining_factor
        Multiplies all heat that goes into and through the lining.
    flue_factor
        Multiplies the gas burnt; 1 in an electric kiln.
    leak_air_nm3_h
        Leak air of an electric kiln; None is the kiln's stated one.
    readings
        Meter readings the factors rest on.
    scatter_share
        Root mean square of what the readings still differ by, as a share of each.
    """

    lining_factor: float = 1.0
    flue_factor: float = 1.0
    leak_air_nm3_h: float | None = None
    readings: int = 0
    scatter_share: float = 0.0

    def leak_air(self, energy: Energy) -> float:
        """Return the leak air to reckon with, Nm3/h."""
        return energy.leak_air_nm3_h if self.leak_air_nm3_h is None else self.leak_air_nm3_h

    def range_share(self, kind: EnergyKind) -> float:
        """Return the half width of the range as a share: the uncalibrated one, or twice the scatter of readings.

        One or two readings cannot show a scatter, so they halve the uncalibrated range and no more (own proposal).
        """
        wide = UNCALIBRATED_ELECTRIC_SHARE if kind is EnergyKind.ELECTRIC else UNCALIBRATED_GAS_SHARE
        if self.readings == 0:
            return wide
        if self.readings < 3:
            return max(wide / 2.0, LEAST_RANGE_SHARE)
        return min(wide, max(2.0 * self.scatter_share, LEAST_RANGE_SHARE))


UNCALIBRATED = Calibration()
