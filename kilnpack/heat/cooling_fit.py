"""Fit the cooling air of a kiln to recorded coolings.

One factor multiplies the air of all bands (of a sealed kiln the leak). Its logarithm is fitted by least squares on the
logarithm of the excess over the room, with a prior; until three coolings are recorded the forecast stays advice.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.heat.calibration import with_air
from kilnpack.heat.cooling import cooling_hours
from kilnpack.heat.fitting import fit_logs, rms
from kilnpack.heat.lining import LiningState  # noqa: TC001 - types of fields are read at run time to save them
from kilnpack.heat.materials import COLD_DEGC

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.heat.materials import Floats
    from kilnpack.model.kilns import Kiln

PRIOR = 0.7
"""Standard deviation of the logarithm of the factor before any cooling: known to a factor of two (own proposal)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedCooling:
    """One cooling: the state it began in, all that cooled, and (hours, degC) read."""

    start: LiningState
    contents_kg: dict[str, float]
    readings: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingFit:
    """The factor on the cooling air with its range, and what the readings still differ by.

    `left_out_k` is the same with each cooling foretold by the others; None for a single one.
    """

    air_factor: float
    low: float
    high: float
    coolings: int
    error_k: float
    left_out_k: float | None
    plain_k: float


def fit_cooling(kiln: Kiln, coolings: Sequence[RecordedCooling]) -> CoolingFit:
    """Fit the factor on the cooling air.

    Parameters
    ----------
    kiln
        With its cooling as stated.
    coolings
        At least one, each with a reading over the room's temperature.

    Raises
    ------
    ValueError
        There is no cooling.
    """
    if not coolings:
        raise ValueError("a cooling fit wants a recorded cooling")
    log, deviation = _fitted(kiln, coolings)
    left_out = None
    if len(coolings) > 1:
        misses = [
            miss
            for number, cooling in enumerate(coolings)
            for miss in _misses_k(kiln, _fitted(kiln, [*coolings[:number], *coolings[number + 1 :]])[0], [cooling])
        ]
        left_out = rms(misses)
    return CoolingFit(
        air_factor=exp(log),
        low=exp(log - 2.0 * deviation),
        high=exp(log + 2.0 * deviation),
        coolings=len(coolings),
        error_k=rms(_misses_k(kiln, log, coolings)),
        left_out_k=left_out,
        plain_k=rms(_misses_k(kiln, 0.0, coolings)),
    )


def _fitted(kiln: Kiln, coolings: Sequence[RecordedCooling]) -> tuple[float, float]:
    """Return the logarithm of the factor and its standard deviation."""
    read = np.array([degc for cooling in coolings for _, degc in cooling.readings])
    fit = fit_logs(
        lambda logs: _foretold(kiln, float(logs[0]), coolings) - COLD_DEGC,
        read - COLD_DEGC,
        np.array([PRIOR]),
        step=1e-2,
    )
    return float(fit.logs[0]), float(fit.deviations[0])


def _foretold(kiln: Kiln, log: float, coolings: Sequence[RecordedCooling]) -> Floats:
    """Return the forecast at each moment that was read, degC."""
    blown = with_air(kiln, exp(log))
    found = []
    for cooling in coolings:
        last_h = max(hour for hour, _ in cooling.readings)
        curve = cooling_hours(blown, cooling.start, cooling.contents_kg, -273.0, within_h=last_h + 0.5).curve
        hours, degc = np.array(curve).T
        found.append(np.interp([hour for hour, _ in cooling.readings], hours, degc))
    return np.concatenate(found)


def _misses_k(kiln: Kiln, log: float, coolings: Sequence[RecordedCooling]) -> list[float]:
    read = np.array([degc for cooling in coolings for _, degc in cooling.readings])
    found: list[float] = (_foretold(kiln, log, coolings) - read).tolist()
    return found
