"""Fit the heat model of a kiln to meter readings.

Few readings bear few factors. One factor takes any reading: the lining of an electric kiln, the gas burnt of a gas
kiln. A second one (leak air, or lining beside gas) takes three readings with two peaks and two loads among them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum, sqrt
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.heat.calibration import Calibration
from kilnpack.heat.firing import FUEL_OF, UNLOADED, fire
from kilnpack.heat.lining import LiningState  # noqa: TC001 - types of fields are read at run time to save them
from kilnpack.heat.reactions import Chemistry
from kilnpack.model.programmes import Programme  # noqa: TC001 - types of fields are read at run time to save them

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.heat.materials import Floats
    from kilnpack.model.kilns import Kiln

READINGS_FOR_TWO = 3
PEAKS_APART_K = 50.0
LOADS_APART_SHARE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One metered firing: energy in kWh, gas as net calorific value, with what was in the kiln."""

    programme: Programme
    ware_kg: dict[str, float]
    furniture_kg: dict[str, float]
    chemistry: Chemistry
    metered_kwh: float
    start: LiningState | None = None

    @property
    def load_kg(self) -> float:
        """All that was heated beside the kiln, kg."""
        return fsum(self.ware_kg.values()) + fsum(self.furniture_kg.values())


def calibrate(kiln: Kiln, readings: Sequence[Reading]) -> Calibration:
    """Fit as many factors as the readings bear.

    Parameters
    ----------
    kiln
        As stated, uncalibrated.
    readings
        At least one.

    Raises
    ------
    ValueError
        There is no reading, or one of no energy.
    """
    if not readings or any(reading.metered_kwh <= 0.0 for reading in readings):
        raise ValueError("a calibration wants readings, each over 0 kWh")
    lining, leak, load = np.array([_parts(kiln, reading) for reading in readings]).T
    metered = np.array([reading.metered_kwh for reading in readings])
    fit = _fit_gas if kiln.energy.kind in FUEL_OF else _fit_electric
    factors, found = fit(lining, leak, load, metered, bears_two=_bears_two(readings))
    scatter = sqrt(float(np.mean((found / metered - 1.0) ** 2)))
    leak_nm3_h = None if factors.leak is None else kiln.energy.leak_air_nm3_h * factors.leak
    return Calibration(
        lining_factor=factors.lining,
        flue_factor=factors.flue,
        leak_air_nm3_h=leak_nm3_h,
        readings=len(readings),
        scatter_share=scatter,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Factors:
    lining: float = 1.0
    flue: float = 1.0
    leak: float | None = None


def _fit_electric(
    lining: Floats, leak: Floats, load: Floats, metered: Floats, *, bears_two: bool
) -> tuple[_Factors, Floats]:
    """Metered = lining factor * lining + leak factor * leak air + load."""
    both = _two(lining, leak, metered - load, metered) if bears_two else None
    if both is None:
        first = _one(lining, metered - load - leak, metered)
        return _Factors(lining=first), first * lining + leak + load
    return _Factors(lining=both[0], leak=both[1]), both[0] * lining + both[1] * leak + load


def _fit_gas(
    lining: Floats, leak: Floats, load: Floats, metered: Floats, *, bears_two: bool
) -> tuple[_Factors, Floats]:
    """Metered = flue factor * (lining factor * lining + load); a gas kiln's leak is part of its flue."""
    both = _two(lining, load + leak, metered, metered) if bears_two else None
    if both is None:
        flue = _one(lining + load + leak, metered, metered)
        return _Factors(flue=flue), flue * (lining + load + leak)
    return _Factors(lining=both[0] / both[1], flue=both[1]), both[0] * lining + both[1] * (load + leak)


def _parts(kiln: Kiln, reading: Reading) -> tuple[float, float, float]:
    """Return what the model splits a reading into, kWh: the empty kiln, its leak air, all that was loaded."""
    tight = Calibration(leak_air_nm3_h=0.0)
    nothing = Chemistry()
    empty = fire(kiln, reading.programme, UNLOADED, UNLOADED, nothing, start=reading.start, calibration=tight)
    leaky = fire(kiln, reading.programme, UNLOADED, UNLOADED, nothing, start=reading.start)
    full = fire(kiln, reading.programme, reading.ware_kg, reading.furniture_kg, reading.chemistry, start=reading.start)
    return empty.total_kwh, leaky.total_kwh - empty.total_kwh, full.total_kwh - leaky.total_kwh


def _bears_two(readings: Sequence[Reading]) -> bool:
    peaks = [reading.programme.peak_degc for reading in readings]
    loads = [reading.load_kg for reading in readings]
    return (
        len(readings) >= READINGS_FOR_TWO
        and max(peaks) - min(peaks) >= PEAKS_APART_K
        and max(loads) - min(loads) >= LOADS_APART_SHARE * max(loads)
    )


def _one(part: Floats, wanted: Floats, metered: Floats) -> float:
    """Return the factor of least squared relative error."""
    weighted = part / metered
    return float(weighted @ (wanted / metered) / (weighted @ weighted))


def _two(first: Floats, second: Floats, wanted: Floats, metered: Floats) -> tuple[float, float] | None:
    """Return both factors, or None where the readings do not tell them apart."""
    matrix = np.column_stack([first, second]) / metered[:, None]
    found, _, rank, _ = np.linalg.lstsq(matrix, wanted / metered, rcond=1e-6)
    return (float(found[0]), float(found[1])) if rank == 2 and found.min() > 0.0 else None
