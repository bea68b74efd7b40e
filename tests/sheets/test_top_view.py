"""The top view: true to scale, every place numbered, rulers said."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import pytest

from kilnpack.sheets.figures import figures_of
from kilnpack.sheets.frames import ShelfView, shelf_view
from kilnpack.sheets.rows import rows_of, spots_of
from kilnpack.sheets.svg import SHELF_INK
from kilnpack.sheets.top_view import Look, TopView, best_scale, draw_top_view, legible_tall_mm
from tests.sheets.small_works import HALF, LOAD, SHELF, WORKS, round_load, setting

FIGURES = figures_of(WORKS, LOAD)


def top_view(code: str, view: ShelfView) -> TopView:
    """A top view of one of the small settings."""
    spots = spots_of(setting(code), view, FIGURES)
    looks = {spot.place: Look(code="X-1") for spot in spots}
    rows, _ = rows_of(spots, FIGURES)
    return TopView(title=code, view=view, spots=spots, rows=rows, looks=looks, post_side_mm=40.0, post_words="100")


def shelf_box(body: str) -> tuple[float, float, float, float]:
    """Bounding box of the shelf's edge in a drawing, mm of paper."""
    data, move = re.findall(
        rf'<path d="([^"]+)" transform="translate\(([^)]+)\)" fill="#F3ECE3" stroke="{SHELF_INK}"', body
    )[0]
    numbers = [float(each) for each in re.findall(r"-?[\d.]+", data)]
    dx, dy = (float(each) for each in move.split())
    return min(numbers[::2]) + dx, min(numbers[1::2]) + dy, max(numbers[::2]) + dx, max(numbers[1::2]) + dy


@pytest.mark.parametrize("one_to", [2.0, 3.0, 3.25, 5.0])
def test_the_shelf_is_drawn_at_the_stated_scale(one_to: float) -> None:
    """Guards the scale: 480 x 420 mm of shelf measure 480/n x 420/n mm of paper."""
    drawing = draw_top_view(top_view("S1", shelf_view(SHELF, 0.0)), FIGURES, one_to=one_to, prefix="t")
    left, high, right, low = shelf_box(drawing.body)
    assert (right - left, low - high) == pytest.approx((480.0 / one_to, 420.0 / one_to), abs=0.02)
    assert right <= drawing.width_mm
    assert low <= drawing.height_mm


def test_a_body_stands_on_paper_where_it_stands_on_the_shelf() -> None:
    """Guards the places themselves: body 5 at (60, 255) is 60/3 mm from the left edge and 255/3 from the front."""
    drawing = draw_top_view(top_view("S1", shelf_view(SHELF, 0.0)), FIGURES, one_to=3.0, prefix="t")
    uses = re.findall(r'<use xlink:href="#t\w+" x="([\d.]+)" y="([\d.]+)"/>', drawing.body)
    left, _, _, low = shelf_box(drawing.body)
    x, y = (float(each) for each in uses[4])
    assert (x - left, low - y) == pytest.approx((20.0, 85.0), abs=0.02)


@pytest.mark.parametrize("one_to", [2.0, 6.0])
def test_every_place_number_is_there_8_mm_tall_at_any_scale(one_to: float) -> None:
    """Guards reading at a distance: numbers 1 to 17 appear once each, with an em of 8 mm whatever the scale."""
    drawing = draw_top_view(top_view("S1", shelf_view(SHELF, 0.0)), FIGURES, one_to=one_to, prefix="t")
    numbers = re.findall(r'<text [^>]*font-size="([\d.]+)"[^>]*class="place">(\d+)</text>', drawing.body)
    assert [int(text) for _, text in numbers] == list(range(1, 18))
    assert {size for size, _ in numbers} == {"8"}


def test_row_distances_stand_at_the_edge_in_18_points() -> None:
    """Guards the ruler words: each row's depth and first distance, at 18 pt = 6.35 mm."""
    drawing = draw_top_view(top_view("S1", shelf_view(SHELF, 0.0)), FIGURES, one_to=3.0, prefix="t")
    words = re.findall(r'font-size="6.35"[^>]*>([^<]+)</text>', drawing.body)
    assert words == ["↑362", "→60", "↑362", "→314", "↑255", "→60", "↑148", "→60", "↑46", "→104"]


