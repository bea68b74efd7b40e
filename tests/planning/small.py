"""Invented works for the planner, and a packer that only counts: so much of a kiln for every piece."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from kilnpack.model.furniture import Furniture, PostType, ShelfLot, ShelfType, Stub
from kilnpack.model.geometry import Disc, Rectangle, TurnedPart
from kilnpack.model.kilns import Car, ChamberKind, Cooling, Energy, EnergyKind, Kiln, StackPlace, WallKind
from kilnpack.model.loads import BodyForm, LeftOut, Load, PlaceFill, Setting, StackLoad, Standing, Tier
from kilnpack.model.orders import Lot, OrderLine, Shift, Supply, WorkCalendar
from kilnpack.model.pieces import Product, RouteStep, Shape, Stage
from kilnpack.model.programmes import Atmosphere, Programme, Segment
from kilnpack.model.settings import WorksSettings
from kilnpack.model.works import Works

if TYPE_CHECKING:
    from kilnpack.search.budget import Budget

NOW = datetime(2026, 3, 2, 0, 0)
ALWAYS = tuple(Shift(weekday=day, start=time(0), end=time(0), crew_people=1) for day in range(7))
WEEKDAYS = tuple(Shift(weekday=day, start=time(7), end=time(16), crew_people=2) for day in range(5))
NO_HANDS = WorksSettings(raw_handling_s=0.0, glazed_handling_s=0.0, shelf_handling_s=0.0, cleaning_h_per_shelf=0.0)
UTC_ALWAYS = WorkCalendar(shifts=ALWAYS, unattended_firing=True)


def shape(code: str = "CUP") -> Shape:
    """A straight-sided cup."""
    return Shape(
        code=code, name=code, parts=(TurnedPart(profile_mm=((0.0, 30.0), (80.0, 40.0))),), foot=(Disc(r_mm=28.0),),
        dry_kg=0.3, biscuit_kg=0.27, glazed_kg=0.29, biscuit_shrinkage_share=0.01, glost_shrinkage_share=0.1,
    )  # fmt: skip


def programme(code: str, stage: Stage, *, hours: float = 12.0, cool_h: float = 12.0, outside_h: float = 0.0,
              recorded_kg: float = 100.0) -> Programme:  # fmt: skip
    """A programme with recorded hours."""
    peak = {Stage.BISCUIT: 960.0, Stage.GLOST: 1385.0, Stage.DECORATION: 880.0}[stage]
    return Programme(
        code=code, name=code, stage=stage, segments=(Segment(to_degc=peak, rate_k_h=100.0),),
        atmosphere=Atmosphere.OXIDATION, recorded_fire_h=hours, recorded_cool_h=cool_h, recorded_kg=recorded_kg,
        cool_outside_h=outside_h,
    )  # fmt: skip


def kiln(code: str, *programmes: str, cars: int = 0, draw_degc: float | None = None) -> Kiln:
    """A kiln of one stack; with cars, a car kiln."""
    return Kiln(
        code=code, name=code, kind=ChamberKind.CAR if cars else ChamberKind.FRONT, wall=WallKind.ELECTRIC,
        chamber=Rectangle(w_mm=600.0, d_mm=600.0), usable_height_mm=500.0,
        places=(StackPlace(code="A", shelf="S", x_mm=50.0, y_mm=50.0),), programmes=programmes, top_degc=1400.0,
        energy=Energy(kind=EnergyKind.ELECTRIC, connected_kw=30.0, price_money_per_kwh=0.2, co2_kg_per_kwh=0.3),
        cooling=Cooling(draw_degc=draw_degc),
        cars=tuple(Car(code=f"{code}-{k + 1}", deck_kg=100.0, deck_material="mullite") for k in range(cars)),
        usual_ware_kg=50.0,
    )  # fmt: skip


def furniture(shelves: int = 100) -> Furniture:
    """Shelves, posts and stubs of one type each."""
    corners = ((40.0, 40.0), (460.0, 40.0), (250.0, 460.0))
    return Furniture(
        shelves=(
            ShelfType(
                code="S", name="S", outline=Rectangle(w_mm=500.0, d_mm=500.0), posts_mm=corners, thickness_mm=15.0,
                material="silicon carbide", mass_kg=8.0, top_degc=1450.0, strength_mpa=20.0,
                lots=(ShelfLot(count_pieces=shelves),),
            ),
        ),
        posts=(PostType(code="P", nominal_mm=100.0, height_mm=100.0, side_mm=40.0, material="mullite", mass_kg=0.4,
                        top_degc=1450.0, count_pieces=3 * shelves),),
        stubs=(Stub(code="B", height_mm=25.0, side_mm=40.0, mass_kg=0.1, top_degc=1450.0, count_pieces=60),),
    )  # fmt: skip


def product(code: str, *programmes: str, stages: tuple[Stage, ...] = (), shape_code: str = "CUP", rest_h: float = 0.0,
            dry_h: float = 0.0, scrap_share: float = 0.0) -> Product:  # fmt: skip
    """A product fired with these programmes, one after the other."""
    return Product(
        code=code, name=code, shape=shape_code, glaze=None,
        route=tuple(
            RouteStep(stage=stage, programme=p, rest_after_h=rest_h, ready_after_h=dry_h, scrap_share=scrap_share)
            for p, stage in zip(programmes, stages, strict=True)
        ),
    )  # fmt: skip


def line(code: str, item: str, quantity: int, due_days: int, **more: object) -> OrderLine:
    """An order line due so many days after the start."""
    return OrderLine(
        code=code, order=code.partition("-")[0], customer="Lantern Inn", item=item, quantity_pieces=quantity,
        due=date(2026, 3, 2) + timedelta(days=due_days), **more,  # type: ignore[arg-type]
    )  # fmt: skip


def works(**parts: object) -> Works:
    """A works of these parts; what is not given is small and plain."""
    defaults: dict[str, object] = {
        "name": "Small Works", "now": NOW, "settings": NO_HANDS, "calendar": UTC_ALWAYS, "supply": Supply(),
        "furniture": furniture(), "kilns": (kiln("K", "D"),), "programmes": (programme("D", Stage.DECORATION),),
        "shapes": (shape(),), "glazes": (), "decorations": (), "sets": (), "lines": (), "lots": (),
        "products": (product("MUG", "D", stages=(Stage.DECORATION,)),),
    }  # fmt: skip
    return Works(**(defaults | parts))  # type: ignore[arg-type]


@dataclass(slots=True)
class Counting:
    """Packs lots in their order, `room_pieces` of them, on tiers of `per_tier_pieces`; counts its calls."""

    room_pieces: int = 4
    per_tier_pieces: int = 4
    calls: int = 0
    seen: list[tuple[Lot, ...]] = field(default_factory=list)

    def __call__(
        self, works: Works, kiln: Kiln, programme: Programme, lots: tuple[Lot, ...], *, budget: Budget, seed: int
    ) -> Load:
        """Return a load on as many tiers as the shelves that are there allow."""
        del budget
        self.calls += 1
        self.seen.append(lots)
        shelf = works.furniture.shelves[0]
        room = min(self.room_pieces, self.per_tier_pieces * shelf.sound_pieces)
        form = BodyForm(code="cup", shape="CUP", stage=programme.stage)
        taken, left_out = [], []
        for lot in lots:
            count = min(lot.pieces, room)
            room -= count
            taken += [lot.code] * count
            if count < lot.pieces:
                left_out.append(LeftOut(lot=lot.code, pieces=lot.pieces - count, rule="no room", reason="kiln is full"))
        tiers, settings = [], {}
        for number, start in enumerate(range(0, len(taken), self.per_tier_pieces)):
            here = taken[start : start + self.per_tier_pieces]
            code = f"S{len(here)}"
            settings[code] = Setting(
                code=code, shelf="S",
                standings=tuple(
                    Standing(place=k + 1, form="cup", x_mm=100.0 + 60.0 * k, y_mm=250.0, turn_deg=0.0)
                    for k in range(len(here))
                ),
            )  # fmt: skip
            tiers.append(
                Tier(
                    number=number + 1, base_mm=25.0 + 117.0 * number, shelf="S", posts=("P",), room_mm=102.0,
                    setting=code, fills=tuple(PlaceFill(place=k + 1, lot=c, pieces=1) for k, c in enumerate(here)),
                )
            )  # fmt: skip
        return Load(
            works=works.name, kiln=kiln.code, programme=programme.code, stage=programme.stage, car=None,
            forms=(form,), settings=tuple(settings.values()),
            stacks=(StackLoad(place="A", stub="B", tiers=tuple(tiers)),), left_out=tuple(left_out), value_share=1.0,
            seed=seed,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class EvenShare:
    """Every piece takes the same share of any kiln."""

    room_pieces: int = 4

    def piece_share(self, kiln: Kiln, programme: Programme, product: str, step: int) -> float:
        """One over the pieces of a full kiln."""
        del kiln, programme, product, step
        return 1.0 / self.room_pieces
