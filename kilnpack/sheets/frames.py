"""A shelf as the loader sees it: front edge to the door, whatever way the shelf is turned in the kiln.

The model counts x and y in the shelf's own frame. A loader lays a ruler on the shelf as it stands, so everything a
sheet prints is turned by the nearest quarter turn and counted from the edges of the shelf's bounding box. Where the
straight side of a half shelf lies to the back or to the right, that side is what a ruler can be laid against, and
distances count from there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from shapely import affinity

from kilnpack.model.geometry import HalfDisc
from kilnpack.shapes.outlines import region_polygon

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.geometry import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfView:
    """A shelf turned to face the loader.

    `square_deg` is the quarter turn applied, `rest_deg` what is left of the shelf's turn (the door then lies that far
    off the page's lower edge). `outline` and `posts_mm` are in the view, left front corner of the bounding box at 0.
    """

    shelf: ShelfType
    square_deg: float
    rest_deg: float
    shift_mm: Point
    outline: BaseGeometry
    posts_mm: tuple[Point, ...]
    width_mm: float
    depth_mm: float
    from_right: bool
    from_back: bool

    def geometry(self, geometry: BaseGeometry) -> BaseGeometry:
        """Move geometry from the shelf's own frame into the view."""
        return affinity.translate(affinity.rotate(geometry, self.square_deg, origin=(0, 0)), *self.shift_mm)

    def point(self, x_mm: float, y_mm: float) -> Point:
        """Move a point from the shelf's own frame into the view."""
        cos, sin = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}[self.square_deg]
        return (x_mm * cos - y_mm * sin + self.shift_mm[0], x_mm * sin + y_mm * cos + self.shift_mm[1])

    def across_mm(self, x_mm: float) -> float:
        """Distance from the side edge a ruler starts at."""
        return self.width_mm - x_mm if self.from_right else x_mm

    def deep_mm(self, y_mm: float) -> float:
        """Distance from the front (or straight back) edge a ruler starts at."""
        return self.depth_mm - y_mm if self.from_back else y_mm

    @property
    def side_edge(self) -> str:
        """Name of the edge that distances across count from."""
        return "right" if self.from_right else "left"

    @property
    def near_edge(self) -> str:
        """Name of the edge that distances in depth count from."""
        return "back" if self.from_back else "front"


def shelf_view(shelf: ShelfType, turn_deg: float) -> ShelfView:
    """Return the view of a shelf that stands turned by `turn_deg` in its kiln."""
    square_deg = 90.0 * (round(turn_deg / 90.0) % 4)
    rest_deg = (turn_deg - square_deg + 180.0) % 360.0 - 180.0
    turned = affinity.rotate(region_polygon(shelf.outline), square_deg, origin=(0, 0))
    left, front, right, back = turned.bounds
    straight_deg = square_deg if isinstance(shelf.outline, HalfDisc) else 0.0
    bare = ShelfView(
        shelf=shelf,
        square_deg=square_deg,
        rest_deg=rest_deg,
        shift_mm=(-left, -front),
        outline=affinity.translate(turned, -left, -front),
        posts_mm=(),
        width_mm=right - left,
        depth_mm=back - front,
        from_right=straight_deg == 90.0,
        from_back=straight_deg == 180.0,
    )
    posts = tuple(bare.point(x, y) for x, y in shelf.posts_mm)
    return ShelfView(
        **{name: getattr(bare, name) for name in ShelfView.__slots__ if name != "posts_mm"}, posts_mm=posts
    )
