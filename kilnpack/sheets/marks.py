"""What stands on a shelf or in its room and is no ware: witness cones and places to keep clear."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely
from shapely import affinity

from kilnpack.shapes.outlines import region_polygon
from kilnpack.sheets.order import tier_name
from kilnpack.sheets.top_view import Mark
from kilnpack.sheets.words import short_mm, whole_mm

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.kilns import KeepOut, StackPlace
    from kilnpack.model.loads import ConePack, Load
    from kilnpack.model.works import Works
    from kilnpack.sheets.frames import ShelfView
    from kilnpack.sheets.order import TierPlace


def marks_of(works: Works, load: Load, view: ShelfView, tiers: Sequence[TierPlace]) -> tuple[Mark, ...]:
    """Return the marks of a page's tiers; each says for which tier it holds."""
    return (*_cone_marks(works, load, view, tiers), *_keep_out_marks(works, load, view, tiers))


def _packs(load: Load, tiers: Sequence[TierPlace]) -> Iterator[tuple[str, ConePack]]:
    names = {row.name for row in tiers}
    for pack in load.cone_packs:
        name = tier_name(pack.place, pack.tier)
        if name in names:
            yield name, pack


def _cone_marks(works: Works, load: Load, view: ShelfView, tiers: Sequence[TierPlace]) -> Iterator[Mark]:
    wide, deep = works.settings.cone_width_mm, works.settings.cone_depth_mm
    for name, pack in _packs(load, tiers):
        bare = shapely.box(-wide / 2, -deep / 2, wide / 2, deep / 2)
        turned = affinity.rotate(bare, pack.turn_deg + 90.0, origin=(0, 0))
        placed = affinity.translate(turned, pack.x_mm, pack.y_mm)
        yield Mark(outline=view.geometry(placed), words=f"cones {name}")


def cone_notes(load: Load, view: ShelfView, tiers: Sequence[TierPlace]) -> tuple[str, ...]:
    """Return where each cone pack of a page stands and how far it is raised."""
    across, deep = ("←" if view.from_right else "→"), ("↓" if view.from_back else "↑")
    notes = []
    for name, pack in _packs(load, tiers):
        x, y = view.point(pack.x_mm, pack.y_mm)
        place = f"middle {across}{whole_mm(view.across_mm(x))} {deep}{whole_mm(view.deep_mm(y))}"
        raised = f", raised {short_mm(pack.lift_mm)} mm on bits of post" if pack.lift_mm > 0 else ""
        notes.append(f"{name}: witness cones of peephole {pack.peephole}, {place}{raised}")
    return tuple(notes)


def _keep_out_marks(works: Works, load: Load, view: ShelfView, tiers: Sequence[TierPlace]) -> Iterator[Mark]:
    """Keep-outs with their clearance, where they reach into the room of a tier and over its shelf."""
    thickness = {shelf.code: shelf.thickness_mm for shelf in works.furniture.shelves}
    for keep in works.kiln(load.kiln).keep_outs:
        for row in tiers:
            top_mm = row.tier.base_mm + thickness[row.tier.shelf] + row.tier.room_mm
            if keep.from_z_mm - keep.clear_mm < top_mm and keep.to_z_mm + keep.clear_mm > row.tier.base_mm:
                over = view.geometry(_on_shelf(_grown(works, keep), row.place)).intersection(view.outline)
                if not over.is_empty:
                    yield Mark(outline=over, words=f"{keep.what} {row.name}")


def _grown(works: Works, keep: KeepOut) -> BaseGeometry:
    clear_mm = max(keep.clear_mm, works.settings.thermocouple_mm if keep.what == "thermocouple" else 0.0)
    return region_polygon(keep.outline).buffer(clear_mm)


def _on_shelf(geometry: BaseGeometry, place: StackPlace) -> BaseGeometry:
    """Move geometry from the kiln frame into the frame of a stack's shelf."""
    moved = affinity.translate(geometry, -place.x_mm, -place.y_mm)
    return affinity.rotate(moved, -place.turn_deg, origin=(0, 0))
