"""What one setting page says, and one line of it for every tier that uses the setting."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely
from shapely import affinity

from kilnpack.sheets.extra_notes import extra_notes
from kilnpack.sheets.fills import fill_rows, fill_table
from kilnpack.sheets.form_facts import form_facts
from kilnpack.sheets.frames import shelf_view
from kilnpack.sheets.marks import cone_notes
from kilnpack.sheets.order import alike_tiers
from kilnpack.sheets.page_drawing import PageDrawer
from kilnpack.sheets.rows import rows_of, spots_of
from kilnpack.sheets.words import runs, short_mm, whole_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.fills import FillRow, FillTable
    from kilnpack.sheets.form_facts import FormFacts
    from kilnpack.sheets.frames import ShelfView
    from kilnpack.sheets.order import AlikeTiers, Page
    from kilnpack.sheets.rows import Row, Spot
    from kilnpack.sheets.svg import Drawing
    from kilnpack.sheets.tier_facts import TierFacts
    from kilnpack.sheets.tones import Tone

PAGE_TALL_MM = 258.0
LEAST_VIEW_MM, MOST_VIEW_MM = 86.0, 165.0
ALONE_VIEW_MM = 215.0
"""A drawing that has the page to itself."""
LINE_MM, FILL_LINE_MM, HEAD_MM = 7.4, 8.6, 5.6
COLUMNS_HEAD_MM, LEGEND_LINE_MM = 9.0, 3.9
MOST_COLUMNS = 6
"""Columns of fills beside each other; more stand in blocks under each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowFacts:
    """A row or a body out of a row, in ruler words; `every` is empty for a single body."""

    places: str
    across: str
    deep: str
    every: str
    hour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FillFacts:
    """What fills the places of some tiers, and the drawing with just that ware."""

    tiers: tuple[str, ...]
    rows: tuple[FillRow, ...]
    drawing: Drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class PageFacts:
    """One setting page."""

    name: str
    setting: str
    tiers: tuple[TierFacts, ...]
    drawing: Drawing
    scale: str
    side_edge: str
    near_edge: str
    rows: tuple[RowFacts, ...]
    singles: tuple[RowFacts, ...]
    each: tuple[RowFacts, ...]
    """Every body by itself, as if none stood in a row; in placing order."""
    forms: tuple[FormFacts, ...]
    fills: tuple[FillFacts, ...]
    table: FillTable
    notes: tuple[str, ...]


