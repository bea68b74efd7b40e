"""What a good works folder becomes, and how many faults are told at once."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import TYPE_CHECKING

import pytest

from kilnpack.errors import InputFaulty
from kilnpack.model.furniture import ShelfLot
from kilnpack.model.geometry import ConvexPolygon, Disc, ExtrudedPart, HalfDisc, RoundedPolygon, TurnedPart
from kilnpack.model.kilns import OffsetReading
from kilnpack.model.orders import Shift
from kilnpack.model.pieces import FootState, Stage
from kilnpack.shapes.outlines import outline_polygon
from kilnpack.works_folder import read_works
from tests.works_folder.small import small_files, write_files

if TYPE_CHECKING:
    from pathlib import Path

    from kilnpack.errors import Finding
    from kilnpack.model.pieces import RouteStep
    from kilnpack.model.works import Works


def changed(tmp_path: Path, *edits: tuple[str, str, str]) -> Works:
    """Return the small works with edits made that leave it sound."""
    files = small_files()
    for file, old, new in edits:
        assert old in files[file]
        files[file] = files[file].replace(old, new, 1)
    return read_works(write_files(tmp_path, files))


def test_works_file_is_read(tmp_path: Path) -> None:
    """Guards settings, money, calendar and supply."""
    works = changed(tmp_path)
    assert works.now == datetime(2026, 11, 30, 7)
    assert works.settings.headroom_mm == 12.0
    assert works.settings.labour_money_per_h == 24.0
    assert works.settings.gap_glost_mm == 6.0
    assert works.calendar.shifts == tuple(
        Shift(weekday=day, start=time(7), end=time(15, 30), crew_people=2) for day in (0, 1, 4)
    )
    assert works.calendar.holidays == (date(2026, 12, 25), date(2027, 1, 1))
    assert works.supply.drying_places_pieces == 300
    assert works.supply.rack_places_pieces is None
    assert works.supply.moulds[0].casts_per_day == 2.0


def test_kilns_get_their_readings(tmp_path: Path) -> None:
    """Guards offset maps: spread from the kiln, readings from the table, a map for a stage only read."""
    works = changed(tmp_path, ("offsets.csv", "offset_k\n", "offset_k\nK1;biscuit;300;300;0;-7\n"))
    (glost,) = works.kiln("G1").offsets
    assert (glost.stage, glost.spread_k, len(glost.readings)) == (Stage.GLOST, 8.0, 2)
    (biscuit,) = works.kiln("K1").offsets
    assert biscuit.spread_k == works.settings.offset_spread_k
    assert biscuit.readings == (OffsetReading(x_mm=300.0, y_mm=300.0, z_mm=0.0, offset_k=-7.0),)
    assert works.kiln("G1").name == "G1"


def test_shapes_are_put_together(tmp_path: Path) -> None:
    """Guards parts: body, handle as a bar, knob as a turned part, oval, foot."""
    works = changed(tmp_path)
    cup, lid, tray = works.shape("CUP"), works.shape("LID"), works.shape("TRAY")
    assert cup.parts[0] == TurnedPart(profile_mm=((0.0, 24.0), (5.0, 24.0), (60.0, 42.0)))
    bar = RoundedPolygon(corners_mm=((30.0, 0.0), (62.0, 0.0)), round_mm=5.0)
    assert cup.parts[1] == ExtrudedPart(from_z_mm=15.0, to_z_mm=50.0, outline=(bar,))
    assert cup.foot == (Disc(r_mm=24.0),)
    assert lid.parts[1] == TurnedPart(profile_mm=((10.0, 9.0), (24.0, 9.0)))
    # An ellipse of 180 x 120 has the area pi * 90 * 60; the polygon drawn round it has 0.3 % more.
    assert outline_polygon(tray.parts[0].outline).area == pytest.approx(3.14159265 * 90 * 60, rel=0.004)  # type: ignore[union-attr]
    assert outline_polygon(tray.foot).bounds == pytest.approx((-70, -45, 70, 45), abs=0.2)
    plate = works.shape("PLATE")
    assert plate.stackings[0].load_limit_factor == 5.0
    assert cup.stackings[0].load_limit_factor == 3.0


def test_rounded_rectangles_and_polygons_are_exact(tmp_path: Path) -> None:
    """Guards outlines by their area: w d - (4 - pi) r^2 for a rounded rectangle, turned or not; a grown triangle."""
    works = changed(
        tmp_path,
        ("parts.csv", "round_mm\n", "round_mm;turn_deg;corners_mm\n"),
        ("parts.csv", "TRAY;body;oval;0;20;0;0;;;;180;120;", "TRAY;body;rounded rectangle;0;20;0;0;;;;180;120;30;30;"),
        ("parts.csv", "TRAY;foot;oval;;;0;0;;;;140;90;", "TRAY;foot;polygon;;;;;;;;;;5;;-40 -30 | 40 -30 | 0 40"),
    )
    (member,) = works.shape("TRAY").parts[0].outline  # type: ignore[union-attr]
    assert isinstance(member, RoundedPolygon)
    assert outline_polygon((member,)).area == pytest.approx(180 * 120 - (4 - 3.14159265) * 30**2, rel=1e-4)
    assert works.shape("TRAY").foot == (
        RoundedPolygon(corners_mm=((-40.0, -30.0), (40.0, -30.0), (0.0, 40.0)), round_mm=5.0),
    )


def test_a_lens_of_two_corners_is_a_polygon_too(tmp_path: Path) -> None:
    """Guards polygons of one or two corners grown by a radius, which the model allows."""
    works = changed(
        tmp_path,
        ("parts.csv", "round_mm\n", "round_mm;corners_mm\n"),
        ("parts.csv", "TRAY;foot;oval;;;0;0;;;;140;90;", "TRAY;foot;polygon;;;;;;;;;;15;-30 0 | 30 0"),
    )
    assert works.shape("TRAY").foot == (RoundedPolygon(corners_mm=((-30.0, 0.0), (30.0, 0.0)), round_mm=15.0),)


@pytest.mark.parametrize(
    ("row", "outline", "posts"),
    [
        ("S9;disc;;;250;;15", Disc(x_mm=250.0, y_mm=250.0, r_mm=250.0), 3),
        ("S9;half disc;;;250;;15", HalfDisc(x_mm=250.0, r_mm=250.0), 3),
        (
            "S9;polygon;;;;60 60 | 340 60 | 200 200;15",
            ConvexPolygon(corners_mm=((0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0))),
            3,
        ),
        ("S9;rectangle;700;300;;;15", None, 4),
        ("S9;rectangle;400;300;;;15", None, 3),
    ],
)
def test_shelves_of_every_form_get_their_posts(tmp_path: Path, row: str, outline: object, posts: int) -> None:
    """Guards outlines of shelves and the usual post patterns (F5: three; four under a long one)."""
    corners = "0 0 | 400 0 | 400 300 | 0 300" if "polygon" in row else ""
    works = changed(
        tmp_path,
        ("shelves.csv", "bow_mm\n", f"bow_mm;corners_mm\n{row};cordierite;3;1290;10;4;;;{corners}\n"),
    )
    shelf = works.furniture.shelves[0]
    assert outline is None or shelf.outline == outline
    assert len(shelf.posts_mm) == posts


def test_lots_of_shelves_follow_each_other(tmp_path: Path) -> None:
    """Guards bowed and condemned shelves."""
    shelf = changed(tmp_path).furniture.shelves[1]
    assert shelf.lots == (ShelfLot(count_pieces=20), ShelfLot(count_pieces=4, bow_mm=1.6))
    assert changed(tmp_path / "b").furniture.shelves[0].sound_pieces == 11


def steps(works: Works, code: str) -> tuple[RouteStep, ...]:
    """Return the route of a product."""
    return works.product(code).route


def test_a_route_is_resolved(tmp_path: Path) -> None:
    """Guards what follows from glaze, decorations, settings and the route's own rows."""
    biscuit, glost, colour = steps(changed(tmp_path), "CUP-B")
    assert (biscuit.stage, biscuit.ready_after_h, biscuit.rest_after_h) == (Stage.BISCUIT, 72.0, 24.0)
    assert (glost.ready_after_h, glost.rest_after_h, glost.low_degc, glost.high_degc) == (24.0, 2.0, 1360.0, 1410.0)
    assert (colour.decorations, colour.vapours) == (("BLUE", "GREEN"), ("chrome",))
    assert (colour.low_degc, colour.high_degc) == (780.0, 830.0)
    assert (biscuit.scrap_share, glost.scrap_share, colour.scrap_share) == (0.03, 0.08, 0.03)


