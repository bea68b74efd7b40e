"""A works written as a folder reads back as the same works."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import SheetNotWritten
from kilnpack.model.furniture import ShelfLot
from kilnpack.model.geometry import ConvexPolygon, Disc, ExtrudedPart, HalfDisc, RoundedPolygon, TurnedPart
from kilnpack.model.orders import Lot
from kilnpack.model.pieces import FootState, Stacking, StackWay, Stage
from kilnpack.works_folder import read_works, write_works
from tests.works_folder.small import small_files, write_files

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.model.pieces import Product, RouteStep, Shape
    from kilnpack.model.works import Works


@pytest.fixture
def works(tmp_path: Path) -> Works:
    """Return the small works."""
    return read_works(write_files(tmp_path / "small", small_files()))


def written(works: Works, tmp_path: Path) -> Works:
    """Return a works written and read back."""
    write_works(works, tmp_path / "written")
    return read_works(tmp_path / "written")


def with_shape(works: Works, code: str, **changes: object) -> Works:
    """Return the works with a shape changed."""
    shapes: tuple[Shape, ...] = tuple(
        replace(one, **changes) if one.code == code else one  # type: ignore[arg-type]
        for one in works.shapes
    )
    return replace(works, shapes=shapes)


def with_steps(works: Works, code: str, *changes: dict[str, object]) -> Works:
    """Return the works with the firings of a product changed, one set of changes a firing."""

    def change(product: Product) -> Product:
        if product.code != code:
            return product
        steps: tuple[RouteStep, ...] = tuple(
            replace(step, **change)  # type: ignore[arg-type]
            for step, change in zip(product.route, changes, strict=True)
        )
        return replace(product, route=steps)

    return replace(works, products=tuple(map(change, works.products)))


def test_small_works_survives(works: Works, tmp_path: Path) -> None:
    """Guards the round trip of every table and file."""
    assert written(works, tmp_path) == works


def test_text_of_every_kind_survives(works: Works, tmp_path: Path) -> None:
    """Guards quotes, delimiters, line breaks and umlauts in names, and texts that a spreadsheet takes for formulas."""
    name = 'Größ & "Söhne"; 1, 2\nand \t\\ more'
    changed = replace(
        works,
        name=name,
        lines=tuple(
            replace(line, customer=customer)
            for line, customer in zip(works.lines, (name, "=1+1", "''@cmd"), strict=True)
        ),
        kilns=tuple(replace(kiln, name=name) for kiln in works.kilns),
    )
    assert written(changed, tmp_path) == changed


def test_parts_of_every_kind_survive(works: Works, tmp_path: Path) -> None:
    """Guards parts in any order, outlines of several members, and feet that are no ring."""
    outline = (
        Disc(x_mm=1.0, y_mm=2.0, r_mm=30.0),
        RoundedPolygon(corners_mm=((-10.0, 0.0), (10.0, 0.0)), round_mm=25.0),
        RoundedPolygon(corners_mm=((-20.0, -20.0), (20.0, -20.0), (0.1, 1 / 3)), round_mm=8.0),
        RoundedPolygon(corners_mm=((0.0, 0.0),), round_mm=12.0),
    )
    parts = (
        ExtrudedPart(from_z_mm=0.0, to_z_mm=10.0, outline=outline),
        TurnedPart(profile_mm=((10.0, 20.0), (30.0, 25.0))),
        TurnedPart(profile_mm=((5.0, 4.0), (15.0, 4.0)), x_mm=40.0, y_mm=3.0),
        ExtrudedPart(from_z_mm=30.0, to_z_mm=40.0, outline=outline[:1]),
    )
    changed = with_shape(works, "CUP", parts=parts, foot=outline[:2], handle_deg=None, name="CUP")
    assert written(changed, tmp_path) == changed


def test_a_body_off_the_axis_survives(works: Works, tmp_path: Path) -> None:
    """Guards a first turned part that is not round the axis, and a foot off it."""
    parts = (TurnedPart(profile_mm=((0.0, 30.0), (30.0, 25.0)), x_mm=4.0),)
    changed = with_shape(works, "POT", parts=parts, foot=(Disc(x_mm=4.0, r_mm=20.0),), lid=None)
    assert written(changed, tmp_path) == changed


def test_stackings_of_every_kind_survive(works: Works, tmp_path: Path) -> None:
    """Guards nested, boxed and piled ware."""
    Stacking(way=StackWay.PILED, step_mm=5.0, most_pieces=4, load_limit_factor=5.0, spacer="SP1")
    ways = (
        Stacking(way=StackWay.NESTED, step_mm=9.5, most_pieces=3, load_limit_factor=2.0, loose_mm=5.0),
        Stacking(way=StackWay.BOXED, most_pieces=4, load_limit_factor=3.0),
        Stacking(
            way=StackWay.PILED, step_mm=5.0, most_pieces=4, load_limit_factor=5.0, spacer="SP1", bare_most_pieces=2
        ),
    )
    changed = with_shape(works, "CUP", stackings=ways)
    assert written(changed, tmp_path) == changed


def test_routes_of_every_kind_survive(works: Works, tmp_path: Path) -> None:
    """Guards firings that differ from what follows: windows opened, shares, supports, vapours, feet, drying."""
    changed = with_steps(
        works,
        "CUP-B",
        {"ready_after_h": 100.0, "scrap_share": 0.2, "low_degc": 950.0, "flat_shelf": True},
        {
            "foot": FootState.GLAZED,
            "supports": ("SE1", "SE2"),
            "low_degc": None,
            "high_degc": 1400.0,
            "vapours": ("lead",),
        },
        {"second_share": 0.1, "vapours": (), "high_degc": None, "foot": FootState.DRY, "rest_after_h": 3.0},
    )
    setters = (*works.furniture.setters, replace(works.furniture.setters[0], code="SE2"))
    changed = replace(changed, furniture=replace(changed.furniture, setters=setters))
    assert written(changed, tmp_path) == changed


def test_decorations_as_listed_survive(works: Works, tmp_path: Path) -> None:
    """Guards the order of decoration firings: as listed, and in an order of the route's own."""
    hot = replace(
        works.programme("COL8"),
        code="COL9",
        name="hot",
        segments=(replace(works.programme("COL8").segments[0], to_degc=850.0),),
    )
    extra = replace(works.decorations[0], code="RED", programme="COL9", low_degc=None, high_degc=None)
    base = replace(
        works,
        programmes=(*works.programmes, hot),
        decorations=(*works.decorations, extra),
        kilns=(replace(works.kilns[0], programmes=("BISC", "COL8", "COL9")), works.kilns[1]),
    )
    biscuit, glost, colour = works.product("CUP-B").route
    blue = replace(colour, decorations=("BLUE",), low_degc=780.0, high_degc=830.0, vapours=())
    green = replace(colour, decorations=("GREEN",), low_degc=770.0, high_degc=None, vapours=("chrome",))
    red = replace(colour, programme="COL9", decorations=("RED",), low_degc=None, high_degc=None, vapours=())
    names = ("CUP-B", "CUP-C", "CUP-D", "CUP-E")
    routes = (
        ((red, colour), ("BLUE", "GREEN", "RED")),  # hottest first
        ((colour, red), ("BLUE", "GREEN", "RED")),  # as listed
        ((blue, red, green), ("BLUE", "RED", "GREEN")),  # as listed, one programme twice
        ((green, red, blue), ("BLUE", "GREEN", "RED")),  # neither
    )
    products = tuple(
        replace(works.product("CUP-B"), code=code, route=(biscuit, glost, *steps), decorations=decorations)
        for code, (steps, decorations) in zip(names, routes, strict=True)
    )
    others = tuple(one for one in works.products if one.code != "CUP-B")
    lot = Lot(code="L9", product="CUP-D", step=4, pieces=3)
    changed = replace(base, products=(*others, *products), lots=(works.lots[0], lot))
    assert written(changed, tmp_path) == changed
    text = (tmp_path / "written" / "lots.csv").read_text(encoding="utf-8-sig")
    assert "L9,CUP-D,5," in text


