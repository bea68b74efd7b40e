"""The picture of a programme sheet: curve with its marks, windows of the gas, and the energy of each hour by tariff."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from kilnpack.heat.ramps import CRISTOBALITE_DEGC, QUARTZ_DEGC
from kilnpack.model.programmes import Atmosphere
from kilnpack.sheets import svg
from kilnpack.sheets.curve import curve_points

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.programmes import Programme

LEFT_MM, RIGHT_MM = 20.0, 4.0
CURVE_MM, GAS_MM, BARS_MM, GAP_MM, FOOT_MM = 92.0, 9.0, 36.0, 5.0, 12.0
EM_MM = 3.0
GASES = {
    Atmosphere.OXIDATION: ("#FFFFFF", "oxidation"),
    Atmosphere.REDUCTION: ("#F2C9A1", "REDUCTION"),
    Atmosphere.NEUTRAL: ("#E3E3E3", "neutral"),
}
"""Ground and word of each gas; the word says it, not the ground."""
DAY, NIGHT = "#F6D899", "#BBD3E6"
LEAST_WORD_MM = 16.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HourBar:
    """Energy at the meter in one hour from lighting, and how much of the hour lies in the night tariff."""

    kwh: float
    night_share: float
    said: str = ""
    """The energy in words, with no more digits than its range allows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """Where hours and temperatures lie on paper."""

    per_hour_mm: float
    per_k_mm: float
    floor_mm: float

    def x(self, hour: float) -> float:
        return LEFT_MM + hour * self.per_hour_mm

    def y(self, degc: float) -> float:
        return self.floor_mm - degc * self.per_k_mm


def draw_programme(programme: Programme, bars: Sequence[HourBar], *, lit_h: float, width_mm: float) -> svg.Drawing:
    """Return the picture.

    Parameters
    ----------
    programme
        The curve; it is drawn from lighting to the end of its last segment.
    bars
        Energy of each hour, empty where the heat of the kiln cannot be computed.
    lit_h
        Hour of the day at which the fire is lit.
    """
    end_h = curve_points(programme)[-1][0]
    top_degc = math.ceil((programme.peak_degc + 60.0) / 200.0) * 200.0
    scale = _Scale(
        per_hour_mm=(width_mm - LEFT_MM - RIGHT_MM) / end_h, per_k_mm=(CURVE_MM - 6.0) / top_degc, floor_mm=CURVE_MM
    )
    bars_top = CURVE_MM + GAS_MM + GAP_MM
    drawn = [
        *_grid(scale, end_h, top_degc),
        *_marks(scale, end_h, programme.peak_degc),
        *_curve(scale, programme),
        *_gases(scale, programme),
        *(_bars(scale, bars, bars_top, end_h) if bars else []),
    ]
    floor = bars_top + BARS_MM if bars else CURVE_MM + GAS_MM
    drawn += _hours(scale, end_h, lit_h, floor)
    what = "temperature over hours, gas" + (", energy of each hour by tariff" if bars else "")
    return svg.Drawing(
        width_mm=width_mm,
        height_mm=floor + FOOT_MM,
        title=f"Programme {programme.code}: {what}",
        body="".join(drawn),
    )


def _grid(scale: _Scale, end_h: float, top_degc: float) -> list[str]:
    drawn = [svg.words(1.0, 4.0, "°C", em=EM_MM)]
    for degc in range(0, int(top_degc) + 1, 200):
        y = scale.y(degc)
        drawn.append(svg.line(LEFT_MM, y, scale.x(end_h), y, stroke="#ccc", stroke_width=0.2))
        drawn.append(svg.words(LEFT_MM - 1.5, y + 1.1, str(degc), em=EM_MM, text_anchor="end"))
    return drawn


def _marks(scale: _Scale, end_h: float, peak_degc: float) -> list[str]:
    """Lines at the inversions, each with its name at the right end, clear of the rising curve."""
    drawn = []
    for degc, name in ((QUARTZ_DEGC, "quartz 573 °C"), (CRISTOBALITE_DEGC, "cristobalite 226 °C")):
        if degc < peak_degc:
            y = scale.y(degc)
            drawn.append(svg.line(LEFT_MM, y, scale.x(end_h), y, stroke_width=0.35, stroke_dasharray="1.6 1"))
            drawn.append(_haloed(scale.x(end_h) - 1.0, y - 1.0, name, EM_MM, "end", None))
    return drawn


def _curve(scale: _Scale, programme: Programme) -> list[str]:
    """The curve, with rates on its ramps and hours on its holds."""
    drawn = []
    for (h0, t0, _), (h1, t1, _) in pairwise(curve_points(programme)):
        drawn.append(svg.line(scale.x(h0), scale.y(t0), scale.x(h1), scale.y(t1), stroke_width=0.9))
        x, y = scale.x((h0 + h1) / 2.0), scale.y((t0 + t1) / 2.0)
        if t0 == t1:
            # Words to the left of the end keep clear of the next ramp; near the frame they stand inside it.
            drawn.append(_held(x, scale.y(t1) - 2.0, f"{t1:.0f} °C, {_hours_words(h1 - h0)}", "end"))
        else:
            drawn.append(_held(x + 2.0, y + 3.4, f"{abs(t1 - t0) / (h1 - h0):.0f} K/h", "start"))
    return drawn


