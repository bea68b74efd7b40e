"""Kiln furniture as a counted stock: shelves, posts, stubs, stilts, setters, catch discs, spacers, consumables."""

from __future__ import annotations

from dataclasses import dataclass

from kilnpack.model.geometry import Point, Region


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfLot:
    """Shelves of one type with the same measured bow; condemned ones are counted but never used.

    `firings` is how many firings one of them has seen, as the works counts them.
    """

    count_pieces: int
    condemned_pieces: int = 0
    bow_mm: float = 0.0
    firings: int = 0

    @property
    def sound_pieces(self) -> int:
        """Shelves of the lot that may be used."""
        return self.count_pieces - self.condemned_pieces


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfType:
    """A type of shelf.

    `outline` lies in the shelf's own frame (left front corner of its bounding box at 0, 0; y to the back).
    `posts_mm` are the post centres in that frame: the pattern belongs to the shelf type (rule F5, F6).
    `strength_mpa` is the hot modulus of rupture, or None with `cold_strength_mpa` given.
    """

    code: str
    name: str
    outline: Region
    posts_mm: tuple[Point, ...]
    thickness_mm: float
    material: str
    mass_kg: float
    top_degc: float
    strength_mpa: float | None
    cold_strength_mpa: float | None = None
    lots: tuple[ShelfLot, ...]

    @property
    def sound_pieces(self) -> int:
        """Shelves of this type that may be used."""
        return sum(lot.sound_pieces for lot in self.lots)

    @property
    def mean_firings(self) -> float:
        """Firings that a sound shelf of this type has seen in the mean."""
        seen = sum(lot.firings * lot.sound_pieces for lot in self.lots)
        return seen / self.sound_pieces if self.sound_pieces else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PostType:
    """Posts of one height. `height_mm` is the measured height where one was taken, else the nominal one.

    `spread_mm` is the difference between the tallest and the shortest of them (rule F4).
    """

    code: str
    nominal_mm: float
    height_mm: float
    spread_mm: float = 0.0
    side_mm: float
    material: str
    mass_kg: float
    top_degc: float
    count_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Stub:
    """Short feet under the bottom shelf (rule F14)."""

    code: str
    height_mm: float
    side_mm: float
    mass_kg: float
    top_degc: float
    count_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Stilt:
    """A pointed support: adds `height_mm`, touches the ware on a circle of `contact_r_mm` with `points` points.

    Its own feet stand on the shelf inside `foot_r_mm`.
    """

    code: str
    height_mm: float
    contact_r_mm: float
    foot_r_mm: float
    points: int
    mass_kg: float
    top_degc: float
    count_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Setter:
    """A crank or profile setter: one piece a setter, up to `most_pieces` of them stacked at `pitch_mm`.

    It holds ware whose widest diameter is at most `inner_mm`; the piece's foot stands `seat_mm` over the setter's own
    foot. The ware of the top setter may rise above it; of all others it must fit the pitch.
    """

    code: str
    outer_mm: float
    inner_mm: float
    seat_mm: float
    pitch_mm: float
    most_pieces: int
    mass_kg: float
    top_degc: float
    count_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CatchDisc:
    """A disc under a runny glaze (rule W10)."""

    code: str
    outer_mm: float
    height_mm: float
    mass_kg: float
    top_degc: float
    count_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Spacer:
    """Aligned spacers between piled plates (rule W4); `pieces_per_gap` of them at every gap."""

    code: str
    height_mm: float
    pieces_per_gap: int
    mass_kg: float
    top_degc: float
    count_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Consumable:
    """Wads, cones, wash: counted on the pick list. `per_load_pieces` and `per_tier_pieces` say how many are used."""

    code: str
    name: str
    per_load_pieces: int = 0
    per_tier_pieces: int = 0
    count_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Furniture:
    """The whole stock of a works."""

    shelves: tuple[ShelfType, ...] = ()
    posts: tuple[PostType, ...] = ()
    stubs: tuple[Stub, ...] = ()
    stilts: tuple[Stilt, ...] = ()
    setters: tuple[Setter, ...] = ()
    catch_discs: tuple[CatchDisc, ...] = ()
    spacers: tuple[Spacer, ...] = ()
    consumables: tuple[Consumable, ...] = ()