def page_facts(
    works: Works,
    load: Load,
    page: Page,
    figures: Mapping[str, Figure],
    tones: Mapping[str, Tone],
    tiers: Sequence[TierFacts],
) -> PageFacts:
    """Return all that a setting page says."""
    shelf = {each.code: each for each in works.furniture.shelves}[page.setting.shelf]
    view = shelf_view(shelf, page.turn_deg)
    spots = spots_of(page.setting, view, figures)
    rows, singles = rows_of(spots, figures)
    groups = alike_tiers(page)
    notes = (
        *cone_notes(load, view, page.tiers),
        *_notes(works, page, view, spots, figures),
        *extra_notes(works, load, page, view, figures),
    )
    drawer = PageDrawer(
        works=works, load=load, page=page, view=view, spots=spots, rows=rows, figures=figures, tones=tones
    )
    forms = form_facts(works, load, spots, figures)
    table = fill_table(works, groups)
    said = _Said(rows=len(rows), singles=len(singles), lines=len(forms) + len(notes), tiers=len(page.tiers))
    tall = _view_tall(said, table, drawer.legible_tall_mm())
    one_to, main = drawer.draw(page.tiers, tall)
    names = {row.name for row in page.tiers}
    return PageFacts(
        name=page.name,
        setting=page.setting.code,
        tiers=tuple(tier for tier in tiers if tier.name in names),
        drawing=main,
        scale=short_mm(one_to) if one_to % 0.5 == 0 else f"{one_to:.2f}",
        side_edge=view.side_edge,
        near_edge=view.near_edge,
        rows=tuple(_row(row) for row in rows),
        singles=tuple(_single(spot) for spot in singles),
        each=tuple(_single(spot) for spot in spots),
        forms=forms,
        fills=tuple(_fill(works, group, drawer, tall) for group in groups),
        table=table,
        notes=notes,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """How many rulers, lines and tiers a page has to say."""

    rows: int
    singles: int
    lines: int
    tiers: int


def _view_tall(said: _Said, table: FillTable, legible_mm: float) -> float:
    """Paper left for the top view, mm, when all that is said of it shall stand on the same page.

    Where that would leave too little for the place numbers to be read, the drawing takes what its rulers leave and the
    tables stand on a second page; where that is too little as well, the rulers go to the second page with them.
    """
    least = min(max(LEAST_VIEW_MM, legible_mm), ALONE_VIEW_MM)
    first = (
        29.0
        + (HEAD_MM + LINE_MM * said.rows if said.rows else 0.0)
        + (HEAD_MM + LINE_MM * math.ceil(said.singles / 2) if said.singles else 0.0)
        + 4.2 * said.lines
    )
    left = PAGE_TALL_MM - first - HEAD_MM - LINE_MM * said.tiers - _table_mm(table)
    if left < least:
        left = max(least, PAGE_TALL_MM - first)
    return max(least, min(left, MOST_VIEW_MM))


def _table_mm(table: FillTable) -> float:
    """Height of the table of fills: one line a lot where all tiers are alike, else blocks of columns and a legend."""
    if len(table.columns) == 1:
        return HEAD_MM + FILL_LINE_MM * len(table.lots)
    blocks = math.ceil(len(table.columns) / MOST_COLUMNS)
    return blocks * (COLUMNS_HEAD_MM + FILL_LINE_MM * len(table.lines)) + LEGEND_LINE_MM * math.ceil(
        len(table.lots) / 2
    )


def _row(row: Row) -> RowFacts:
    first = row.spots[0]
    return RowFacts(
        places=_row_places(row.places),
        across=whole_mm(first.across_mm),
        deep=whole_mm(first.deep_mm),
        every=whole_mm(row.every_mm),
        hour=first.hour,
    )


def _row_places(places: Sequence[int]) -> str:
    """Place numbers from the side edge on; a row may also be numbered towards that edge."""
    if list(places) == sorted(places):
        return runs(places)
    return f"{places[0]}, {places[1]}" if len(places) == 2 else f"{places[0]} … {places[-1]}"


def _single(spot: Spot) -> RowFacts:
    return RowFacts(
        places=str(spot.place), across=whole_mm(spot.across_mm), deep=whole_mm(spot.deep_mm), every="", hour=spot.hour
    )


def _fill(works: Works, group: AlikeTiers, drawer: PageDrawer, tall_mm: float) -> FillFacts:
    return FillFacts(
        tiers=tuple(row.name for row in group.tiers),
        rows=fill_rows(works, group.fills),
        drawing=drawer.draw(group.tiers, tall_mm, name=group.tiers[0].name)[1],
    )


def _notes(
    works: Works, page: Page, view: ShelfView, spots: Sequence[Spot], figures: Mapping[str, Figure]
) -> tuple[str, ...]:
    """Rims past the shelf edge in one line, and tiers that want a flat shelf."""
    notes = []
    over = [
        f"{spot.place} by {whole_mm(reach)}" for spot in spots if (reach := _overhang_mm(view, spot, figures)) >= 0.5
    ]
    if over:
        notes.append(f"rims past the shelf edge, mm: {', '.join(over)}")
    if any(row.tier.flat for row in page.tiers):
        names = ", ".join(row.name for row in page.tiers if row.tier.flat)
        notes.append(f"{names}: take a flat shelf (bow ≤ {short_mm(works.settings.flat_bow_mm)} mm)")
    return tuple(notes)


def _overhang_mm(view: ShelfView, spot: Spot, figures: Mapping[str, Figure]) -> float:
    """How far a rim reaches past the shelf's edge, mm."""
    rim = affinity.rotate(figures[spot.form].rim, spot.turn_deg, origin=(0, 0))
    over = affinity.translate(rim, spot.x_mm, spot.y_mm).difference(view.outline)
    if over.is_empty:
        return 0.0
    return float(shapely.distance(view.outline, shapely.points(shapely.get_coordinates(over))).max())
