"""A small invented works and a load of it set by hand: what the sheets are tried on."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime

from kilnpack.model.furniture import (
    CatchDisc,
    Consumable,
    Furniture,
    PostType,
    Setter,
    ShelfLot,
    ShelfType,
    Spacer,
    Stilt,
    Stub,
)
from kilnpack.model.geometry import Disc, ExtrudedPart, HalfDisc, Rectangle, RoundedPolygon, TurnedPart
from kilnpack.model.kilns import (
    Car,
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
from kilnpack.model.loads import (
    BodyForm,
    ConePack,
    LeftOut,
    Load,
    PlaceFill,
    Setting,
    StackLoad,
    Standing,
    Tier,
)
from kilnpack.model.orders import Lot, OrderLine, Supply, WorkCalendar
from kilnpack.model.pieces import Glaze, Lid, Product, RouteStep, Shape, Stacking, StackWay, Stage
from kilnpack.model.programmes import Atmosphere, Programme, Segment
from kilnpack.model.settings import WorksSettings
from kilnpack.model.works import Works

SETTINGS = WorksSettings(overhang_most_mm=15.0)


def turned_shape(code: str, name: str, profile: tuple[tuple[float, float], ...], kg: float, **more: object) -> Shape:
    """A turned shape standing on its whole foot disc."""
    base = Shape(
        code=code,
        name=name,
        parts=(TurnedPart(profile_mm=profile),),
        foot=(Disc(r_mm=profile[0][1]),),
        dry_kg=kg * 1.1,
        biscuit_kg=kg,
        glazed_kg=kg * 1.15,
        biscuit_shrinkage_share=0.01,
        glost_shrinkage_share=0.1,
    )
    return replace(base, **more)  # type: ignore[arg-type]


CUP_PROFILE = ((0.0, 22.0), (4.0, 24.0), (30.0, 36.0), (62.0, 40.0))
HANDLE = ExtrudedPart(
    from_z_mm=12.0, to_z_mm=50.0, outline=(RoundedPolygon(corners_mm=((36.0, 0.0), (56.0, 0.0)), round_mm=5.0),)
)
SPOUT = ExtrudedPart(
    from_z_mm=30.0, to_z_mm=95.0, outline=(RoundedPolygon(corners_mm=((-55.0, 0.0), (-92.0, 0.0)), round_mm=8.0),)
)
POT_HANDLE = ExtrudedPart(
    from_z_mm=25.0, to_z_mm=95.0, outline=(RoundedPolygon(corners_mm=((58.0, 0.0), (92.0, 0.0)), round_mm=6.0),)
)
OVAL = RoundedPolygon(corners_mm=((-60.0, 0.0), (60.0, 0.0)), round_mm=70.0)
OVAL_FOOT = RoundedPolygon(corners_mm=((-55.0, 0.0), (55.0, 0.0)), round_mm=45.0)

SHAPES = (
    turned_shape(
        "CUP",
        "Reed cup",
        CUP_PROFILE,
        0.16,
        handle_deg=0.0,
        parts=(TurnedPart(profile_mm=CUP_PROFILE), HANDLE),
        stackings=(Stacking(way=StackWay.BOXED, most_pieces=2, load_limit_factor=3.0),),
    ),
    turned_shape("SAU", "Reed saucer", ((0.0, 36.0), (6.0, 42.0), (22.0, 74.0)), 0.18, flatware=True),
    turned_shape(
        "BOW",
        "Reed bowl",
        ((0.0, 34.0), (6.0, 36.0), (40.0, 66.0), (70.0, 78.0)),
        0.38,
        stackings=(Stacking(way=StackWay.NESTED, step_mm=18.0, most_pieces=5, load_limit_factor=5.0),),
    ),
    turned_shape(
        "PLA",
        "Fen plate 26",
        ((0.0, 72.0), (5.0, 76.0), (24.0, 130.0)),
        0.75,
        flatware=True,
        stackings=(Stacking(way=StackWay.PILED, step_mm=8.0, most_pieces=5, load_limit_factor=5.0, spacer="SP6"),),
    ),
    turned_shape("LID", "Heron lid", ((0.0, 30.0), (8.0, 36.0), (14.0, 20.0), (30.0, 9.0)), 0.1),
    turned_shape(
        "POT",
        "Heron teapot",
        ((0.0, 45.0), (40.0, 72.0), (80.0, 60.0), (98.0, 40.0)),
        0.8,
        handle_deg=0.0,
        parts=(TurnedPart(profile_mm=((0.0, 45.0), (40.0, 72.0), (80.0, 60.0), (98.0, 40.0))), SPOUT, POT_HANDLE),
        lid=Lid(shape="LID", seat_mm=94.0),
    ),
    turned_shape(
        "OVA",
        "Fen oval dish",
        ((0.0, 45.0), (30.0, 70.0)),
        0.6,
        parts=(
            ExtrudedPart(from_z_mm=0.0, to_z_mm=8.0, outline=(OVAL_FOOT,)),
            ExtrudedPart(from_z_mm=8.0, to_z_mm=42.0, outline=(OVAL,)),
        ),
        foot=(OVAL_FOOT,),
    ),
    turned_shape("EGG", "Reed egg cup", ((0.0, 18.0), (20.0, 12.0), (48.0, 24.0)), 0.07),
)

GLAZES = (
    Glaze(code="CLR", name="clear", softening_degc=1180.0, low_degc=1360.0, high_degc=1405.0),
    Glaze(code="CEL", name="celadon", softening_degc=1160.0, runny=True),
)


def route(supports: tuple[str, ...] = ()) -> tuple[RouteStep, ...]:
    """Biscuit, then glost."""
    return (
        RouteStep(stage=Stage.BISCUIT, programme="B960", scrap_share=0.03),
        RouteStep(
            stage=Stage.GLOST, programme="G1385", supports=supports, scrap_share=0.08, low_degc=1370.0, high_degc=1400.0
        ),
    )


def product(code: str, name: str, shape: str, glaze: str = "CLR", supports: tuple[str, ...] = ()) -> Product:
    """A product with the usual route."""
    return Product(code=code, name=name, shape=shape, glaze=glaze, route=route(supports), price_money=12.0)


PRODUCTS = (
    product("CUP-W", "Reed cup, white", "CUP"),
    product("CUP-C", "Reed cup, celadon", "CUP", "CEL", ("DISC90",)),
    product("SAU-W", "Reed saucer, white", "SAU"),
    product("BOW-W", "Reed bowl, white", "BOW"),
    product("BOW-C", "Reed bowl, celadon", "BOW", "CEL", ("DISC90",)),
    product("PLA-W", "Fen plate 26, white", "PLA", supports=("CRANK30",)),
    product("POT-W", "Heron teapot, white", "POT"),
    product("OVA-W", "Fen oval dish, white", "OVA"),
    product("EGG-W", "Reed egg cup, white", "EGG"),
)

SHELF = ShelfType(
    code="S480",
    name="silicon carbide 480 x 420",
    outline=Rectangle(w_mm=480.0, d_mm=420.0),
    posts_mm=((45.0, 45.0), (435.0, 45.0), (240.0, 375.0)),
    thickness_mm=12.0,
    material="nitride-bonded SiC",
    mass_kg=6.6,
    top_degc=1450.0,
    strength_mpa=40.0,
    lots=(
        ShelfLot(count_pieces=20),
        ShelfLot(count_pieces=5, bow_mm=2.5),
        ShelfLot(count_pieces=3, condemned_pieces=3),
    ),
)
HALF = ShelfType(
    code="H400",
    name="cordierite half round 400",
    outline=HalfDisc(x_mm=200.0, y_mm=0.0, r_mm=200.0),
    posts_mm=((45.0, 30.0), (355.0, 30.0), (200.0, 165.0)),
    thickness_mm=15.0,
    material="cordierite",
    mass_kg=1.9,
    top_degc=1300.0,
    strength_mpa=8.0,
    lots=(ShelfLot(count_pieces=12),),
)


def post(height_mm: float, count: int) -> PostType:
    """Square posts of one height."""
    return PostType(
        code=f"P{height_mm:.0f}",
        nominal_mm=height_mm,
        height_mm=height_mm,
        side_mm=40.0,
        material="SiC",
        mass_kg=height_mm * 0.004,
        top_degc=1450.0,
        count_pieces=count,
    )


FURNITURE = Furniture(
    shelves=(SHELF, HALF),
    posts=(post(50.0, 24), post(75.0, 30), post(100.0, 60), post(150.0, 24)),
    stubs=(Stub(code="ST30", height_mm=30.0, side_mm=40.0, mass_kg=0.1, top_degc=1450.0, count_pieces=16),),
    stilts=(
        Stilt(
            code="TRI40",
            height_mm=12.0,
            contact_r_mm=15.0,
            foot_r_mm=22.0,
            points=3,
            mass_kg=0.02,
            top_degc=1100.0,
            count_pieces=40,
        ),
    ),
    setters=(
        Setter(
            code="CRANK30",
            outer_mm=300.0,
            inner_mm=298.0,
            seat_mm=6.0,
            pitch_mm=36.0,
            most_pieces=4,
            mass_kg=1.1,
            top_degc=1450.0,
            count_pieces=16,
        ),
    ),
    catch_discs=(
        CatchDisc(code="DISC90", outer_mm=90.0, height_mm=9.0, mass_kg=0.12, top_degc=1450.0, count_pieces=30),
    ),
    spacers=(Spacer(code="SP6", height_mm=6.0, pieces_per_gap=3, mass_kg=0.01, top_degc=1300.0, count_pieces=60),),
    consumables=(
        Consumable(code="WAD", name="wads", per_tier_pieces=3, count_pieces=200),
        Consumable(code="CONE13", name="cones, set of three", per_load_pieces=2, count_pieces=50),
    ),
)

ELECTRIC = Energy(kind=EnergyKind.ELECTRIC, connected_kw=9.0, price_money_per_kwh=0.3, co2_kg_per_kwh=0.35)
GAS = Energy(kind=EnergyKind.NATURAL_GAS, connected_kw=180.0, price_money_per_kwh=0.09, co2_kg_per_kwh=0.2)

GLOST_KILN = Kiln(
    code="SHUTTLE",
    name="Glost shuttle",
    kind=ChamberKind.CAR,
    wall=WallKind.GAS,
    chamber=Rectangle(w_mm=1150.0, d_mm=1000.0),
    usable_height_mm=760.0,
    places=(
        StackPlace(code="A", shelf="S480", x_mm=70.0, y_mm=530.0),
        StackPlace(code="B", shelf="S480", x_mm=600.0, y_mm=530.0),
        StackPlace(code="C", shelf="S480", x_mm=70.0, y_mm=60.0),
        StackPlace(code="D", shelf="S480", x_mm=1080.0, y_mm=480.0, turn_deg=180.0),
    ),
    programmes=("G1385",),
    top_degc=1420.0,
    keep_outs=(
        KeepOut(
            code="T1",
            what="thermocouple",
            outline=Disc(x_mm=575.0, y_mm=985.0, r_mm=8.0),
            from_z_mm=380.0,
            to_z_mm=400.0,
        ),
    ),
    peepholes=(
        Peephole(code="low", x_mm=310.0, y_mm=0.0, z_mm=140.0, direction_deg=90.0),
        Peephole(code="high", x_mm=310.0, y_mm=0.0, z_mm=560.0, direction_deg=90.0),
    ),
    offsets=(
        OffsetMap(
            stage=Stage.GLOST,
            readings=(
                OffsetReading(x_mm=300.0, y_mm=300.0, z_mm=100.0, offset_k=-9.0),
                OffsetReading(x_mm=300.0, y_mm=300.0, z_mm=600.0, offset_k=7.0),
            ),
            spread_k=4.0,
        ),
    ),
    energy=GAS,
    cars=(Car(code="CAR1", deck_kg=420.0, deck_material="cordierite"),),
    usual_ware_kg=90.0,
)
ROUND_KILN = Kiln(
    code="ROUND",
    name="Round top loader",
    kind=ChamberKind.TOP,
    wall=WallKind.ELECTRIC,
    chamber=Disc(x_mm=240.0, y_mm=240.0, r_mm=235.0),
    usable_height_mm=450.0,
    places=(
        StackPlace(code="back", shelf="H400", x_mm=40.0, y_mm=243.0),
        StackPlace(code="front", shelf="H400", x_mm=440.0, y_mm=237.0, turn_deg=180.0),
    ),
    programmes=("B960",),
    top_degc=1280.0,
    energy=ELECTRIC,
    usual_ware_kg=15.0,
)

PROGRAMMES = (
    Programme(
        code="B960",
        name="Biscuit 960",
        stage=Stage.BISCUIT,
        atmosphere=Atmosphere.OXIDATION,
        recorded_fire_h=14.0,
        recorded_cool_h=16.0,
        recorded_kg=40.0,
        segments=(
            Segment(to_degc=120.0, rate_k_h=40.0, hold_h=2.0),
            Segment(to_degc=600.0, rate_k_h=80.0),
            Segment(to_degc=960.0, rate_k_h=120.0, hold_h=0.5),
        ),
    ),
    Programme(
        code="G1385",
        name="Glost 1385",
        stage=Stage.GLOST,
        atmosphere=Atmosphere.REDUCTION,
        recorded_fire_h=20.0,
        recorded_cool_h=11.0,
        recorded_kg=420.0,
        cool_outside_h=8.0,
        segments=(
            Segment(to_degc=600.0, rate_k_h=120.0),
            Segment(to_degc=1040.0, rate_k_h=110.0, hold_h=1.0, atmosphere=Atmosphere.OXIDATION),
            Segment(to_degc=1385.0, rate_k_h=60.0, hold_h=1.0, atmosphere=Atmosphere.REDUCTION),
            Segment(to_degc=1000.0, rate_k_h=200.0),
        ),
    ),
)

LOTS = (
    Lot(code="L01", product="CUP-W", step=1, pieces=60, order_line="O1-1"),
    Lot(code="L02", product="CUP-W", step=1, pieces=40, order_line="O2-1"),
    Lot(code="L03", product="SAU-W", step=1, pieces=60, order_line="O1-2"),
    Lot(code="L04", product="BOW-W", step=1, pieces=40),
    Lot(code="L05", product="BOW-C", step=1, pieces=20, order_line="O2-2"),
    Lot(code="L06", product="PLA-W", step=1, pieces=20, order_line="O3-1"),
    Lot(code="L07", product="POT-W", step=1, pieces=8, order_line="O3-2"),
    Lot(code="L08", product="OVA-W", step=1, pieces=8, order_line="O3-3"),
    Lot(code="L09", product="EGG-W", step=1, pieces=60),
    Lot(code="B01", product="BOW-W", step=0, pieces=30),
    Lot(code="B02", product="CUP-W", step=0, pieces=30),
    Lot(code="B03", product="EGG-W", step=0, pieces=12),
    Lot(code="B04", product="PLA-W", step=0, pieces=12),
)


def line(code: str, item: str, quantity: int) -> OrderLine:
    """An order line of an invented customer."""
    return OrderLine(
        code=code,
        order=code.split("-", maxsplit=1)[0],
        customer="Lantern Inn",
        item=item,
        quantity_pieces=quantity,
        due=date(2026, 12, 14),
    )


WORKS = Works(
    name="Marsh Lane Porcelain",
    now=datetime(2026, 11, 30, 7, 0, tzinfo=UTC),
    settings=SETTINGS,
    calendar=WorkCalendar(),
    supply=Supply(),
    furniture=FURNITURE,
    kilns=(GLOST_KILN, ROUND_KILN),
    programmes=PROGRAMMES,
    shapes=SHAPES,
    glazes=GLAZES,
    decorations=(),
    products=PRODUCTS,
    sets=(),
    lines=(
        line("O1-1", "CUP-W", 55),
        line("O1-2", "SAU-W", 55),
        line("O2-1", "CUP-W", 28),
        line("O2-2", "BOW-C", 18),
        line("O3-1", "PLA-W", 18),
        line("O3-2", "POT-W", 7),
        line("O3-3", "OVA-W", 7),
    ),
    lots=LOTS,
)

CUP, SAU, BOW = "cup", "saucer", "bowl"
FORMS = (
    BodyForm(code=CUP, shape="CUP", stage=Stage.GLOST),
    BodyForm(code=SAU, shape="SAU", stage=Stage.GLOST),
    BodyForm(code=BOW, shape="BOW", stage=Stage.GLOST),
    BodyForm(code="bowl on disc", shape="BOW", stage=Stage.GLOST, support="DISC90"),
    BodyForm(code="plates in crank", shape="PLA", stage=Stage.GLOST, pieces=3, support="CRANK30"),
    BodyForm(code="teapot", shape="POT", stage=Stage.GLOST),
    BodyForm(code="oval", shape="OVA", stage=Stage.GLOST),
    BodyForm(code="egg", shape="EGG", stage=Stage.GLOST),
)


def standings(rows: tuple[tuple[str, float, float, float], ...]) -> tuple[Standing, ...]:
    """Number the bodies in the order given."""
    return tuple(
        Standing(place=k, form=form, x_mm=x, y_mm=y, turn_deg=turn)
        for k, (form, x, y, turn) in enumerate(rows, start=1)
    )


def cup_rows() -> tuple[tuple[str, float, float, float], ...]:
    """Cups in rows from the back to the front, handles turned into the gaps, egg cups between the front posts."""
    back = tuple((CUP, x, 362.0, 315.0) for x in (60.0, 166.0, 314.0, 420.0))
    middle = tuple((CUP, 60.0 + 118.0 * k, 255.0, 315.0) for k in range(4))
    front = tuple((CUP, 60.0 + 118.0 * k, 148.0, 315.0) for k in range(4))
    eggs = tuple(("egg", 104.0 + 68.0 * k, 46.0, 0.0) for k in range(5))
    return back + middle + front + eggs


SETTING_ROWS = {
    "S1": cup_rows(),
    "S2": (
        ("bowl on disc", 100.0, 320.0, 0.0),
        (BOW, 380.0, 320.0, 0.0),
        ("egg", 240.0, 290.0, 0.0),
        ("egg", 240.0, 225.0, 0.0),
        (BOW, 150.0, 130.0, 0.0),
        ("bowl on disc", 335.0, 130.0, 0.0),
    ),
    "S3": (
        (SAU, 400.0, 330.0, 0.0),
        ("plates in crank", 190.0, 185.0, 0.0),
        ("egg", 400.0, 210.0, 0.0),
        ("egg", 400.0, 140.0, 0.0),
    ),
    "S4": (("teapot", 110.0, 300.0, 60.0), ("teapot", 365.0, 300.0, 120.0), ("oval", 240.0, 86.0, 0.0)),
    "S5": ((SAU, 85.0, 325.0, 0.0), (SAU, 395.0, 325.0, 0.0), (SAU, 155.0, 110.0, 0.0), (SAU, 331.0, 110.0, 0.0)),
    "S6": ((SAU, 85.0, 325.0, 0.0), (SAU, 395.0, 325.0, 0.0), (SAU, 110.0, 150.0, 0.0), (SAU, 370.0, 150.0, 0.0)),
}


def setting(code: str, shelf: str = "S480") -> Setting:
    """A setting of this module by its code."""
    return Setting(code=code, shelf=shelf, standings=standings(SETTING_ROWS[code]))


LOT_OF = {
    CUP: "L01",
    SAU: "L03",
    BOW: "L04",
    "bowl on disc": "L05",
    "plates in crank": "L06",
    "teapot": "L07",
    "oval": "L08",
    "egg": "L09",
}


def fills(code: str, **other_lots: str) -> tuple[PlaceFill, ...]:
    """Fill every place from the usual lot of its form, or from another one named for the form."""
    pieces = {form.code: form.pieces for form in FORMS}
    return tuple(
        PlaceFill(place=k, lot=other_lots.get(row[0], LOT_OF[row[0]]), pieces=pieces[row[0]])
        for k, row in enumerate(SETTING_ROWS[code], start=1)
    )


def stack(place: str, plan: tuple[tuple[str, tuple[str, ...], dict[str, str]], ...]) -> StackLoad:
    """Build the tiers of a stack from the stubs up, heights as the model counts them."""
    heights = {post.code: post.height_mm for post in FURNITURE.posts}
    base, tiers = 30.0, []
    for number, (code, posts, lots) in enumerate(plan, start=1):
        column = math.fsum(heights[p] for p in posts)
        room = column if posts else GLOST_KILN.usable_height_mm - SETTINGS.top_clear_mm - base - SHELF.thickness_mm
        tiers.append(
            Tier(
                number=number,
                base_mm=base,
                shelf="S480",
                posts=posts,
                room_mm=room,
                setting=code,
                fills=fills(code, **lots),
                flat=code == "S5",
            )
        )
        base += SHELF.thickness_mm + column + SETTINGS.tier_allowance_mm
    return StackLoad(place=place, stub="ST30", tiers=tuple(tiers))


LOAD = Load(
    works=WORKS.name,
    kiln="SHUTTLE",
    programme="G1385",
    stage=Stage.GLOST,
    car="CAR1",
    forms=FORMS,
    settings=tuple(setting(code) for code in SETTING_ROWS),
    stacks=(
        stack(
            "A",
            (("S1", ("P100",), {}), ("S1", ("P100",), {}), ("S5", ("P50",), {}), ("S3", ("P150",), {}), ("S4", (), {})),
        ),
        stack(
            "B",
            (
                ("S1", ("P75", "P50"), {}),
                ("S2", ("P75", "P50"), {}),
                ("S2", ("P75", "P50"), {}),
                ("S1", (), {CUP: "L02"}),
            ),
        ),
        stack(
            "C", (("S6", ("P100", "P50"), {}), ("S5", ("P50",), {}), ("S1", ("P100",), {CUP: "L02"}), ("S4", (), {}))
        ),
        stack("D", (("S1", ("P100",), {}), ("S2", ("P75", "P50"), {}), ("S1", (), {CUP: "L02"}))),
    ),
    cone_packs=(
        ConePack(peephole="low", place="C", tier=1, x_mm=240.0, y_mm=190.0, turn_deg=90.0, lift_mm=58.0),
        ConePack(peephole="high", place="C", tier=4, x_mm=240.0, y_mm=190.0, turn_deg=90.0, lift_mm=136.0),
    ),
    left_out=(
        LeftOut(
            lot="L07", pieces=4, rule="C3", reason="6 mm too tall for posts of 150", change="four more posts of 175"
        ),
    ),
    value_share=0.84,
    seed=1,
)

LOW_ROWS = (("boxed", 118.0, 52.0, 90.0), ("boxed", 282.0, 52.0, 90.0), ("egg", 200.0, 70.0, 0.0))
HIGH_ROWS = (("nest", 200.0, 95.0, 0.0), ("boxed", 70.0, 50.0, 90.0), ("boxed", 330.0, 50.0, 90.0))


def round_load() -> Load:
    """A biscuit load of the round kiln: half shelves, one of them turned round, raw ware nested and boxed."""
    forms = (
        BodyForm(code="nest", shape="BOW", stage=Stage.BISCUIT, way=StackWay.NESTED, pieces=3),
        BodyForm(code="boxed", shape="CUP", stage=Stage.BISCUIT, way=StackWay.BOXED, pieces=2),
        BodyForm(code="egg", shape="EGG", stage=Stage.BISCUIT),
    )
    low = Setting(code="H1", shelf="H400", standings=standings(LOW_ROWS))
    high = Setting(code="H2", shelf="H400", standings=standings(HIGH_ROWS))
    tiers = (
        Tier(
            number=1,
            base_mm=30.0,
            shelf="H400",
            posts=("P150", "P50"),
            room_mm=200.0,
            setting="H1",
            fills=(
                PlaceFill(place=1, lot="B02", pieces=2),
                PlaceFill(place=2, lot="B02", pieces=2),
                PlaceFill(place=3, lot="B03", pieces=1),
            ),
        ),
        Tier(
            number=2,
            base_mm=247.0,
            shelf="H400",
            posts=(),
            room_mm=163.0,
            setting="H2",
            fills=(
                PlaceFill(place=1, lot="B01", pieces=3),
                PlaceFill(place=2, lot="B02", pieces=2),
                PlaceFill(place=3, lot="B02", pieces=2),
            ),
        ),
    )
    return Load(
        works=WORKS.name,
        kiln="ROUND",
        programme="B960",
        stage=Stage.BISCUIT,
        car=None,
        forms=forms,
        settings=(low, high),
        stacks=(
            StackLoad(place="back", stub="ST30", tiers=tiers),
            StackLoad(place="front", stub="ST30", tiers=tiers),
        ),
        value_share=1.0,
        seed=1,
    )


def piled_load() -> Load:
    """Two piles of raw plates with spacers on one half shelf, nothing else."""
    form = BodyForm(code="pile", shape="PLA", stage=Stage.BISCUIT, way=StackWay.PILED, pieces=5, spacer="SP6")
    rows = (("pile", 160.0, 170.0, 0.0), ("pile", 310.0, 170.0, 0.0))
    fills_of = tuple(PlaceFill(place=k, lot="B04", pieces=5) for k in (1, 2))
    base = round_load()
    tier = replace(base.stacks[0].tiers[0], setting="P1", fills=fills_of, posts=(), shelf="S480")
    return replace(
        base,
        forms=(form,),
        settings=(Setting(code="P1", shelf="S480", standings=standings(rows)),),
        stacks=(StackLoad(place="back", stub=None, tiers=(tier,)),),
    )


def tall_posts_works() -> Works:
    """The works with its posts of 150 measured half a millimetre short."""
    posts = tuple(replace(post, height_mm=149.5) if post.code == "P150" else post for post in FURNITURE.posts)
    return replace(WORKS, furniture=replace(FURNITURE, posts=posts))
