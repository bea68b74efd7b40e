"""A works and loads made by hand, with round numbers: no shrinkage, no scatter, two stacks of two tiers.

Shelf 400 x 350 x 10 mm on four posts; stubs of 30 mm, posts of 150 mm: the lower shelf's upper side lies at 40 mm, the
upper one's at 202 mm. Cones stand on the lower tiers, their boxes from 110 to 190 mm.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

from kilnpack.model.furniture import CatchDisc, Furniture, PostType, Setter, ShelfLot, ShelfType, Spacer, Stilt, Stub
from kilnpack.model.geometry import Disc, ExtrudedPart, Rectangle, RoundedPolygon, TurnedPart
from kilnpack.model.kilns import Car, ChamberKind, Energy, EnergyKind, Kiln, Peephole, StackPlace, WallKind
from kilnpack.model.loads import BodyForm, ConePack, Load, PlaceFill, Setting, StackLoad, Standing, Tier
from kilnpack.model.orders import Lot, OrderLine, Supply, WorkCalendar
from kilnpack.model.pieces import (
    Decoration,
    Glaze,
    Lid,
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

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

POSTS = ((60.0, 60.0), (340.0, 60.0), (340.0, 290.0), (60.0, 290.0))


def _shape(code: str, profile: tuple[tuple[float, float], ...], foot_mm: float, kg: float, **more: Any) -> Shape:
    parts = (TurnedPart(profile_mm=profile), *more.pop("handles", ()))
    fields: dict[str, Any] = {
        "code": code,
        "name": code,
        "parts": parts,
        "foot": (Disc(r_mm=foot_mm),),
        "dry_kg": kg,
        "biscuit_kg": kg,
        "glazed_kg": kg,
        "biscuit_shrinkage_share": 0.0,
        "glost_shrinkage_share": 0.0,
    }
    return Shape(**(fields | more))


HANDLE = ExtrudedPart(
    from_z_mm=20, to_z_mm=70, outline=(RoundedPolygon(corners_mm=((35.0, 0.0), (60.0, 0.0)), round_mm=6),)
)
SHAPES = (
    _shape(
        "CUP",
        ((0, 30), (80, 40)),
        30,
        0.3,
        stackings=(Stacking(way=StackWay.BOXED, most_pieces=2, load_limit_factor=3),),
    ),
    _shape("MUG", ((0, 35), (90, 35)), 35, 0.4, handles=(HANDLE,), handle_deg=0.0),
    _shape(
        "PLATE",
        ((0, 35), (5, 35), (25, 60)),
        35,
        0.4,
        flatware=True,
        stackings=(
            Stacking(
                way=StackWay.PILED, step_mm=8, most_pieces=6, load_limit_factor=5, spacer="SP", bare_most_pieces=3
            ),
        ),
    ),
    _shape("SAUCER", ((0, 30), (15, 50)), 30, 0.2),
    _shape(
        "BOWL",
        ((0, 25), (60, 70)),
        25,
        0.5,
        stackings=(Stacking(way=StackWay.NESTED, step_mm=20, most_pieces=4, load_limit_factor=3),),
    ),
    _shape("POT", ((0, 40), (70, 50)), 40, 0.6, lid=Lid(shape="LID", seat_mm=70)),
    _shape("LID", ((0, 20), (20, 5)), 20, 0.1),
)
GLAZES = (
    Glaze(code="CLEAR", name="clear", softening_degc=1200),
    Glaze(code="TIN", name="tin white", softening_degc=1200, vapour="tin white"),
    Glaze(code="RUN", name="runny", softening_degc=1200, runny=True),
)
DECORATIONS = (Decoration(code="GREEN", name="chrome green", programme="DEC", vapour="chrome"),)


def _programme(code: str, stage: Stage, peak_degc: float, atmosphere: Atmosphere) -> Programme:
    return Programme(
        code=code,
        name=code,
        stage=stage,
        segments=(Segment(to_degc=peak_degc, rate_k_h=100),),
        atmosphere=atmosphere,
        recorded_fire_h=14,
        recorded_cool_h=10,
        recorded_kg=100,
    )


PROGRAMMES = (
    _programme("BIS", Stage.BISCUIT, 980, Atmosphere.OXIDATION),
    _programme("GLO", Stage.GLOST, 1390, Atmosphere.REDUCTION),
    _programme("DEC", Stage.DECORATION, 800, Atmosphere.OXIDATION),
    _programme("RED", Stage.GLOST, 1390, Atmosphere.NEUTRAL),
    _programme("SLOW", Stage.GLOST, 1390, Atmosphere.REDUCTION),
)


def _product(shape: str, glaze: str = "CLEAR", glost: str = "GLO") -> Product:
    route = (
        RouteStep(stage=Stage.BISCUIT, programme="BIS", scrap_share=0),
        RouteStep(stage=Stage.GLOST, programme=glost, scrap_share=0),
        RouteStep(stage=Stage.DECORATION, programme="DEC", scrap_share=0),
    )
    return Product(code=shape, name=shape, shape=shape, glaze=glaze, route=route)


def small_works() -> Works:
    """Return the works."""
    products = [_product(shape.code) for shape in SHAPES]
    lots = [
        Lot(code=f"{product.code}{step}", product=product.code, step=step, pieces=20)
        for product in products
        for step in range(3)
    ]
    shelf = ShelfType(
        code="S",
        name="shelf",
        outline=Rectangle(w_mm=400, d_mm=350),
        posts_mm=POSTS,
        thickness_mm=10,
        material="SiC",
        mass_kg=4,
        top_degc=1450,
        strength_mpa=50,
        lots=(ShelfLot(count_pieces=6, bow_mm=0.5),),
    )
    post = PostType(
        code="P150",
        nominal_mm=150,
        height_mm=150,
        side_mm=40,
        material="mullite",
        mass_kg=0.4,
        top_degc=1450,
        count_pieces=12,
    )
    furniture = Furniture(
        shelves=(shelf, replace(shelf, code="S2", posts_mm=tuple((x, y + 6) for x, y in POSTS))),
        posts=(
            post,
            replace(post, code="P100", height_mm=100),
            replace(post, code="P50", height_mm=50),
        ),
        stubs=(Stub(code="ST30", height_mm=30, side_mm=40, mass_kg=0.1, top_degc=1450, count_pieces=8),),
        stilts=(
            Stilt(
                code="STILT",
                height_mm=12,
                contact_r_mm=20,
                foot_r_mm=30,
                points=3,
                mass_kg=0.05,
                top_degc=1450,
                count_pieces=9,
            ),
        ),
        setters=(
            Setter(
                code="SET",
                outer_mm=150,
                inner_mm=130,
                seat_mm=10,
                pitch_mm=30,
                most_pieces=3,
                mass_kg=0.5,
                top_degc=1450,
                count_pieces=9,
            ),
        ),
        catch_discs=(CatchDisc(code="DISC", outer_mm=90, height_mm=8, mass_kg=0.1, top_degc=1450, count_pieces=9),),
        spacers=(Spacer(code="SP", height_mm=4, pieces_per_gap=3, mass_kg=0.01, top_degc=1450, count_pieces=90),),
    )
    holes = tuple(
        Peephole(code=code, x_mm=x, y_mm=0, z_mm=150, direction_deg=90, pack_away_mm=200)
        for code, x in (("H1", 260), ("H2", 740))
    )
    kiln = Kiln(
        code="K",
        name="kiln",
        kind=ChamberKind.FRONT,
        wall=WallKind.ELECTRIC,
        chamber=Rectangle(w_mm=1000, d_mm=600),
        usable_height_mm=800,
        places=(
            StackPlace(code="A", shelf="S", x_mm=60, y_mm=125),
            StackPlace(code="B", shelf="S", x_mm=540, y_mm=125),
        ),
        programmes=("BIS", "GLO", "DEC"),
        top_degc=1450,
        peepholes=holes,
        energy=Energy(kind=EnergyKind.ELECTRIC, connected_kw=40, price_money_per_kwh=0.2, co2_kg_per_kwh=0.3),
        cars=(Car(code="CAR", deck_kg=100, deck_material="fibre"),),
        usual_ware_kg=20,
    )
    line = OrderLine(code="1/1", order="1", customer="a shop", item="CUP", quantity_pieces=20, due=date(2030, 3, 1))
    return Works(
        name="Test works",
        now=datetime(2030, 1, 7, 6, tzinfo=UTC),
        settings=WorksSettings(size_scatter_share=0.0, overhang_most_mm=10.0),
        calendar=WorkCalendar(),
        supply=Supply(),
        furniture=furniture,
        kilns=(kiln,),
        programmes=PROGRAMMES,
        shapes=SHAPES,
        glazes=GLAZES,
        decorations=DECORATIONS,
        products=tuple(products),
        sets=(),
        lines=(line,),
        lots=tuple(lots),
    )


def small_load(stage: Stage = Stage.GLOST) -> Load:
    """Return a load of the stage: cups and a mug below, saucer, bowl and plate on the open tops."""
    step = list(Stage).index(stage)
    forms = tuple(BodyForm(code=shape.code, shape=shape.code, stage=stage) for shape in SHAPES)
    low = (("CUP", 130, 200), ("CUP", 270, 200), ("MUG", 200, 290))
    high = (("SAUCER", 130, 120), ("BOWL", 230, 120), ("PLATE", 150, 240))
    settings = (_setting("LOW", low), _setting("HIGH", high))

    def tier(number: int, base_mm: float, setting: Setting) -> Tier:
        fills = tuple(PlaceFill(place=at.place, lot=f"{at.form}{step}", pieces=1) for at in setting.standings)
        return Tier(
            number=number,
            base_mm=base_mm,
            shelf="S",
            posts=("P150",) if number == 1 else (),
            room_mm=150 if number == 1 else 573,
            setting=setting.code,
            fills=fills,
            flat=number == 2,
        )

    stacks = tuple(
        StackLoad(place=place, stub="ST30", tiers=(tier(1, 30, settings[0]), tier(2, 192, settings[1])))
        for place in ("A", "B")
    )
    packs = tuple(
        ConePack(peephole=hole, place=place, tier=1, x_mm=200, y_mm=75, turn_deg=90, lift_mm=70)
        for hole, place in (("H1", "A"), ("H2", "B"))
    )
    code = {Stage.BISCUIT: "BIS", Stage.GLOST: "GLO", Stage.DECORATION: "DEC"}[stage]
    return Load(
        works="Test works",
        kiln="K",
        programme=code,
        stage=stage,
        car=None,
        forms=forms,
        settings=settings,
        stacks=stacks,
        cone_packs=packs,
        value_share=1.0,
        seed=0,
    )


def _setting(code: str, rows: Sequence[tuple[str, float, float]]) -> Setting:
    standings = tuple(
        Standing(place=k, form=form, x_mm=x, y_mm=y, turn_deg=0) for k, (form, x, y) in enumerate(rows, start=1)
    )
    return Setting(code=code, shelf="S", standings=standings)


# --- small changes ------------------------------------------------------------------------------------------------


def rewrite(rows: tuple[Any, ...], code: str, **changes: Any) -> tuple[Any, ...]:
    """Return the rows with the one of that code changed."""
    assert any(row.code == code for row in rows)
    return tuple(replace(row, **changes) if row.code == code else row for row in rows)


def with_settings(works: Works, **changes: Any) -> Works:
    """Return the works with some settings changed."""
    return replace(works, settings=replace(works.settings, **changes))


def with_stock(works: Works, kind: str, code: str, **changes: Any) -> Works:
    """Return the works with a piece of furniture changed."""
    rows = rewrite(getattr(works.furniture, kind), code, **changes)
    return replace(works, furniture=replace(works.furniture, **{kind: rows}))


def with_kiln(works: Works, **changes: Any) -> Works:
    """Return the works with its kiln changed."""
    return replace(works, kilns=(replace(works.kilns[0], **changes),))


def with_step(works: Works, product: str, step: int, **changes: Any) -> Works:
    """Return the works with a firing of a product changed."""
    route = list(works.product(product).route)
    route[step] = replace(route[step], **changes)
    return replace(works, products=rewrite(works.products, product, route=tuple(route)))


def with_tier(load: Load, number: int, place: str = "A", **changes: Any) -> Load:
    """Return the load with a tier changed."""
    stacks = tuple(
        replace(
            stack,
            tiers=tuple(replace(tier, **changes) if tier.number == number else tier for tier in stack.tiers),
        )
        if stack.place == place
        else stack
        for stack in load.stacks
    )
    return replace(load, stacks=stacks)


def with_standing(load: Load, setting: str, place: int, **changes: Any) -> Load:
    """Return the load with one body of a setting changed."""
    rows = tuple(replace(at, **changes) if at.place == place else at for at in load.setting(setting).standings)
    return replace(load, settings=rewrite(load.settings, setting, standings=rows))


def with_form(load: Load, code: str, **changes: Any) -> Load:
    """Return the load with a form changed, and the fills of its places with as many pieces."""
    load = replace(load, forms=rewrite(load.forms, code, **changes))
    pieces = load.form(code).pieces
    forms = {at.place: at.form for setting in load.settings for at in setting.standings if setting.code == "LOW"}
    tops = {at.place: at.form for setting in load.settings for at in setting.standings if setting.code == "HIGH"}
    for stack in load.stacks:
        for tier in stack.tiers:
            names = forms if tier.setting == "LOW" else tops
            fills = tuple(replace(fill, pieces=pieces) if names[fill.place] == code else fill for fill in tier.fills)
            load = with_tier(load, tier.number, stack.place, fills=fills)
    return load


def with_fills(load: Load, change: Callable[[PlaceFill], PlaceFill], number: int = 1, place: str = "A") -> Load:
    """Return the load with the fills of a tier changed one by one."""
    tiers = {tier.number: tier for stack in load.stacks if stack.place == place for tier in stack.tiers}
    return with_tier(load, number, place, fills=tuple(map(change, tiers[number].fills)))
