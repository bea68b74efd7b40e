"""What a whole load is packed from, as plain data: ware in groups, columns of posts, stacks, rooms over shelves.

Two bridges build it: one from a works with its rules, one from a benchmark instance. Nothing here knows either.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from kilnpack.shapes.primitives import ShelfBody
    from kilnpack.shapes.room import Room


@dataclass(frozen=True, slots=True, kw_only=True)
class Ware:
    """A kind of body that may stand in the load.

    Attributes
    ----------
    body
        Geometry, mass and value of one body; its count is not used.
    group
        Index of the pieces it is made of.
    pieces
        How many pieces of the group one body takes.
    support
        Index of the stock of supports or spacers it stands on, None for the bare shelf.
    support_pieces
        How many of them one body takes.
    turns_deg
        The turns tried, degrees.
    """

    code: str
    body: ShelfBody
    group: int
    pieces: int = 1
    support: int | None = None
    support_pieces: int = 0
    turns_deg: tuple[float, ...] = (0.0,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """Posts end to end: indices of post types, tallest first, and their height together."""

    parts: tuple[int, ...]
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bottom:
    """What a stack may begin on: a stub by index (None: the floor) and the height of the lowest shelf's underside."""

    stub: int | None
    base_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StackSite:
    """One stack of the kiln.

    Attributes
    ----------
    shelf
        Index of its shelf type.
    top_mm
        Height under which everything stays: shelves with their posts, or the ware of an open top tier.
    open_top
        Whether the uppermost tier has no posts and no shelf above it. Else all tiers have posts.
    columns
        Indices of the columns that may stand in this stack.
    barred_mm
        Heights between which the underside of a shelf may not lie.
    """

    code: str
    shelf: int
    top_mm: float
    open_top: bool
    bottoms: tuple[Bottom, ...]
    columns: tuple[int, ...]
    barred_mm: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """A shelf type: thickness with what is left off for wads, points of its post pattern, sound pieces in stock."""

    code: str
    thickness_mm: float
    points: int
    stock_pieces: int


class Site(Protocol):
    """What stands round a tier: its room, and which ware its place allows.

    `posts_mm` is the height of the posts; None for an open top tier.
    """

    def room(self, stack: int, base_mm: float, posts_mm: float | None) -> Room | None:
        """Return the room over a shelf whose underside is at base_mm, None where no shelf may lie."""

    def allowed(self, stack: int, base_mm: float, posts_mm: float | None) -> int:
        """Return the kinds of ware the place's heat allows, bit k for kind k."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadProblem:
    """All that the packer of a whole load sees.

    Attributes
    ----------
    counts
        Pieces ready, by group.
    supports
        Stock of supports and spacers, pieces.
    headroom_mm
        Least height between a body's top and the shelf above.
    allowance_mm
        Height every closed tier loses to wads, wash and bow.
    settings_most
        Most different settings, None without a limit.
    """

    wares: tuple[Ware, ...]
    counts: tuple[int, ...]
    supports: tuple[int, ...]
    columns: tuple[Column, ...]
    posts: tuple[int, ...]
    stubs: tuple[int, ...]
    shelves: tuple[Shelf, ...]
    stacks: tuple[StackSite, ...]
    site: Site
    headroom_mm: float
    allowance_mm: float
    settings_most: int | None = None

    @property
    def ready_value(self) -> float:
        """Value of all that is ready, each group at its best value a piece."""
        best = [0.0] * len(self.counts)
        for ware in self.wares:
            best[ware.group] = max(best[ware.group], ware.body.value / ware.pieces)
        return sum(value * count for value, count in zip(best, self.counts, strict=True))
