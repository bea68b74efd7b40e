"""The side elevation: every stack from the front, with tier names, shelf heights and posts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import shapely
from shapely import affinity

from kilnpack.shapes.outlines import in_kiln, point_in_kiln, region_polygon
from kilnpack.sheets import svg
from kilnpack.sheets.figures import from_front
from kilnpack.sheets.post_words import post_marks, posts_words
from kilnpack.sheets.words import short_mm, whole_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.furniture import PostType, ShelfType
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.order import TierPlace

SCALES = (2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 60.0)
NAME_EM_MM = 6.35
NOTE_EM_MM = 3.1
NOTE_LINE_MM = NOTE_EM_MM + 0.5
NOTE_MM = 38.0
TITLE_MM = 8.0
NAME_STEP_MM = 6.5
OVER_MM = 15.0
"""Drawn over the highest thing, mm of the kiln."""

OPEN_TOP_MM = 120.0
"""Names of tiers with much room stand no higher than the middle of this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """One stack of the elevation with its own left edge and width on paper."""

    rows: tuple[TierPlace, ...]
    left_mm: float
    right_mm: float


def draw_elevation(
    works: Works,
    load: Load,
    tiers: Sequence[TierPlace],
    figures: Mapping[str, Figure],
    pages: Mapping[str, str],
    *,
    width_mm: float,
    height_mm: float,
) -> svg.Drawing:
    """Return every stack seen from the front, beside each other in order of loading, at one scale.

    Parameters
    ----------
    pages
        Name of the setting page of every tier.
    width_mm, height_mm
        Paper that may be used.
    """
    if not tiers:
        nothing = svg.words(0.0, 7.0, "Nothing stands in this load.", em=NAME_EM_MM)
        return svg.Drawing(width_mm=width_mm, height_mm=12.0, title="Empty side elevation", body=nothing)
    tall_mm = _top(works, load, tiers, figures) + OVER_MM
    stacks = _stacks(tiers)
    least_mm = max(len(rows) for rows in stacks) * NAME_STEP_MM
    name_mm = max(svg.width_of(row.name, NAME_EM_MM) for row in tiers) + 5.0
    columns = [_column(works, rows) for rows in stacks]
    one_to, across = _arrange(columns, (tall_mm, least_mm), name_mm, width_mm, height_mm)
    each_wide = width_mm / across
    each_tall = TITLE_MM + max(tall_mm / one_to, least_mm) + 3.0
    drawn = []
    for k, column in enumerate(columns):
        x, y = (k % across) * each_wide, (k // across) * each_tall
        content = _stack(works, load, column, figures, pages, one_to=one_to, name_mm=name_mm, tall_mm=tall_mm)
        drawn.append(svg.group(content, transform=f"translate({svg.number(x)} {svg.number(y)})"))
    title = f"Side elevation of all stacks seen from the front, scale 1 : {short_mm(one_to)}"
    height = math.ceil(len(columns) / across) * each_tall
    return svg.Drawing(width_mm=width_mm, height_mm=height, title=title, body="".join(drawn))


def _top(works: Works, load: Load, tiers: Sequence[TierPlace], figures: Mapping[str, Figure]) -> float:
    """Greatest height over the floor that shelf, posts or ware reach, mm."""
    tops = []
    for row in tiers:
        face = row.tier.base_mm + _shelf_of(works, row).thickness_mm
        standings = load.setting(row.tier.setting).standings
        ware = max((figures[each.form].body.top_mm for each in standings), default=0.0)
        tops.append(face + max(ware, math.fsum(post.height_mm for post in _posts_of(works, row))))
    return max(tops)


def _stacks(tiers: Sequence[TierPlace]) -> list[tuple[TierPlace, ...]]:
    """Tiers by stack, bottom to top, stacks in the order they are first needed."""
    stacks: dict[str, list[TierPlace]] = {}
    for row in tiers:
        stacks.setdefault(row.place.code, []).append(row)
    return [tuple(rows) for rows in stacks.values()]


def _column(works: Works, rows: tuple[TierPlace, ...]) -> _Column:
    shelves = {shelf.code: shelf for shelf in works.furniture.shelves}
    outlines = [in_kiln(region_polygon(shelves[row.tier.shelf].outline), row.place) for row in rows]
    left, _, right, _ = shapely.total_bounds(outlines)
    return _Column(rows=rows, left_mm=float(left), right_mm=float(right))


def _arrange(
    columns: Sequence[_Column], talls_mm: tuple[float, float], name_mm: float, width_mm: float, height_mm: float
) -> tuple[float, int]:
    """Largest scale and the number of stacks beside each other; fewer rows of stacks where that costs nothing.

    `talls_mm` are the height of the load in mm of the kiln and the least that the names of its tiers take on paper.
    """
    widest = max(column.right_mm - column.left_mm for column in columns) + 30.0
    for one_to in SCALES:
        for rows in range(1, len(columns) + 1):
            across = math.ceil(len(columns) / rows)
            wide = across * (name_mm + NOTE_MM + widest / one_to)
            tall = rows * (TITLE_MM + max(talls_mm[0] / one_to, talls_mm[1]) + 3.0)
            if wide <= width_mm and tall <= height_mm:
                return one_to, across
    return SCALES[-1], max(1, math.floor(width_mm / (name_mm + NOTE_MM + widest / SCALES[-1])))


def _stack(
    works: Works,
    load: Load,
    column: _Column,
    figures: Mapping[str, Figure],
    pages: Mapping[str, str],
    *,
    one_to: float,
    name_mm: float,
    tall_mm: float,
) -> list[str]:
    """One stack with its title on top and the floor at the bottom."""
    roof_mm = works.kiln(load.kiln).usable_height_mm
    floor = TITLE_MM + max(tall_mm / one_to, len(column.rows) * NAME_STEP_MM)
    x0, x1 = name_mm, name_mm + (column.right_mm - column.left_mm) / one_to
    drawn = [
        svg.words(x0, 4.6, f"Stack {column.rows[0].place.code}", em=4.6, font_weight="bold"),
        svg.line(x0 - 2, floor, x1 + 2, floor, stroke_width=0.9),
    ]
    drawn += _stubs(works, column, floor, x0, one_to)
    for row in column.rows:
        drawn += _tier(works, load, row, column, figures, floor=floor, x0=x0, one_to=one_to)
    crowded, named = _names(works, load, column, pages, floor=floor, x0=x0, x1=x1, one_to=one_to)
    drawn.append(svg.words(x1 + 2, 4.6, f"roof at {short_mm(roof_mm)}", em=NOTE_EM_MM))
    if crowded:
        drawn.append(svg.words(x1 + 3.5, 4.6 + NOTE_LINE_MM, "posts · setting", em=NOTE_EM_MM, font_style="italic"))
    return drawn + named


def _stubs(works: Works, column: _Column, floor: float, x0: float, one_to: float) -> list[str]:
    stub = {item.code: item for item in works.furniture.stubs}.get(column.rows[0].stack.stub or "")
    if stub is None:
        return []
    drawn = []
    for point in _shelf_of(works, column.rows[0]).posts_mm:
        x_kiln, _ = point_in_kiln(*point, column.rows[0].place)
        x = x0 + (x_kiln - stub.side_mm / 2 - column.left_mm) / one_to
        drawn.append(_upright(x, floor - stub.height_mm / one_to, stub.side_mm, stub.height_mm, one_to))
    return drawn


def _shelf_of(works: Works, row: TierPlace) -> ShelfType:
    return {shelf.code: shelf for shelf in works.furniture.shelves}[row.tier.shelf]


def _posts_of(works: Works, row: TierPlace) -> list[PostType]:
    stock = {post.code: post for post in works.furniture.posts}
    return [stock[code] for code in row.tier.posts]


def _tier(
    works: Works,
    load: Load,
    row: TierPlace,
    column: _Column,
    figures: Mapping[str, Figure],
    *,
    floor: float,
    x0: float,
    one_to: float,
) -> list[str]:
    """Shelf, posts and the silhouettes of the ware, the back ones first."""
    shelf = _shelf_of(works, row)
    face = floor - (row.tier.base_mm + shelf.thickness_mm) / one_to
    posts = _posts(works, row, column, floor=floor, x0=x0, one_to=one_to)
    ware = []
    for standing in load.setting(row.tier.setting).standings:
        x_kiln, y_kiln = point_in_kiln(standing.x_mm, standing.y_mm, row.place)
        outline = from_front(figures[standing.form].body, standing.turn_deg + row.place.turn_deg)
        data = svg.path_of(affinity.translate(outline, x_kiln - column.left_mm, 0.0), 1.0 / one_to)
        move = f"translate({svg.number(x0)} {svg.number(face)})"
        ware.append((y_kiln, svg.path(data, fill="#EDF3F8", stroke="#33485c", stroke_width=0.2, transform=move)))
    drawn = [text for _, text in sorted(posts + ware, key=lambda pair: -pair[0])]
    thick = max(shelf.thickness_mm / one_to, 0.5)
    width = (column.right_mm - column.left_mm) / one_to
    return [*drawn, svg.rectangle(x0, face, width, thick, fill=svg.SHELF_INK)]


def _posts(
    works: Works, row: TierPlace, column: _Column, *, floor: float, x0: float, one_to: float
) -> list[tuple[float, str]]:
    """Every post of a tier with its depth in the kiln."""
    shelf = _shelf_of(works, row)
    drawn = []
    z = row.tier.base_mm + shelf.thickness_mm
    for post in _posts_of(works, row):
        for point in shelf.posts_mm:
            x_kiln, y_kiln = point_in_kiln(*point, row.place)
            x = x0 + (x_kiln - post.side_mm / 2 - column.left_mm) / one_to
            drawn.append(
                (y_kiln, _upright(x, floor - (z + post.height_mm) / one_to, post.side_mm, post.height_mm, one_to))
            )
        z += post.height_mm
    return drawn


def _upright(x: float, y: float, side_mm: float, tall_mm: float, one_to: float) -> str:
    return svg.rectangle(x, y, side_mm / one_to, tall_mm / one_to, fill="#8c8c8c", stroke=svg.INK, stroke_width=0.15)


def _names(
    works: Works,
    load: Load,
    column: _Column,
    pages: Mapping[str, str],
    *,
    floor: float,
    x0: float,
    x1: float,
    one_to: float,
) -> tuple[bool, list[str]]:
    """Tier names on the left; posts, shelf height and setting on the right; moved apart where tiers are low.

    Returns whether they are so crowded that each is one line, of posts and setting alone, and what is drawn.
    """
    rows = column.rows[::-1]
    middles = [floor - _middle_mm(works, row) / one_to for row in rows]
    places = svg.apart(middles, NAME_STEP_MM, TITLE_MM + NAME_STEP_MM / 2, floor - NAME_STEP_MM / 2)
    gaps = [low - high for high, low in pairwise(places)]
    crowded = min(gaps, default=TITLE_MM * 2) < 2 * NOTE_LINE_MM
    marks = post_marks(works, load)
    drawn = []
    for row, middle, y in zip(rows, middles, places, strict=True):
        base = y + NAME_EM_MM * svg.CAP_SHARE / 2
        drawn.append(svg.words(x0 - 4, base, row.name, em=NAME_EM_MM, font_weight="bold", text_anchor="end"))
        for edge, side in ((x0, -3.0), (x1, 3.0)):
            if abs(y - middle) > 0.5:
                drawn.append(svg.line(edge, middle, edge + side, y, stroke=svg.FAINT, stroke_width=0.25))
        notes = _notes(row, pages[row.name], marks, short=crowded)
        for n, text in enumerate(notes):
            line = y + (n - (len(notes) - 1) / 2) * NOTE_LINE_MM + NOTE_EM_MM * svg.CAP_SHARE / 2
            drawn.append(svg.words(x1 + 3.5, line, text, em=NOTE_EM_MM))
    return crowded, drawn


def _middle_mm(works: Works, row: TierPlace) -> float:
    """Height over the floor of the middle of a tier's room, mm; near the shelf where the room is open and high."""
    return row.tier.base_mm + _shelf_of(works, row).thickness_mm + min(row.tier.room_mm, OPEN_TOP_MM) / 2


def _notes(row: TierPlace, page: str, marks: Mapping[str, str], *, short: bool) -> tuple[str, ...]:
    posts = posts_words(row.tier.posts, marks)
    said = f"posts {posts}" if row.tier.posts else posts
    if short:
        return (f"{said} · {page}",)
    return (said, f"at {whole_mm(row.tier.base_mm)} · setting {page}")
