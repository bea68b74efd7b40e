"""What one setting page says, and one line of it for every tier that uses the setting."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import shapely
from shapely import affinity

from kilnpack.model.furniture import CatchDisc, Setter
from kilnpack.model.pieces import StackWay
from kilnpack.shapes.bodies import support
from kilnpack.sheets.frames import shelf_view
from kilnpack.sheets.marks import cone_notes
from kilnpack.sheets.order import alike_tiers
from kilnpack.sheets.page_drawing import PageDrawer
from kilnpack.sheets.rows import half_foot, rows_of, spots_of
from kilnpack.sheets.words import runs, short_mm, whole_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.loads import BodyForm, Load, PlaceFill
    from kilnpack.model.works import Works
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.frames import ShelfView
    from kilnpack.sheets.order import AlikeTiers, Page
    from kilnpack.sheets.rows import Row, Spot
    from kilnpack.sheets.svg import Drawing
    from kilnpack.sheets.tier_facts import TierFacts
    from kilnpack.sheets.tones import Tone

PAGE_TALL_MM = 262.0
LEAST_VIEW_MM, MOST_VIEW_MM = 105.0, 165.0
LINE_MM, FILL_LINE_MM, HEAD_MM = 7.4, 8.6, 5.6
MOST_TICKS = 4
"""More tiers than this get no tick in every line; each has one in the list of tiers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowFacts:
    """A row or a body out of a row, in ruler words; `every` is empty for a single body."""

    places: str
    across: str
    deep: str
    every: str
    hour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FormFacts:
    """A kind of body of the page: what it is, on what it stands, its size as loaded."""

    places: str
    numbers: tuple[int, ...]
    name: str
    support: str
    size: str
    half_foot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FillRow:
    """Places that are filled from one lot."""

    places: str
    each: tuple[tuple[int, int], ...]
    """(place, pieces) of every place of the row."""
    product: str
    name: str
    lot: str
    order_line: str
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FillFacts:
    """What fills the places of some tiers, and the drawing with just that ware."""

    tiers: tuple[str, ...]
    rows: tuple[FillRow, ...]
    drawing: Drawing
    map: Drawing | None
    """The same smaller, where the tiers of a page do not hold the same products."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FillList:
    """What fills places of some tiers, told once: first what all tiers of the page share, then what differs."""

    tiers: tuple[str, ...]
    rows: tuple[FillRow, ...]


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
    forms: tuple[FormFacts, ...]
    fills: tuple[FillFacts, ...]
    lists: tuple[FillList, ...]
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
    notes = (*cone_notes(load, view, page.tiers), *_notes(works, page, view, spots, figures))
    drawer = PageDrawer(
        works=works, load=load, page=page, view=view, spots=spots, rows=rows, figures=figures, tones=tones
    )
    forms = _forms(works, load, spots, figures)
    lists = _lists(works, groups)
    tall = _view_tall(len(rows), len(singles), len(forms) + len(notes), page, lists)
    one_to, main = drawer.draw(page.tiers, tall)
    differ = len({_products(works, group) for group in groups}) > 1
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
        forms=forms,
        fills=tuple(_fill(works, group, drawer, tall, with_map=differ) for group in groups),
        lists=lists,
        notes=notes,
    )


def _view_tall(rows: int, singles: int, lines: int, page: Page, lists: Sequence[FillList]) -> float:
    """Paper left for the top view, mm, when all that is said of it shall stand on the same page.

    Where that would leave too little, the drawing comes first and the tables run on to a second page.
    """
    first = (
        29.0
        + (HEAD_MM + LINE_MM * rows if rows else 0.0)
        + (HEAD_MM + LINE_MM * math.ceil(singles / 2) if singles else 0.0)
        + 4.2 * lines
    )
    then = 2 * HEAD_MM + LINE_MM * len(page.tiers)
    then += sum(LINE_MM * (len(lists) > 1) + _fill_line_mm(each) * len(each.rows) for each in lists)
    left = PAGE_TALL_MM - first - then
    if left < LEAST_VIEW_MM:
        left = max(LEAST_VIEW_MM, PAGE_TALL_MM - first)
    return min(left, MOST_VIEW_MM)


def _fill_line_mm(told: FillList) -> float:
    """Height of a line of the list: its ticks stand two beside each other, and are left out where there are many."""
    return max(FILL_LINE_MM, 5.8 * math.ceil(len(told.tiers) / 2)) if len(told.tiers) <= MOST_TICKS else FILL_LINE_MM


def _lists(works: Works, groups: Sequence[AlikeTiers]) -> tuple[FillList, ...]:
    """Tell what all tiers share once, then for each group of tiers only what differs."""
    shared = [fill for fill in groups[0].fills if all(fill in group.fills for group in groups)]
    told = [(tuple(row.name for group in groups for row in group.tiers), shared)]
    if len(groups) > 1:
        told += [
            (tuple(row.name for row in group.tiers), [fill for fill in group.fills if fill not in shared])
            for group in groups
        ]
    return tuple(FillList(tiers=tiers, rows=_fill_rows(works, fills)) for tiers, fills in told if fills)


def _fill_rows(works: Works, fills: Sequence[PlaceFill]) -> tuple[FillRow, ...]:
    by_lot: dict[str, list[PlaceFill]] = {}
    for fill in fills:
        by_lot.setdefault(fill.lot, []).append(fill)
    return tuple(_fill_row(works, lot, rows) for lot, rows in by_lot.items())


def _products(works: Works, group: AlikeTiers) -> tuple[tuple[int, str], ...]:
    return tuple(sorted({(fill.place, works.lot(fill.lot).product) for fill in group.fills}))


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


def _forms(works: Works, load: Load, spots: Sequence[Spot], figures: Mapping[str, Figure]) -> tuple[FormFacts, ...]:
    places: dict[str, list[int]] = {}
    for spot in spots:
        places.setdefault(spot.form, []).append(spot.place)
    return tuple(_form(works, load.form(code), numbers, figures[code]) for code, numbers in places.items())


def _form(works: Works, form: BodyForm, places: Sequence[int], figure: Figure) -> FormFacts:
    left, front, right, back = figure.rim.bounds
    size = f"{whole_mm(right - left)} × {whole_mm(back - front)}, {whole_mm(figure.body.top_mm)} high"
    return FormFacts(
        places=runs(places),
        numbers=tuple(places),
        name=works.shape(form.shape).name,
        support=_support_words(works, form),
        size=size,
        half_foot=half_foot(figure),
    )


def _support_words(works: Works, form: BodyForm) -> str:
    """On what, or how, the body stands."""
    if form.way is not None:
        spacer = f", spacers {form.spacer} between" if form.spacer else ""
        how = {
            StackWay.NESTED: "nested in each other",
            StackWay.BOXED: "rim on rim, foot on foot",
            StackWay.PILED: "piled",
        }[form.way]
        return f"{form.pieces} {how}{spacer}"
    if form.support is None:
        return "on the shelf"
    under = support(works, form.support)
    if isinstance(under, Setter):
        return f"{form.pieces} in setters {form.support}" if form.pieces > 1 else f"in setter {form.support}"
    kind = "catch disc" if isinstance(under, CatchDisc) else "stilt"
    return f"on {kind} {form.support}"


def _fill(works: Works, group: AlikeTiers, drawer: PageDrawer, tall_mm: float, *, with_map: bool) -> FillFacts:
    name = group.tiers[0].name
    return FillFacts(
        tiers=tuple(row.name for row in group.tiers),
        rows=_fill_rows(works, group.fills),
        drawing=drawer.draw(group.tiers, tall_mm, name=name)[1],
        map=drawer.map(group.tiers, name=f"{name}-map") if with_map else None,
    )


def _fill_row(works: Works, lot_code: str, fills: Sequence[PlaceFill]) -> FillRow:
    lot = works.lot(lot_code)
    product = works.product(lot.product)
    return FillRow(
        places=runs({fill.place for fill in fills}),
        each=tuple((fill.place, fill.pieces) for fill in fills),
        product=product.code,
        name=product.name,
        lot=lot.code,
        order_line=f"order {lot.order_line}" if lot.order_line else "stock",
        pieces=sum(fill.pieces for fill in fills),
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
