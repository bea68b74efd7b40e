"""The top view of one setting: true to scale, numbered in placing order, with the ruler lines of its rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely
from shapely import affinity

from kilnpack.shapes.outlines import square
from kilnpack.sheets import svg
from kilnpack.sheets.post_words import PLUS
from kilnpack.sheets.tones import APART_MM, PLAIN, Tone, hatch_lines
from kilnpack.sheets.words import whole_mm

if TYPE_CHECKING:
    from collections.abc import Mapping

    from shapely.geometry.base import BaseGeometry

    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.frames import ShelfView
    from kilnpack.sheets.rows import Row, Spot

SCALES = (*(k / 4 for k in range(4, 25)), 6.5, 7.0, 7.5, 8.0, 9.0, 10.0, 12.0, 15.0, 20.0)
"""A drawing is one of these many times smaller than the shelf."""

NUMBER_EM_MM = 8.0
"""Size of place numbers on paper, whatever the scale."""

RULER_EM_MM = 6.35
"""18 pt: what is read at 1 m."""

NUMBER_ROOM_MM = (9.5, 6.8)
"""Paper that a number of two figures takes, across and down."""

MARGIN_MM = 2.0
FRONT_BAND_MM = 9.0
LABEL_MM = 22.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a place is filled on paper: tone, code of what stands there, and pieces in the body."""

    tone: Tone = PLAIN
    code: str = ""
    pieces: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Something on the shelf that is no ware, in the view: a cone pack or a keep-out."""

    outline: BaseGeometry
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TopView:
    """All that a top view shows. `post_words` stands in each post, empty where the tiers differ."""

    title: str
    view: ShelfView
    spots: tuple[Spot, ...]
    rows: tuple[Row, ...]
    looks: Mapping[int, Look]
    post_side_mm: float | None
    post_words: str = ""
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """Where the shelf lies on the paper: scale (mm of paper per mm) and paper place of the view's (0, 0)."""

    scale: float
    x0: float
    y0: float

    def at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Return the paper place of a point of the view."""
        return self.x0 + x_mm * self.scale, self.y0 - y_mm * self.scale


def best_scale(top: TopView, figures: Mapping[str, Figure], *, width_mm: float, height_mm: float) -> float:
    """Return the largest scale, as "one to so many", at which a top view fits a paper area in mm."""
    left, front, right, back = _bounds(top, figures)
    wide = width_mm - 2 * MARGIN_MM - (LABEL_MM if top.rows else 0.0)
    tall = height_mm - 2 * MARGIN_MM - FRONT_BAND_MM
    for one_to in SCALES:
        if right - left <= wide * one_to and back - front <= tall * one_to:
            return one_to
    return max((right - left) / wide, (back - front) / tall)


def legible_tall_mm(top: TopView, figures: Mapping[str, Figure], *, width_mm: float) -> float:
    """Return how tall a drawing must be on paper for no two place numbers to cover each other, mm.

    A drawing as wide as the paper is as tall as it may be asked to be.
    """
    left, front, right, back = _bounds(top, figures)
    middles = [(spot.x_mm, spot.y_mm) for spot in top.spots]
    needed = 0.0
    for k, (x, y) in enumerate(middles):
        for other_x, other_y in middles[:k]:
            apart = max(abs(x - other_x) / NUMBER_ROOM_MM[0], abs(y - other_y) / NUMBER_ROOM_MM[1])
            needed = max(needed, 1.0 / apart if apart > 0.0 else 0.0)
    widest = (width_mm - 2 * MARGIN_MM - (LABEL_MM if top.rows else 0.0)) / (right - left)
    return (back - front) * min(needed, widest) + 2 * MARGIN_MM + FRONT_BAND_MM


def draw_top_view(top: TopView, figures: Mapping[str, Figure], *, one_to: float, prefix: str) -> svg.Drawing:
    """Return the top view at a scale of 1 : `one_to`.

    Parameters
    ----------
    prefix
        Put before the names of reused parts, so that drawings can share a page.
    """
    left, front, right, back = _bounds(top, figures)
    scale = 1.0 / one_to
    label = LABEL_MM if top.rows else 0.0
    label_left = 0.0 if top.view.from_right else label
    frame = _Frame(scale=scale, x0=MARGIN_MM + label_left - left * scale, y0=MARGIN_MM + back * scale)
    width = (right - left) * scale + 2 * MARGIN_MM + label
    shelf_bottom = frame.y0 - front * scale + MARGIN_MM
    body = [
        _shelf(top.view, frame),
        *_bodies(top, figures, frame, prefix),
        *(_mark(mark, top.view, frame) for mark in top.marks),
        _shelf_edge(top.view, frame),
        *_posts(top, frame),
        *_guides(top, frame),
        *_numbers(top, figures, frame),
        *_row_labels(top, frame, width, shelf_bottom),
        _front_band(top.view, frame, shelf_bottom),
    ]
    return svg.Drawing(width_mm=width, height_mm=shelf_bottom + FRONT_BAND_MM, title=top.title, body="".join(body))


def _bounds(top: TopView, figures: Mapping[str, Figure]) -> tuple[float, float, float, float]:
    """Bounding box of shelf and rims in the view."""
    rims = [_stood(figures[spot.form].rim, spot) for spot in top.spots]
    left, front, right, back = shapely.total_bounds([top.view.outline, *rims])
    return float(left), float(front), float(right), float(back)


def _stood(outline: BaseGeometry, spot: Spot) -> BaseGeometry:
    return affinity.translate(affinity.rotate(outline, spot.turn_deg, origin=(0, 0)), spot.x_mm, spot.y_mm)


def _shelf(view: ShelfView, frame: _Frame) -> str:
    x, y = frame.at(0.0, 0.0)
    return svg.shape(view.outline, frame.scale, x, y, fill="#F3ECE3", stroke=svg.SHELF_INK, stroke_width=0.7)


def _shelf_edge(view: ShelfView, frame: _Frame) -> str:
    """The shelf's edge once more over the ware, so that an overhanging rim is seen to overhang."""
    x, y = frame.at(0.0, 0.0)
    return svg.shape(
        view.outline, frame.scale, x, y, fill="none", stroke=svg.SHELF_INK, stroke_width=0.5, stroke_dasharray="3 1.5"
    )