def test_shelves_of_every_form_survive(works: Works, tmp_path: Path) -> None:
    """Guards outlines and lots of shelves."""
    first = works.furniture.shelves[0]
    corners = ((0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0))
    square, posts = ((65.0, 65.0), (335.0, 65.0), (200.0, 235.0)), ((380.0, 65.0), (250.0, 180.0))
    three = ((100.0, 180.0), (400.0, 180.0), (250.0, 430.0))
    lots = (ShelfLot(count_pieces=3), ShelfLot(count_pieces=2, condemned_pieces=1, bow_mm=2.5))
    more = (
        replace(
            first,
            code="D",
            outline=Disc(x_mm=250.0, y_mm=250.0, r_mm=250.0),
            posts_mm=three,
        ),
        replace(first, code="H", outline=HalfDisc(x_mm=250.0, r_mm=250.0), posts_mm=((100.0, 65.0), *posts)),
        replace(first, code="P", outline=ConvexPolygon(corners_mm=corners), posts_mm=square, lots=lots),
    )
    changed = replace(works, furniture=replace(works.furniture, shelves=(*works.furniture.shelves, *more)))
    assert written(changed, tmp_path) == changed


def test_kilns_of_every_form_survive(works: Works, tmp_path: Path) -> None:
    """Guards chambers, and numbers that need every digit."""
    kiln = replace(
        works.kilns[0],
        chamber=ConvexPolygon(corners_mm=((0.0, 0.0), (700.0, 0.0), (700.0, 600.0), (0.0, 600.0))),
        wall_clear_mm=30.1,
        least_ware_kg=1 / 3,
        energy=replace(works.kilns[0].energy, night_price_money_per_kwh=0.1, basis="net"),
    )
    changed = replace(works, kilns=(kiln, works.kilns[1]), now=datetime(2026, 11, 30, 7, 0, 1, 5))
    assert written(changed, tmp_path) == changed


