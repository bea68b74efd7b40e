"""The rules of one firing as the packer asks for them: works, kiln and programme are bound once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import shapely

from kilnpack.model.furniture import Setter, Stilt
from kilnpack.model.geometry import Disc, Rectangle
from kilnpack.model.kilns import ChamberKind, WallKind
from kilnpack.model.loads import BodyForm, ConePack
from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import FootState, StackWay, Stage
from kilnpack.packing.covers import cover_of, foot_reach_mm
from kilnpack.shapes.bodies import piece_kg, stand, support
from kilnpack.shapes.outlines import in_kiln, outline_polygon, point_on_shelf, region_polygon, square
from kilnpack.shapes.room import DiscKeepOut, RectKeepOut

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.furniture import CatchDisc, PostType, ShelfType, Stub
    from kilnpack.model.kilns import Kiln, Peephole, StackPlace
    from kilnpack.model.orders import Lot
    from kilnpack.model.pieces import Product, RouteStep, Shape
    from kilnpack.model.programmes import Programme
    from kilnpack.model.settings import WorksSettings
    from kilnpack.model.works import Works
    from kilnpack.shapes.bodies import Body

TOUCH_MM = 1e-9
PLAIN = "plain"
"""The class of ware that gives off nothing."""

LEAST_POINTS = 3
"""Points of a stilt round the centre of mass."""

Heat = tuple[float, float]
KeepOuts = tuple[DiscKeepOut | RectKeepOut, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Barred:
    """Why ware may not stand in this firing, with the smallest change that would let it."""

    rule: str
    reason: str
    change: str | None = None


class FiringRules:
    """What one works, kiln and programme allow."""

    def __init__(self, works: Works, kiln: Kiln, programme: Programme) -> None:
        self.works = works
        self.kiln = kiln
        self.programme = programme
        self.settings: WorksSettings = works.settings
        self.stage = programme.stage
        self.peak_degc = programme.peak_degc

    # --- heat ------------------------------------------------------------------------------------------------------

    def offset_range_k(self, x_mm: float, y_mm: float, z_mm: float) -> Heat:
        """Return how much colder and hotter than the programme a place may be (Z1)."""
        for chart in self.kiln.offsets:
            if chart.stage is not self.stage:
                continue
            if not chart.readings:
                return -chart.spread_k, chart.spread_k
            weights = []
            for row in chart.readings:
                apart = math.dist((x_mm, y_mm, z_mm), (row.x_mm, row.y_mm, row.z_mm))
                if apart < 1e-6:
                    return row.offset_k, row.offset_k
                weights.append((1.0 / apart**2, row.offset_k))
            middle = sum(w * k for w, k in weights) / sum(w for w, _ in weights)
            return middle, middle
        return -self.settings.offset_spread_k, self.settings.offset_spread_k

    @cached_property
    def hottest_degc(self) -> float:
        """What furniture must stand: peak, hottest place, overshoot (F1)."""
        spread = self.settings.offset_spread_k
        for chart in self.kiln.offsets:
            if chart.stage is self.stage:
                spread = max((row.offset_k for row in chart.readings), default=chart.spread_k)
        return self.peak_degc + spread + self.settings.overshoot_k

    # --- clearances ------------------------------------------------------------------------------------------------

    def gap_mm(self, lots: Sequence[Lot]) -> float:
        """Return the gap between any two bodies of these lots (C1, C11, C12)."""
        settings = self.settings
        own = {
            Stage.BISCUIT: settings.gap_biscuit_mm,
            Stage.GLOST: settings.gap_glost_mm,
            Stage.DECORATION: settings.gap_decoration_mm,
        }[self.stage]
        refires = any(lot.kind is LotKind.REFIRE for lot in lots)
        if self.stage is Stage.DECORATION:
            glazes = {glaze.code: glaze for glaze in self.works.glazes}
            for lot in lots:
                code = self.works.product(lot.product).glaze
                if code and self.peak_degc > glazes[code].softening_degc - settings.soft_margin_k:
                    own = max(own, settings.gap_decoration_hot_mm)
        growth = settings.hot_growth_mm if refires or self.stage is Stage.DECORATION else 0.0
        return own + growth + settings.placing_mm

    @property
    def post_gap_mm(self) -> float:
        """Gap between ware and post (C2, C12)."""
        own = self.settings.post_gap_biscuit_mm if self.stage is Stage.BISCUIT else self.settings.post_gap_mm
        return own + self.settings.placing_mm

    @property
    def headroom_mm(self) -> float:
        """Least height over the highest point of a body (C3)."""
        return self.settings.headroom_mm

    @property
    def roof_mm(self) -> float:
        """Height that the ware of an open top tier stays under (C6, F17)."""
        return self.kiln.usable_height_mm - self.settings.top_clear_mm

    @property
    def wall_mm(self) -> float:
        """Gap between ware and the wall, or the edge of a car (C4, C10)."""
        if self.kiln.wall_clear_mm is not None:
            return self.kiln.wall_clear_mm
        if self.kiln.kind is ChamberKind.CAR:
            return self.settings.car_edge_mm
        electric = self.kiln.wall is WallKind.ELECTRIC
        return self.settings.ware_wall_electric_mm if electric else self.settings.ware_wall_gas_mm

    # --- furniture -------------------------------------------------------------------------------------------------

    def shelf(self, place: StackPlace) -> ShelfType | None:
        """Return the shelf of a stack, None where it may not be used in this heat (F1)."""
        shelf = {item.code: item for item in self.works.furniture.shelves}[place.shelf]
        return shelf if shelf.top_degc >= self.hottest_degc else None

    @cached_property
    def posts(self) -> tuple[PostType, ...]:
        """Post types that stand this heat and are even enough (F1, F4)."""
        return tuple(
            post
            for post in self.works.furniture.posts
            if post.top_degc >= self.hottest_degc and post.spread_mm <= self.settings.post_spread_mm
        )

    @cached_property
    def post_side_mm(self) -> float:
        """Side of the widest post that may be used."""
        return max((post.side_mm for post in self.posts), default=0.0)

    def columns(self) -> list[tuple[tuple[PostType, ...], float]]:
        """Return posts end to end, tallest lowest, with their height (F3)."""
        rows: list[tuple[tuple[PostType, ...], float]] = []
        most = self.settings.posts_end_to_end_most
        for parts in _joined(self.posts, most):
            if sum(post.spread_mm for post in parts) > self.settings.post_spread_mm:
                continue
            height = sum(post.height_mm for post in parts)
            side = min(post.side_mm for post in parts)
            ratio = (
                self.settings.single_post_slender_ratio if len(parts) == 1 else self.settings.joined_post_slender_ratio
            )
            even = sum(post.spread_mm for post in parts) <= self.settings.post_spread_mm
            if even and height <= ratio * side:
                rows.append((parts, height))
        return rows

    def stubs(self, points: int) -> list[Stub]:
        """Return the stubs a stack may stand on, lowest first (F14, C6)."""
        return sorted(
            (
                stub
                for stub in self.works.furniture.stubs
                if stub.top_degc >= self.hottest_degc
                and stub.height_mm >= self.settings.bottom_clear_mm
                and stub.count_pieces >= points
            ),
            key=lambda stub: stub.height_mm,
        )

    def load_limit_kg(self, shelf: ShelfType) -> float:
        """Return the ware a shelf may carry (F9, F16)."""
        settings = self.settings
        if shelf.strength_mpa is not None:
            limit_mpa = shelf.strength_mpa * settings.strength_share
        else:
            limit_mpa = (shelf.cold_strength_mpa or 0.0) * settings.cold_strength_share
        area = float(region_polygon(shelf.outline).area)
        points = shelf.posts_mm
        spans = [math.dist(a, b) for k, a in enumerate(points) for b in points[:k]]
        x0, y0, x1, y1 = region_polygon(shelf.outline).bounds
        if len(points) >= 4:
            span = max(
                max(x for x, _ in points) - min(x for x, _ in points),
                max(y for _, y in points) - min(y for _, y in points),
            )
            per_q = 1.25 * 0.75 * span**2 / shelf.thickness_mm**2
        else:
            free = max(
                x1 - max(x for x, _ in points),
                min(x for x, _ in points) - x0,
                y1 - max(y for _, y in points),
                min(y for _, y in points) - y0,
            )
            per_q = max(0.75 * max(spans) ** 2, 3 * free**2) / shelf.thickness_mm**2
        return max(0.0, limit_mpa / per_q * area / 9.80665 - shelf.mass_kg)

    def bounds(self, shelf: ShelfType) -> tuple[float, float, float, float]:
        """Return the bounding box of a shelf in its own frame."""
        left, front, right, back = region_polygon(shelf.outline).bounds
        return float(left), float(front), float(right), float(back)

    # --- keep-outs and cone packs ----------------------------------------------------------------------------------

    def keep_outs(self, place: StackPlace, shelf: ShelfType, floor_mm: float, room_mm: float) -> KeepOuts:
        """Return what the ware of a tier keeps out of, in the frame of its shelf (C5, C7, C8)."""
        outline = in_kiln(region_polygon(shelf.outline), place).buffer(self.settings.overhang_most_mm)
        found: list[DiscKeepOut | RectKeepOut] = []
        for keep in self.kiln.keep_outs:
            clear = self._clear_mm(keep.what, keep.clear_mm)
            low, high = keep.from_z_mm - clear - floor_mm, keep.to_z_mm + clear - floor_mm
            if high <= 0 or low >= room_mm or outline.distance(region_polygon(keep.outline)) > clear:
                continue
            found.append(_keep_out(keep.outline, place, low, high, clear))
        for hole in self.packs():
            low, high = self.box_z_mm(hole)
            if high <= floor_mm or low >= floor_mm + room_mm:
                continue
            if outline.distance(self._corridor(hole)) > 0:
                continue
            found += self._pack_keep_outs(hole, place, floor_mm)
        return tuple(found)

    def _clear_mm(self, what: str, clear_mm: float) -> float:
        return max(clear_mm, self.settings.thermocouple_mm) if what == "thermocouple" else clear_mm

    def packs(self) -> tuple[Peephole, ...]:
        """Return the peepholes that want a cone pack (C7)."""
        return tuple(hole for hole in self.kiln.peepholes if hole.has_pack)

    def box_z_mm(self, hole: Peephole) -> Heat:
        """Return the heights between which no shelf may cut the sight on a pack."""
        half = self.settings.cone_height_mm / 2
        return hole.z_mm - half, hole.z_mm + half

    def _corridor(self, hole: Peephole) -> BaseGeometry:
        ux, uy = math.cos(math.radians(hole.direction_deg)), math.sin(math.radians(hole.direction_deg))
        far = hole.pack_away_mm + self.settings.cone_depth_mm / 2
        line = shapely.LineString([(hole.x_mm, hole.y_mm), (hole.x_mm + far * ux, hole.y_mm + far * uy)])
        return line.buffer(self.settings.cone_width_mm / 2, cap_style="flat")

    def _pack_keep_outs(self, hole: Peephole, place: StackPlace, floor_mm: float) -> Iterator[RectKeepOut]:
        low, high = self.box_z_mm(hole)
        settings = self.settings
        near = hole.pack_away_mm - settings.cone_depth_mm / 2
        far = hole.pack_away_mm + settings.cone_depth_mm / 2
        half = settings.cone_width_mm / 2
        clear = settings.placing_mm
        for from_mm, to_mm, bottom in ((0.0, far, low - floor_mm), (near, far, 0.0)):
            x0, y0, x1, y1 = _turned_box(hole, place, from_mm, to_mm, half)
            yield RectKeepOut(
                x0_mm=x0,
                y0_mm=y0,
                x1_mm=x1,
                y1_mm=y1,
                from_z_mm=max(0.0, bottom),
                to_z_mm=high - floor_mm,
                clearance_mm=clear,
            )

    def posts_in_the_way(self, place: StackPlace, shelf: ShelfType, floor_mm: float, posts_mm: float) -> bool:
        """Return whether a post of the tier would stand in the sight on a pack, or in a keep-out (C5, C7, C8)."""
        posts = in_kiln(shapely.union_all([square(x, y, self.post_side_mm) for x, y in shelf.posts_mm]), place)
        for hole in self.packs():
            low, high = self.box_z_mm(hole)
            if high > floor_mm and low < floor_mm + posts_mm and posts.intersects(self._corridor(hole)):
                return True
        for keep in self.kiln.keep_outs:
            clear = self._clear_mm(keep.what, keep.clear_mm)
            meets = keep.to_z_mm + clear > floor_mm and keep.from_z_mm - clear < floor_mm + posts_mm
            if meets and posts.distance(region_polygon(keep.outline)) < max(clear, TOUCH_MM):
                return True
        return False

    def barred_mm(self, place: StackPlace, shelf: ShelfType) -> list[Heat]:
        """Return the heights between which the underside of a shelf may not lie."""
        outline = in_kiln(region_polygon(shelf.outline), place)
        thick = shelf.thickness_mm
        rows = []
        for hole in self.packs():
            low, high = self.box_z_mm(hole)
            if outline.intersects(self._corridor(hole)):
                rows.append((low - thick, high))
        for keep in self.kiln.keep_outs:
            clear = self._clear_mm(keep.what, keep.clear_mm)
            if outline.distance(region_polygon(keep.outline)) < clear - 1e-9 or outline.intersects(
                region_polygon(keep.outline)
            ):
                rows.append((keep.from_z_mm - clear - thick, keep.to_z_mm + clear))
        return rows

    def cone_pack(self, hole: Peephole, tiers: Sequence[tuple[StackPlace, int, float, ShelfType]]) -> ConePack | None:
        """Return where the pack of a peephole stands: on the highest shelf under its box; None where there is none."""
        ux, uy = math.cos(math.radians(hole.direction_deg)), math.sin(math.radians(hole.direction_deg))
        x, y = hole.x_mm + hole.pack_away_mm * ux, hole.y_mm + hole.pack_away_mm * uy
        low, _ = self.box_z_mm(hole)
        best: tuple[float, ConePack] | None = None
        for place, number, base_mm, shelf in tiers:
            top = base_mm + shelf.thickness_mm
            sx, sy = point_on_shelf(x, y, place)
            if top > low + 1e-9 or not region_polygon(shelf.outline).covers(shapely.Point(sx, sy)):
                continue
            if best is None or top > best[0]:
                pack = ConePack(
                    peephole=hole.code,
                    place=place.code,
                    tier=number,
                    x_mm=round(sx, 2),
                    y_mm=round(sy, 2),
                    turn_deg=(hole.direction_deg - place.turn_deg) % 360.0,
                    lift_mm=round(low - top, 4),
                )
                best = (top, pack)
        return best[1] if best else None

    # --- ware ------------------------------------------------------------------------------------------------------

    def step(self, lot: Lot) -> tuple[Product, RouteStep]:
        """Return the product of a lot and the firing it waits for."""
        product = self.works.product(lot.product)
        return product, product.route[lot.step]

    def window(self, lot: Lot) -> tuple[float | None, float | None]:
        """Return the lowest and highest temperature all of the lot's parts stand (Z2)."""
        product, step = self.step(lot)
        lows, highs = [step.low_degc], [step.high_degc]
        if self.stage is Stage.GLOST:
            rows = [glaze for glaze in self.works.glazes if glaze.code == product.glaze]
            lows += [row.low_degc for row in rows]
            highs += [row.high_degc for row in rows]
        if self.stage is Stage.DECORATION:
            decorations = [row for row in self.works.decorations if row.code in step.decorations]
            lows += [row.low_degc for row in decorations]
            highs += [row.high_degc for row in decorations]
        return max((v for v in lows if v is not None), default=None), min(
            (v for v in highs if v is not None), default=None
        )

    def wants_flat(self, lot: Lot) -> bool:
        """Return whether the lot wants a shelf without bow (F12)."""
        product, step = self.step(lot)
        return step.flat_shelf or (self.stage is Stage.GLOST and self.works.shape(product.shape).flatware)

    def forms(self, lot: Lot) -> tuple[tuple[BodyForm, ...], tuple[Barred, ...]]:
        """Return the ways a piece of the lot may stand, or what bars it."""
        product = self.works.product(lot.product)
        if not 0 <= lot.step < len(product.route) or product.route[lot.step].programme != self.programme.code:
            return (), (Barred(rule="T5", reason=f"{lot.code} does not wait for programme {self.programme.code}"),)
        shape, step = self.works.shape(product.shape), product.route[lot.step]
        if self.stage is not Stage.DECORATION and any(
            row.lid and row.lid.shape == shape.code for row in self.works.shapes
        ):
            return (), (Barred(rule="W9", reason=f"{shape.code} is a lid", change="fire it on its pot"),)
        if self.stage is Stage.BISCUIT:
            return tuple(self._raw_forms(shape)), ()
        codes = self._supports(product, step)
        if isinstance(codes, Barred):
            return (), (codes,)
        forms = tuple(form for code in codes for form in self._on_support(shape, code))
        if not forms:
            return (), (Barred(rule="W8", reason=f"{shape.code} is too large for its support"),)
        return forms, ()

    def _raw_forms(self, shape: Shape) -> Iterator[BodyForm]:
        yield BodyForm(code=f"{shape.code}-b", shape=shape.code, stage=self.stage)
        kg = piece_kg(self.works, shape, self.stage)
        spacer_kg = {row.code: row.mass_kg * row.pieces_per_gap for row in self.works.furniture.spacers}
        hot = {row.code for row in self.works.furniture.spacers if row.top_degc < self.hottest_degc}
        for way in () if shape.lid else shape.stackings:
            if way.way is StackWay.NESTED and way.loose_mm < self.settings.nest_loose_mm:
                continue
            for pieces in range(2, way.most_pieces + 1):
                spacer = way.spacer if way.way is StackWay.PILED and pieces > way.bare_most_pieces else None
                if way.way is StackWay.PILED and pieces > way.bare_most_pieces and spacer is None:
                    break
                above_kg = (pieces - 1) * (kg + spacer_kg.get(spacer or "", 0.0))
                if above_kg > way.load_limit_factor * kg + 1e-9 or spacer in hot:
                    break
                tail = f"-{spacer}" if spacer else ""
                code = f"{shape.code}-b-{way.way.value}{pieces}{tail}"
                yield BodyForm(code=code, shape=shape.code, stage=self.stage, way=way.way, pieces=pieces, spacer=spacer)

    def _supports(self, product: Product, step: RouteStep) -> list[str | None] | Barred:
        glaze = next((row for row in self.works.glazes if row.code == product.glaze), None)
        furniture = self.works.furniture
        discs = {item.code for item in furniture.catch_discs}
        runny = glaze is not None and glaze.runny and self.stage is Stage.GLOST
        wanted = set(step.supports) or (discs if runny else set())
        if runny:
            wanted &= discs
            if not wanted:
                return Barred(
                    rule="W10", reason=f"{product.code} has a runny glaze and no catch disc", change="a catch disc"
                )
        if step.foot is FootState.GLAZED and glaze is not None and self.hottest_degc > glaze.softening_degc:
            wanted -= discs
            if not wanted:
                reason = f"the foot of {product.code} is glazed and no stilt or setter is named"
                return Barred(rule="W6", reason=reason, change="wipe the foot")
        if not wanted:
            return [None]
        if self.stage is Stage.GLOST:
            wanted -= {item.code for item in furniture.stilts}
        stock: tuple[Stilt | Setter | CatchDisc, ...] = furniture.stilts + furniture.setters + furniture.catch_discs
        fit = [item.code for item in stock if item.code in wanted and item.top_degc >= self.hottest_degc]
        if not fit:
            return Barred(rule="F1", reason=f"no support of {product.code} stands {self.hottest_degc:.0f} degC")
        return list(fit)

    def _on_support(self, shape: Shape, code: str | None) -> Iterator[BodyForm]:
        mark = {Stage.GLOST: "g", Stage.DECORATION: "d", Stage.BISCUIT: "b"}[self.stage]
        if code is None:
            yield BodyForm(code=f"{shape.code}-{mark}", shape=shape.code, stage=self.stage)
            return
        bare = stand(self.works, BodyForm(code="bare", shape=shape.code, stage=self.stage))
        under = support(self.works, code)
        if not self._carries(under, bare):
            return
        if not isinstance(under, Setter):
            yield BodyForm(code=f"{shape.code}-{mark}-{code}", shape=shape.code, stage=self.stage, support=code)
            return
        for pieces in range(1, under.most_pieces + 1):
            if pieces > 1 and bare.top_mm > under.pitch_mm:
                break
            form = f"{shape.code}-{mark}-{code}x{pieces}"
            yield BodyForm(code=form, shape=shape.code, stage=self.stage, pieces=pieces, support=code)

    def _carries(self, under: Stilt | Setter | CatchDisc, bare: Body) -> bool:
        """Return whether a support suits a piece (W7, W8, W10)."""
        rim = max(p.reach_mm + max(r for _, r in p.profile) for p in cover_of(bare.parts))
        if isinstance(under, Setter):
            return 2 * rim <= under.inner_mm
        if isinstance(under, Stilt):
            axis = shapely.Point(0.0, 0.0)
            inner = max(
                float(part.boundary.distance(axis)) if part.covers(axis) else -1.0
                for part in (outline_polygon((member,)) for member in bare.foot)
            )
            over = rim - under.contact_r_mm
            return (
                under.points >= LEAST_POINTS and under.contact_r_mm <= inner and over <= self.settings.stilt_overhang_mm
            )
        return 2 * foot_reach_mm(bare) <= under.outer_mm

    # --- chemistry -------------------------------------------------------------------------------------------------

    def vapours(self, lot: Lot) -> frozenset[str]:
        """Return the vapour classes a lot brings into the kiln (Z5)."""
        product, step = self.step(lot)
        found = set(step.vapours)
        if self.stage is Stage.GLOST:
            found |= {row.vapour for row in self.works.glazes if row.code == product.glaze and row.vapour}
        found |= {row.vapour for row in self.works.decorations if row.code in step.decorations and row.vapour}
        return frozenset(found or {PLAIN})

    def clash(self, first: frozenset[str], second: frozenset[str]) -> bool:
        """Return whether two lots may not share a load (Z5)."""
        return any(
            (a in first and b in second) or (b in first and a in second) for a, b in self.settings.excluded_vapours
        )