TWO_HEATS = (
    ("decorations.csv", "GREEN;chrome green;COL8;chrome;770;", "GREEN;chrome green;COL12;;1150;"),
    (
        "programmes.toml",
        '[[programmes]]\ncode = "COL8"',
        (
            '[[programmes]]\ncode = "COL12"\nstage = "decoration"\natmosphere = "oxidation"\nrecorded_fire_h = 8.0\n'
            "recorded_cool_h = 9.0\nrecorded_kg = 150.0\nsegments = [{ to_degc = 1200.0, rate_k_h = 150.0 }]\n\n"
            '[[programmes]]\ncode = "COL8"'
        ),
    ),
    ("kilns.toml", '["BISC", "COL8"]', '["BISC", "COL8", "COL12"]'),
)


def test_decorations_are_fired_hottest_first(tmp_path: Path) -> None:
    """Guards rule T5, and the route that says otherwise."""
    works = changed(tmp_path / "a", *TWO_HEATS)
    assert [step.programme for step in steps(works, "CUP-B")] == ["BISC", "GLOST", "COL12", "COL8"]
    listed = changed(
        tmp_path / "b",
        *TWO_HEATS,
        ("products.csv", "decorations;route", "decorations;decoration_order;route"),
        ("products.csv", "CUP-W;CUP;CLEAR;;", "CUP-W;CUP;CLEAR;;;"),
        ("products.csv", "BLUE | GREEN;", "BLUE | GREEN;as listed;"),
        ("products.csv", "PLATE;CLEAR;;", "PLATE;CLEAR;;;"),
        ("products.csv", "POT;CLEAR;;", "POT;CLEAR;;;"),
        ("products.csv", "CUP;OX;;", "CUP;OX;;;"),
        ("products.csv", "TRAY;CLEAR;;", "TRAY;CLEAR;;;"),
    )
    assert [step.programme for step in steps(listed, "CUP-B")] == ["BISC", "GLOST", "COL8", "COL12"]


