"""The programme as a curve: temperature over hours, with the cooling that was recorded."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from kilnpack.model.programmes import Atmosphere
from kilnpack.sheets import svg

if TYPE_CHECKING:
    from kilnpack.model.programmes import Programme

START_DEGC = 20.0
AXIS_EM_MM = 3.2


def curve_points(programme: Programme) -> tuple[tuple[float, float, Atmosphere], ...]:
    """Return (hour, temperature in degC, atmosphere on the way there) of every corner of the programme."""
    hour, temperature = 0.0, START_DEGC
    points = [(hour, temperature, Atmosphere.OXIDATION)]
    for segment in programme.segments:
        hour += abs(segment.to_degc - temperature) / segment.rate_k_h
        temperature = segment.to_degc
        points.append((hour, temperature, segment.atmosphere))
        if segment.hold_h:
            hour += segment.hold_h
            points.append((hour, temperature, segment.atmosphere))
    return tuple(points)


def draw_curve(programme: Programme, *, unload_degc: float, width_mm: float, height_mm: float) -> svg.Drawing:
    """Return the curve with axes; cooling is drawn dashed, as recorded, down to the works' unloading limit."""
    points = curve_points(programme)
    end_h = max(points[-1][0], programme.recorded_fire_h) + programme.recorded_cool_h
    top_degc = math.ceil(programme.peak_degc / 200.0) * 200.0
    x0, y0 = 15.0, height_mm - 10.0
    sx, sy = (width_mm - x0 - 6.0) / end_h, (height_mm - 16.0) / top_degc

    def at(hour: float, degc: float) -> tuple[float, float]:
        return x0 + hour * sx, y0 - degc * sy

    drawn = [*_axes(end_h, top_degc, x0, y0, sx, sy)]
    for (h0, t0, _), (h1, t1, air) in pairwise(points):
        ink, wide = (svg.INK, 0.7) if air is Atmosphere.OXIDATION else ("#B00020", 1.4)
        drawn.append(svg.line(*at(h0, t0), *at(h1, t1), stroke=ink, stroke_width=wide))
    cool = svg.line(
        *at(points[-1][0], points[-1][1]), *at(end_h, unload_degc), stroke_width=0.5, stroke_dasharray="2 1.4"
    )
    peak_h = next(hour for hour, degc, _ in points if degc == programme.peak_degc)
    x, y = at(peak_h, programme.peak_degc)
    drawn += [
        cool,
        svg.words(x - 2, y - 1.6, f"{programme.peak_degc:.0f} °C", em=4.2, text_anchor="end", font_weight="bold"),
    ]
    x, y = at(end_h, unload_degc)
    drawn.append(svg.circle(x, y, 0.9, fill=svg.INK))
    drawn.append(svg.words(x - 9, y + 1, f"unload at ≤ {unload_degc:.0f} °C", em=3.4, text_anchor="end"))
    title = f"Programme {programme.name}: temperature over time; thick red where the gas is not oxidising"
    return svg.Drawing(width_mm=width_mm, height_mm=height_mm, title=title, body="".join(drawn))


def _axes(end_h: float, top_degc: float, x0: float, y0: float, sx: float, sy: float) -> list[str]:
    drawn = []
    for degc in range(0, int(top_degc) + 1, 200):
        y = y0 - degc * sy
        drawn.append(svg.line(x0, y, x0 + end_h * sx, y, stroke="#ccc", stroke_width=0.2))
        drawn.append(svg.words(x0 - 1.5, y + 1.1, str(degc), em=AXIS_EM_MM, text_anchor="end"))
    step = next(step for step in (1, 2, 4, 6, 12, 24, 48, 96) if end_h / step <= 16 or step == 96)
    for hour in range(0, int(end_h) + 1, step):
        x = x0 + hour * sx
        drawn.append(svg.line(x, y0, x, y0 + 1.2, stroke_width=0.3))
        drawn.append(svg.words(x, y0 + 4.6, str(hour), em=AXIS_EM_MM, text_anchor="middle"))
    drawn.append(svg.words(x0 + end_h * sx, y0 + 8.6, "hours", em=AXIS_EM_MM, text_anchor="end"))
    drawn.append(svg.words(1.0, 4.0, "°C", em=AXIS_EM_MM))
    return drawn
