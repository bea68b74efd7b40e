"""Ware and backlog of random works."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import TYPE_CHECKING

from kilnpack.model.geometry import (
    Disc,
    ExtrudedPart,
    Outline,
    Point,
    RoundedPolygon,
    TurnedPart,
)
from kilnpack.model.orders import Lot, LotKind, OrderLine
from kilnpack.model.pieces import (
    FootState,
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

if TYPE_CHECKING:
    import random


def shapes_of(rng: random.Random) -> tuple[Shape, ...]:
    """Return a few shapes of any kind, lids beside their pots."""
    makers = (_cup, _bowl, _plate, _vase, _mug, _oval, _square, _pot, _egg_cup)
    shapes: list[Shape] = []
    for k in range(rng.randint(3, 8)):
        made = rng.choice(makers)(rng, f"s{k}")
        shapes += made if isinstance(made, list) else [made]
    return tuple(shapes)


def _shape(
    rng: random.Random,
    code: str,
    parts: tuple[TurnedPart | ExtrudedPart, ...],
    foot: Outline,
    kg: float,
    **more: object,
) -> Shape:
    fields: dict[str, object] = {
        "code": code,
        "name": code,
        "parts": parts,
        "foot": foot,
        "dry_kg": kg,
        "biscuit_kg": kg * 0.9,
        "glazed_kg": kg,
        "biscuit_shrinkage_share": rng.choice([0.0, 0.01, 0.02]),
        "glost_shrinkage_share": rng.choice([0.08, 0.1, 0.12]),
        **more,
    }
    return Shape(**fields)  # type: ignore[arg-type]


def _turned(*profile: Point) -> tuple[TurnedPart | ExtrudedPart, ...]:
    return (TurnedPart(profile_mm=profile),)


def _cup(rng: random.Random, code: str) -> Shape:
    h, r = rng.uniform(45, 75), rng.uniform(30, 45)
    boxed = Stacking(way=StackWay.BOXED, most_pieces=2, load_limit_factor=3.0)
    return _shape(rng, code, _turned((0, r * 0.6), (h, r)), (Disc(r_mm=r * 0.6),), 0.2, stackings=(boxed,))


def _bowl(rng: random.Random, code: str) -> Shape:
    h, r = rng.uniform(40, 80), rng.uniform(50, 110)
    nested = Stacking(way=StackWay.NESTED, step_mm=h * 0.3, most_pieces=rng.randint(2, 5), load_limit_factor=4.0)
    profile = ((0.0, r * 0.4), (h * 0.15, r * 0.42), (h * 0.6, r * 0.85), (h, r))
    return _shape(rng, code, _turned(*profile), (Disc(r_mm=r * 0.4),), 0.4, stackings=(nested,))


def _plate(rng: random.Random, code: str) -> Shape:
    r = rng.uniform(70, 125)
    piled = Stacking(
        way=StackWay.PILED, step_mm=9.0, most_pieces=5, load_limit_factor=5.0, spacer="pin", bare_most_pieces=2
    )
    profile = ((0.0, r * 0.55), (6.0, r * 0.6), (22.0, r))
    return _shape(rng, code, _turned(*profile), (Disc(r_mm=r * 0.55),), 0.5, stackings=(piled,), flatware=True)


def _vase(rng: random.Random, code: str) -> Shape:
    h, r = rng.uniform(110, 260), rng.uniform(35, 70)
    profile = ((0.0, r * 0.6), (h * 0.35, r), (h * 0.75, r * 0.35), (h, r * 0.6))
    return _shape(rng, code, _turned(*profile), (Disc(r_mm=r * 0.6),), 0.9)


def _egg_cup(rng: random.Random, code: str) -> Shape:
    """Waisted, with a wide foot."""
    h, r = rng.uniform(45, 60), rng.uniform(22, 28)
    return _shape(rng, code, _turned((0, r), (h * 0.4, r * 0.45), (h, r * 1.05)), (Disc(r_mm=r),), 0.08)


def _mug(rng: random.Random, code: str) -> Shape:
    h, r = rng.uniform(75, 105), rng.uniform(34, 44)
    angle = math.radians(rng.choice([0.0, 0.0, 90.0]))
    tip = ((r + 24.0) * math.cos(angle), (r + 24.0) * math.sin(angle))
    handle = ExtrudedPart(
        from_z_mm=h * 0.2, to_z_mm=h * 0.85, outline=(RoundedPolygon(corners_mm=((0.0, 0.0), tip), round_mm=7.0),)
    )
    body = _turned((0, r * 0.85), (h, r))
    return _shape(rng, code, (*body, handle), (Disc(r_mm=r * 0.85),), 0.35, handle_deg=math.degrees(angle))


def _box_ring(w: float, d: float) -> tuple[Point, ...]:
    return ((-w, -d), (w, -d), (w, d), (-w, d))


def _oval(rng: random.Random, code: str) -> Shape:
    w, r, h = rng.uniform(30, 80), rng.uniform(40, 70), rng.uniform(18, 45)
    rim = RoundedPolygon(corners_mm=((-w, 0.0), (w, 0.0)), round_mm=r)
    base = RoundedPolygon(corners_mm=((-w * 0.8, 0.0), (w * 0.8, 0.0)), round_mm=r * 0.6)
    parts = (
        ExtrudedPart(from_z_mm=0.0, to_z_mm=h * 0.5, outline=(base,)),
        ExtrudedPart(from_z_mm=h * 0.5, to_z_mm=h, outline=(rim,)),
    )
    return _shape(rng, code, parts, (base,), 0.5, flatware=rng.random() < 0.4)


def _square(rng: random.Random, code: str) -> Shape:
    w, d, h = rng.uniform(30, 90), rng.uniform(30, 70), rng.uniform(15, 60)
    rim = RoundedPolygon(corners_mm=_box_ring(w, d), round_mm=12.0)
    base = RoundedPolygon(corners_mm=_box_ring(w * 0.8, d * 0.8), round_mm=6.0)
    return _shape(rng, code, (ExtrudedPart(from_z_mm=0.0, to_z_mm=h, outline=(rim,)),), (base,), 0.6)


def _pot(rng: random.Random, code: str) -> list[Shape]:
    """A pot with spout, handle and lid."""
    h, r = rng.uniform(80, 120), rng.uniform(50, 70)
    arm = RoundedPolygon(corners_mm=((-r - 30.0, 0.0), (r + 35.0, 0.0)), round_mm=9.0)
    parts = (
        *_turned((0, r * 0.6), (h * 0.5, r), (h, r * 0.55)),
        ExtrudedPart(from_z_mm=h * 0.4, to_z_mm=h * 0.9, outline=(arm,)),
    )
    lid = _shape(
        rng, f"lid-{code}", _turned((0, r * 0.5), (12, r * 0.5), (13, 10.0), (28, 10.0)), (Disc(r_mm=r * 0.4),), 0.1
    )
    seat = Lid(shape=lid.code, seat_mm=h - 4.0)
    return [lid, _shape(rng, code, parts, (Disc(r_mm=r * 0.6),), 0.8, lid=seat, handle_deg=180.0)]


def glazes_of(rng: random.Random, peak_degc: float) -> tuple[Glaze, ...]:
    """Return glazes that soften well under the glost; one gives off copper, one chrome, one runs."""
    soft = peak_degc - 150.0
    return (
        Glaze(code="white", name="white", softening_degc=soft, vapour=rng.choice([None, "plain", "tin white"])),
        Glaze(code="red", name="red", softening_degc=soft, vapour="copper"),
        Glaze(code="green", name="green", softening_degc=soft + 20.0, vapour="chrome"),
        Glaze(code="run", name="run", softening_degc=soft - 10.0, runny=True),
    )


def product(rng: random.Random, shape: Shape, glazes: tuple[Glaze, ...], number: int) -> Product:
    """Return a product of a shape with a glaze, supports and windows of any kind."""
    glaze = rng.choice(glazes)
    low, high = rng.choice([(None, None), (None, None), (15.0, 30.0), (8.0, 12.0)])
    support = "disc" if glaze.runny else rng.choice([None, None, None, "crank", "stilt"])
    foot = FootState.GLAZED if support == "stilt" else FootState.DRY
    window: dict[str, float | None] = {"low_degc": None, "high_degc": None}
    peak = glazes[0].softening_degc + 150.0
    if low is not None and high is not None:
        window = {"low_degc": peak - low, "high_degc": peak + high}
    return Product(
        code=f"p{number}",
        name=shape.name,
        shape=shape.code,
        glaze=glaze.code,
        decorations=("gold",),
        route=(
            RouteStep(stage=Stage.BISCUIT, programme="biscuit", scrap_share=0.03),
            RouteStep(
                stage=Stage.GLOST,
                programme="glost",
                scrap_share=0.08,
                supports=(support,) if support else (),
                foot=foot,
                flat_shelf=rng.random() < 0.1,
                low_degc=window["low_degc"],
                high_degc=window["high_degc"],
            ),
            RouteStep(
                stage=Stage.DECORATION,
                programme="decoration",
                decorations=("gold",),
                scrap_share=0.03,
                supports=rng.choice([(), (), ("stilt",)]),
            ),
        ),
        price_money=10.0,
        matching_k=rng.choice([None, 6.0]),
    )


def backlog(rng: random.Random, products: tuple[Product, ...]) -> tuple[tuple[OrderLine, ...], tuple[Lot, ...]]:
    """Return order lines and lots of every product at every stage."""
    lines: list[OrderLine] = []
    lots: list[Lot] = []
    for one in products:
        for step in range(3):
            line = OrderLine(
                code=f"{one.code}/{step}",
                order=one.code,
                customer="C",
                item=one.code,
                quantity_pieces=40,
                due=date(2026, 3, 2) + timedelta(days=rng.randint(-3, 40)),
                priority_factor=rng.choice([1.0, 2.0]),
                part_delivery=rng.random() < 0.7,
            )
            lines.append(line)
            lots += [
                Lot(
                    code=f"{one.code}-{step}-{k}",
                    product=one.code,
                    step=step,
                    pieces=rng.randint(1, 30),
                    order_line=line.code if rng.random() < 0.8 else None,
                    kind=rng.choice([LotKind.NORMAL, LotKind.NORMAL, LotKind.NORMAL, *LotKind]),
                    glazed=rng.random() < 0.95,
                )
                for k in range(rng.choice([1, 1, 2]))
            ]
    return tuple(lines), tuple(lots)


def programme_of(stage: Stage, peak_degc: float) -> Programme:
    """Return a programme of one rise."""
    return Programme(
        code=stage.value,
        name=stage.value,
        stage=stage,
        segments=(Segment(to_degc=peak_degc, rate_k_h=120.0, hold_h=0.5),),
        atmosphere=Atmosphere.OXIDATION,
        recorded_fire_h=12.0,
        recorded_cool_h=10.0,
        recorded_kg=60.0,
    )
