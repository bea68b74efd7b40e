"""Kilns and furniture of random works."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from kilnpack.model.furniture import (
    CatchDisc,
    Furniture,
    PostType,
    Setter,
    ShelfLot,
    ShelfType,
    Spacer,
    Stilt,
    Stub,
)
from kilnpack.model.geometry import (
    ConvexPolygon,
    Disc,
    HalfDisc,
    Point,
    Rectangle,
    Region,
)
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
from kilnpack.model.pieces import (
    Stage,
)

if TYPE_CHECKING:
    import random

    from kilnpack.model.settings import WorksSettings

POST_SIDE_MM = 40.0
STEPS_MM = (38, 50, 64, 75, 100, 125, 150, 200)


def _shelf(rng: random.Random, outline: Region, posts: tuple[Point, ...]) -> ShelfType:
    most = rng.randint(2, 14)
    return ShelfType(
        code="S",
        name="shelf",
        outline=outline,
        posts_mm=posts,
        thickness_mm=rng.choice([8.0, 12.0, 18.5]),
        material="silicon carbide",
        mass_kg=rng.choice([4.0, 7.5]),
        top_degc=1600.0,
        strength_mpa=rng.choice([4.0, 15.0, 40.0]),
        lots=(ShelfLot(count_pieces=most), ShelfLot(count_pieces=rng.randint(0, 3), condemned_pieces=0, bow_mm=2.0)),
    )


def _rect_shelf(rng: random.Random, w: float, d: float) -> ShelfType:
    inset = rng.choice([62.0, 75.0])
    four = ((inset, inset), (w - inset, inset), (w - inset, d - inset), (inset, d - inset))
    three = ((inset, inset), (w - inset, inset), (w / 2, d - inset))
    return _shelf(rng, Rectangle(w_mm=w, d_mm=d), rng.choice([three, four]))


def _kiln(rng: random.Random, code: str, kind: ChamberKind, chamber: Region, places: tuple[StackPlace, ...]) -> Kiln:
    wall = WallKind.GAS if kind is ChamberKind.CAR else rng.choice(list(WallKind))
    return Kiln(
        code=code,
        name=code,
        kind=kind,
        wall=wall,
        chamber=chamber,
        usable_height_mm=rng.choice([330.0, 480.0, 700.0, 1010.0]),
        places=places,
        programmes=(),
        top_degc=1450.0,
        wall_clear_mm=rng.choice([None, 25.0, 40.0]),
        offsets=tuple(_offsets(rng, stage, chamber) for stage in Stage if rng.random() < 0.6),
        energy=Energy(kind=EnergyKind.ELECTRIC, connected_kw=60.0, price_money_per_kwh=0.2, co2_kg_per_kwh=0.3),
        cars=(Car(code="C1", deck_kg=100.0, deck_material="cordierite"),) if kind is ChamberKind.CAR else (),
        usual_ware_kg=60.0,
        least_ware_kg=rng.choice([0.0, 20.0]),
    )


def _offsets(rng: random.Random, stage: Stage, chamber: Region) -> OffsetMap:
    wide = 500.0 if not isinstance(chamber, Rectangle) else chamber.w_mm
    readings = tuple(
        OffsetReading(
            x_mm=rng.uniform(0, wide),
            y_mm=rng.uniform(0, 400),
            z_mm=rng.uniform(30, 600),
            offset_k=rng.uniform(-14, 14),
        )
        for _ in range(rng.choice([0, 4, 9]))
    )
    return OffsetMap(stage=stage, readings=readings, spread_k=rng.choice([5.0, 10.0]))


def front(rng: random.Random, settings: WorksSettings) -> tuple[ShelfType, Kiln]:
    """A rectangular chamber with one to four stacks of rectangular shelves, some turned half round."""
    w, d = rng.choice([360.0, 420.0, 480.0]), rng.choice([320.0, 400.0])
    across, deep = rng.choice([(1, 1), (2, 1), (1, 2), (2, 2)])
    side, joint = rng.choice([30.0, 70.0]), rng.choice([6.0, 12.0, 30.0])
    places: list[StackPlace] = []
    for i in range(across):
        for j in range(deep):
            x, y = side + i * (w + joint), side + j * (d + joint)
            turned = rng.random() < 0.4
            places.append(
                StackPlace(
                    code="ABCD"[len(places)],
                    shelf="S",
                    x_mm=x + w if turned else x,
                    y_mm=y + d if turned else y,
                    turn_deg=180.0 if turned else 0.0,
                )
            )
    wide, long = 2 * side + across * w + (across - 1) * joint, 2 * side + deep * d + (deep - 1) * joint
    kiln = _kiln(rng, "F", ChamberKind.FRONT, Rectangle(w_mm=wide, d_mm=long), tuple(places))
    holes = _front_holes(rng, side + w / 2, side + 1.5 * w + joint if across == 2 else side + w / 2 - 85.0)
    kiln = replace(kiln, keep_outs=_keep_outs(rng, wide, long, side), peepholes=holes)
    return _rect_shelf(rng, w, d), kiln


def _keep_outs(rng: random.Random, wide: float, long: float, side: float) -> tuple[KeepOut, ...]:
    z = rng.choice([200.0, 260.0])
    return tuple(
        keep
        for keep in (
            KeepOut(
                code="T1",
                what="thermocouple",
                outline=Disc(x_mm=wide / 2, y_mm=long - 4.0, r_mm=5.0),
                from_z_mm=z,
                to_z_mm=z + 12.0,
            ),
            KeepOut(
                code="B1",
                what="bag wall",
                outline=Rectangle(x_mm=0.0, y_mm=long / 3, w_mm=12.0, d_mm=90.0),
                from_z_mm=0.0,
                to_z_mm=rng.choice([90.0, 240.0]),
                clear_mm=side - 14.0,
            ),
            KeepOut(
                code="E1",
                what="element",
                outline=Rectangle(x_mm=wide - 8.0, y_mm=20.0, w_mm=8.0, d_mm=long - 40.0),
                from_z_mm=rng.choice([60.0, 200.0]),
                to_z_mm=rng.choice([220.0, 320.0]),
                clear_mm=rng.choice([0.0, 20.0]),
            ),
        )
        if rng.random() < 0.5
    )


def _front_holes(rng: random.Random, *xs: float) -> tuple[Peephole, ...]:
    return tuple(
        Peephole(
            code=f"P{k}",
            x_mm=x,
            y_mm=0.0,
            z_mm=rng.choice([130.0, 180.0, 260.0]),
            direction_deg=90.0,
            pack_away_mm=rng.choice([200.0, 250.0]),
        )
        for k, x in enumerate(xs)
    )


def car(rng: random.Random, settings: WorksSettings) -> tuple[ShelfType, Kiln]:
    """A car kiln with two stacks well inside the edge of its deck."""
    w, d = 420.0, 380.0
    places = (
        StackPlace(code="A", shelf="S", x_mm=60.0, y_mm=60.0),
        StackPlace(code="B", shelf="S", x_mm=60.0 + w + 20.0, y_mm=60.0),
    )
    chamber = Rectangle(w_mm=2 * w + 140.0, d_mm=d + 120.0)
    kiln = _kiln(rng, "W", ChamberKind.CAR, chamber, places)
    return _rect_shelf(rng, w, d), replace(
        kiln, wall_clear_mm=None, peepholes=_front_holes(rng, 60.0 + w / 2, 80.0 + 1.5 * w)
    )


def round_halves(rng: random.Random, settings: WorksSettings) -> tuple[ShelfType, Kiln]:
    """A round chamber with two stacks of half shelves, loaded from the top."""
    r, wall = rng.choice([180.0, 230.0]), rng.choice([30.0, 55.0])
    big, joint = r + wall, rng.choice([3.0, 8.0])
    posts = ((r * 0.46, 62.0), (r * 1.54, 62.0), (r, r - 66.0))
    shelf = _shelf(rng, HalfDisc(x_mm=r, r_mm=r), posts)
    places = (
        StackPlace(code="back", shelf="S", x_mm=big - r, y_mm=big + joint),
        StackPlace(code="front", shelf="S", x_mm=big + r, y_mm=big - joint, turn_deg=180.0),
    )
    kiln = _kiln(rng, "R", ChamberKind.TOP, Disc(x_mm=big, y_mm=big, r_mm=big + joint), places)
    return shelf, replace(kiln, peepholes=_round_holes(rng, big, r))


def _round_holes(rng: random.Random, big: float, r: float) -> tuple[Peephole, ...]:
    z = rng.choice([130.0, 170.0])
    return (
        Peephole(code="P0", x_mm=0.0, y_mm=big + r * 0.35, z_mm=z, direction_deg=0.0, pack_away_mm=200.0),
        Peephole(code="P1", x_mm=2 * big, y_mm=big - r * 0.35, z_mm=z, direction_deg=180.0, pack_away_mm=200.0),
    )


def round_whole(rng: random.Random, settings: WorksSettings) -> tuple[ShelfType, Kiln]:
    """A round chamber with one stack of whole discs."""
    r, wall = rng.choice([170.0, 220.0]), rng.choice([30.0, 60.0])
    angles = [math.radians(90.0 + 120.0 * k) for k in range(3)]
    posts = tuple((r + (r - 72.0) * math.cos(a), r + (r - 72.0) * math.sin(a)) for a in angles)
    shelf = _shelf(rng, Disc(x_mm=r, y_mm=r, r_mm=r), posts)
    turn = rng.choice([0.0, 90.0, 37.0])
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    big = r + wall
    place = StackPlace(
        code="A", shelf="S", x_mm=big - (cos * r - sin * r), y_mm=big - (sin * r + cos * r), turn_deg=turn
    )
    kiln = _kiln(rng, "D", ChamberKind.TOP, Disc(x_mm=big, y_mm=big, r_mm=big), (place,))
    return shelf, replace(kiln, peepholes=_round_holes(rng, big, r))


def eight_sided(rng: random.Random, settings: WorksSettings) -> tuple[ShelfType, Kiln]:
    """An eight-sided chamber with one stack of eight-sided shelves."""
    r, wall = rng.choice([190.0, 240.0]), rng.choice([35.0, 60.0])

    def ring(radius: float, middle: float) -> tuple[Point, ...]:
        angles = [math.radians(22.5 + 45.0 * k) for k in range(8)]
        return tuple((middle + radius * math.cos(a), middle + radius * math.sin(a)) for a in angles)

    half = r * math.cos(math.radians(22.5))
    posts = tuple(
        (half + (half - 70.0) * x, half + (half - 70.0) * y) for x, y in ((-0.85, -0.5), (0.85, -0.5), (0.0, 0.9))
    )
    shelf = _shelf(rng, ConvexPolygon(corners_mm=ring(r, half)), posts)
    big = half + wall
    place = StackPlace(code="A", shelf="S", x_mm=wall, y_mm=wall)
    chamber = ConvexPolygon(corners_mm=ring(big / math.cos(math.radians(22.5)), big))
    kiln = _kiln(rng, "O", ChamberKind.TOP, chamber, (place,))
    return shelf, replace(kiln, peepholes=_round_holes(rng, big, r * 0.6))


def furniture(rng: random.Random, shelf: ShelfType) -> Furniture:
    """Return posts, stubs and supports that often bind."""
    return Furniture(
        shelves=(shelf,),
        posts=tuple(
            PostType(
                code=f"P{height}",
                nominal_mm=float(height),
                height_mm=height - rng.choice([0.0, 0.0, 0.6]),
                spread_mm=rng.choice([0.0, 0.3, 0.6]),
                side_mm=POST_SIDE_MM,
                material="silicon carbide",
                mass_kg=0.004 * height,
                top_degc=rng.choice([1600.0, 1600.0, 1290.0]),
                count_pieces=rng.choice([0, 3, 7, 12, 24]),
            )
            for height in sorted(rng.sample(STEPS_MM, rng.randint(2, 6)))
        ),
        stubs=(
            Stub(
                code="U30", height_mm=30.0, side_mm=40.0, mass_kg=0.1, top_degc=1600.0, count_pieces=rng.choice([3, 9])
            ),
            Stub(code="U60", height_mm=60.0, side_mm=40.0, mass_kg=0.2, top_degc=1600.0, count_pieces=16),
        ),
        stilts=(_stilt(rng),),
        setters=(_setter(rng),),
        catch_discs=(
            CatchDisc(code="disc", outer_mm=110.0, height_mm=9.0, mass_kg=0.15, top_degc=1600.0, count_pieces=15),
        ),
        spacers=(
            Spacer(
                code="pin",
                height_mm=4.0,
                pieces_per_gap=3,
                mass_kg=0.01,
                top_degc=1600.0,
                count_pieces=rng.randint(0, 30),
            ),
        ),
    )


def _stilt(rng: random.Random) -> Stilt:
    return Stilt(
        code="stilt",
        height_mm=12.0,
        contact_r_mm=15.0,
        foot_r_mm=22.0,
        points=3,
        mass_kg=0.05,
        top_degc=rng.choice([1100.0, 1300.0]),
        count_pieces=rng.randint(0, 20),
    )


def _setter(rng: random.Random) -> Setter:
    return Setter(
        code="crank",
        outer_mm=270.0,
        inner_mm=258.0,
        seat_mm=6.0,
        pitch_mm=45.0,
        most_pieces=rng.randint(1, 5),
        mass_kg=0.8,
        top_degc=1600.0,
        count_pieces=rng.randint(0, 12),
    )
