"""The rules of one firing as the packer asks for them: works, kiln and programme are bound once."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from kilnpack.model.kilns import ChamberKind
from kilnpack.model.orders import LotKind
from kilnpack.rules import chemistry, clearances, furniture, heat, sight, strength
from kilnpack.rules.standing import Firing, ways_to_stand
from kilnpack.rules.supports import Barred
from kilnpack.shapes.outlines import region_polygon

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kilnpack.model.furniture import PostType, ShelfType, Stub
    from kilnpack.model.kilns import KeepOut, Kiln, OffsetReading, Peephole, StackPlace
    from kilnpack.model.loads import BodyForm, ConePack
    from kilnpack.model.orders import Lot
    from kilnpack.model.pieces import Product, RouteStep
    from kilnpack.model.programmes import Programme
    from kilnpack.model.settings import WorksSettings
    from kilnpack.model.works import Works


class FiringRules:
    """What one works, kiln and programme allow; every rule itself is stated in `kilnpack.rules`."""

    def __init__(self, works: Works, kiln: Kiln, programme: Programme) -> None:
        self.works = works
        self.kiln = kiln
        self.programme = programme
        self.settings: WorksSettings = works.settings
        self.stage = programme.stage
        self.peak_degc = programme.peak_degc
        # What a stack comes near to is the same at every height; asked for thousands of tiers, it is worked out once.
        self._near: dict[tuple[str, str], tuple[KeepOut | Peephole, ...]] = {}
        self._post_spans_mm: dict[tuple[str, str], tuple[heat.Span, ...]] = {}

    # --- heat ------------------------------------------------------------------------------------------------------

    def offset_range_k(self, x_mm: float, y_mm: float, z_mm: float) -> heat.Span:
        """Return how much colder and hotter than the programme a place may be (Z1)."""
        return heat.offset_range_k(self.settings, self.kiln, self.stage, (x_mm, y_mm, z_mm))

    @property
    def readings(self) -> tuple[OffsetReading, ...]:
        """The readings that tell the heat of places in this stage (Z1)."""
        chart = heat.offset_map(self.kiln, self.stage)
        return () if chart is None else chart.readings

    @cached_property
    def hottest_degc(self) -> float:
        """What furniture must stand anywhere in the kiln (F1)."""
        _, hottest_k = heat.offset_ends_k(self.settings, self.kiln, self.stage)
        return heat.furniture_degc(self.settings, self.peak_degc, hottest_k)

    # --- clearances ------------------------------------------------------------------------------------------------

    def gap_mm(self, lots: Sequence[Lot]) -> float:
        """Return the gap between any two bodies of these lots (C1, C11, C12)."""
        glazes = {glaze.code: glaze.softening_degc for glaze in self.works.glazes}
        codes = {self.works.product(lot.product).glaze for lot in lots}
        softening = [degc for code, degc in glazes.items() if code in codes]
        refires = any(lot.kind is LotKind.REFIRE for lot in lots)
        return clearances.ware_gap_mm(self.settings, self.stage, self.peak_degc, softening, refires=refires)

    @property
    def post_gap_mm(self) -> float:
        """Gap between ware and post (C2, C12)."""
        return clearances.post_gap_mm(self.settings, self.stage)

    @property
    def headroom_mm(self) -> float:
        """Least height over the highest point of a body (C3)."""
        return self.settings.headroom_mm

    @property
    def roof_mm(self) -> float:
        """Height that the ware of an open top tier stays under (C6, F17)."""
        return clearances.roof_mm(self.settings, self.kiln)

    @property
    def wall_mm(self) -> float:
        """Gap between ware and the wall, or the edge of a car (C4, C10)."""
        return clearances.wall_clear_mm(self.settings, self.kiln)

    # --- furniture -------------------------------------------------------------------------------------------------

    def shelf(self, place: StackPlace) -> ShelfType | None:
        """Return the shelf of a stack, None where it does not stand the heat (F1) or its own weight (F9, F16)."""
        shelf = {item.code: item for item in self.works.furniture.shelves}[place.shelf]
        bears = strength.stress_mpa(shelf, 0.0) <= strength.limit_mpa(self.settings, shelf)
        return shelf if bears and shelf.top_degc >= self.hottest_degc else None

    @cached_property
    def posts(self) -> tuple[PostType, ...]:
        """Post types that stand this heat and are even enough (F1, F4)."""
        return furniture.usable_posts(self.settings, self.works.furniture.posts, self.hottest_degc)

    @cached_property
    def post_side_mm(self) -> float:
        """Side of the widest post that may be used."""
        return max((post.side_mm for post in self.posts), default=0.0)

    def columns(self) -> list[furniture.Column]:
        """Return posts end to end, tallest lowest, with their height (F3, F4)."""
        return furniture.post_columns(self.settings, self.posts)

    def stubs(self, place: StackPlace, shelf: ShelfType) -> list[Stub]:
        """Return the stubs a stack may stand on, lowest first (F14, C6)."""
        points = len(shelf.posts_mm)
        stubs = furniture.usable_stubs(self.settings, self.works.furniture.stubs, self.hottest_degc, points)
        return [stub for stub in stubs if sight.bottom_clears(self.settings, self.kiln, place, shelf, stub.height_mm)]

    def load_limit_kg(self, shelf: ShelfType) -> float:
        """Return the ware a shelf may carry (F9, F16)."""
        return strength.load_limit_kg(self.settings, shelf)

    def bounds(self, shelf: ShelfType) -> tuple[float, float, float, float]:
        """Return the bounding box of a shelf in its own frame."""
        left, front, right, back = region_polygon(shelf.outline).bounds
        return float(left), float(front), float(right), float(back)

    # --- keep-outs and cone packs ----------------------------------------------------------------------------------

    def keep_outs(self, place: StackPlace, shelf: ShelfType, floor_mm: float, room_mm: float) -> sight.KeepOuts:
        """Return what the ware of a tier keeps out of, in the frame of its shelf (C5, C7, C8)."""
        key = (place.code, shelf.code)
        if key not in self._near:
            self._near[key] = sight.near_keep_outs(self.settings, self.kiln, place, shelf)
        return sight.tier_keep_outs(self.settings, self._near[key], place, floor_mm=floor_mm, room_mm=room_mm)

    def packs(self) -> tuple[Peephole, ...]:
        """Return the peepholes that want a cone pack (C7)."""
        return sight.packs(self.kiln)

    def posts_in_the_way(self, place: StackPlace, shelf: ShelfType, floor_mm: float, posts_mm: float) -> bool:
        """Return whether a post of the tier would stand in the sight on a pack, or in a keep-out (C5, C7, C8)."""
        key = (place.code, shelf.code)
        if key not in self._post_spans_mm:
            spans_mm = sight.post_spans_mm(self.settings, self.kiln, place, shelf, side_mm=self.post_side_mm)
            self._post_spans_mm[key] = spans_mm
        return sight.meets(self._post_spans_mm[key], (floor_mm, floor_mm + posts_mm))

    def barred_mm(self, place: StackPlace, shelf: ShelfType) -> list[heat.Span]:
        """Return the heights between which the underside of a shelf may not lie (C5, C7, C8)."""
        return sight.blocked_bases_mm(self.settings, self.kiln, place, shelf)

    def cone_pack(self, hole: Peephole, tiers: Sequence[tuple[StackPlace, int, float, ShelfType]]) -> ConePack | None:
        """Return where the pack of a peephole stands: on the highest shelf under its box; None where there is none."""
        return sight.cone_pack(self.settings, hole, tiers)

    # --- ware ------------------------------------------------------------------------------------------------------

    def step(self, lot: Lot) -> tuple[Product, RouteStep]:
        """Return the product of a lot and the firing it waits for."""
        product = self.works.product(lot.product)
        return product, product.route[lot.step]

    def window(self, lot: Lot) -> heat.Window:
        """Return the lowest and highest temperature all of the lot's parts stand (Z2)."""
        return heat.window_degc(self.works, *self.step(lot))

    def wants_flat(self, lot: Lot) -> bool:
        """Return whether the lot wants a shelf without bow (F12)."""
        product, step = self.step(lot)
        return furniture.wants_flat(self.works.shape(product.shape), step)

    def forms(self, lot: Lot) -> tuple[tuple[BodyForm, ...], tuple[Barred, ...]]:
        """Return the ways a piece of the lot may stand, or what bars it."""
        product = self.works.product(lot.product)
        if not chemistry.waits_for(product, lot, self.programme):
            return (), (Barred(rule="T5", reason=f"{lot.code} does not wait for programme {self.programme.code}"),)
        firing = Firing(
            stage=self.stage,
            peak_degc=self.peak_degc,
            furniture_degc=self.hottest_degc,
            on_car=self.kiln.kind is ChamberKind.CAR,
        )
        return ways_to_stand(self.works, firing, product, product.route[lot.step])

    # --- chemistry -------------------------------------------------------------------------------------------------

    def vapours(self, lot: Lot) -> frozenset[str]:
        """Return the classes of vapour that a lot brings into the kiln, and its class as a refire (Z5, T9)."""
        own = chemistry.vapour_classes(self.works, *self.step(lot))
        return own | chemistry.refire_class(self.settings, lot)

    def clash(self, first: frozenset[str], second: frozenset[str]) -> bool:
        """Return whether two lots may not share a load (Z5, T9)."""
        return chemistry.clash(self.settings, first, second)
