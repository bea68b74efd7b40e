"""Draw value against time of whole loads, one panel an instance, as plain SVG.

The reader's own font is used.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

WIDE, HIGH = 340.0, 220.0
LEFT, RIGHT, TOP, BOTTOM = 52.0, 14.0, 26.0, 34.0
TICKS = 5


def value_over_time(rows: Sequence[dict[str, Any]]) -> str:
    """Return the SVG of the rows of a summary: the search as a step line, the hand method as a dashed one."""
    panels = [_panel(row, k * WIDE) for k, row in enumerate(rows)]
    size = f'viewBox="0 0 {WIDE * len(rows):.0f} {HIGH:.0f}" width="{WIDE * len(rows):.0f}"'
    style = "text{font:11px sans-serif;fill:#222}path,line{fill:none;stroke:#222}.hand{stroke-dasharray:6 4}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-label="Value of the best load against time">'
        f'<style>{style}</style><rect width="100%" height="100%" fill="#fff"/>' + "".join(panels) + "</svg>\n"
    )


def _panel(row: dict[str, Any], x0: float) -> str:
    points = [(float(s), float(value)) for s, value in row["curve"]]
    end_s: float = max([row["seconds"], *(s for s, _ in points)])
    low, high, step = _scale(min([row["hand"], *(v for _, v in points)]), max([row["value"], row["hand"]]))

    def x(seconds: float) -> float:
        return x0 + LEFT + (WIDE - LEFT - RIGHT) * seconds / end_s

    def y(value: float) -> float:
        return HIGH - BOTTOM - (HIGH - TOP - BOTTOM) * (value - low) / (high - low)

    drawn = [f'<text x="{x0 + LEFT:.0f}" y="16">{row["instance"]}: value against seconds</text>']
    for k in range(round((high - low) / step) + 1):
        level = low + k * step
        drawn.append(
            f'<line x1="{x(0):.1f}" x2="{x(end_s):.1f}" y1="{y(level):.1f}" y2="{y(level):.1f}" opacity=".15"/>'
        )
        drawn.append(f'<text x="{x(0) - 6:.1f}" y="{y(level) + 4:.1f}" text-anchor="end">{level:g}</text>')
    for k in range(TICKS + 1):
        at = end_s * k / TICKS
        drawn.append(f'<text x="{x(at):.1f}" y="{HIGH - 14:.1f}" text-anchor="middle">{at:.0f}</text>')
    drawn.append(
        f'<line class="hand" x1="{x(0):.1f}" x2="{x(end_s):.1f}" y1="{y(row["hand"]):.1f}" y2="{y(row["hand"]):.1f}"/>'
    )
    drawn.append(
        f'<text x="{x(end_s):.1f}" y="{y(row["hand"]) - 5:.1f}" text-anchor="end">by hand {row["hand"]:.0f}</text>'
    )
    drawn.append(f'<path stroke-width="1.8" d="{_steps([(x(s), y(v)) for s, v in points], x(end_s))}"/>')
    drawn.append(f'<text x="{x(end_s):.1f}" y="{y(row["value"]) - 5:.1f}" text-anchor="end">{row["value"]:.1f}</text>')
    return "".join(drawn)


def _steps(points: list[tuple[float, float]], end: float) -> str:
    """Return a path that keeps each height until the next point."""
    if not points:
        return ""
    said = [f"M{points[0][0]:.1f} {points[0][1]:.1f}"]
    said += [f"H{x:.1f}V{y:.1f}" for x, y in points[1:]]
    return "".join([*said, f"H{end:.1f}"])


def _scale(low: float, high: float) -> tuple[float, float, float]:
    """Return round ends of an axis and its step."""
    rough = max(high - low, 1e-6) / 4
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * one for one in (1, 2, 5, 10) if power * one >= rough)
    return math.floor(low / step) * step, math.ceil(high / step) * step, step
