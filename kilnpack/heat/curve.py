"""A programme as a curve over time: temperature, air ratio, and where it heats and where it cools."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from kilnpack.heat.lining_kernel import HEATS, VENTS
from kilnpack.heat.materials import COLD_DEGC, Floats
from kilnpack.units import SECONDS_PER_HOUR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kilnpack.model.programmes import Programme

STEP_S = 60.0
LEAST_H = 1.0 / 3600.0
"""Ramps and holds shorter than a second are left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A straight piece of the curve: from one temperature to another in so many hours."""

    from_degc: float
    to_degc: float
    hours_h: float
    air_ratio: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """The curve cut into time steps.

    `times_s` and `degc` have shape (m + 1,); `mode` and `air_ratio` (not a number where the kiln's usual one holds)
    have shape (m,); `heating` is how many steps pass until the curve leaves its peak for good.
    """

    times_s: Floats
    degc: Floats
    mode: NDArray[np.int64]
    air_ratio: Floats
    heating: int


def pieces(programme: Programme, *, start_degc: float = COLD_DEGC) -> tuple[Piece, ...]:
    """Return the straight pieces of a programme, ramps and holds, from a start temperature.

    A segment whose temperature is already reached is its hold alone.
    """
    found = []
    at_degc = start_degc
    for segment in programme.segments:
        move_k = abs(segment.to_degc - at_degc)
        hours_h = move_k / abs(segment.rate_k_h)
        if hours_h >= LEAST_H:
            found.append(
                Piece(from_degc=at_degc, to_degc=segment.to_degc, hours_h=hours_h, air_ratio=segment.lambda_factor)
            )
        if segment.hold_h >= LEAST_H:
            found.append(
                Piece(
                    from_degc=segment.to_degc,
                    to_degc=segment.to_degc,
                    hours_h=segment.hold_h,
                    air_ratio=segment.lambda_factor,
                )
            )
        at_degc = segment.to_degc
    return tuple(found)


def steps(parts: tuple[Piece, ...], *, step_s: float = STEP_S) -> Steps:
    """Cut a curve into even steps of at most `step_s` within each piece."""
    peak_degc = max(part.to_degc for part in parts)
    last_at_peak = max(number for number, part in enumerate(parts) if part.to_degc == peak_degc)
    times, degc = [np.zeros(1)], [np.array([parts[0].from_degc])]
    mode: list[int] = []
    ratio: list[float] = []
    now_s, heating = 0.0, 0
    for number, part in enumerate(parts):
        length_s = part.hours_h * SECONDS_PER_HOUR
        count = max(1, ceil(length_s / step_s - 1e-9))
        shares = np.arange(1, count + 1) / count
        times.append(now_s + length_s * shares)
        degc.append(part.from_degc + (part.to_degc - part.from_degc) * shares)
        falls = part.to_degc < part.from_degc or number > last_at_peak
        mode += [VENTS if falls else HEATS] * count
        ratio += [np.nan if part.air_ratio is None else part.air_ratio] * count
        now_s += length_s
        if number == last_at_peak:
            heating = len(mode)
    return Steps(
        times_s=np.concatenate(times),
        degc=np.concatenate(degc),
        mode=np.array(mode, dtype=np.int64),
        air_ratio=np.array(ratio),
        heating=heating,
    )