def _bodies(top: TopView, figures: Mapping[str, Figure], frame: _Frame, prefix: str) -> list[str]:
    """Bodies in placing order, each different look defined once and then used."""
    names: dict[tuple[str, float, Tone], str] = {}
    defined, used = [], []
    for spot in top.spots:
        tone = top.looks[spot.place].tone
        key = (spot.form, spot.turn_deg % 360.0, tone)
        if key not in names:
            names[key] = f"{prefix}b{len(names)}"
            defined.append(svg.group(_body(figures[spot.form], spot.turn_deg, tone, frame.scale), id=names[key]))
        x, y = frame.at(spot.x_mm, spot.y_mm)
        used.append(f'<use xlink:href="#{names[key]}" x="{svg.number(x)}" y="{svg.number(y)}"/>')
    return [f"<defs>{''.join(defined)}</defs>", *used]


def _body(figure: Figure, turn_deg: float, tone: Tone, scale: float) -> list[str]:
    """Rim solid, parts thin, foot dashed, hatch under all of them."""

    def turned(outline: BaseGeometry) -> BaseGeometry:
        return affinity.rotate(outline, turn_deg, origin=(0, 0))

    rim = turned(figure.rim)
    thin = [svg.shape(turned(part), scale, fill="none", stroke=svg.INK, stroke_width=0.18) for part in figure.slices]
    foot = turned(figure.foot)
    drawn = [svg.shape(rim, scale, fill=tone.tint, stroke=svg.INK, stroke_width=0.55)]
    if tone.hatch:
        lines = svg.path_of(hatch_lines(rim, tone.hatch, APART_MM / scale), scale)
        drawn.append(svg.path(lines, fill="none", stroke="#555", stroke_width=0.22))
    dashed = svg.shape(foot, scale, fill="none", stroke=svg.INK, stroke_width=0.35, stroke_dasharray="1.4 0.9")
    return [*drawn, *thin, dashed]


def _mark(mark: Mark, view: ShelfView, frame: _Frame) -> str:
    """The outline in red dashes, and its words as near to it as the shelf's edges let them stand."""
    left, _, right, _ = mark.outline.bounds
    em = max(2.6, min(3.6, (right - left) * frame.scale / svg.width_of(mark.words, 1.0) * 0.95))
    half = svg.width_of(mark.words, em) / 2
    x0, y0 = frame.at(0.0, view.depth_mm)
    x1, y1 = frame.at(view.width_mm, 0.0)
    x, y = frame.at(mark.outline.centroid.x, mark.outline.centroid.y)
    place = (min(max(x, x0 + half), x1 - half), min(max(y, y0 + em), y1 - em))
    drawn = svg.shape(
        mark.outline,
        frame.scale,
        *frame.at(0.0, 0.0),
        fill="#fff",
        fill_opacity=0.7,
        stroke="#B00020",
        stroke_width=0.6,
        stroke_dasharray="2 1",
    )
    return drawn + svg.haloed(*place, mark.words, em=em, halo=0.4)


