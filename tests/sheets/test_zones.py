"""The heat of a tier in words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.kilns import OffsetMap, OffsetReading
from kilnpack.model.pieces import Stage
from kilnpack.sheets.order import tiers_in_order
from kilnpack.sheets.zones import zone_words
from tests.sheets.small_works import LOAD, WORKS

if TYPE_CHECKING:
    from kilnpack.model.works import Works

FIRST = tiers_in_order(WORKS, LOAD)[0]
X, Y = FIRST.middle_mm
Z = FIRST.tier.base_mm + FIRST.tier.room_mm / 2


def with_map(*maps: OffsetMap) -> Works:
    """The works with other offset maps in every kiln."""
    return replace(WORKS, kilns=tuple(replace(kiln, offsets=maps) for kiln in WORKS.kilns))


def reading(dx_mm: float, offset_k: float) -> OffsetReading:
    """A reading so far to the right of the middle of the first tier's room."""
    return OffsetReading(x_mm=X + dx_mm, y_mm=Y, z_mm=Z, offset_k=offset_k)


def test_a_reading_on_the_spot_is_what_is_said() -> None:
    """Guards the weighting: a reading at the place itself outweighs one far away."""
    maps = OffsetMap(stage=Stage.GLOST, readings=(reading(0.0, 6.0), reading(2000.0, -40.0)))
    assert zone_words(with_map(maps), LOAD, FIRST) == "+6 K"


def test_half_way_between_two_readings_is_their_mean() -> None:
    """Guards symmetry: -9 K and +3 K at equal distances give -3 K."""
    maps = OffsetMap(stage=Stage.GLOST, readings=(reading(-200.0, -9.0), reading(200.0, 3.0)))
    assert zone_words(with_map(maps), LOAD, FIRST) == "−3 K"


def test_without_readings_of_the_stage_the_spread_is_said() -> None:
    """Guards honesty: a map of another stage, a map without readings and no map at all give a range."""
    other = OffsetMap(stage=Stage.DECORATION, readings=(reading(0.0, 6.0),))
    bare = OffsetMap(stage=Stage.GLOST, spread_k=7.0)
    assert zone_words(with_map(other), LOAD, FIRST) == "−10 to +10 K"
    assert zone_words(with_map(other, bare), LOAD, FIRST) == "−7 to +7 K"
    assert zone_words(with_map(), LOAD, FIRST) == "−10 to +10 K"
