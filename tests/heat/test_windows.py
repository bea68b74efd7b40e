"""Heat windows of a load by place, and what holds are worth."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from kilnpack.heat.windows import hold_credit_k, hold_words, window_misses, window_words
from kilnpack.model.kilns import OffsetMap, OffsetReading
from kilnpack.model.pieces import Stage
from kilnpack.model.programmes import Segment

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works


def windowed(works: Works, low: float | None, high: float | None, *offsets: float) -> Works:
    """Return the works whose cups want a window in glost; offsets at the floor and 400 mm up, where any are given."""
    product = works.products[0]
    biscuit, glost = product.route
    product = replace(product, route=(biscuit, replace(glost, low_degc=low, high_degc=high)))
    readings = tuple(
        OffsetReading(x_mm=350.0, y_mm=300.0, z_mm=z, offset_k=k) for z, k in zip((0.0, 400.0), offsets, strict=False)
    )
    maps = (OffsetMap(stage=Stage.GLOST, readings=readings),) if offsets else ()
    return replace(works, products=(product,), kilns=tuple(replace(kiln, offsets=maps) for kiln in works.kilns))


def test_a_met_window_is_not_said(works: Works, load: Load) -> None:
    """1400 +-10 degC within 1380 to 1420 is no matter; without a window nothing is."""
    assert window_misses(windowed(works, 1380.0, 1420.0), load) == ()
    assert window_misses(windowed(works, None, None), load) == ()


def test_a_missed_window_is_said_by_tier_with_its_cone(works: Works, load: Load) -> None:
    """Without readings 1390 to 1410 degC misses a window from 1395 on both tiers; the cone is the cold end's."""
    misses = window_misses(windowed(works, 1395.0, None), load)
    assert [(miss.stack, miss.tier, miss.product, miss.missed) for miss in misses] == [
        ("left", 1, "CUP", True),
        ("left", 2, "CUP", True),
    ]
    assert (misses[0].low_degc, misses[0].high_degc) == (1390.0, 1410.0)
    assert "from 1395 °C" in misses[0].said
    assert "above cone 13" in misses[0].cone
    assert "up to 1405 °C" in window_misses(windowed(works, None, 1405.0), load)[0].said


def test_near_is_said_apart_from_missed(works: Works, load: Load) -> None:
    """Read at -10 K throughout, 1390 degC lies 2 K inside a window from 1388: near; from 1386 it is not said."""
    misses = window_misses(windowed(works, 1388.0, 1450.0, -10.0, -10.0), load)
    assert [(miss.tier, miss.missed) for miss in misses] == [(1, False), (2, False)]
    assert window_misses(windowed(works, 1386.0, 1450.0, -10.0, -10.0), load) == ()
    assert "comes within 3 K" in misses[0].said


def test_many_misses_are_counted(works: Works, load: Load) -> None:
    """Those past the end come first; more than eight are counted."""
    near, far = (
        replace(window_misses(windowed(works, 1395.0, None), load)[0], missed=missed) for missed in (False, True)
    )
    words = window_words((near,) * 9 + (far,))
    assert len(words) == 9
    assert "misses" in words[0]
    assert words[-1] == "Heat window: and 2 more"


def test_a_hold_counts_as_kelvin(works: Works) -> None:
    """Two hours at 1400 degC are worth some 30 to 60 K of peak; a curve without holds has no credit.

    2 h at 1400 degC are 1437 to 1451 degC at 60 K/h; without the hold the slow last ramp is about 1395.
    """
    glost = works.programmes[0]
    credit = hold_credit_k(glost)
    assert credit is not None
    assert 30.0 < credit < 65.0
    bare = replace(glost, segments=(Segment(to_degc=1000.0, rate_k_h=100.0),))
    assert hold_credit_k(bare) is None
    assert "holds nowhere" in hold_words(works.kilns[0], bare)
    assert "weakly checked" in hold_words(works.kilns[0], glost)


@pytest.mark.source("own-calculation", "a hold as a slow ramp")
def test_a_longer_hold_is_worth_more(works: Works) -> None:
    """Every further hour adds, each less than the one before."""
    glost = works.programmes[0]
    last = glost.segments[-1]
    worth = [
        hold_credit_k(replace(glost, segments=(*glost.segments[:-1], replace(last, hold_h=hours)))) or 0.0
        for hours in (0.5, 1.0, 2.0, 4.0)
    ]
    steps = [later - earlier for earlier, later in pairwise(worth)]
    assert all(step > 0.0 for step in steps)
    assert steps[0] / 0.5 > steps[1] / 1.0 > steps[2] / 2.0
