"""Notes of a setting page beyond the setting: tiers packed anew, places kept free, what may stand instead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.model.loads import Setting, Standing
from kilnpack.sheets.order import tier_name
from kilnpack.sheets.rows import spots_of
from kilnpack.sheets.words import runs, whole_mm

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from kilnpack.model.loads import Load, Reserved
    from kilnpack.model.works import Works
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.frames import ShelfView
    from kilnpack.sheets.order import Page


def extra_notes(works: Works, load: Load, page: Page, view: ShelfView, figures: Mapping[str, Figure]) -> Iterator[str]:
    """Yield the notes of one page."""
    new = [row.name for row in page.tiers if (row.place.code, row.tier.number) in load.changed]
    if new:
        yield f"NEW since the last sheet: {', '.join(new)}"
    here = {(row.place.code, row.tier.number) for row in page.tiers}
    for row in load.reserved:
        if (row.stack, row.tier) in here:
            yield _kept_free(works, page, view, figures, row)
    yield from _differing(works, page)
    yield from _instead(works, load, page)


def _kept_free(works: Works, page: Page, view: ShelfView, figures: Mapping[str, Figure], row: Reserved) -> str:
    """Say where a late piece may stand, by the ruler like every other body."""
    body = Standing(place=1, form=row.form, x_mm=row.x_mm, y_mm=row.y_mm, turn_deg=row.turn_deg)
    spot = spots_of(Setting(code="late", shelf=page.setting.shelf, standings=(body,)), view, figures)[0]
    turn = f", pointing to {spot.hour}" if spot.hour else ""
    when = f"after place {row.after_place}" if row.after_place else "first of all"
    return (
        f"kept free on {tier_name(row.stack, row.tier)} for {row.pieces} × {works.product(row.product).name}: "
        f"{whole_mm(spot.deep_mm)} from the {view.near_edge}, {whole_mm(spot.across_mm)} from the {view.side_edge}"
        f"{turn}; set {when}"
    )


def _differing(works: Works, page: Page) -> Iterator[str]:
    """Say which places are drawn plain because the ware for them is another on other tiers."""
    products: dict[int, set[str]] = {}
    for row in page.tiers:
        for fill in row.tier.fills:
            products.setdefault(fill.place, set()).add(works.lot(fill.lot).product)
    places = runs([place for place, found in sorted(products.items()) if len(found) > 1])
    if places:
        yield f"{places} drawn white: the ware differs by tier, look it up in the table of places"


def _instead(works: Works, load: Load, page: Page) -> Iterator[str]:
    """Say what ready ware may take the place of a body that is missing or broken."""
    for form in dict.fromkeys(one.form for one in page.setting.standings):
        rows = [row for row in load.substitutes if row.form == form]
        if rows:
            places = runs([one.place for one in page.setting.standings if one.form == form])
            names = [f"{works.product(works.lot(row.lot).product).name} (lot {row.lot}, {row.pieces})" for row in rows]
            yield f"instead of {places} you may set, as far as there are any: {' or '.join(names)}"
