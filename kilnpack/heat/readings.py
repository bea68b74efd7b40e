"""Fit the heat model of a kiln to meter readings, with a prior; say how sure, and what cannot be told apart yet.

Few readings bear few factors. One factor takes any reading: the lining of an electric kiln, the gas burnt of a gas
kiln. A second one (leak air, or lining beside gas) takes three readings with two peaks and two loads among them.
Furniture is not fitted: it is weighed.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, fsum
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.heat.calibration import Calibration
from kilnpack.heat.firing import FUEL_OF, UNLOADED, fire
from kilnpack.heat.fitting import LogFit, fit_logs, rms
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
HANG_TOGETHER = 0.9
"""Correlation from which on two factors are said not to be told apart."""
LEARNT_LITTLE = 0.7
"""A factor whose deviation is still this much of its prior has learnt little."""

LINING, FLUE, LEAK = "lining", "flue", "leak air"
PRIORS = {LINING: 0.2, FLUE: 0.25, LEAK: 1.0}
"""Standard deviation of the logarithm of each factor before any reading (own proposal).

The lining's: conductivity and heat capacity of bricks differ by 15-20 % from their tables. The flue's: air ratios are
seldom measured. Leak air is known to a factor of two or three.
"""


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """One factor with its range (twice its standard deviation either way); one not fitted keeps its prior."""

    name: str
    value: float
    low: float
    high: float
    fitted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnFit:
    """What the readings of a kiln say.

    `errors_share` is foretold less metered for each reading as a share of it, `left_out_share` the same with the
    factors of the other readings alone (None for a single reading), `plain_share` with no factor at all. `words` say
    what cannot be told apart yet.
    """

    calibration: Calibration
    factors: tuple[Factor, ...]
    errors_share: tuple[float, ...]
    left_out_share: tuple[float | None, ...]
    plain_share: tuple[float, ...]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Parts:
    """What the model splits the readings into, kWh: the empty kiln, its leak air, all that was loaded."""

    names: tuple[str, str]
    lining: Floats
    leak: Floats
    load: Floats
    metered: Floats

    def foretold(self, logs: Floats) -> Floats:
        """Return the readings that factors of these logarithms (first and second name) would give."""
        first, second = np.exp(logs)
        if self.names == (FLUE, LINING):
            found: Floats = first * (second * self.lining + self.load + self.leak)
        else:
            found = first * self.lining + second * self.leak + self.load
        return found

    def without(self, number: int) -> _Parts:
        """Return all readings but one."""
        keep = np.arange(len(self.metered)) != number
        return _Parts(
            names=self.names,
            lining=self.lining[keep],
            leak=self.leak[keep],
            load=self.load[keep],
            metered=self.metered[keep],
        )

    def fit(self, free: int) -> LogFit:
        """Fit the first factor, or both."""
        priors = np.array([PRIORS[name] for name in self.names[:free]])
        return fit_logs(lambda logs: self.foretold(_padded(logs)), self.metered, priors)


def _padded(logs: Floats) -> Floats:
    """Return two logarithms; one that is not fitted is nought."""
    return np.concatenate([logs, np.zeros(2 - len(logs))])


def calibrate(kiln: Kiln, readings: Sequence[Reading]) -> Calibration:
    """Return the factors of a kiln; see `fit_kiln`."""
    return fit_kiln(kiln, readings).calibration


def fit_kiln(kiln: Kiln, readings: Sequence[Reading]) -> KilnFit:
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
    names = (FLUE, LINING) if kiln.energy.kind in FUEL_OF else (LINING, LEAK)
    lining, leak, load = np.array([_split(kiln, reading) for reading in readings]).T
    metered = np.array([reading.metered_kwh for reading in readings])
    parts = _Parts(names=names, lining=lining, leak=leak, load=load, metered=metered)
    free = 2 if _bears_two(readings) else 1
    fit = parts.fit(free)
    left_out = _left_out(parts, readings)
    plain = tuple((parts.foretold(np.zeros(2)) / metered - 1.0).tolist())
    factors = tuple(_factor(name, fit, number) for number, name in enumerate(names))
    return KilnFit(
        calibration=_calibration(kiln, readings, factors, fit, left_out),
        factors=factors,
        errors_share=tuple(fit.errors.tolist()),
        left_out_share=left_out,
        plain_share=plain,
        words=(*_far_off(kiln, plain), *_words(names, fit, free)),
    )


def _split(kiln: Kiln, reading: Reading) -> tuple[float, float, float]:
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


def _left_out(parts: _Parts, readings: Sequence[Reading]) -> tuple[float | None, ...]:
    """Foretell each reading by the others alone."""
    if len(readings) < 2:
        return (None,) * len(readings)
    found = []
    for number in range(len(readings)):
        others = [*readings[:number], *readings[number + 1 :]]
        logs = _padded(parts.without(number).fit(2 if _bears_two(others) else 1).logs)
        found.append(float(parts.foretold(logs)[number] / parts.metered[number] - 1.0))
    return tuple(found)


def _factor(name: str, fit: LogFit, number: int) -> Factor:
    if number >= len(fit.logs):
        return Factor(name=name, value=1.0, low=exp(-2 * PRIORS[name]), high=exp(2 * PRIORS[name]), fitted=False)
    log, deviation = float(fit.logs[number]), float(fit.deviations[number])
    return Factor(
        name=name, value=exp(log), low=exp(log - 2.0 * deviation), high=exp(log + 2.0 * deviation), fitted=True
    )


def _calibration(
    kiln: Kiln,
    readings: Sequence[Reading],
    factors: tuple[Factor, ...],
    fit: LogFit,
    left_out: tuple[float | None, ...],
) -> Calibration:
    value = {factor.name: factor.value for factor in factors}
    peaks = [reading.programme.peak_degc for reading in readings]
    misses = [share for share in left_out if share is not None]
    leaks = any(factor.name == LEAK and factor.fitted for factor in factors)
    return Calibration(
        lining_factor=value[LINING],
        flue_factor=value.get(FLUE, 1.0),
        leak_air_nm3_h=kiln.energy.leak_air_nm3_h * value[LEAK] if leaks else None,
        readings=len(readings),
        scatter_share=rms(fit.errors.tolist()),
        left_out_share=rms(misses) if misses else None,
        low_peak_degc=min(peaks),
        high_peak_degc=max(peaks),
    )


def _far_off(kiln: Kiln, plain: tuple[float, ...]) -> tuple[str, ...]:
    """Say where the model as stated misses by more than it should without any reading."""
    wide = Calibration().range_share(kiln.energy.kind)
    far = [number for number, share in enumerate(plain, start=1) if abs(share) > wide]
    if not far:
        return ()
    named = ", ".join(map(str, far))
    return (f"without factors reading {named} is missed by more than {wide:.0%}: check lining, masses and meter first",)


def _words(names: tuple[str, str], fit: LogFit, free: int) -> tuple[str, ...]:
    """Say what the readings do not tell yet."""
    if free == 1:
        wanted = f"{READINGS_FOR_TWO} readings, peaks {PEAKS_APART_K:.0f} K and loads {LOADS_APART_SHARE:.0%} apart"
        return (f"{names[1]} cannot be told from {names[0]} yet and is kept as stated: it takes {wanted}",)
    words = [
        f"{name} has learnt little yet: its range is nearly what it was without readings"
        for name, deviation in zip(names, fit.deviations, strict=True)
        if deviation > LEARNT_LITTLE * PRIORS[name]
    ]
    hang = fit.correlation(0, 1)
    if abs(hang) > HANG_TOGETHER:
        words.append(
            f"{names[0]} and {names[1]} pull together (correlation {hang:.2f}): another load or peak parts them"
        )
    return tuple(words)