def test_a_works_without_much_survives(works: Works, tmp_path: Path) -> None:
    """Guards tables that are left out, and a product whose flat shelf is unusual."""
    calendar = replace(works.calendar, holidays=())
    changed = with_steps(works, "PLATE-W", {}, {"flat_shelf": False})
    changed = replace(changed, calendar=calendar, sets=(), lines=(), lots=())
    assert written(changed, tmp_path) == changed
    assert not (tmp_path / "written" / "holidays.csv").exists()


def test_a_full_folder_is_not_overwritten(works: Works, tmp_path: Path) -> None:
    """Guards a works that is there already; an empty folder is taken."""
    (tmp_path / "written").mkdir()
    assert written(works, tmp_path) == works
    with pytest.raises(SheetNotWritten, match="nothing is overwritten"):
        write_works(works, tmp_path / "written")
    (tmp_path / "file").write_text("x")
    with pytest.raises(SheetNotWritten, match="nothing is overwritten"):
        write_works(works, tmp_path / "file")
    with pytest.raises(SheetNotWritten):
        write_works(works, tmp_path / "file" / "inside")


def test_nothing_is_half_written(works: Works, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Guards a disk that fills up on the way."""
    real, calls = type(tmp_path).write_text, []

    def full(path: Path, text: str, **more: str) -> int:
        calls.append(path)
        if len(calls) > 5:
            raise OSError(28, "No space left on device")
        return real(path, text, **more)

    monkeypatch.setattr("pathlib.Path.write_text", full)
    with pytest.raises(SheetNotWritten, match="the disk is full; make room"):
        write_works(works, tmp_path / "written")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["small"]


def test_stage_of_every_step_follows_from_its_programme(works: Works) -> None:
    """Guards what the files rely on: routes do not say the stage again."""
    for product in works.products:
        for step in product.route:
            assert step.stage is Stage(works.programme(step.programme).stage)