def _posts(top: TopView, frame: _Frame) -> list[str]:
    side = top.post_side_mm
    if side is None:
        return []
    lines = [f"{'+' if n else ''}{mark}" for n, mark in enumerate(top.post_words.split(PLUS))]
    room = side * frame.scale * 0.92
    em = min(4.2, room / (max(3, *(len(text) for text in lines)) * svg.FIGURE_SHARE), room / len(lines))
    drawn = []
    for x_mm, y_mm in top.view.posts_mm:
        drawn.append(svg.shape(square(x_mm, y_mm, side), frame.scale, *frame.at(0.0, 0.0), fill=svg.INK))
        x, y = frame.at(x_mm, y_mm)
        for n, text in enumerate(lines):
            line = y + (n - (len(lines) - 1) / 2) * em
            drawn.append(svg.centred(x, line, text, em=em, fill="#fff", font_weight="bold"))
    return drawn


def _guides(top: TopView, frame: _Frame) -> list[str]:
    """A thin line through the middles of every row, from the edge the ruler starts at."""
    edge = top.view.width_mm if top.view.from_right else 0.0
    drawn = []
    for row in top.rows:
        x0, y = frame.at(edge, row.spots[0].y_mm)
        x1, _ = frame.at(row.spots[-1].x_mm, row.spots[0].y_mm)
        drawn.append(svg.line(x0, y, x1, y, stroke="#0072B2", stroke_width=0.35, stroke_dasharray="4 1.2 1 1.2"))
    return drawn


def _numbers(top: TopView, figures: Mapping[str, Figure], frame: _Frame) -> list[str]:
    drawn = []
    for spot in top.spots:
        x, y = frame.at(spot.x_mm, spot.y_mm)
        look = top.looks[spot.place]
        pieces = f"×{look.pieces}" if look.pieces > 1 else ""
        below = " ".join(part for part in (look.code, pieces) if part)
        left, front, right, back = figures[spot.form].rim.bounds
        room = min(right - left, back - front) * frame.scale
        em = min(3.4, 0.86 * room / max(1.0, svg.width_of(below, 1.0)))
        with_words = bool(below) and em >= 2.0 and room >= 15.0
        lift = 2.2 if with_words else 0.0
        drawn.append(svg.haloed(x, y - lift, str(spot.place), em=NUMBER_EM_MM, font_weight="bold", class_="place"))
        if with_words:
            drawn.append(svg.haloed(x, y + 4.6, below, em=em, halo=0.45))
        elif pieces:
            drawn.append(svg.haloed(x, y + 5.4, pieces, em=3.2, halo=0.45))
    return drawn


def _row_labels(top: TopView, frame: _Frame, width: float, bottom: float) -> list[str]:
    """Distances of every row at the edge the ruler starts at, moved apart where they would touch."""
    if not top.rows:
        return []
    wanted = [frame.at(0.0, row.spots[0].y_mm)[1] for row in top.rows]
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    two_lines = 2 * RULER_EM_MM + 1.5
    tall = two_lines if len(wanted) * two_lines <= bottom else RULER_EM_MM + 0.5
    spread = svg.apart([wanted[k] for k in order], tall, tall / 2, bottom - tall / 2)
    from_right = top.view.from_right
    x = width - MARGIN_MM if from_right else MARGIN_MM
    anchor = "end" if from_right else "start"
    up, along = ("↓" if top.view.from_back else "↑"), ("←" if from_right else "→")
    drawn = []
    for k, y in zip(order, spread, strict=True):
        first = top.rows[k].spots[0]
        lines = [f"{up}{whole_mm(first.deep_mm)}", f"{along}{whole_mm(first.across_mm)}"][
            : 2 if tall == two_lines else 1
        ]
        for n, text in enumerate(lines):
            base = y + (n - (len(lines) - 1) / 2) * RULER_EM_MM + RULER_EM_MM * svg.CAP_SHARE / 2
            drawn.append(
                svg.words(x, base, text, em=RULER_EM_MM, text_anchor=anchor, fill="#004a75", font_weight="bold")
            )
        tip = frame.at(top.view.width_mm if from_right else 0.0, 0.0)[0]
        tail = x - LABEL_MM + 2.5 if from_right else x + LABEL_MM - 2.5
        drawn.append(svg.line(tail, y, tip, wanted[k], stroke="#0072B2", stroke_width=0.35))
    return drawn


def _front_band(view: ShelfView, frame: _Frame, top: float) -> str:
    """The door side in words under the drawing, with an arrow where the shelf does not face the door squarely."""
    x0, _ = frame.at(0.0, 0.0)
    x1, _ = frame.at(view.width_mm, 0.0)
    bar = svg.rectangle(x0, top, x1 - x0, 6.0, fill="#333")
    text = svg.centred((x0 + x1) / 2, top + 3.0, "▼ FRONT = DOOR SIDE ▼", em=4.2, fill="#fff", font_weight="bold")
    if abs(view.rest_deg) < 1.0:
        return bar + text
    turn = f"shelf stands turned {abs(view.rest_deg):.0f}° {'counter-clockwise' if view.rest_deg > 0 else 'clockwise'}"
    return bar + text + svg.centred((x0 + x1) / 2, top + 8.0, turn, em=3.0)
