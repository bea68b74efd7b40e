"""How figures are said on a sheet: clock hours, place lists, whole millimetres."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


def whole_mm(length_mm: float) -> str:
    """Return a length in whole millimetres, as a ruler is read."""
    return f"{math.floor(length_mm + 0.5):d}"


def room_left(length_mm: float) -> str:
    """Return a free height rounded down, so that the sheet never promises more than there is."""
    return f"{math.floor(length_mm + 1e-6):d}"


def clock_hour(direction_deg: float) -> str:
    """Return a direction seen from above as a clock hour: 12 to the back, 3 to the right, 6 to the front.

    Parameters
    ----------
    direction_deg
        Counter-clockwise from the right, as the model counts.
    """
    half_hours = math.floor(((90.0 - direction_deg) / 15.0) + 0.5) % 24
    hour, half = divmod(half_hours, 2)
    return f"{hour or 12}:{'30' if half else '00'}"


def short_mm(length_mm: float) -> str:
    """Return a length with one decimal only where it is not whole."""
    text = f"{length_mm:.1f}"
    return text.removesuffix(".0")


def runs(numbers: Iterable[int]) -> str:
    """Return numbers with runs of three and more drawn together: 1-4, 6, 8."""
    parts: list[str] = []
    run: list[int] = []
    for value in [*sorted(numbers), None]:
        if run and (value is None or value != run[-1] + 1):
            parts += [f"{run[0]}–{run[-1]}"] if len(run) > 2 else [str(k) for k in run]
            run = []
        if value is not None:
            run.append(value)
    return ", ".join(parts)


def kelvin(offset_k: float) -> str:
    """Return an offset in whole kelvin with its sign."""
    return f"{offset_k:+.0f}".replace("-", "−") if abs(offset_k) >= 0.5 else "±0"


def window(low_k: float, high_k: float) -> str:
    """Return an offset range in words of the sheet; one figure where both ends are the same."""
    low, high = kelvin(low_k), kelvin(high_k)
    return f"{low} K" if low == high else f"{low} to {high} K"


def kilograms(mass_kg: float) -> str:
    """Return a mass with one decimal."""
    return f"{mass_kg:.1f} kg"


def hours(time_h: float) -> str:
    """Return hours and minutes."""
    minutes = round(time_h * 60)
    return f"{minutes // 60} h {minutes % 60:02d}"


def signs(text: str) -> str:
    """Return words of the rooms below with the signs of a printed page."""
    return text.replace("degC", "°C").replace("+-", "±")


def counted(count: int, one: str, many: str) -> str:
    """Return a count with its noun: 1 piece, 2 pieces."""
    return f"{count} {one if count == 1 else many}"