def _joined(posts: Sequence[PostType], most: int) -> Iterator[tuple[PostType, ...]]:
    from itertools import combinations_with_replacement

    for count in range(1, most + 1):
        for parts in combinations_with_replacement(posts, count):
            yield tuple(sorted(parts, key=lambda post: -post.height_mm))


def _keep_out(
    outline: Disc | Rectangle, place: StackPlace, low: float, high: float, clear: float
) -> DiscKeepOut | RectKeepOut:
    heights = {"from_z_mm": max(0.0, low), "to_z_mm": high, "clearance_mm": clear}
    if isinstance(outline, Disc):
        x, y = point_on_shelf(outline.x_mm, outline.y_mm, place)
        return DiscKeepOut(x_mm=x, y_mm=y, radius_mm=outline.r_mm, **heights)
    corners = [
        point_on_shelf(outline.x_mm + dx, outline.y_mm + dy, place)
        for dx in (0.0, outline.w_mm)
        for dy in (0.0, outline.d_mm)
    ]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return RectKeepOut(x0_mm=min(xs), y0_mm=min(ys), x1_mm=max(xs), y1_mm=max(ys), **heights)


def _turned_box(
    hole: Peephole, place: StackPlace, from_mm: float, to_mm: float, half_mm: float
) -> tuple[float, float, float, float]:
    """Return the box round a stretch of a hole's axis in the frame of a shelf."""
    ux, uy = math.cos(math.radians(hole.direction_deg)), math.sin(math.radians(hole.direction_deg))
    corners = [
        point_on_shelf(hole.x_mm + a * ux - b * uy, hole.y_mm + a * uy + b * ux, place)
        for a in (from_mm, to_mm)
        for b in (-half_mm, half_mm)
    ]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return min(xs), min(ys), max(xs), max(ys)
