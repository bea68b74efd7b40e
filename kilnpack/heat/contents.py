"""What a load puts into the kiln: mass by material, and the room each lot takes."""

from __future__ import annotations

import itertools
from collections import defaultdict
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from kilnpack.model.geometry import TurnedPart
from kilnpack.model.orders import LotKind  # noqa: TC001 - types of fields are read at run time to save them
from kilnpack.model.pieces import Stage
from kilnpack.shapes.bodies import piece_kg, stand

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from shapely.geometry.base import BaseGeometry

    from kilnpack.model.furniture import ShelfType
    from kilnpack.model.geometry import Part
    from kilnpack.model.kilns import Kiln
    from kilnpack.model.loads import BodyForm, Load, Setting, StackLoad, Tier
    from kilnpack.model.orders import Lot
    from kilnpack.model.settings import WorksSettings
    from kilnpack.model.works import Works
    from kilnpack.shapes.bodies import Body

WARE = "porcelain"
SMALL_FURNITURE = "mullite"
"""Taken for stubs, stilts, setters, discs and spacers, and for any material not named in the table.

All kiln oxides store the same heat within 2.5 % at 1400 degC.
"""
WORDS_OF_MATERIAL = (
    ("silicon carbide", ("silicon carbide", "sic", "rsic", "nsic", "sisic")),
    ("cordierite", ("cordierite",)),
    ("mullite", ("mullite",)),
    ("alumina", ("alumina", "corundum")),
    ("quartz", ("silica", "quartz")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadMasses:
    """Mass of a load by material for the heat tables, kg."""

    ware_kg: dict[str, float]
    furniture_kg: dict[str, float]

    @property
    def all_kg(self) -> dict[str, float]:
        """Ware and furniture together, as they cool together."""
        total = defaultdict(float, self.furniture_kg)
        for material, kg in self.ware_kg.items():
            total[material] += kg
        return dict(total)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedLot:
    """The pieces of one lot in a load, with what they take of it.

    `volume_l` is the occupied setting volume: the widest section of the body grown by half the gap, times the pitch of
    its tier. `area_m2` is that section alone.
    """

    lot: str
    product: str
    step: int
    order_line: str | None
    kind: LotKind
    pieces: int
    ware_kg: float
    volume_l: float
    area_m2: float


def stored_material(name: str) -> str:
    """Return the material of the heat tables for a material as the works names it."""
    said = name.lower().replace("-", " ")
    words = set(said.split())
    for material, names in WORDS_OF_MATERIAL:
        if any(word in words or (" " in word and word in said) for word in names) or material in said:
            return material
    return SMALL_FURNITURE


def load_masses(works: Works, load: Load) -> LoadMasses:
    """Return ware and furniture of a load by material, the deck of its car among the furniture.

    Parameters
    ----------
    works
        Where the codes of the load are looked up.
    load
        With all its stacks.
    """
    bodies = {form.code: stand(works, form) for form in load.forms}
    settings = {setting.code: setting for setting in load.settings}
    ware_kg = 0.0
    furniture: dict[str, float] = defaultdict(float)
    for stack in load.stacks:
        for material, kg in _structure(works, stack):
            furniture[material] += kg
        for tier in stack.tiers:
            for standing in settings[tier.setting].standings:
                ware_kg += bodies[standing.form].ware_kg
                furniture[SMALL_FURNITURE] += bodies[standing.form].support_kg
    for car in works.kiln(load.kiln).cars:
        if car.code == load.car:
            furniture[stored_material(car.deck_material)] += car.deck_kg
    return LoadMasses(ware_kg={WARE: ware_kg}, furniture_kg={name: kg for name, kg in furniture.items() if kg > 0.0})


def deck_kg(kiln: Kiln) -> dict[str, float]:
    """Return the deck of the kiln's first car by material, nothing for a kiln without cars."""
    return {stored_material(car.deck_material): car.deck_kg for car in kiln.cars[:1]}


def shelves_kg(works: Works, load: Load) -> dict[str, float]:
    """Return the shelves of a load by material, kg."""
    shelves = {shelf.code: shelf for shelf in works.furniture.shelves}
    found: dict[str, float] = defaultdict(float)
    for stack in load.stacks:
        for tier in stack.tiers:
            found[stored_material(shelves[tier.shelf].material)] += shelves[tier.shelf].mass_kg
    return dict(found)


def _structure(works: Works, stack: StackLoad) -> Iterable[tuple[str, float]]:
    """Yield the shelves, posts and stubs of one stack by material, kg."""
    shelves = {shelf.code: shelf for shelf in works.furniture.shelves}
    posts = {post.code: post for post in works.furniture.posts}
    stubs = {stub.code: stub for stub in works.furniture.stubs}
    for tier in stack.tiers:
        shelf = shelves[tier.shelf]
        yield stored_material(shelf.material), shelf.mass_kg
        for code in tier.posts:
            yield stored_material(posts[code].material), posts[code].mass_kg * len(shelf.posts_mm)
    if stack.stub is not None and stack.tiers:
        points = len(shelves[stack.tiers[0].shelf].posts_mm)
        yield SMALL_FURNITURE, stubs[stack.stub].mass_kg * points


def placed_lots(works: Works, load: Load, lots: Iterable[Lot] | None = None) -> tuple[PlacedLot, ...]:
    """Return the lots of a load with the room they take, in order of their codes.

    Parameters
    ----------
    works
        Where the codes of the load are looked up.
    load
        With its fills.
    lots
        Lots the fills name; None are those of the works.

    Raises
    ------
    KeyError
        A fill names a lot that is not among them.
    """
    known = {lot.code: lot for lot in (works.lots if lots is None else lots)}
    settings = {setting.code: setting for setting in load.settings}
    shelves = {shelf.code: shelf for shelf in works.furniture.shelves}
    gap_mm = _gap_mm(works.settings, load.stage)
    area_m2 = {form.code: section_m2(stand(works, form), gap_mm) for form in load.forms}
    found: dict[str, PlacedLot] = {}
    for stack in load.stacks:
        for tier in stack.tiers:
            for row in _tier_rows(works, load, tier, settings[tier.setting], shelves[tier.shelf], area_m2, known):
                before = found.get(row.lot)
                found[row.lot] = row if before is None else _joined(before, row)
    return tuple(found[code] for code in sorted(found))


def _tier_rows(
    works: Works,
    load: Load,
    tier: Tier,
    setting: Setting,
    shelf: ShelfType,
    area_m2: Mapping[str, float],
    known: Mapping[str, Lot],
) -> Iterable[PlacedLot]:
    """Yield the lots on one tier; pieces that share a body share its room evenly."""
    pitch_m = (tier.room_mm + shelf.thickness_mm) / 1000.0
    forms = {standing.place: standing.form for standing in setting.standings}
    at_place: dict[int, int] = defaultdict(int)
    for fill in tier.fills:
        at_place[fill.place] += fill.pieces
    for fill in tier.fills:
        if fill.pieces == 0:
            continue
        lot = known[fill.lot]
        form: BodyForm = load.form(forms[fill.place])
        area = area_m2[form.code] * fill.pieces / at_place[fill.place]
        yield PlacedLot(
            lot=lot.code,
            product=lot.product,
            step=lot.step,
            order_line=lot.order_line,
            kind=lot.kind,
            pieces=fill.pieces,
            ware_kg=fill.pieces * piece_kg(works, works.shape(form.shape), load.stage),
            volume_l=area * pitch_m * 1000.0,
            area_m2=area,
        )


def _joined(one: PlacedLot, other: PlacedLot) -> PlacedLot:
    return replace(
        one,
        pieces=one.pieces + other.pieces,
        ware_kg=one.ware_kg + other.ware_kg,
        volume_l=one.volume_l + other.volume_l,
        area_m2=one.area_m2 + other.area_m2,
    )


def _gap_mm(settings: WorksSettings, stage: Stage) -> float:
    return {
        Stage.BISCUIT: settings.gap_biscuit_mm,
        Stage.GLOST: settings.gap_glost_mm,
        Stage.DECORATION: settings.gap_decoration_mm,
    }[stage]


def section_m2(body: Body, gap_mm: float) -> float:
    """Return the area of a body's widest horizontal section grown by half the gap, m2."""
    return _widest_m2(tuple(body.parts), gap_mm)


@lru_cache(maxsize=4096)
def _widest_m2(parts: tuple[Part, ...], gap_mm: float) -> float:
    """Return the area of the widest section; remembered, as the same bodies stand in firing after firing."""
    heights = sorted({z for part in parts for z in _heights(part)})
    middles = [(low + high) / 2.0 for low, high in itertools.pairwise(heights)]
    areas = [_section(parts, z).buffer(gap_mm / 2.0).area for z in [*heights, *middles]]
    return float(max(areas)) / 1e6


def _heights(part: Part) -> tuple[float, ...]:
    if isinstance(part, TurnedPart):
        return tuple(z for z, _ in part.profile_mm)
    return (part.from_z_mm, part.to_z_mm)


def _section(parts: Iterable[Part], z_mm: float) -> BaseGeometry:
    """Return the section of the parts at a height; at a step of a profile, the wider side."""
    from shapely import union_all

    from kilnpack.shapes.outlines import disc_polygon, outline_polygon

    found = []
    for part in parts:
        if isinstance(part, TurnedPart):
            radius = _radius_mm(part, z_mm)
            if radius > 0.0:
                found.append(disc_polygon(part.x_mm, part.y_mm, radius))
        elif part.from_z_mm <= z_mm <= part.to_z_mm:
            found.append(outline_polygon(part.outline))
    return union_all(found)


def _radius_mm(part: TurnedPart, z_mm: float) -> float:
    radius = 0.0
    for (z0, r0), (z1, r1) in zip(part.profile_mm, part.profile_mm[1:], strict=False):
        if z0 <= z_mm <= z1:
            here = max(r0, r1) if z1 == z0 else r0 + (r1 - r0) * (z_mm - z0) / (z1 - z0)
            radius = max(radius, here)
    return radius
