"""The load as one picture: isometric, seen from the front right, far things drawn first."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import shapely
from shapely import affinity

from kilnpack.shapes.outlines import in_kiln, point_in_kiln, region_polygon, square
from kilnpack.sheets import svg
from kilnpack.sheets.figures import level_outlines
from kilnpack.sheets.tones import PLAIN

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.loads import Load
    from kilnpack.model.works import Works
    from kilnpack.sheets.figures import Figure
    from kilnpack.sheets.order import TierPlace
    from kilnpack.sheets.tones import Tone

EDGE_MM = 10.0
WORDS_MM = 8.0
"""Room under the floor for the words along its front edge, mm of paper."""

COS, SIN = math.cos(math.radians(30)), 0.5


def seen(x_mm: float, y_mm: float, z_mm: float) -> tuple[float, float]:
    """Return where a point of the kiln appears: to the right and up, mm before scaling."""
    return ((x_mm + y_mm) * COS, (y_mm - x_mm) * SIN + z_mm)


def _seen_outline(outline: BaseGeometry, z_mm: float) -> BaseGeometry:
    """A level outline as it appears: a linear map."""
    return affinity.affine_transform(outline, [COS, COS, -SIN, SIN, 0.0, z_mm])


def _prism(outline: BaseGeometry, from_z_mm: float, to_z_mm: float) -> BaseGeometry:
    """What a convex prism covers in the picture."""
    both = shapely.union_all([_seen_outline(outline, from_z_mm), _seen_outline(outline, to_z_mm)])
    return both.convex_hull


def draw_isometric(
    works: Works,
    load: Load,
    tiers: Sequence[TierPlace],
    figures: Mapping[str, Figure],
    tones: Mapping[str, Tone],
    *,
    width_mm: float,
    height_mm: float,
    prefix: str,
) -> svg.Drawing:
    """Return the isometric picture of a load.

    Parameters
    ----------
    tones
        Tone of every product by code.
    """
    kiln = works.kiln(load.kiln)
    chamber = region_polygon(kiln.chamber)
    floor, roof = _seen_outline(chamber, 0.0), _seen_outline(chamber, kiln.usable_height_mm)
    left, low, right, high = shapely.union_all([floor, roof]).bounds
    scale = min((width_mm - 2 * EDGE_MM) / (right - left), (height_mm - 2 * EDGE_MM - WORDS_MM) / (high - low))
    move = (EDGE_MM - left * scale, EDGE_MM + high * scale)
    drawn = [
        svg.path(svg.path_of(floor, scale), fill="#f2f2f2", stroke=svg.FAINT, stroke_width=0.3),
        *_things(works, load, tiers, figures, tones, scale, prefix),
        _front_words(chamber, scale),
    ]
    title = "Isometric picture of the load, seen from the front right"
    at = f"translate({svg.number(move[0])} {svg.number(move[1])})"
    return svg.Drawing(
        width_mm=(right - left) * scale + 2 * EDGE_MM,
        height_mm=(high - low) * scale + 2 * EDGE_MM + WORDS_MM,
        title=title,
        body=svg.group(drawn, transform=at),
    )


def _front_words(chamber: BaseGeometry, scale: float) -> str:
    """The door side, written along the edge of the floor that is the front."""
    left, front, right, _ = chamber.bounds
    x_mm, up_mm = seen((left + right) / 2, front, 0.0)
    x, y = x_mm * scale - 3.0, -up_mm * scale + 5.5
    turn = f"rotate(30 {svg.number(x)} {svg.number(y)})"
    return svg.words(x, y, "FRONT = DOOR SIDE", em=3.4, font_weight="bold", text_anchor="middle", transform=turn)


def _things(
    works: Works,
    load: Load,
    tiers: Sequence[TierPlace],
    figures: Mapping[str, Figure],
    tones: Mapping[str, Tone],
    scale: float,
    prefix: str,
) -> list[str]:
    """Shelves, posts and ware of all stacks: far stacks first, in each from the bottom up."""
    names: dict[tuple[str, float, str], str] = {}
    defined: list[str] = []
    drawn: list[str] = []
    for row in sorted(tiers, key=lambda each: (each.middle_mm[0] - each.middle_mm[1], each.tier.base_mm)):
        drawn += _shelf_and_posts(works, row, scale, posts_behind=True)
        drawn += _ware(works, load, row, figures, tones, scale, (names, defined, prefix))
        drawn += _shelf_and_posts(works, row, scale, posts_behind=False)
    return [f"<defs>{''.join(defined)}</defs>", *drawn]


def _shelf_and_posts(works: Works, row: TierPlace, scale: float, *, posts_behind: bool) -> list[str]:
    """The shelf with the posts that stand behind its middle, or the posts in front of it."""
    shelf = {each.code: each for each in works.furniture.shelves}[row.tier.shelf]
    stock = {post.code: post for post in works.furniture.posts}
    posts = [stock[code] for code in row.tier.posts]
    face = row.tier.base_mm + shelf.thickness_mm
    drawn = []
    if posts_behind:
        outline = in_kiln(region_polygon(shelf.outline), row.place)
        edge = _prism(outline, row.tier.base_mm, face)
        drawn.append(svg.path(svg.path_of(edge, scale), fill="#a07f5f", stroke=svg.INK, stroke_width=0.15))
        top = svg.path_of(_seen_outline(outline, face), scale)
        drawn.append(svg.path(top, fill="#F3ECE3", stroke=svg.INK, stroke_width=0.15))
    for x_mm, y_mm in shelf.posts_mm if posts else ():
        x, y = point_in_kiln(x_mm, y_mm, row.place)
        behind = y - x > row.middle_mm[1] - row.middle_mm[0]
        if behind is posts_behind:
            prism = _prism(square(x, y, posts[0].side_mm), face, face + math.fsum(p.height_mm for p in posts))
            drawn.append(svg.path(svg.path_of(prism, scale), fill="#8c8c8c", stroke=svg.INK, stroke_width=0.15))
    return drawn


def _ware(
    works: Works,
    load: Load,
    row: TierPlace,
    figures: Mapping[str, Figure],
    tones: Mapping[str, Tone],
    scale: float,
    store: tuple[dict[tuple[str, float, str], str], list[str], str],
) -> list[str]:
    """The bodies of a tier, far ones first; each different look is defined once."""
    names, defined, prefix = store
    shelf = {each.code: each for each in works.furniture.shelves}[row.tier.shelf]
    face = row.tier.base_mm + shelf.thickness_mm
    product = {fill.place: works.lot(fill.lot).product for fill in row.tier.fills}
    placed = [
        (point_in_kiln(each.x_mm, each.y_mm, row.place), each) for each in load.setting(row.tier.setting).standings
    ]
    drawn = []
    for (x, y), standing in sorted(placed, key=lambda pair: pair[0][0] - pair[0][1]):
        turn_deg = (standing.turn_deg + row.place.turn_deg) % 360.0
        tone = tones.get(product[standing.place], PLAIN)
        key = (standing.form, turn_deg, tone.tint)
        if key not in names:
            names[key] = f"{prefix}w{len(names)}"
            outline = _solid(figures[standing.form], turn_deg)
            data = svg.path_of(outline, scale)
            defined.append(svg.path(data, id=names[key], fill=tone.tint, stroke="#333", stroke_width=0.14))
        right, up = seen(x, y, face)
        drawn.append(f'<use xlink:href="#{names[key]}" x="{svg.number(right * scale)}" y="{svg.number(-up * scale)}"/>')
    return drawn


def _solid(figure: Figure, turn_deg: float) -> BaseGeometry:
    """What a body covers in the picture: the hulls of neighbouring levels."""
    slabs = level_outlines(figure.body, turn_deg)
    hulls = [_prism(outline, low, high) for low, high, outline in slabs if high > low]
    levels = [(low, outline) for low, high, outline in slabs if high == low]
    for (z0, under), (z1, over) in zip(levels[::2], levels[1::2], strict=True):
        hulls.append(shapely.union_all([_seen_outline(under, z0), _seen_outline(over, z1)]).convex_hull)
    return shapely.union_all(hulls)
