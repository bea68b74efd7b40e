"""Factors that fit the heat model to a works' own meter, and how wide its answers are without them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kilnpack.model.kilns import EnergyKind, LiningLayer

if TYPE_CHECKING:
    from kilnpack.model.kilns import Energy, Kiln
    from kilnpack.model.works import Works

UNCALIBRATED_ELECTRIC_SHARE = 0.15
UNCALIBRATED_GAS_SHARE = 0.25
LEAST_RANGE_SHARE = 0.05
READINGS_FOR_SCATTER = 3
PEAK_BEYOND_K = 50.0
"""How far a peak may lie outside the peaks that were metered before the range is widened again (own proposal)."""
COOLINGS_FOR_FORECAST = 3
"""Recorded coolings from which on the forecast is more than advice (common practice, rule T3)."""


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
    left_out_share
        The same where each reading is foretold by the others alone; None with fewer than two.
    low_peak_degc, high_peak_degc
        Coolest and hottest peak that was metered; None where nothing was.
    air_factor
        Multiplies the cooling air by band; of a sealed kiln the leak air while it cools.
    coolings
        Recorded coolings that factor rests on.
    """

    lining_factor: float = 1.0
    flue_factor: float = 1.0
    leak_air_nm3_h: float | None = None
    readings: int = 0
    scatter_share: float = 0.0
    left_out_share: float | None = None
    low_peak_degc: float | None = None
    high_peak_degc: float | None = None
    air_factor: float = 1.0
    coolings: int = 0

    def leak_air(self, energy: Energy) -> float:
        """Return the leak air to reckon with, Nm3/h."""
        return energy.leak_air_nm3_h if self.leak_air_nm3_h is None else self.leak_air_nm3_h

    def range_share(self, kind: EnergyKind, peak_degc: float | None = None) -> float:
        """Return the half width of the range as a share: the uncalibrated one, or twice what readings differ by.

        One or two readings cannot show a scatter, so they halve the uncalibrated range and no more; nor do any of
        other peaks (own proposal).
        """
        wide = UNCALIBRATED_ELECTRIC_SHARE if kind is EnergyKind.ELECTRIC else UNCALIBRATED_GAS_SHARE
        if self.readings == 0:
            return wide
        twice = min(wide, max(2.0 * max(self.scatter_share, self.left_out_share or 0.0), LEAST_RANGE_SHARE))
        if self.readings < READINGS_FOR_SCATTER or (peak_degc is not None and not self.reaches(peak_degc)):
            return max(twice, wide / 2.0)
        return twice

    def reaches(self, peak_degc: float) -> bool:
        """Tell whether a peak lies among those that were metered."""
        if self.low_peak_degc is None or self.high_peak_degc is None:
            return True
        return self.low_peak_degc - PEAK_BEYOND_K <= peak_degc <= self.high_peak_degc + PEAK_BEYOND_K


UNCALIBRATED = Calibration()


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnCalibration:
    """The factors of one kiln, and the lining they were fitted with: another lining wants other factors."""

    kiln: str
    energy: EnergyKind
    lining: tuple[LiningLayer, ...]
    calibration: Calibration


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrations:
    """The factors of the kilns of a works, as they are kept beside its tables."""

    works: str
    kilns: tuple[KilnCalibration, ...] = ()


def of_kiln(kiln: Kiln, calibration: Calibration) -> KilnCalibration:
    """Return the factors with the kiln they hold for."""
    return KilnCalibration(kiln=kiln.code, energy=kiln.energy.kind, lining=kiln.lining, calibration=calibration)


def holding(works: Works, kept: Calibrations) -> tuple[dict[str, Calibration], tuple[str, ...]]:
    """Return the factors that still hold by code of the kiln, and in words which do not."""
    kilns = {kiln.code: kiln for kiln in works.kilns}
    factors: dict[str, Calibration] = {}
    words = []
    for row in kept.kilns:
        kiln = kilns.get(row.kiln)
        if kiln is None:
            words.append(f"{row.kiln}: calibrated, but no kiln of the works; not used")
        elif (kiln.energy.kind, kiln.lining) != (row.energy, row.lining):
            words.append(f"{row.kiln}: lining or energy has changed since it was calibrated; not used")
        else:
            factors[row.kiln] = row.calibration
    return factors, tuple(words)


def with_air(kiln: Kiln, factor: float) -> Kiln:
    """Return a kiln whose cooling air is so many times the stated: by band, or the leak where no band blows."""
    if any(band.air_nm3_h > 0.0 for band in kiln.cooling.bands):
        bands = tuple(replace(band, air_nm3_h=band.air_nm3_h * factor) for band in kiln.cooling.bands)
        return replace(kiln, cooling=replace(kiln.cooling, bands=bands))
    return replace(kiln, energy=replace(kiln.energy, leak_air_nm3_h=kiln.energy.leak_air_nm3_h * factor))
