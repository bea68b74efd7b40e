"""Guards posts, stubs and flat shelves: F1, F3, F4, F12, F14, C6."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kilnpack.model.pieces import Stage
from kilnpack.model.settings import WorksSettings
from kilnpack.rules.furniture import post_columns, usable_posts, usable_stubs, wants_flat
from tests.rules.small_rules import post, stub, works

SETTINGS = WorksSettings()


def test_posts_stand_the_heat_and_are_even() -> None:
    """Guards F1 and F4: at 1420 a post for 1419 stays out, and so do posts uneven by 1.1 mm."""
    posts = (post(50.0), post(60.0, top_degc=1419.0), post(70.0, spread_mm=1.1), post(80.0, spread_mm=1.0))
    assert [row.code for row in usable_posts(SETTINGS, posts, 1420.0)] == ["P50", "P80"]


@pytest.mark.source("memory", "F3: height to side at most 8 alone, 6 end to end")
def test_columns_are_slender_within_reason() -> None:
    """Guards F3: 40 mm posts to 320 mm alone and to 240 mm end to end, tallest lowest, two at most."""
    columns = post_columns(SETTINGS, (post(100.0), post(150.0), post(320.0), post(321.0)))
    assert [(tuple(row.height_mm for row in parts), height) for parts, height in columns] == [
        ((100.0,), 100.0),
        ((150.0,), 150.0),
        ((320.0,), 320.0),
        ((100.0, 100.0), 200.0),
    ]
    three = post_columns(replace(SETTINGS, posts_end_to_end_most=3), (post(30.0), post(60.0)))
    assert ((60.0, 60.0, 30.0), 150.0) in [(tuple(row.height_mm for row in parts), height) for parts, height in three]


def test_columns_stay_even_and_count_the_narrowest_post() -> None:
    """Guards F3 and F4: 0.6 mm twice is more than 1 mm; 150 + 50 mm on a 30 mm post is more than 6 times its side."""
    uneven = (post(50.0, spread_mm=0.6), post(60.0, spread_mm=0.4))
    assert {height for _, height in post_columns(SETTINGS, uneven)} == {50.0, 60.0, 110.0, 120.0}
    narrow = (post(150.0), post(50.0, side_mm=30.0))
    assert {height for _, height in post_columns(SETTINGS, narrow)} == {150.0, 50.0, 100.0}


@pytest.mark.source("kiln-maker-guide", "C6: bottom shelf 25 mm off the floor")
def test_stubs_lift_enough_and_are_enough() -> None:
    """Guards F1, F14 and C6: 25 mm and more, for the heat, one for each point of the pattern; the lowest first."""
    stubs = (stub(60.0), stub(25.0), stub(24.0), stub(30.0, top_degc=1419.0), stub(40.0, count_pieces=3))
    assert [row.code for row in usable_stubs(SETTINGS, stubs, 1420.0, 4)] == ["B25", "B60"]
    assert [row.code for row in usable_stubs(SETTINGS, stubs, 1420.0, 3)] == ["B25", "B40", "B60"]


@pytest.mark.source("pottery-forum", "F12: a bowed shelf takes no flatware")
def test_flatware_wants_a_flat_shelf_in_glost() -> None:
    """Guards F12: flatware in glost only, unless the route itself asks."""
    made = works()
    plate, cup = made.shape("plate"), made.shape("cup")
    step = made.products[0].route[1]
    assert step.stage is Stage.GLOST
    assert [wants_flat(shape, step) for shape in (plate, cup)] == [True, False]
    assert not wants_flat(plate, replace(step, stage=Stage.BISCUIT))
    assert wants_flat(cup, replace(step, stage=Stage.BISCUIT, flat_shelf=True))