def _held(x: float, y: float, text: str, anchor: str) -> str:
    wide = svg.width_of(text, 3.4)
    x = max(x, LEFT_MM + wide + 1.0) if anchor == "end" else x
    return _haloed(x, y, text, 3.4, anchor, "bold")


def _haloed(x: float, y: float, text: str, em: float, anchor: str, weight: str | None) -> str:
    """Words on a white edge, so that no line runs through them."""
    edge: dict[str, str | float | None] = {"stroke": "#fff", "stroke_width": 1.2, "paint_order": "stroke"}
    return svg.words(x, y, text, em=em, text_anchor=anchor, font_weight=weight, **edge)


def _hours_words(hours_h: float) -> str:
    return f"{hours_h * 60:.0f} min" if hours_h < 1.0 else f"{hours_h:.1f}".removesuffix(".0") + " h"


def _gases(scale: _Scale, programme: Programme) -> list[str]:
    """A strip under the curve: the gas of each stretch in words, neighbours of a kind joined."""
    stretches: list[tuple[float, float, Atmosphere, float | None]] = []
    hour, degc = 0.0, 20.0
    for segment in programme.segments:
        end = hour + abs(segment.to_degc - degc) / segment.rate_k_h + segment.hold_h
        last = stretches[-1] if stretches else None
        if last is not None and last[2:] == (segment.atmosphere, segment.lambda_factor):
            stretches[-1] = (last[0], end, *last[2:])
        else:
            stretches.append((hour, end, segment.atmosphere, segment.lambda_factor))
        hour, degc = end, segment.to_degc
    top = CURVE_MM + 1.0
    drawn = []
    for start, end, gas, ratio in stretches:
        ground, word = GASES[gas]
        x, wide = scale.x(start), (end - start) * scale.per_hour_mm
        drawn.append(svg.rectangle(x, top, wide, GAS_MM - 2.0, fill=ground, stroke=svg.INK, stroke_width=0.35))
        said = word if ratio is None else f"{word} λ {ratio:g}"
        fits = next((text for text in (said, word, word[:3]) if svg.width_of(text, EM_MM) < wide), "")
        drawn.append(svg.centred(x + wide / 2.0, top + (GAS_MM - 2.0) / 2.0, fits, em=EM_MM))
    return drawn


def _bars(scale: _Scale, bars: Sequence[HourBar], top: float, end_h: float) -> list[str]:
    """Energy of each hour: the part by day plain, the part by night on another ground with a stroke across."""
    most = max(bar.kwh for bar in bars)
    floor = top + BARS_MM
    per_kwh = (BARS_MM - 5.0) / most if most > 0 else 0.0
    drawn = [svg.words(1.0, top + 3.0, "kWh", em=EM_MM)]
    for hour, bar in enumerate(bars):
        x, wide = scale.x(hour), min(1.0, end_h - hour) * scale.per_hour_mm
        day = bar.kwh * (1.0 - bar.night_share) * per_kwh
        night = bar.kwh * bar.night_share * per_kwh
        if night > 0.0:
            drawn.append(svg.rectangle(x, floor - night, wide, night, fill=NIGHT, stroke=svg.INK, stroke_width=0.3))
            drawn.append(svg.line(x, floor, x + wide, floor - night, stroke_width=0.3))
        if day > 0.0:
            drawn.append(svg.rectangle(x, floor - night - day, wide, day, fill=DAY, stroke=svg.INK, stroke_width=0.3))
        if bar.kwh > 0.0 and wide > 5.0:
            drawn.append(svg.centred(x + wide / 2.0, floor - night - day - 2.2, bar.said, em=2.6))
    return drawn


def _hours(scale: _Scale, end_h: float, lit_h: float, floor: float) -> list[str]:
    """Two rows under the axis: hours from lighting, and the clock."""
    step = next(step for step in (1, 2, 4, 6, 12, 24) if end_h / step <= 16 or step == 24)
    drawn = [
        svg.line(LEFT_MM, floor, scale.x(end_h), floor, stroke_width=0.5),
        svg.words(1.0, floor + 4.6, "hours", em=EM_MM),
        svg.words(1.0, floor + 9.0, "clock", em=EM_MM),
    ]
    for hour in range(0, int(end_h) + 1, step):
        x = scale.x(hour)
        drawn.append(svg.line(x, floor, x, floor + 1.2, stroke_width=0.3))
        drawn.append(svg.words(x, floor + 4.6, str(hour), em=EM_MM, text_anchor="middle"))
        drawn.append(svg.words(x, floor + 9.0, clock_words(lit_h + hour), em=EM_MM, text_anchor="middle"))
    return drawn


def clock_words(hour: float) -> str:
    """Return an hour of the day as the clock shows it, whatever day it is."""
    minutes = round(hour * 60.0) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
