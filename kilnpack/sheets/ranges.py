"""Figures with no more digits than their range allows."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from kilnpack.heat.report import with_range

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kilnpack.sheets.plan_rows import CostStep

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


def shared_range(steps: Iterable[CostStep]) -> float:
    """Return how far the sum of the steps may be off, as a share of it; the ranges of its parts move together."""
    rows = tuple(steps)
    total = math.fsum(step.money for step in rows)
    return abs(math.fsum(step.money * step.range_share for step in rows) / total) if total else 0.0