def test_a_row_of_a_route_overrules(tmp_path: Path) -> None:
    """Guards every column of routes, and the mark for none."""
    works = changed(
        tmp_path,
        (
            "routes.csv",
            "route;programme;rest_after_h\nR1;BISC;\nR1;GLOST;2",
            (
                "route;programme;rest_after_h;ready_after_h;decorations;foot;supports;flat_shelf;low_degc;high_degc;vapours;"
                "scrap_share;second_share\n"
                "R1;BISC;\nR1;GLOST;2\nR2;BISC;;;;;;;;;;;\nR2;GLOST;;30;;glazed;SE1;yes;1370;-;lead;0,2;0,1\n"
                "R2;COL8;;5;GREEN | BLUE;;-;;-;;-;;"
            ),
        ),
        ("products.csv", "BLUE | GREEN;R1", "BLUE | GREEN;R2"),
    )
    _, glost, colour = steps(works, "CUP-B")
    assert (glost.ready_after_h, glost.foot, glost.supports, glost.flat_shelf) == (
        30.0,
        FootState.GLAZED,
        ("SE1",),
        True,
    )
    assert (glost.low_degc, glost.high_degc, glost.vapours) == (1370.0, None, ("lead",))
    assert (glost.scrap_share, glost.second_share) == (0.2, 0.1)
    assert (colour.decorations, colour.ready_after_h, colour.supports) == (("GREEN", "BLUE"), 5.0, ())
    assert (colour.low_degc, colour.high_degc, colour.vapours) == (None, 830.0, ())


def test_a_product_says_what_it_needs(tmp_path: Path) -> None:
    """Guards the columns of products: windows, feet, supports, shares, flat shelf."""
    works = changed(
        tmp_path,
        (
            "products.csv",
            "support_glost;price_money\nCUP-W;CUP;CLEAR;;R1;;9,5",
            (
                "support_glost;price_money;glost_low_degc;glost_high_degc;foot_glost;foot_decoration;scrap_biscuit_share;"
                "second_glost_share;second_decoration_share;flat_shelf;support_decoration\n"
                "CUP-W;CUP;CLEAR;BLUE;R1;SE1;9,5;1370;1400;glazed;dry;0,1;0,2;0,05;yes;ST1"
            ),
        ),
    )
    biscuit, glost, colour = steps(works, "CUP-W")
    assert (glost.low_degc, glost.high_degc, glost.foot, glost.supports) == (1370.0, 1400.0, FootState.GLAZED, ("SE1",))
    assert (biscuit.scrap_share, biscuit.second_share, glost.second_share, colour.second_share) == (0.1, 0.0, 0.2, 0.05)
    assert (biscuit.flat_shelf, glost.flat_shelf, colour.foot, colour.supports) == (
        False,
        True,
        FootState.DRY,
        ("ST1",),
    )
    assert steps(works, "PLATE-W")[1].flat_shelf is True


def test_lots_say_what_they_wait_for(tmp_path: Path) -> None:
    """Guards next_firing as a programme, as a number, and finished."""
    works = changed(tmp_path)
    assert [lot.step for lot in works.lots] == [0, 2, 1, 2]
    assert [lot.glazed for lot in works.lots] == [True, True, False, True]
    assert works.lots[1].ready_at == datetime(2026, 11, 30, 14)


