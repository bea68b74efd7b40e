"""Small samples of tint and hatch, one for each product of a load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from shapely.geometry import box

from kilnpack.sheets import svg
from kilnpack.sheets.tones import hatch_lines

if TYPE_CHECKING:
    from collections.abc import Mapping

    from kilnpack.sheets.tones import Tone

WIDE_MM = 9.0
TALL_MM = 6.0
APART_MM = 1.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Swatch:
    """The sample of a product."""

    product: str
    drawing: svg.Drawing


def swatches_of(tones: Mapping[str, Tone]) -> tuple[Swatch, ...]:
    """Return a sample for every product."""
    return tuple(Swatch(product=code, drawing=_sample(code, tone)) for code, tone in tones.items())


def _sample(code: str, tone: Tone) -> svg.Drawing:
    area = box(0.3, -TALL_MM + 0.3, WIDE_MM - 0.3, -0.3)
    ground = svg.path(svg.path_of(area, 1.0), fill=tone.tint, stroke=svg.INK, stroke_width=0.4)
    lines = svg.path_of(hatch_lines(area, tone.hatch, APART_MM), 1.0) if tone.hatch else ""
    hatch = svg.path(lines, fill="none", stroke="#444", stroke_width=0.25) if lines else ""
    return svg.Drawing(width_mm=WIDE_MM, height_mm=TALL_MM, title=f"hatch of {code}", body=ground + hatch)
