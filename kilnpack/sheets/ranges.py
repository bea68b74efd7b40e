"""Figures with no more digits than their range allows."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from kilnpack.heat.report import TWO_DIGITS_BELOW, with_range

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.sheets.owner_values import CostStep

MOST_DECIMALS = 4


def told(value: float, range_share: float, *, decimals: int = 2) -> str:
    """Return a figure rounded as its range allows; with so many decimals where there is no range."""
    if range_share <= 0.0 or value == 0.0:
        return f"{value:,.{decimals}f}"
    return plain_figure(with_range(value, range_share)[1])


def span(value: float, range_share: float) -> str:
    """Return the range of a figure in words: "16,000 to 26,000"."""
    low, _, high = with_range(value, range_share)
    return f"{plain_figure(low)} to {plain_figure(high)}"


def plain_figure(value: float) -> str:
    """Return a figure that is already rounded, without zeros after its last decimal."""
    text = f"{value:,.{MOST_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in {"", "-0"} else text


def plain_range(low: float, middle: float, high: float) -> tuple[str, str, str]:
    """Return a figure with ends that are not alike, all with no more digits than their distance allows."""
    half = (high - low) / 2.0
    if half <= 0.0:
        return plain_figure(low), plain_figure(middle), plain_figure(high)
    digits = 1 - math.floor(math.log10(half)) if half else 0
    digits -= 1 if half / 10.0 ** math.floor(math.log10(half)) >= TWO_DIGITS_BELOW else 0
    return tuple(plain_figure(round(value, digits)) for value in (low, middle, high))  # type: ignore[return-value]


def shared_range(steps: Iterable[CostStep]) -> float:
    """Return how far the sum of the steps may be off, as a share of it; the ranges of its parts move together."""
    rows = tuple(steps)
    total = math.fsum(step.money for step in rows)
    return abs(math.fsum(step.money * step.range_share for step in rows) / total) if total else 0.0
