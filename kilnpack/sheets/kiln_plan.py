"""The kiln from above: where its stacks stand, and which side is the front."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kilnpack.shapes.outlines import in_kiln, region_polygon
from kilnpack.sheets import svg

if TYPE_CHECKING:
    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works


def draw_plan(works: Works, load: Load, *, width_mm: float, height_mm: float) -> svg.Drawing:
    """Return the kiln from above: where each stack stands, peepholes and what to keep clear of."""
    kiln = works.kiln(load.kiln)
    chamber = region_polygon(kiln.chamber)
    left, front, right, back = chamber.bounds
    scale = min((width_mm - 4) / (right - left), (height_mm - 9) / (back - front))
    x0, y0 = 2.0 - left * scale, 2.0 + back * scale
    move = f"translate({svg.number(x0)} {svg.number(y0)})"
    shelves = {shelf.code: shelf for shelf in works.furniture.shelves}
    drawn = [svg.path(svg.path_of(chamber, scale), fill="#fff", stroke=svg.INK, stroke_width=0.6, transform=move)]
    for place in kiln.places:
        outline = in_kiln(region_polygon(shelves[place.shelf].outline), place)
        drawn.append(
            svg.path(
                svg.path_of(outline, scale), fill="#F3ECE3", stroke=svg.SHELF_INK, stroke_width=0.4, transform=move
            )
        )
        middle = outline.centroid
        em = 6.35 if len(place.code) <= 2 else 4.0
        drawn.append(svg.centred(x0 + middle.x * scale, y0 - middle.y * scale, place.code, em=em, font_weight="bold"))
    for hole in kiln.peepholes:
        dot = svg.circle(x0 + hole.x_mm * scale, y0 - hole.y_mm * scale, 0.9, fill="#B00020")
        drawn.append(dot)
    for keep in kiln.keep_outs:
        data = svg.path_of(region_polygon(keep.outline), scale)
        drawn.append(svg.path(data, fill="none", stroke="#B00020", stroke_width=0.4, transform=move))
    bottom = y0 - front * scale
    drawn.append(svg.rectangle(x0 + left * scale, bottom + 1.4, (right - left) * scale, 4.4, fill="#333"))
    middle_x = x0 + (left + right) / 2 * scale
    drawn.append(svg.centred(middle_x, bottom + 3.6, "FRONT = DOOR SIDE", em=2.8, fill="#fff", font_weight="bold"))
    title = "Plan of the kiln from above: stacks, peepholes (red dots) and places to keep clear (red outlines)"
    return svg.Drawing(width_mm=(right - left) * scale + 4, height_mm=bottom + 6.5, title=title, body="".join(drawn))