def test_a_programme_twice_in_a_route_is_said_by_its_number(tmp_path: Path) -> None:
    """Guards lots of ware that sees the same programme twice."""
    edit = ("routes.csv", "R1;GLOST;2", "R1;GLOST;2\nR1;GLOST;0")
    with pytest.raises(InputFaulty, match="more than once in the route"):
        changed(tmp_path / "a", edit)
    works = changed(
        tmp_path / "b", edit, ("lots.csv", "PLATE-W;GLOST", "PLATE-W;3"), ("lots.csv", "CUP-B;3", "CUP-B;4")
    )
    assert [lot.step for lot in works.lots] == [0, 3, 2, 3]


def test_a_keep_out_beside_the_shelves_is_none_of_their_business(tmp_path: Path) -> None:
    """Guards bag walls and the like that stand from floor to roof off the shelves."""
    works = changed(
        tmp_path,
        ("kilns.toml", "from_z_mm = 500.0\nto_z_mm = 520.0", "from_z_mm = 0.0\nto_z_mm = 1000.0"),
    )
    assert works.kiln("G1").keep_outs[1].to_z_mm == 1000.0


def test_a_column_of_notes_is_not_read(tmp_path: Path) -> None:
    """Guards the owner's own columns."""
    assert changed(tmp_path, ("moulds.csv", "day\nCUP;10;2", "day;Note to self\nCUP;10;2;ask Ida")).supply.moulds


FIFTEEN = (
    ("works.toml", "headroom_mm", "head_room_mm"),
    ("works.toml", "crew_people = 2", 'crew_people = "two"'),
    ("kilns.toml", 'wall = "gas"', 'wall = "coal"'),
    ("kilns.toml", "usual_ware_kg = 60.0", "usual_ware_kg = -60.0"),
    ("kilns.toml", 'shape = "disc"', 'shape = "disk"'),
    ("shapes.csv", "tea cup;0,24", "tea cup;0,24 kg"),
    ("shapes.csv", "10 %", "10"),
    ("shapes.csv", "yes;;;", "perhaps;;;"),
    ("products.csv", "BLUE | GREEN", "BLUE | GREY"),
    ("products.csv", "CUP-OX;CUP;OX", "CUP-W;CUP;OX"),
    ("products.csv", ";9,5", ";9,5 EUR"),
    ("orders.csv", "18.12.2026", "12/18/2026"),
    ("orders.csv", "CUP-W;60", "CUP-W;-60"),
    ("orders.csv", "1001/2;1001", "1001/1;1001"),
    ("orders.csv", "Mill Shop", ""),
)


def test_fifteen_faults_in_five_files_are_told_at_once(tmp_path: Path) -> None:
    """Guards that nobody mends a folder one fault a run."""
    files = small_files()
    for file, old, new in FIFTEEN:
        assert files[file].count(old) == 1, (file, old)
        files[file] = files[file].replace(old, new)
    with pytest.raises(InputFaulty) as caught:
        read_works(write_files(tmp_path, files))
    found = sorted((one.file, one.row or 0, one.field) for one in caught.value.findings)
    assert found == [
        ("kilns.toml", 0, "kilns[G1].keep_outs[T1].outline.shape"),
        ("kilns.toml", 0, "kilns[G1].wall"),
        ("kilns.toml", 0, "kilns[K1].usual_ware_kg"),
        ("orders.csv", 2, "due"),
        ("orders.csv", 2, "quantity_pieces"),
        ("orders.csv", 3, "code"),
        ("orders.csv", 4, "customer"),
        ("products.csv", 2, "price_money"),
        ("products.csv", 3, "decorations"),
        ("products.csv", 6, "code"),
        ("shapes.csv", 2, "dry_kg"),
        ("shapes.csv", 2, "glost_shrinkage_share"),
        ("shapes.csv", 3, "flatware"),
        ("works.toml", 0, "calendar.shifts[1].crew_people"),
        ("works.toml", 0, "settings.head_room_mm"),
    ], "\n".join(map(str, caught.value.findings))


def test_a_finding_is_one_line(tmp_path: Path) -> None:
    """Guards the wording: a finding says file, row, field, found and wanted in one line."""
    files = small_files()
    files["shapes.csv"] = files["shapes.csv"].replace("tea cup;0,24", "tea cup;heavy")
    with pytest.raises(InputFaulty) as caught:
        read_works(write_files(tmp_path, files))
    finding: Finding = caught.value.findings[0]
    assert str(finding) == "shapes.csv, row 2, dry_kg: found heavy, wanted a number"
