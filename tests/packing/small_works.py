"""Small invented works for the tests of the packer."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta

from kilnpack.model.furniture import CatchDisc, Furniture, PostType, Setter, ShelfLot, ShelfType, Spacer, Stilt, Stub
from kilnpack.model.geometry import Disc, ExtrudedPart, HalfDisc, Point, Rectangle, Region, RoundedPolygon, TurnedPart
from kilnpack.model.kilns import (
    ChamberKind,
    Energy,
    EnergyKind,
    KeepOut,
    Kiln,
    OffsetMap,
    OffsetReading,
    Peephole,
    StackPlace,
    WallKind,
)
from kilnpack.model.orders import Lot, OrderLine, Supply, WorkCalendar
from kilnpack.model.pieces import (
    Decoration,
    Glaze,
    Product,
    RouteStep,
    Shape,
    Stacking,
    StackWay,
    Stage,
)
from kilnpack.model.programmes import Atmosphere, Programme, Segment
from kilnpack.model.settings import WorksSettings
from kilnpack.model.works import Works

NOW = datetime(2026, 3, 2, 8, tzinfo=UTC)


def turned_shape(code: str, height_mm: float, foot_mm: float, rim_mm: float, **more: object) -> Shape:
    """Return a turned shape whose wall runs straight from foot to rim."""
    fields: dict[str, object] = {
        "code": code,
        "name": code,
        "parts": (TurnedPart(profile_mm=((0.0, foot_mm), (height_mm, rim_mm))),),
        "foot": (Disc(r_mm=foot_mm),),
        "dry_kg": 0.4,
        "biscuit_kg": 0.36,
        "glazed_kg": 0.4,
        "biscuit_shrinkage_share": 0.01,
        "glost_shrinkage_share": 0.1,
        **more,
    }
    return Shape(**fields)  # type: ignore[arg-type]


def mug(code: str, height_mm: float, r_mm: float) -> Shape:
    """Return a mug with a handle."""
    handle = RoundedPolygon(corners_mm=((0.0, 0.0), (r_mm + 25.0, 0.0)), round_mm=6.0)
    return turned_shape(
        code,
        height_mm,
        r_mm * 0.8,
        r_mm,
        parts=(
            TurnedPart(profile_mm=((0.0, r_mm * 0.8), (height_mm, r_mm))),
            ExtrudedPart(from_z_mm=height_mm * 0.3, to_z_mm=height_mm * 0.8, outline=(handle,)),
        ),
        handle_deg=0.0,
    )


SHAPES = (
    turned_shape("cup", 60, 25, 40, stackings=(Stacking(way=StackWay.BOXED, most_pieces=2, load_limit_factor=3.0),)),
    turned_shape(
        "bowl", 55, 30, 70, stackings=(Stacking(way=StackWay.NESTED, step_mm=14, most_pieces=4, load_limit_factor=4.0),)
    ),
    turned_shape(
        "plate",
        22,
        60,
        105,
        flatware=True,
        stackings=(
            Stacking(
                way=StackWay.PILED, step_mm=8, most_pieces=5, load_limit_factor=5.0, spacer="pin", bare_most_pieces=2
            ),
        ),
    ),
    turned_shape("vase", 160, 30, 45),
    mug("mug", 85, 38),
    turned_shape(
        "tray",
        28,
        50,
        90,
        parts=(
            ExtrudedPart(
                from_z_mm=0.0,
                to_z_mm=28.0,
                outline=(RoundedPolygon(corners_mm=((-60, -30), (60, -30), (60, 30), (-60, 30)), round_mm=15.0),),
            ),
        ),
        foot=(RoundedPolygon(corners_mm=((-50, -20), (50, -20), (50, 20), (-50, 20)), round_mm=10.0),),
    ),
)


def route(shape: Shape, *, foot_support: str | None, low: float | None, high: float | None) -> tuple[RouteStep, ...]:
    """Return biscuit, glost and one decoration."""
    support = (foot_support,) if foot_support else ()
    return (
        RouteStep(stage=Stage.BISCUIT, programme="B", scrap_share=0.03),
        RouteStep(stage=Stage.GLOST, programme="G", scrap_share=0.08, supports=support, low_degc=low, high_degc=high),
        RouteStep(stage=Stage.DECORATION, programme="D", decorations=("gold",), scrap_share=0.03),
    )


def shelf_type(code: str, outline: Region, posts: tuple[Point, ...], count: int) -> ShelfType:
    """Return a silicon carbide shelf."""
    return ShelfType(
        code=code,
        name=code,
        outline=outline,
        posts_mm=posts,
        thickness_mm=12.0,
        material="sic",
        mass_kg=6.0,
        top_degc=1600.0,
        strength_mpa=40.0,
        lots=(ShelfLot(count_pieces=count - 1), ShelfLot(count_pieces=2, condemned_pieces=1, bow_mm=2.0)),
    )


def furniture(rng: random.Random) -> Furniture:
    """Return shelves, posts and supports that bind."""
    posts = ((45.0, 45.0), (355.0, 45.0), (45.0, 305.0), (355.0, 305.0))
    half_posts = ((60.0, 45.0), (340.0, 45.0), (200.0, 150.0))
    return Furniture(
        shelves=(
            shelf_type("rect", Rectangle(w_mm=400.0, d_mm=350.0), posts, rng.randint(5, 9)),
            shelf_type("half", HalfDisc(x_mm=200.0, r_mm=200.0), half_posts, rng.randint(4, 8)),
        ),
        posts=tuple(
            PostType(
                code=f"P{height}",
                nominal_mm=height,
                height_mm=height - 0.4,
                side_mm=40.0,
                material="sic",
                mass_kg=0.3,
                top_degc=1600.0,
                count_pieces=rng.randint(6, 20),
            )
            for height in (40, 50, 75, 100, 150)
        ),
        stubs=(Stub(code="stub", height_mm=40.0, side_mm=40.0, mass_kg=0.2, top_degc=1600.0, count_pieces=16),),
        stilts=(
            Stilt(
                code="stilt",
                height_mm=12.0,
                contact_r_mm=15.0,
                foot_r_mm=22.0,
                points=3,
                mass_kg=0.05,
                top_degc=1100.0,
                count_pieces=20,
            ),
        ),
        setters=(
            Setter(
                code="crank",
                outer_mm=260.0,
                inner_mm=250.0,
                seat_mm=6.0,
                pitch_mm=45.0,
                most_pieces=4,
                mass_kg=0.8,
                top_degc=1600.0,
                count_pieces=10,
            ),
        ),
        catch_discs=(
            CatchDisc(code="disc", outer_mm=110.0, height_mm=9.0, mass_kg=0.15, top_degc=1600.0, count_pieces=15),
        ),
        spacers=(Spacer(code="pin", height_mm=4.0, pieces_per_gap=3, mass_kg=0.01, top_degc=1600.0, count_pieces=30),),
    )


def energy() -> Energy:
    """Return some electric supply."""
    return Energy(kind=EnergyKind.ELECTRIC, connected_kw=60.0, price_money_per_kwh=0.2, co2_kg_per_kwh=0.3)


def front_kiln(rng: random.Random) -> Kiln:
    """Return a kiln with two rectangular stacks, a thermocouple and two cone packs."""
    readings = tuple(
        OffsetReading(x_mm=x, y_mm=y, z_mm=z, offset_k=rng.uniform(-8.0, 8.0))
        for x in (100.0, 900.0)
        for y in (50.0, 450.0)
        for z in (50.0, 650.0)
    )
    return Kiln(
        code="K1",
        name="front loader",
        kind=ChamberKind.FRONT,
        wall=WallKind.ELECTRIC,
        chamber=Rectangle(w_mm=1000.0, d_mm=500.0),
        usable_height_mm=rng.choice([420.0, 560.0, 700.0]),
        places=(
            StackPlace(code="A", shelf="rect", x_mm=75.0, y_mm=75.0),
            StackPlace(code="B", shelf="rect", x_mm=925.0, y_mm=425.0, turn_deg=180.0),
        ),
        programmes=("B", "G", "D"),
        top_degc=1420.0,
        keep_outs=(
            KeepOut(
                code="T1",
                what="thermocouple",
                outline=Disc(x_mm=500.0, y_mm=500.0, r_mm=6.0),
                from_z_mm=250.0,
                to_z_mm=262.0,
            ),
        ),
        peepholes=(
            Peephole(code="low", x_mm=0.0, y_mm=250.0, z_mm=rng.choice([130.0, 180.0]), direction_deg=0.0),
            Peephole(code="high", x_mm=1000.0, y_mm=250.0, z_mm=rng.choice([240.0, 300.0]), direction_deg=180.0),
        ),
        offsets=(OffsetMap(stage=Stage.GLOST, readings=readings),),
        energy=energy(),
        usual_ware_kg=60.0,
        least_ware_kg=5.0,
    )


def round_kiln() -> Kiln:
    """Return a round kiln with two half discs."""
    return Kiln(
        code="K2",
        name="top loader",
        kind=ChamberKind.TOP,
        wall=WallKind.ELECTRIC,
        chamber=Disc(x_mm=270.0, y_mm=270.0, r_mm=270.0),
        usable_height_mm=480.0,
        wall_clear_mm=25.0,
        places=(
            StackPlace(code="back", shelf="half", x_mm=70.0, y_mm=273.0),
            StackPlace(code="front", shelf="half", x_mm=470.0, y_mm=267.0, turn_deg=180.0),
        ),
        programmes=("B", "G", "D"),
        top_degc=1420.0,
        peepholes=(
            Peephole(code="back", x_mm=7.0, y_mm=330.0, z_mm=140.0, direction_deg=0.0, pack_away_mm=200.0),
            Peephole(code="front", x_mm=533.0, y_mm=210.0, z_mm=300.0, direction_deg=180.0, pack_away_mm=200.0),
        ),
        energy=energy(),
        usual_ware_kg=20.0,
    )


def programme(code: str, stage: Stage, peak_degc: float) -> Programme:
    """Return a programme of one rise."""
    return Programme(
        code=code,
        name=code,
        stage=stage,
        segments=(Segment(to_degc=peak_degc, rate_k_h=120.0, hold_h=0.5),),
        atmosphere=Atmosphere.OXIDATION,
        recorded_fire_h=12.0,
        recorded_cool_h=10.0,
        recorded_kg=60.0,
    )


def random_works(seed: int, *, overhang_mm: float = 0.0) -> Works:
    """Return a small works: same seed, same works."""
    rng = random.Random(seed)
    products, lines = [], []
    lots: list[Lot] = []
    for number, shape in enumerate(SHAPES):
        for glaze in ("white", rng.choice(["red", "celadon"])):
            code = f"{shape.code}-{glaze}"
            support = {"plate": "crank"}.get(shape.code) if rng.random() < 0.5 else None
            if glaze == "celadon" and shape.code in {"cup", "bowl"}:
                support = "disc"
            low, high = (1375.0, 1425.0) if glaze == "red" else (None, None)
            products.append(
                Product(
                    code=code,
                    name=code,
                    shape=shape.code,
                    glaze=glaze,
                    decorations=("gold",),
                    route=route(shape, foot_support=support, low=low, high=high),
                    price_money=10.0,
                )
            )
            line = f"L{number}-{glaze}"
            lines.append(
                OrderLine(
                    code=line,
                    order=f"O{number}",
                    customer="C",
                    item=code,
                    quantity_pieces=40,
                    due=date(2026, 3, 2) + timedelta(days=rng.randint(-3, 40)),
                    priority_factor=rng.choice([1.0, 2.0]),
                )
            )
            lots.extend(
                Lot(
                    code=f"{code}-{step}",
                    product=code,
                    step=step,
                    pieces=rng.randint(1, 24),
                    order_line=line if rng.random() < 0.8 else None,
                )
                for step in range(3)
            )
    return Works(
        name="brook pottery",
        now=NOW,
        settings=WorksSettings(overhang_most_mm=overhang_mm, settings_most=rng.choice([3, 6, 12])),
        calendar=WorkCalendar(),
        supply=Supply(),
        furniture=furniture(rng),
        kilns=(front_kiln(rng), round_kiln()),
        programmes=(
            programme("B", Stage.BISCUIT, 960.0),
            programme("G", Stage.GLOST, 1400.0),
            programme("D", Stage.DECORATION, 800.0),
        ),
        shapes=SHAPES,
        glazes=(
            Glaze(code="white", name="white", softening_degc=1250.0, vapour="plain"),
            Glaze(code="red", name="red", softening_degc=1250.0, vapour="copper"),
            Glaze(code="celadon", name="celadon", softening_degc=1240.0, runny=True),
        ),
        decorations=(Decoration(code="gold", name="gold", programme="D"),),
        products=tuple(products),
        sets=(),
        lines=tuple(lines),
        lots=tuple(lots),
    )


def lots_for(works: Works, code: str) -> tuple[Lot, ...]:
    """Return the lots that wait for a programme."""
    return tuple(lot for lot in works.lots if works.product(lot.product).route[lot.step].programme == code)
