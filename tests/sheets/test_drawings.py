"""Side elevation, plan, picture and programme curve."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import pytest

from kilnpack.model.pieces import Stage
from kilnpack.model.programmes import Atmosphere, Programme, Segment
from kilnpack.sheets import svg
from kilnpack.sheets.curve import curve_points, draw_curve
from kilnpack.sheets.elevation import draw_elevation
from kilnpack.sheets.facts import Tightest, loading_facts
from kilnpack.sheets.figures import figures_of, from_front
from kilnpack.sheets.isometric import draw_isometric, seen
from kilnpack.sheets.kiln_plan import draw_plan
from kilnpack.sheets.order import tiers_in_order
from kilnpack.sheets.tones import tones_of
from tests.sheets.small_works import LOAD, WORKS, round_load

TIERS = tiers_in_order(WORKS, LOAD)
FIGURES = figures_of(WORKS, LOAD)
PAGES = {row.name: "7" for row in TIERS}


def elevation(width_mm: float = 190.0, height_mm: float = 152.0) -> svg.Drawing:
    """The elevation of the small load."""
    return draw_elevation(WORKS, LOAD, TIERS, FIGURES, PAGES, width_mm=width_mm, height_mm=height_mm)


def test_the_elevation_names_every_tier_with_its_posts() -> None:
    """Guards the first page: every tier by name at 18 pt, its posts and shelf height beside it."""
    drawing = elevation()
    names = re.findall(r'font-size="6.35"[^>]*>([^<]+)<', drawing.body)
    assert sorted(names) == sorted(row.name for row in TIERS)
    assert "posts 100 + 50" in drawing.body
    assert "at 144 · setting 7" in drawing.body
    assert ">posts · setting<" not in drawing.body
    assert ET.fromstring(drawing.svg).get("width") == "190mm"


def test_shelves_of_the_elevation_lie_at_their_heights_to_scale() -> None:
    """Guards heights: shelf faces of stack A are as far apart as their bases, divided by the stated scale."""
    drawing = elevation()
    one_to = float(drawing.title.rsplit(" ", 1)[1])
    first = drawing.body.split("Stack B")[0]
    faces = [float(y) for y in re.findall(rf'<rect x="[\d.]+" y="([\d.]+)"[^>]*fill="{svg.SHELF_INK}"', first)]
    bases = [tier.base_mm for tier in LOAD.stacks[0].tiers]
    assert [(faces[0] - y) * one_to for y in faces] == pytest.approx([b - bases[0] for b in bases], abs=0.01 * one_to)


def test_a_narrow_paper_puts_the_stacks_under_each_other() -> None:
    """Guards that the elevation fits its paper whatever its shape."""
    assert "scale 1 : 60" in elevation(width_mm=40.0, height_mm=40.0).title
    assert elevation(width_mm=120.0, height_mm=400.0).height_mm > elevation(width_mm=400.0, height_mm=150.0).height_mm


def test_names_of_low_tiers_are_moved_apart() -> None:
    """Guards tall stacks of low tiers: names keep 6.5 mm from each other, and the drawing grows rather than crowds."""
    stack = LOAD.stacks[0]
    low = tuple(replace(stack.tiers[2], number=k + 1, base_mm=30.0 + 64.0 * k) for k in range(15))
    load = replace(LOAD, stacks=tuple(replace(each, tiers=low) for each in LOAD.stacks))
    works = replace(WORKS, kilns=tuple(replace(kiln, usable_height_mm=1100.0) for kiln in WORKS.kilns))
    facts = loading_facts(works, load, title="x", tightest=Tightest())
    first = facts.elevation.body.split("Stack B")[0]
    heights = [float(y) for y in re.findall(r'y="([\d.]+)" font-size="6.35" font-weight="bold"', first)]
    assert len(heights) == 15
    assert first.count(">posts · setting<") == 1
    assert min(low - high for high, low in pairwise(sorted(heights))) >= 6.49
    assert 203.0 < facts.elevation.height_mm <= 248.0
    assert not facts.elevation.title.endswith("1 : 60")
    assert "shelf at" not in first


def test_every_drawing_says_where_the_front_is() -> None:
    """Guards "front = door side" on plan and picture."""
    tones = tones_of(lot.product for lot in WORKS.lots)
    plan = draw_plan(WORKS, LOAD, width_mm=52.0, height_mm=42.0)
    picture = draw_isometric(WORKS, LOAD, TIERS, FIGURES, tones, width_mm=120.0, height_mm=110.0, prefix="i")
    for drawing in (plan, picture):
        assert "FRONT = DOOR SIDE" in drawing.body
        ET.fromstring(drawing.svg)
    assert picture.width_mm <= 120.0 + 1e-9
    assert picture.height_mm <= 110.0 + 1e-9
    assert picture.body.count("<use ") == sum(len(LOAD.setting(row.tier.setting).standings) for row in TIERS)


def test_long_stack_names_and_stacks_without_stubs_are_drawn() -> None:
    """Guards kilns whose stacks have words for names, and a bottom shelf that stands on no stubs."""
    load = round_load()
    bare = replace(load, stacks=tuple(replace(stack, stub=None) for stack in load.stacks))
    tiers = tiers_in_order(WORKS, bare)
    pages = {row.name: "1" for row in tiers}
    figures = figures_of(WORKS, bare)
    drawn = draw_elevation(WORKS, bare, tiers, figures, pages, width_mm=190.0, height_mm=150.0)
    stood = draw_elevation(WORKS, load, tiers_in_order(WORKS, load), figures, pages, width_mm=190.0, height_mm=150.0)
    assert ">back-2<" in drawn.body
    assert drawn.body.count("#8c8c8c") == stood.body.count("#8c8c8c") - 2 * 3


def test_isometric_axes_stand_120_degrees_apart() -> None:
    """Guards the projection: a step along each axis is equally long, and the three cancel in the picture."""
    right, back, up = seen(1, 0, 0), seen(0, 1, 0), seen(0, 0, 1)
    for x, y in (right, back, up):
        assert x * x + y * y == pytest.approx(1.0)
    assert (right[0] - back[0], right[1] + back[1]) == pytest.approx((0.0, 0.0))


def test_a_silhouette_is_as_wide_as_the_body_and_as_high() -> None:
    """Guards the elevation's ware: a cup with its handle to the right is rim + handle wide and its height tall."""
    body = FIGURES["cup"].body
    left, low, right, high = from_front(body, 0.0).bounds
    scale = 1.01 / 0.9
    assert (left, low, high) == pytest.approx((-40.0 * scale, 0.0, 62.0 * scale))
    assert right == pytest.approx(61.0 * scale, abs=0.01)
    assert from_front(body, 180.0).bounds[0] == pytest.approx(-61.0 * scale, abs=0.01)


