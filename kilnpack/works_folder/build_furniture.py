"""From rows to kiln furniture."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from kilnpack.model.furniture import (
    CatchDisc,
    Consumable,
    Furniture,
    PostType,
    Setter,
    ShelfLot,
    ShelfType,
    Spacer,
    Stilt,
    Stub,
)
from kilnpack.model.geometry import ConvexPolygon, Disc, HalfDisc, Rectangle
from kilnpack.works_folder.build_parts import is_convex
from kilnpack.works_folder.reading import misfilled

if TYPE_CHECKING:
    from kilnpack.errors import Finding
    from kilnpack.model.geometry import Point, Region
    from kilnpack.works_folder.reading import Reading
    from kilnpack.works_folder.rows import Row

POST_CENTRE_MM = 65.0
"""Default distance of a post's centre from the shelf's edge: 40 mm to a post of 50 mm (common practice)."""
FOUR_POSTS_RATIO = 1.5
"""Rectangles longer than this many times their depth get four posts (own starting value)."""

_USED = {
    "rectangle": ("w_mm", "d_mm"),
    "disc": ("r_mm",),
    "half disc": ("r_mm",),
    "polygon": ("corners_mm", "posts_mm"),
}


def build_furniture(reading: Reading) -> Furniture:
    """Return the whole stock; rows with a finding are left out."""
    return Furniture(
        shelves=_shelves(reading),
        posts=_posts(reading),
        stubs=tuple(
            Stub(
                code=row.text("code"), height_mm=row.number_at("height_mm"), side_mm=row.number_at("side_mm"),
                mass_kg=row.number_at("mass_kg"), top_degc=row.number_at("top_degc"),
                count_pieces=row.whole("count_pieces"),
            )
            for row in _rows(reading, "stubs")
        ),
        stilts=_stilts(reading),
        setters=_setters(reading),
        catch_discs=tuple(
            CatchDisc(
                code=row.text("code"), outer_mm=row.number_at("outer_mm"), height_mm=row.number_at("height_mm"),
                mass_kg=row.number_at("mass_kg"), top_degc=row.number_at("top_degc"),
                count_pieces=row.whole("count_pieces"),
            )
            for row in _rows(reading, "catch_discs")
        ),
        spacers=tuple(
            Spacer(
                code=row.text("code"), height_mm=row.number_at("height_mm"),
                pieces_per_gap=row.whole("pieces_per_gap"), mass_kg=row.number_at("mass_kg"),
                top_degc=row.number_at("top_degc"), count_pieces=row.whole("count_pieces"),
            )
            for row in _rows(reading, "spacers")
        ),
        consumables=tuple(
            Consumable(
                code=row.text("code"), name=row.optional_text("name") or row.text("code"),
                per_load_pieces=row.whole("per_load_pieces"), per_tier_pieces=row.whole("per_tier_pieces"),
                count_pieces=row.whole("count_pieces"),
            )
            for row in _rows(reading, "consumables")
        ),
    )  # fmt: skip


def _rows(reading: Reading, name: str) -> list[Row]:
    rows = list(reading.sound_rows(name))
    for row in rows:
        reading.origins[name, row.text("code")] = row
    return rows


def _posts(reading: Reading) -> tuple[PostType, ...]:
    return tuple(
        PostType(
            code=row.text("code"), nominal_mm=row.number_at("nominal_mm"),
            height_mm=row.optional_number("height_mm") or row.number_at("nominal_mm"),
            spread_mm=row.number_at("spread_mm"), side_mm=row.number_at("side_mm"), material=row.text("material"),
            mass_kg=row.number_at("mass_kg"), top_degc=row.number_at("top_degc"),
            count_pieces=row.whole("count_pieces"),
        )
        for row in _rows(reading, "posts")
    )  # fmt: skip


def _stilts(reading: Reading) -> tuple[Stilt, ...]:
    return tuple(
        Stilt(
            code=row.text("code"), height_mm=row.number_at("height_mm"), contact_r_mm=row.number_at("contact_r_mm"),
            foot_r_mm=row.number_at("foot_r_mm"), points=row.whole("points"), mass_kg=row.number_at("mass_kg"),
            top_degc=row.number_at("top_degc"), count_pieces=row.whole("count_pieces"),
        )
        for row in _rows(reading, "stilts")
    )  # fmt: skip


def _setters(reading: Reading) -> tuple[Setter, ...]:
    return tuple(
        Setter(
            code=row.text("code"), outer_mm=row.number_at("outer_mm"), inner_mm=row.number_at("inner_mm"),
            seat_mm=row.number_at("seat_mm"), pitch_mm=row.number_at("pitch_mm"),
            most_pieces=row.whole("most_pieces"), mass_kg=row.number_at("mass_kg"),
            top_degc=row.number_at("top_degc"), count_pieces=row.whole("count_pieces"),
        )
        for row in _rows(reading, "setters")
    )  # fmt: skip


def _shelves(reading: Reading) -> tuple[ShelfType, ...]:
    further: dict[str, list[ShelfLot]] = defaultdict(list)
    for row in reading.sound_rows("shelf_lots"):
        further[row.text("shelf")].append(_lot(row))
        reading.add(_condemned_faults(row))
    shelves = []
    for row in _rows(reading, "shelves"):
        faults: list[Finding] = []
        outline = _outline(row, faults)
        lots = ([_lot(row)] if row.get("count_pieces") is not None else []) + further[row.text("code")]
        if not lots:
            faults.append(row.fault("count_pieces", "", "how many there are, here or in shelf_lots"))
        if row.get("strength_mpa") is None and row.get("cold_strength_mpa") is None:
            faults.append(row.fault("strength_mpa", "", "a hot or a cold bending strength"))
        faults += _condemned_faults(row)
        if reading.add(faults) or outline is None:
            continue
        posts: tuple[Point, ...] = row.get("posts_mm") or ()  # type: ignore[assignment]
        if not posts and not isinstance(outline, ConvexPolygon):
            posts = default_posts(outline)
        shelves.append(
            ShelfType(
                code=row.text("code"), name=row.optional_text("name") or row.text("code"), outline=outline,
                posts_mm=posts, thickness_mm=row.number_at("thickness_mm"), material=row.text("material"),
                mass_kg=row.number_at("mass_kg"), top_degc=row.number_at("top_degc"),
                strength_mpa=row.optional_number("strength_mpa"),
                cold_strength_mpa=row.optional_number("cold_strength_mpa"), lots=tuple(lots),
            )
        )  # fmt: skip
    return tuple(shelves)


def _lot(row: Row) -> ShelfLot:
    return ShelfLot(
        count_pieces=row.whole("count_pieces"),
        condemned_pieces=row.whole("condemned_pieces"),
        bow_mm=row.number_at("bow_mm"),
        firings=row.whole("firings"),
    )


def _condemned_faults(row: Row) -> list[Finding]:
    count = row.get("count_pieces")
    if count is not None and row.whole("condemned_pieces") > row.whole("count_pieces"):
        return [row.fault("condemned_pieces", row.whole("condemned_pieces"), f"at most count_pieces {count}")]
    if count is None:
        return list(misfilled(row, (), ("condemned_pieces", "bow_mm", "firings"), "without count_pieces"))
    return []


def _outline(row: Row, faults: list[Finding]) -> Region | None:
    form = row.text("form")
    used = _USED[form]
    before = len(faults)
    sizes = ("w_mm", "d_mm", "r_mm", "corners_mm")
    faults += misfilled(row, used, (size for size in sizes if size not in used), f"for a {form}")
    if len(faults) > before:
        return None
    if form == "rectangle":
        return Rectangle(w_mm=row.number_at("w_mm"), d_mm=row.number_at("d_mm"))
    if form == "polygon":
        corners: tuple[Point, ...] = row.get("corners_mm")  # type: ignore[assignment]
        if not is_convex(corners):
            shown = " | ".join(f"{x:g} {y:g}" for x, y in corners)
            faults.append(row.fault("corners_mm", shown, "corners of a convex polygon, counter-clockwise"))
            return None
        return ConvexPolygon(corners_mm=corners)
    r_mm = row.number_at("r_mm")
    return Disc(x_mm=r_mm, y_mm=r_mm, r_mm=r_mm) if form == "disc" else HalfDisc(x_mm=r_mm, r_mm=r_mm)


def default_posts(outline: Rectangle | Disc | HalfDisc) -> tuple[Point, ...]:
    """Return the usual post centres of a shelf whose form has some (rule F5)."""
    inset = POST_CENTRE_MM
    if isinstance(outline, Rectangle):
        w, d = outline.w_mm, outline.d_mm
        if w > FOUR_POSTS_RATIO * d or d > FOUR_POSTS_RATIO * w:
            return ((inset, inset), (w - inset, inset), (w - inset, d - inset), (inset, d - inset))
        return ((inset, inset), (w - inset, inset), (w / 2, d - inset))
    if isinstance(outline, Disc):
        reach = outline.r_mm - inset
        side, down = reach * 3**0.5 / 2, reach / 2
        x, y = outline.x_mm, outline.y_mm
        return ((x - side, y - down), (x + side, y - down), (x, y + reach))
    side = ((outline.r_mm - inset) ** 2 - inset**2) ** 0.5 if outline.r_mm > 2 * inset else 0.0
    return ((outline.x_mm - side, inset), (outline.x_mm + side, inset), (outline.x_mm, outline.r_mm - inset))
