"""A worked kiln, its programme, and a small works to take loads from."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from kilnpack.heat.reactions import Chemistry
from kilnpack.model.furniture import CatchDisc, Furniture, PostType, Setter, ShelfLot, ShelfType, Spacer, Stub
from kilnpack.model.geometry import Disc, ExtrudedPart, Rectangle, RoundedPolygon, TurnedPart
from kilnpack.model.kilns import Car, ChamberKind, Energy, EnergyKind, Kiln, LiningLayer, StackPlace, WallKind
from kilnpack.model.loads import BodyForm, Load, PlaceFill, Setting, StackLoad, Standing, Tier
from kilnpack.model.orders import Lot, LotKind, OrderLine, Supply, WorkCalendar
from kilnpack.model.pieces import Product, RouteStep, Shape, Stage
from kilnpack.model.programmes import Atmosphere, Programme, Segment
from kilnpack.model.settings import WorksSettings
from kilnpack.model.works import Works

GLOST = Chemistry(melting_kj_kg=80.0)
WARE = {"porcelain": 180.0}
FURNITURE = {"silicon carbide": 200.0, "mullite": 60.0}
CONTENTS = {"porcelain": 180.0, "silicon carbide": 200.0, "mullite": 60.0}
LAYERS = (
    LiningLayer(material="insulating brick 1540", thickness_mm=125.0),
    LiningLayer(material="insulating brick 1260", thickness_mm=125.0),
    LiningLayer(material="ceramic fibre blanket 160", thickness_mm=75.0),
)


def energy(kind: EnergyKind = EnergyKind.ELECTRIC) -> Energy:
    """Return the energy of the worked kiln."""
    return Energy(kind=kind, connected_kw=130.0, price_money_per_kwh=0.2, co2_kg_per_kwh=0.4)


@pytest.fixture(scope="session")
def kiln() -> Kiln:
    """Return the kiln of the worked case, 1.15 x 1.15 x 1.60 m inside, electric."""
    return Kiln(
        code="K1",
        name="chamber",
        kind=ChamberKind.CAR,
        wall=WallKind.ELECTRIC,
        chamber=Rectangle(w_mm=1150.0, d_mm=1150.0),
        usable_height_mm=1600.0,
        places=(StackPlace(code="left", shelf="S", x_mm=100.0, y_mm=100.0),),
        programmes=("G",),
        top_degc=1450.0,
        lining=LAYERS,
        energy=energy(),
        cars=(Car(code="C1", deck_kg=50.0, deck_material="mullite brick"),),
        usual_ware_kg=180.0,
    )


@pytest.fixture(scope="session")
def glost() -> Programme:
    """Return the programme of the worked case: 950 degC in 9 h, 1000 at 11 h, 1400 at 21 h, soak to 23 h."""
    segments = (
        Segment(to_degc=950.0, rate_k_h=930.0 / 9.0, lambda_factor=1.5),
        Segment(to_degc=1000.0, rate_k_h=25.0, lambda_factor=1.5),
        Segment(to_degc=1300.0, rate_k_h=40.0, lambda_factor=0.95, atmosphere=Atmosphere.REDUCTION),
        Segment(to_degc=1400.0, rate_k_h=40.0, hold_h=2.0, lambda_factor=1.02),
    )
    return programme(segments)


def programme(segments: tuple[Segment, ...], code: str = "G") -> Programme:
    """Return a programme of these segments."""
    return Programme(
        code=code,
        name="glost",
        stage=Stage.GLOST,
        segments=segments,
        atmosphere=Atmosphere.REDUCTION,
        recorded_fire_h=23.0,
        recorded_cool_h=20.0,
        recorded_kg=440.0,
    )


def cup() -> Shape:
    """Return a straight cup 80 mm wide and 70 mm high with a handle 30 x 10 mm."""
    handle = RoundedPolygon(corners_mm=((35.0, -5.0), (65.0, -5.0), (65.0, 5.0), (35.0, 5.0)))
    return Shape(
        code="cup",
        name="cup",
        parts=(
            TurnedPart(profile_mm=((0.0, 30.0), (0.0, 40.0), (70.0, 40.0))),
            ExtrudedPart(from_z_mm=20.0, to_z_mm=50.0, outline=(handle,)),
        ),
        foot=(Disc(r_mm=30.0),),
        dry_kg=0.25,
        biscuit_kg=0.22,
        glazed_kg=0.24,
        biscuit_shrinkage_share=0.0,
        glost_shrinkage_share=0.0,
    )


def furniture() -> Furniture:
    """Return one shelf on three posts, stubs, cranks, discs and spacers."""
    return Furniture(
        shelves=(
            ShelfType(
                code="S",
                name="shelf",
                outline=Rectangle(w_mm=500.0, d_mm=400.0),
                posts_mm=((40.0, 40.0), (460.0, 40.0), (250.0, 360.0)),
                thickness_mm=10.0,
                material="nitride-bonded SiC",
                mass_kg=5.0,
                top_degc=1450.0,
                strength_mpa=None,
                cold_strength_mpa=120.0,
                lots=(ShelfLot(count_pieces=20),),
            ),
        ),
        posts=(
            PostType(
                code="100",
                nominal_mm=100.0,
                height_mm=100.0,
                side_mm=40.0,
                material="mullite",
                mass_kg=0.4,
                top_degc=1500.0,
                count_pieces=60,
            ),
        ),
        stubs=(Stub(code="25", height_mm=25.0, side_mm=40.0, mass_kg=0.1, top_degc=1500.0, count_pieces=20),),
        setters=(
            Setter(
                code="crank",
                outer_mm=120.0,
                inner_mm=110.0,
                seat_mm=10.0,
                pitch_mm=85.0,
                most_pieces=2,
                mass_kg=0.6,
                top_degc=1450.0,
                count_pieces=20,
            ),
        ),
        catch_discs=(
            CatchDisc(code="disc", outer_mm=90.0, height_mm=8.0, mass_kg=0.1, top_degc=1450.0, count_pieces=9),
        ),
        spacers=(Spacer(code="bit", height_mm=4.0, pieces_per_gap=3, mass_kg=0.01, top_degc=1300.0, count_pieces=9),),
    )


@pytest.fixture(scope="session")
def works(kiln: Kiln, glost: Programme) -> Works:
    """Return a small works: one kiln, one shelf, cups as ordered, for stock, as samples and as fillers."""
    route = (
        RouteStep(stage=Stage.BISCUIT, programme="B", scrap_share=0.1),
        RouteStep(stage=Stage.GLOST, programme="G", scrap_share=0.2),
    )
    cups = Product(code="CUP", name="cup", shape="cup", glaze=None, route=route, price_money=9.0)
    due = date(2026, 3, 1)
    return Works(
        name="small",
        now=datetime(2026, 2, 2, 6, 0),
        settings=WorksSettings(size_scatter_share=0.0),
        calendar=WorkCalendar(),
        supply=Supply(),
        furniture=furniture(),
        kilns=(kiln,),
        programmes=(glost,),
        shapes=(cup(),),
        glazes=(),
        decorations=(),
        products=(cups,),
        sets=(),
        lines=(OrderLine(code="O-1", order="O", customer="c", item="CUP", quantity_pieces=4, due=due),),
        lots=(
            Lot(code="L1", product="CUP", step=1, pieces=4, order_line="O-1"),
            Lot(code="L2", product="CUP", step=1, pieces=2),
            Lot(code="L3", product="CUP", step=1, pieces=1, kind=LotKind.SAMPLE),
            Lot(code="L4", product="CUP", step=1, pieces=9, kind=LotKind.FILLER),
        ),
    )


@pytest.fixture(scope="session")
def load(works: Works) -> Load:
    """Return a load of two tiers: four bare cups below, above them two cups in stacked cranks and one bare."""
    bare = BodyForm(code="bare", shape="cup", stage=Stage.GLOST)
    cranks = BodyForm(code="cranks", shape="cup", stage=Stage.GLOST, pieces=2, support="crank")

    def standing(place: int, form: str) -> Standing:
        return Standing(place=place, form=form, x_mm=100.0 * place, y_mm=200.0, turn_deg=0.0)

    return Load(
        works=works.name,
        kiln="K1",
        programme="G",
        stage=Stage.GLOST,
        car="C1",
        forms=(bare, cranks),
        settings=(
            Setting(code="A", shelf="S", standings=tuple(standing(place, "bare") for place in (1, 2, 3, 4))),
            Setting(code="B", shelf="S", standings=(standing(1, "cranks"), standing(2, "bare"))),
        ),
        stacks=(
            StackLoad(
                place="left",
                stub="25",
                tiers=(
                    Tier(
                        number=1,
                        base_mm=25.0,
                        shelf="S",
                        posts=("100",),
                        room_mm=98.0,
                        setting="A",
                        fills=tuple(
                            PlaceFill(place=place, lot=lot, pieces=1)
                            for place, lot in ((1, "L1"), (2, "L1"), (3, "L2"), (4, "L3"))
                        ),
                    ),
                    Tier(
                        number=2,
                        base_mm=135.0,
                        shelf="S",
                        posts=(),
                        room_mm=190.0,
                        setting="B",
                        fills=(
                            PlaceFill(place=1, lot="L1", pieces=1),
                            PlaceFill(place=1, lot="L2", pieces=1),
                            PlaceFill(place=2, lot="L4", pieces=1),
                            PlaceFill(place=2, lot="L1", pieces=0),
                        ),
                    ),
                ),
            ),
        ),
        value_share=1.0,
        seed=1,
    )
