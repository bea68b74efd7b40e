"""Our own SVG: drawings in millimetres of paper, written as text with equal bytes for equal input.

One unit of a drawing is one millimetre on paper, y runs down as in SVG. A drawing carries its size, so that whoever
places it can keep the scale.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

import shapely
from shapely.geometry import Polygon

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from shapely.geometry.base import BaseGeometry

CAP_SHARE = 0.729
"""Height of a capital or figure of DejaVu Sans as a share of its em."""

FIGURE_SHARE = 0.636
"""Width of a figure of DejaVu Sans as a share of its em."""

FONT = "DejaVu Sans"
INK = "#1a1a1a"
SHELF_INK = "#5b3a1e"
FAINT = "#767676"

SMOOTH_MM = 0.04
"""How far a drawn line may lie off the true one, mm of paper."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A finished drawing: `body` is SVG without its outer element, in mm of paper; `title` says what it shows."""

    width_mm: float
    height_mm: float
    title: str
    body: str

    @property
    def svg(self) -> str:
        """The drawing as a file of its own, sized in mm."""
        width, height = number(self.width_mm), number(self.height_mm)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" role="img" '
            f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}" font-family="{FONT}, sans-serif">'
            f"<title>{escape(self.title)}</title>{self.body}</svg>"
        )


def number(value: float) -> str:
    """Return a number with at most two decimals and no trailing zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def attributes(**values: str | float | None) -> str:
    """Return attributes in the order given; underscores become dashes, None is left out, text is escaped."""
    parts = []
    for name, value in values.items():
        if value is None:
            continue
        text = number(value) if isinstance(value, int | float) else escape(value)
        parts.append(f' {name.rstrip("_").replace("_", "-")}="{text}"')
    return "".join(parts)


def line(x1: float, y1: float, x2: float, y2: float, **style: str | float | None) -> str:
    """Return a straight line; black unless told."""
    style = {"stroke": INK, **style}
    return f'<line x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"{attributes(**style)}/>'


def rectangle(x: float, y: float, w: float, h: float, **style: str | float | None) -> str:
    """Return an upright rectangle."""
    return f'<rect x="{number(x)}" y="{number(y)}" width="{number(w)}" height="{number(h)}"{attributes(**style)}/>'


def circle(x: float, y: float, r: float, **style: str | float | None) -> str:
    """Return a circle."""
    return f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(r)}"{attributes(**style)}/>'


def words(x: float, y: float, text: str, *, em: float, **style: str | float | None) -> str:
    """Return text whose base line starts (or is centred, by text_anchor) at (x, y); `em` is its size in mm."""
    return f'<text x="{number(x)}" y="{number(y)}" font-size="{number(em)}"{attributes(**style)}>{escape(text)}</text>'


def centred(x: float, y: float, text: str, *, em: float, **style: str | float | None) -> str:
    """Return text with its middle at (x, y)."""
    return words(x, y + em * CAP_SHARE / 2, text, em=em, text_anchor="middle", **style)


def haloed(x: float, y: float, text: str, *, em: float, halo: float = 0.8, **style: str | float | None) -> str:
    """Return centred text with a white edge under its ink, so that it is read on any ground."""
    edge: dict[str, str | float | None] = {
        "stroke": "#fff",
        "stroke_width": 2 * halo,
        "stroke_linejoin": "round",
        "paint_order": "stroke",
    }
    return centred(x, y, text, em=em, fill=INK, **{**edge, **style})


def width_of(text: str, em: float) -> float:
    """Return about how wide a text is in mm: the width of figures, which capitals hardly exceed."""
    return len(text) * em * FIGURE_SHARE


def path_of(geometry: BaseGeometry, scale: float) -> str:
    """Return the path data of polygons or lines given in mm of the thing, y up, drawn at `scale` with y down."""
    return "".join(_ring(part, scale) for part in _rings(shapely.simplify(geometry, SMOOTH_MM / scale)))


def path(data: str, **style: str | float | None) -> str:
    """Return a path."""
    return f'<path d="{data}"{attributes(**style)}/>'


def shape(geometry: BaseGeometry, scale: float, x: float = 0.0, y: float = 0.0, **style: str | float | None) -> str:
    """Return an outline in mm of the thing, moved to (x, y) on paper; a disc stays a true circle."""
    round_one = _disc(geometry)
    if round_one is not None:
        middle_x, middle_y, radius = round_one
        return circle(x + middle_x * scale, y - middle_y * scale, radius * scale, **style)
    move = f"translate({number(x)} {number(y)})" if x or y else None
    return path(path_of(geometry, scale), transform=move, **style)


def _disc(geometry: BaseGeometry) -> tuple[float, float, float] | None:
    """Middle and radius of a geometry that is one many-sided disc, else None."""
    if not isinstance(geometry, Polygon) or len(geometry.exterior.coords) < 90 or len(geometry.interiors):
        return None
    left, low, right, high = geometry.bounds
    x, y, radius = (left + right) / 2, (low + high) / 2, (right - left) / 2
    corners = shapely.get_coordinates(geometry.exterior)
    off = abs(((corners[:, 0] - x) ** 2 + (corners[:, 1] - y) ** 2) ** 0.5 - radius)
    return (x, y, radius) if off.max() < 1e-3 * radius else None


def group(content: Iterable[str], **style: str | float | None) -> str:
    """Return a group with a common style."""
    return f"<g{attributes(**style)}>{''.join(content)}</g>"


def apart(wanted: Sequence[float], least: float, low: float, high: float) -> list[float]:
    """Return places near those wanted (ascending), at least `least` apart, inside [low, high] if they fit."""
    places: list[float] = []
    for value in wanted:
        places.append(max(value, low if not places else places[-1] + least))
    for k in range(len(places) - 1, -1, -1):
        roof = high if k == len(places) - 1 else places[k + 1] - least
        places[k] = min(places[k], roof)
    return places


def _rings(geometry: BaseGeometry) -> list[tuple[BaseGeometry, bool]]:
    """Lines of a geometry and whether each closes."""
    rings: list[tuple[BaseGeometry, bool]] = []
    for part in shapely.get_parts(geometry):
        if part.is_empty:
            continue
        if part.geom_type == "Polygon":
            rings += [(part.exterior, True), *((hole, True) for hole in part.interiors)]
        elif part.geom_type in {"LineString", "LinearRing"}:
            rings.append((part, False))
    return rings


def _ring(ring: tuple[BaseGeometry, bool], scale: float) -> str:
    line_string, closed = ring
    points = [(number(x * scale), number(-y * scale)) for x, y in shapely.get_coordinates(line_string)]
    if closed:
        points = points[:-1]
    return "M" + "L".join(f"{x} {y}" for x, y in points) + ("Z" if closed else "")