def test_the_curve_adds_up_ramps_and_holds() -> None:
    """Guards the hours, worked by hand: (120-20)/40 + 2 + (600-120)/80 + (960-600)/120 + 0.5 = 14 h."""
    points = curve_points(WORKS.programme("B960"))
    assert points[-1][0] == pytest.approx(14.0)
    assert max(degc for _, degc, _ in points) == 960.0


def test_the_curve_shows_peak_limit_and_reduction() -> None:
    """Guards the last page: peak and unloading limit in words, reduction thick and red."""
    drawing = draw_curve(WORKS.programme("G1385"), unload_degc=90.0, width_mm=190.0, height_mm=70.0)
    assert ">1385 °C<" in drawing.body
    assert "unload at ≤ 90 °C" in drawing.body
    assert drawing.body.count('stroke="#B00020" stroke-width="1.4"') == 2
    ET.fromstring(drawing.svg)


def test_a_week_long_programme_still_has_an_axis_that_can_be_read() -> None:
    """Guards very slow firings: the hour labels stay few."""
    slow = Programme(
        code="S",
        name="slow",
        stage=Stage.BISCUIT,
        atmosphere=Atmosphere.OXIDATION,
        recorded_fire_h=500.0,
        recorded_cool_h=1500.0,
        recorded_kg=10.0,
        segments=(Segment(to_degc=1000.0, rate_k_h=2.0),),
    )
    drawing = draw_curve(slow, unload_degc=100.0, width_mm=190.0, height_mm=70.0)
    assert 5 < drawing.body.count('text-anchor="middle"') < 25


def test_numbers_and_words_of_a_drawing_are_safe() -> None:
    """Guards SVG text: short numbers, and no text that could close an element."""
    assert [svg.number(v) for v in (1.0, -0.001, 2.345, 10.0, 0.5)] == ["1", "0", "2.35", "10", "0.5"]
    assert "<b>" not in svg.words(0, 0, "<b>&", em=3)
    assert 'class="x"' in svg.circle(0, 0, 1, class_="x")
    assert "stroke" not in svg.circle(0, 0, 1, stroke=None)
