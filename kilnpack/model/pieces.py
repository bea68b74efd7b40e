"""Shapes, glazes, decorations, products and sets."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from kilnpack.model.geometry import Outline, Part


class Stage(StrEnum):
    """A kind of firing; the order of the members is the order of a usual route."""

    BISCUIT = "biscuit"
    GLOST = "glost"
    DECORATION = "decoration"


class StackWay(StrEnum):
    """How raw ware may stand on raw ware (rule W4)."""

    NESTED = "nested"
    BOXED = "boxed"
    PILED = "piled"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stacking:
    """One way a shape may be stacked in biscuit.

    `step_mm` is what each extra piece adds to the height at final size (nested and piled; boxed ware alternates foot
    up and foot down). `loose_mm` is the free play of the inner piece. `load_limit_factor` bounds the weight above the
    lowest piece in multiples of its own mass. Piled plates above `bare_most_pieces` need aligned spacers.
    """

    way: StackWay
    step_mm: float = 0.0
    most_pieces: int
    load_limit_factor: float
    loose_mm: float = 4.0
    spacer: str | None = None
    bare_most_pieces: int = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Lid:
    """A lid fired in place on its pot: another shape standing with its foot at `seat_mm` over the pot's foot."""

    shape: str
    seat_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """Geometry, foot and mass of a piece at its final (sold) size.

    `parts` have their foot at z = 0 and the body's axis at (0, 0). `foot` is the outline that touches the shelf.
    `shrinkage_share` is, by stage, the linear loss as a share of the size on entry to that stage.
    """

    code: str
    name: str
    parts: tuple[Part, ...]
    foot: Outline
    dry_kg: float
    biscuit_kg: float
    glazed_kg: float
    biscuit_shrinkage_share: float
    glost_shrinkage_share: float
    decoration_shrinkage_share: float = 0.0
    wall_mm: float = 4.0
    stackings: tuple[Stacking, ...] = ()
    lid: Lid | None = None
    flatware: bool = False
    handle_deg: float | None = None
    """Direction of the handle in the shape's own frame; None where there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Glaze:
    """A glaze: where it softens, what vapour it gives off, whether it runs, what heat it stands."""

    code: str
    name: str
    softening_degc: float
    vapour: str | None = None
    runny: bool = False
    low_degc: float | None = None
    high_degc: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoration:
    """A decoration and the programme of its one firing."""

    code: str
    name: str
    programme: str
    vapour: str | None = None
    low_degc: float | None = None
    high_degc: float | None = None


class FootState(StrEnum):
    """Whether the foot is free of glaze when the piece is set."""

    DRY = "dry"
    GLAZED = "glazed"


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteStep:
    """One firing of a product's route, with all that the load of that firing must respect.

    `supports` lists the stilts, setters or catch discs by code of which one must be used; empty means the bare shelf.
    `low_degc`/`high_degc` is the window that peak + offset must lie in; None where the product sets none.
    `scrap_share` and `second_share` are of the pieces fired.
    """

    stage: Stage
    programme: str
    decorations: tuple[str, ...] = ()
    ready_after_h: float = 0.0
    """Drying time before this firing, from the end of the work before it (rule T1, T6)."""
    rest_after_h: float = 0.0
    foot: FootState = FootState.DRY
    supports: tuple[str, ...] = ()
    flat_shelf: bool = False
    low_degc: float | None = None
    high_degc: float | None = None
    vapours: tuple[str, ...] = ()
    scrap_share: float
    second_share: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """A shape with glaze, decorations, route and price. `matching_k` ties pieces of a set within so many kelvin."""

    code: str
    name: str
    shape: str
    glaze: str | None
    decorations: tuple[str, ...] = ()
    route: tuple[RouteStep, ...]
    price_money: float = 0.0
    second_price_money: float = 0.0
    matching_k: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetItem:
    """So many of a product in a set."""

    product: str
    count_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductSet:
    """Products sold together."""

    code: str
    name: str
    items: tuple[SetItem, ...] = field(default=())
    sold_singly: bool = True
