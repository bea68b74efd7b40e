"""Tint, hatch and code: colour is never the only sign."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from kilnpack.sheets.svg import INK
from kilnpack.sheets.swatches import swatches_of
from kilnpack.sheets.tones import HATCHES, TINTS, hatch_lines, tones_of


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour."""
    shares = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.source("wcag-22", "1.4.3, contrast ratio")
@pytest.mark.parametrize("tint", TINTS)
def test_ink_is_read_on_every_tint(tint: str) -> None:
    """Guards that words on a tint have a contrast of 7 : 1 or more, the stricter of the two published limits."""
    high, low = luminance(tint), luminance(INK)
    assert (high + 0.05) / (low + 0.05) >= 7.0


def test_56_products_differ_in_tint_or_hatch() -> None:
    """Guards that no two products of a usual load look alike, and that neighbours differ in both signs."""
    tones = tones_of(str(k) for k in range(56))
    assert len({(tone.tint, tone.hatch) for tone in tones.values()}) == 56
    assert tones["0"].hatch != tones["8"].hatch
    assert tones_of(["b", "a", "b"]) == tones_of(["b", "a"])


@given(
    st.floats(20, 90),
    st.floats(20, 90),
    st.sampled_from([hatch for hatch in HATCHES if hatch]),
    st.floats(2, 9),
)
def test_hatch_lines_lie_inside_and_as_far_apart_as_asked(
    wide: float, tall: float, hatch: tuple[float, ...], apart: float
) -> None:
    """Guards the cut: no line leaves the outline, and lengths add up to area over distance within one line's length."""
    area = shapely.box(-wide, -tall, wide, tall)
    lines = hatch_lines(area, hatch, apart)
    assert shapely.within(lines, area.buffer(1e-6))
    wanted = len(hatch) * area.area / apart
    assert abs(lines.length - wanted) <= len(hatch) * 2.1 * math.hypot(2 * wide, 2 * tall)


def test_every_product_has_a_sample() -> None:
    """Guards the legend: one sample each, hatched unless the product has the bare tint."""
    swatches = swatches_of(tones_of(["CUP", "EGG"]))
    assert [swatch.product for swatch in swatches] == ["CUP", "EGG"]
    assert 'stroke-width="0.25"' not in swatches[0].drawing.body
    assert 'stroke-width="0.25"' in swatches[1].drawing.body
