"""Everything a loading sheet says, worked out before anything is drawn on a page.

The printed sheet and the tablet page are two renderings of one `LoadingFacts`, so they cannot disagree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kilnpack.sheets.curve import draw_curve
from kilnpack.sheets.elevation import draw_elevation
from kilnpack.sheets.figures import figures_of
from kilnpack.sheets.isometric import draw_isometric
from kilnpack.sheets.kiln_plan import draw_plan
from kilnpack.sheets.left_words import LeftGroup, left_out_groups
from kilnpack.sheets.lists import Pick, Ware, pick_list, trolley_list
from kilnpack.sheets.order import pages_of, tiers_in_order
from kilnpack.sheets.page_facts import PageFacts, page_facts
from kilnpack.sheets.shelf_loads import ShelfGrade, shelf_grades
from kilnpack.sheets.swatches import Swatch, swatches_of
from kilnpack.sheets.tier_facts import TierFacts, tier_facts
from kilnpack.sheets.tones import tones_of
from kilnpack.sheets.words import counted, kilograms, short_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.order import TierPlace
    from kilnpack.sheets.svg import Drawing

SHEET_WIDTH_MM = 190.0
FIRST_PAGE_MM = 203.0
WHOLE_PAGE_MM = 248.0
ELEVATION_MOST_MM = 152.0
PICK_LINE_MM = 7.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Tightest:
    """The two places of a load where least is left, as the checker found them."""

    gap_mm: float | None = None
    gap_where: str = ""
    headroom_mm: float | None = None
    headroom_where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadingFacts:
    """All figures, lists and drawings of one load's sheet."""

    title: str
    works: str
    kiln: str
    programme: str
    stage: str
    car: str
    made: str
    summary: tuple[str, ...]
    remarks: tuple[str, ...]
    picks: tuple[Pick, ...]
    ware: tuple[Ware, ...]
    swatches: tuple[Swatch, ...]
    tiers: tuple[TierFacts, ...]
    pages: tuple[PageFacts, ...]
    left_out: tuple[LeftGroup, ...]
    opening: tuple[str, ...]
    elevation: Drawing
    elevation_apart: bool
    """True where the elevation takes a page of its own, after the pick list."""
    plan: Drawing
    picture: Drawing
    curve: Drawing
    shelves: tuple[ShelfGrade, ...] = ()
    """Bending stress of every shelf by type."""


def loading_facts(works: Works, load: Load, *, title: str, tightest: Tightest) -> LoadingFacts:
    """Work out everything the sheet of a load says."""
    kiln, programme = works.kiln(load.kiln), works.programme(load.programme)
    tiers = tiers_in_order(works, load)
    figures = figures_of(works, load)
    pages = pages_of(load, tiers)
    page_of = {row.name: page.name for page in pages for row in page.tiers}
    tones = tones_of(works.lot(fill.lot).product for row in tiers for fill in row.tier.fills)
    told = tuple(tier_facts(works, load, row, figures, page_of[row.name]) for row in tiers)
    picture = draw_isometric(works, load, tiers, figures, tones, width_mm=160.0, height_mm=140.0, prefix="iso")
    picks = pick_list(works, load, tiers)
    elevation = _elevation(works, load, tiers, figures, page_of, math.ceil(len(picks) / 2))
    return LoadingFacts(
        title=title,
        works=works.name,
        kiln=f"{kiln.name} ({kiln.code})",
        programme=f"{programme.name} ({programme.code})",
        stage=load.stage.value,
        car=load.car or "",
        made=works.now.strftime("%Y-%m-%d %H:%M"),
        summary=_summary(load, told, tightest),
        remarks=load.remarks,
        picks=picks,
        ware=trolley_list(works, tiers),
        swatches=swatches_of(tones),
        tiers=told,
        pages=tuple(page_facts(works, load, page, figures, tones, told) for page in pages),
        left_out=left_out_groups(works, load),
        opening=_opening(works, load),
        elevation=elevation,
        elevation_apart=elevation.height_mm > FIRST_PAGE_MM - PICK_LINE_MM * math.ceil(len(picks) / 2),
        plan=draw_plan(works, load, width_mm=52.0, height_mm=42.0),
        picture=picture,
        curve=draw_curve(programme, unload_degc=kiln.cooling.unload_degc, width_mm=SHEET_WIDTH_MM, height_mm=70.0),
        shelves=shelf_grades(works, load, tiers, figures),
    )


def _elevation(
    works: Works,
    load: Load,
    tiers: Sequence[TierPlace],
    figures: Mapping[str, Figure],
    page_of: Mapping[str, str],
    pick_lines: int,
) -> Drawing:
    """Draw the side elevation above the pick list, or where tiers are many on the rest of the page or a page alone."""
    above_list = min(ELEVATION_MOST_MM, FIRST_PAGE_MM - PICK_LINE_MM * pick_lines)
    for tall in (above_list, WHOLE_PAGE_MM):
        drawing = draw_elevation(works, load, tiers, figures, page_of, width_mm=SHEET_WIDTH_MM, height_mm=tall)
        if drawing.height_mm <= tall:
            break
    return drawing


def _summary(load: Load, tiers: Sequence[TierFacts], tightest: Tightest) -> tuple[str, ...]:
    """The load in a few lines."""
    ware_kg = sum(tier.ware_kg for tier in tiers)
    where = f"on {counted(len(tiers), 'tier', 'tiers')} in {counted(len(load.stacks), 'stack', 'stacks')}"
    lines = [
        f"{counted(load.pieces, 'piece', 'pieces')}, {kilograms(ware_kg)} of ware, {where}",
        counted(len(load.settings), "different setting", "different settings"),
    ]
    if tightest.gap_mm is not None:
        lines.append(f"tightest gap {short_mm(tightest.gap_mm)} mm: {tightest.gap_where}")
    if tightest.headroom_mm is not None:
        lines.append(f"least headroom {short_mm(tightest.headroom_mm)} mm: {tightest.headroom_where}")
    return tuple(lines)


def _opening(works: Works, load: Load) -> tuple[str, ...]:
    """The works' own limits for opening, and what decides."""
    kiln, programme = works.kiln(load.kiln), works.programme(load.programme)
    cooling = kiln.cooling
    lines = [f"Unload by hand at {cooling.unload_degc:.0f} °C or less on the kiln's own thermometer (works' limit)."]
    if cooling.draw_degc is not None:
        lines.append(f"Draw the car at {cooling.draw_degc:.0f} °C or less (works' limit).")
    if programme.cool_outside_h:
        lines.append(f"The drawn car then cools outside for about {programme.cool_outside_h:.0f} h (recorded).")
    lines.append(
        f"Recorded: fire {programme.recorded_fire_h:.0f} h, cooling {programme.recorded_cool_h:.0f} h "
        f"with {programme.recorded_kg:.0f} kg; a heavier load cools more slowly."
    )
    lines.append("The thermometer decides, not this sheet and not the clock.")
    return tuple(lines)
