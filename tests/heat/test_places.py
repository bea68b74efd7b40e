"""Cones by place, from the offset map."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.places import cones_by_place
from kilnpack.model.kilns import OffsetMap, OffsetReading
from kilnpack.model.pieces import Stage
from kilnpack.model.programmes import Segment

if TYPE_CHECKING:
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.programmes import Programme


@pytest.fixture(scope="module")
def plain(glost: Programme) -> Programme:
    """Return a steady rise of 60 K/h to 1250 degC."""
    return replace(glost, segments=(Segment(to_degc=1250.0, rate_k_h=60.0),))


@pytest.mark.source("cone-chart", "self-supporting cones at 60 K/h: 7 at 1239, 8 at 1249, 9 at 1260 degC")
def test_each_reading_is_answered(kiln: Kiln, plain: Programme) -> None:
    """10 K colder at the floor is cone 7, 10 K hotter at the roof cone 9; coldest first, other stages passed over."""
    top = OffsetReading(x_mm=500.0, y_mm=500.0, z_mm=1500.0, offset_k=10.0)
    floor = OffsetReading(x_mm=500.0, y_mm=500.0, z_mm=50.0, offset_k=-10.0)
    maps = (
        OffsetMap(stage=Stage.BISCUIT, readings=(replace(top, offset_k=99.0),)),
        OffsetMap(stage=Stage.GLOST, readings=(top, floor)),
    )
    found = cones_by_place(replace(kiln, offsets=maps), plain)
    assert [place.reading for place in found] == [floor, top]
    assert [place.answer.cone for place in found] == ["7", "9"]


@pytest.mark.source("common-practice", "a kiln is not even; +-10 K until its own readings replace it")
def test_spread_is_answered_at_both_ends(kiln: Kiln, plain: Programme) -> None:
    """Without readings the two ends of the spread are answered, +-10 K where no map is stated."""
    found = cones_by_place(kiln, plain)
    assert [(place.reading, place.offset_k) for place in found] == [(None, -10.0), (None, 10.0)]
    wide = replace(kiln, offsets=(OffsetMap(stage=Stage.GLOST, spread_k=25.0),))
    assert [place.offset_k for place in cones_by_place(wide, plain)] == [-25.0, 25.0]