def test_row_labels_never_overlap() -> None:
    """Guards rows that lie close together: their labels move apart by at least their own height."""
    view = shelf_view(SHELF, 0.0)
    crowded = replace(
        setting("S1"),
        standings=tuple(
            replace(each, x_mm=50.0 + 60.0 * (k % 4), y_mm=60.0 + 20.0 * (k // 4), form="egg")
            for k, each in enumerate(setting("S1").standings)
        ),
    )
    spots = spots_of(crowded, view, FIGURES)
    rows, _ = rows_of(spots, FIGURES)
    top = replace(top_view("S1", view), spots=spots, rows=rows)
    drawing = draw_top_view(top, FIGURES, one_to=10.0, prefix="t")
    heights = sorted(float(y) for y in re.findall(r'<text x="2" y="([\d.]+)" font-size="6.35"', drawing.body))
    assert len(heights) == len(rows)
    assert all(b - a >= 6.35 for a, b in pairwise(heights))


def test_a_half_shelf_with_its_straight_side_to_the_back_is_ruled_from_there() -> None:
    """Guards the turned half shelf: arrows point down from the straight back edge."""
    load = round_load()
    figures = figures_of(WORKS, load)
    view = shelf_view(HALF, 180.0)
    spots = spots_of(load.settings[0], view, figures)
    rows, _ = rows_of(spots, figures)
    looks = {spot.place: Look(pieces=2) for spot in spots}
    top = TopView(title="half", view=view, spots=spots, rows=rows, looks=looks, post_side_mm=None)
    drawing = draw_top_view(top, figures, one_to=3.0, prefix="h")
    assert ">↓52<" in drawing.body
    assert ">→118<" in drawing.body
    assert drawing.body.count(">×2<") == 3


def test_a_half_shelf_with_its_straight_side_to_the_right_is_labelled_on_the_right() -> None:
    """Guards rulers that start at the right edge."""
    load = round_load()
    figures = figures_of(WORKS, load)
    view = shelf_view(HALF, 90.0)
    spots = spots_of(replace(load.settings[0], standings=load.settings[0].standings[:2]), view, figures)
    top = TopView(
        title="half", view=view, spots=spots, rows=(), looks={spot.place: Look() for spot in spots}, post_side_mm=40.0
    )
    narrow = draw_top_view(top, figures, one_to=3.0, prefix="h")
    rows, _ = rows_of(
        tuple(replace(spot, deep_mm=100.0, across_mm=50.0 + 90.0 * k) for k, spot in enumerate(spots)), figures
    )
    wide = draw_top_view(replace(top, rows=rows), figures, one_to=3.0, prefix="h")
    assert wide.width_mm > narrow.width_mm
    assert 'text-anchor="end" fill="#004a75"' in wide.body
    assert ">←50<" in wide.body


def test_a_shelf_that_does_not_face_the_door_says_so() -> None:
    """Guards odd angles: the band names the turn and its sense."""
    drawing = draw_top_view(top_view("S5", shelf_view(SHELF, 20.0)), FIGURES, one_to=4.0, prefix="t")
    assert "shelf stands turned 20° counter-clockwise" in drawing.body
    other = draw_top_view(top_view("S5", shelf_view(SHELF, -20.0)), FIGURES, one_to=4.0, prefix="t")
    assert "shelf stands turned 20° clockwise" in other.body


def test_the_scale_is_the_largest_of_the_list_that_fits() -> None:
    """Guards "as large as the page allows": it fits, and the next larger scale would not."""
    top = top_view("S1", shelf_view(SHELF, 0.0))
    one_to = best_scale(top, FIGURES, width_mm=190.0, height_mm=150.0)
    fits = draw_top_view(top, FIGURES, one_to=one_to, prefix="t")
    larger = draw_top_view(top, FIGURES, one_to=one_to - 0.25, prefix="t")
    assert fits.width_mm <= 190.0
    assert fits.height_mm <= 150.0
    assert larger.width_mm > 190.0 or larger.height_mm > 150.0
    assert best_scale(top, FIGURES, width_mm=30.0, height_mm=25.0) > 20.0


def test_a_body_too_small_for_its_code_still_says_how_many_it_holds() -> None:
    """Guards small stacks on small drawings: the count stands under the number, the code is left out."""
    top = top_view("S1", shelf_view(SHELF, 0.0))
    stacked = replace(top, looks={place: Look(code="X-1", pieces=3) for place in top.looks})
    drawing = draw_top_view(stacked, FIGURES, one_to=10.0, prefix="t")
    assert drawing.body.count(">×3<") == 17
    assert "X-1" not in drawing.body


def test_a_drawing_is_tall_enough_for_its_place_numbers() -> None:
    """Guards reading a crowded shelf: at the height asked for, two numbers are 9.5 mm apart across or 6.8 mm down."""
    top = top_view("S1", shelf_view(SHELF, 0.0))
    tall_mm = legible_tall_mm(top, FIGURES, width_mm=1000.0)
    one_to = best_scale(top, FIGURES, width_mm=1000.0, height_mm=tall_mm + 0.01)
    drawing = draw_top_view(top, FIGURES, one_to=one_to, prefix="t")
    places = re.findall(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*class="place"', drawing.body)
    middles = [(float(x), float(y)) for x, y in places]
    assert len(middles) == len(top.spots)
    tight = 0.8
    for k, (x, y) in enumerate(middles):
        for other_x, other_y in middles[:k]:
            assert abs(x - other_x) >= 9.5 * tight or abs(y - other_y) >= 6.8 * tight


def test_a_drawing_asks_for_no_more_than_the_paper_is_wide() -> None:
    """Guards the limit: a paper of 60 mm is 60 / 1000 of what 1000 mm allow at most."""
    top = top_view("S1", shelf_view(SHELF, 0.0))
    assert legible_tall_mm(top, FIGURES, width_mm=60.0) < legible_tall_mm(top, FIGURES, width_mm=1000.0)
