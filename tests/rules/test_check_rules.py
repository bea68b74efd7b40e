"""The checker: a load made by hand has no finding, and every rule broken on purpose is caught, that rule alone."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

import pytest

from kilnpack.model.furniture import ShelfLot
from kilnpack.model.geometry import Disc, Rectangle
from kilnpack.model.kilns import ChamberKind, KeepOut, OffsetMap, OffsetReading, StackPlace
from kilnpack.model.orders import LotKind
from kilnpack.model.pieces import FootState, Stacking, StackWay, Stage
from kilnpack.rules.checker import audit
from tests.rules.small_audit import (
    rewrite,
    small_load,
    small_works,
    with_fills,
    with_form,
    with_kiln,
    with_settings,
    with_standing,
    with_step,
    with_stock,
    with_tier,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from kilnpack.model.loads import Load, PlaceFill
    from kilnpack.model.works import Works

Case: TypeAlias = "tuple[Works, Load]"
BIS, GLO, DEC = Stage.BISCUIT, Stage.GLOST, Stage.DECORATION


def rules_in(works: Works, load: Load) -> set[str]:
    """Return the rules that the checker finds broken."""
    return {finding.field.split()[0] for finding in audit(works, load).findings}


def works_and(load: Load) -> Case:
    """Return a load with the works as it is."""
    return small_works(), load


def settings_and(stage: Stage = GLO, **changes: object) -> Case:
    """Return the load of a stage with settings changed under it."""
    return with_settings(small_works(), **changes), small_load(stage)


def stock(kind: str, code: str, **changes: object) -> Case:
    """Return the glost load with furniture changed under it."""
    return with_stock(small_works(), kind, code, **changes), small_load()


def keep_out(what: str, x: float, y: float, low: float, high: float, **more: float) -> Case:
    """Return the glost load with a disc of 5 mm radius to keep out of."""
    keep = KeepOut(
        code="X", what=what, outline=Disc(x_mm=x, y_mm=y, r_mm=5), from_z_mm=low, to_z_mm=high, clear_mm=5, **more
    )
    return with_kiln(small_works(), keep_outs=(keep,)), small_load()


def columns(posts: tuple[str, ...], height_mm: float, works: Works | None = None) -> Case:
    """Return the glost load with other posts in stack A, heights made to fit."""
    load = with_tier(small_load(), 1, posts=posts, room_mm=height_mm)
    base = 42 + height_mm
    return works or small_works(), with_tier(load, 2, base_mm=base, room_mm=775 - base - 10)


def moved(setting: str, place: int, x: float, y: float, stage: Stage = GLO, **changes: object) -> Case:
    """Return the load of a stage with one body moved."""
    return small_works(), with_standing(small_load(stage), setting, place, x_mm=x, y_mm=y, **changes)


def on(code: str, support: str, stage: Stage = GLO, pieces: int = 1, works: Works | None = None) -> Case:
    """Return the load of a stage with a form on a support."""
    load = with_standing(small_load(stage), "HIGH", 1, x_mm=310, y_mm=265)
    return works or small_works(), with_form(load, code, support=support, pieces=pieces)


def stacked(code: str, way: StackWay, pieces: int, works: Works | None = None, spacer: str | None = None) -> Case:
    """Return the biscuit load with a form stacked."""
    load = with_form(small_load(BIS), code, way=way, pieces=pieces, spacer=spacer)
    return works or small_works(), load


def packs(place: int, **changes: object) -> Case:
    """Return the glost load with a cone pack changed."""
    rows = list(small_load().cone_packs)
    rows[place] = replace(rows[place], **changes)  # type: ignore[arg-type]
    return works_and(replace(small_load(), cone_packs=tuple(rows)))


def stacking(code: str, **changes: object) -> Works:
    """Return the works with the way of stacking of a shape changed."""
    works = small_works()
    rows = tuple(replace(way, **changes) for way in works.shape(code).stackings)  # type: ignore[arg-type]
    return replace(works, shapes=rewrite(works.shapes, code, stackings=rows))


def glaze(**changes: object) -> Works:
    """Return the works with the clear glaze changed."""
    works = small_works()
    return replace(works, glazes=rewrite(works.glazes, "CLEAR", **changes))


def swapped() -> Load:
    """Return the glost load with the saucer set after the bowl that leans over it."""
    load = small_load()
    a, b, *rest = load.setting("HIGH").standings
    return replace(load, settings=rewrite(load.settings, "HIGH", standings=(b, a, *rest)))


def lot_for(old: str, new: str) -> Callable[[PlaceFill], PlaceFill]:
    """Return a change of fills from one lot to another."""
    return lambda fill: replace(fill, lot=new) if fill.lot == old else fill


def chrome() -> Case:
    """Return a decoration load in which one lot gives off chrome and one tin white."""
    works = with_step(small_works(), "CUP", 2, decorations=("GREEN",))
    return with_step(works, "MUG", 2, vapours=("tin white",)), small_load(DEC)


def tin_with_chrome() -> Works:
    """Return the works with a tin-white cup beside a mug that gives off chrome, both in glost."""
    works = with_step(small_works(), "MUG", 1, vapours=("chrome",))
    return replace(works, products=rewrite(works.products, "CUP", glaze="TIN"))


def shifted_shelf() -> Case:
    """Return the glost load with a shelf on top whose posts stand 6 mm aside."""
    load = with_tier(with_tier(small_load(), 2, shelf="S2"), 2, "B", shelf="S2")
    high = rewrite(load.settings, "HIGH", shelf="S2")
    return works_and(replace(load, settings=high))


def lid_alone() -> Case:
    """Return the glost load with lids in place of cups."""
    load = small_load()
    rows = tuple(replace(at, form="LID" if at.form == "CUP" else at.form) for at in load.setting("LOW").standings)
    load = replace(load, settings=rewrite(load.settings, "LOW", standings=rows))
    for place in ("A", "B"):
        load = with_fills(load, lot_for("CUP1", "LID1"), place=place)
    return works_and(load)


def high_pack() -> Case:
    """Return the glost load with peepholes so high that the upper shelf cuts the sight."""
    works = small_works()
    holes = tuple(replace(hole, z_mm=155) for hole in works.kilns[0].peepholes)
    load = small_load()
    rows = tuple(replace(pack, lift_mm=75) for pack in load.cone_packs)
    return with_kiln(works, peepholes=holes), replace(load, cone_packs=rows)


def roof() -> Case:
    """Return the glost load in a kiln so low that the bowls come too near the roof."""
    load = small_load()
    for place in ("A", "B"):
        load = with_tier(load, 2, place, room_mm=59)
    return with_kiln(small_works(), usable_height_mm=286), load


def no_room_on_top() -> Case:
    """Return the glost load in a kiln that ends under the upper shelf."""
    load = small_load()
    for place in ("A", "B"):
        load = with_tier(load, 2, place, room_mm=-2, fills=(), setting="NONE")
    empty = replace(load.setting("HIGH"), code="NONE", standings=())
    return with_kiln(small_works(), usable_height_mm=225), replace(load, settings=(load.setting("LOW"), empty))


def turned_hole() -> Case:
    """Return the glost load with a peephole whose line of sight runs through a post."""
    works = small_works()
    holes = tuple(replace(hole, x_mm=hole.x_mm + 85) for hole in works.kilns[0].peepholes)
    load = small_load()
    rows = tuple(replace(pack, x_mm=285) for pack in load.cone_packs)
    return with_kiln(works, peepholes=holes), replace(load, cone_packs=rows)


def high_stubs() -> Case:
    """Return the glost load with stack A 3 mm higher than its stubs, all above it raised alike."""
    load = with_tier(with_tier(small_load(), 1, base_mm=33), 2, base_mm=195, room_mm=570)
    rows = (replace(load.cone_packs[0], lift_mm=67), load.cone_packs[1])
    return works_and(replace(load, cone_packs=rows))


def three_posts() -> Case:
    """Return the glost load on shelves of two posts; the shelf then also has no middle to stand on."""
    return stock("shelves", "S", posts_mm=((60.0, 60.0), (340.0, 290.0)))


def on_car(stage: Stage = GLO) -> Load:
    """Return the load of a stage on the car of the kiln."""
    return replace(small_load(stage), car="CAR")


CASES: dict[str, tuple[Callable[[], Case], set[str]]] = {
    "F1 shelf": (lambda: stock("shelves", "S", top_degc=1409), {"F1"}),
    "F1 post": (lambda: stock("posts", "P150", top_degc=1409), {"F1"}),
    "F1 stub": (lambda: stock("stubs", "ST30", top_degc=1409), {"F1"}),
    "F1 support": (
        lambda: on("SAUCER", "SET", works=with_stock(small_works(), "setters", "SET", top_degc=1409)),
        {"F1"},
    ),
    "F1 spacer": (
        lambda: stacked(
            "PLATE", StackWay.PILED, 4, with_stock(small_works(), "spacers", "SP", top_degc=980), spacer="SP"
        ),
        {"F1"},
    ),
    "F2 stock": (lambda: stock("shelves", "S", lots=(ShelfLot(count_pieces=4, condemned_pieces=1),)), {"F2"}),
    "F2 unknown": (lambda: works_and(with_tier(small_load(), 2, shelf="NONE")), {"F2"}),
    "F3 stock": (lambda: stock("posts", "P150", count_pieces=7), {"F3"}),
    "F3 slender": (lambda: stock("posts", "P150", side_mm=18), {"F3"}),
    "F3 order": (lambda: columns(("P50", "P100"), 150), {"F3"}),
    "F3 joined": (lambda: columns(("P50", "P50", "P50"), 150), {"F3"}),
    "F3 joined slender": (
        lambda: columns(("P100", "P50"), 150, with_settings(small_works(), joined_post_slender_ratio=3.7)),
        {"F3"},
    ),
    "F4": (lambda: stock("posts", "P150", spread_mm=1.1), {"F4"}),
    "F5": (three_posts, {"F5", "F13"}),
    "F6": (shifted_shelf, {"F6"}),
    "F7": (lambda: settings_and(post_inset_mm=41), {"F7"}),
    "F9 hot": (lambda: stock("shelves", "S", strength_mpa=0.1), {"F9"}),
    "F9 cold": (lambda: stock("shelves", "S", strength_mpa=None, cold_strength_mpa=0.2), {"F9"}),
    "F9 nothing known": (lambda: stock("shelves", "S", strength_mpa=None), {"F9"}),
    "F10 wall": (lambda: settings_and(shelf_wall_electric_mm=61), {"F10"}),
    "F10 neighbour": (lambda: settings_and(shelf_gap_mm=81), {"F10"}),
    "F12 bowed": (lambda: works_and(with_tier(small_load(), 2, flat=False)), {"F12"}),
    "F12 stock": (lambda: stock("shelves", "S", lots=(ShelfLot(count_pieces=6, bow_mm=1.5),)), {"F12"}),
    "F12 asked for": (
        lambda: (with_step(small_works(), "CUP", 2, flat_shelf=True), small_load(DEC)),
        {"F12"},
    ),
    "F13": (lambda: settings_and(balance_share=0.48), {"F13"}),
    "F14 stock": (lambda: stock("stubs", "ST30", count_pieces=7), {"F14"}),
    "F14 height": (high_stubs, {"F14"}),
    "F15 base": (lambda: works_and(with_tier(small_load(), 2, base_mm=195, room_mm=570)), {"F15"}),
    "F15 room": (lambda: works_and(with_tier(small_load(), 1, room_mm=152)), {"F15"}),
    "F17 posts on top": (lambda: works_and(with_tier(small_load(), 2, posts=("P150",), room_mm=150)), {"F17"}),
    "C1 biscuit": (lambda: moved("LOW", 2, 212.5, 200, BIS), {"C1"}),
    "C1 glost": (lambda: moved("LOW", 2, 218.5, 200), {"C1"}),
    "C1 decoration": (lambda: moved("LOW", 2, 220.5, 200, DEC), {"C1"}),
    "C1 decoration near softening": (
        lambda: (glaze(softening_degc=840), with_standing(small_load(DEC), "LOW", 2, x_mm=226.5)),
        {"C1"},
    ),
    "C2 biscuit": (lambda: moved("LOW", 1, 60, 225.5, BIS), {"C2"}),
    "C2 glost": (lambda: moved("LOW", 1, 60, 221.5), {"C2"}),
    "C3": (lambda: settings_and(headroom_mm=60.5), {"C3"}),
    "C4": (lambda: settings_and(ware_wall_electric_mm=150.5), {"C4"}),
    "C4 of the kiln": (lambda: (with_kiln(small_works(), wall_clear_mm=150.5), small_load()), {"C4"}),
    "C5 ware": (lambda: keep_out("thermocouple", 190, 245, 265, 270), {"C5"}),
    "C5 shelf": (lambda: keep_out("thermocouple", 260, 520, 190, 200), {"C5"}),
    "C6 floor": (lambda: settings_and(bottom_clear_mm=31), {"C6"}),
    "C6 roof": (roof, {"C6"}),
    "C6 top shelf": (no_room_on_top, {"C6"}),
    "C7 none": (lambda: works_and(replace(small_load(BIS), cone_packs=())), {"C7"}),
    "C7 too few": (lambda: settings_and(glost_packs_least=3), {"C7"}),
    "C7 twice": (
        lambda: works_and(replace(small_load(), cone_packs=(*small_load().cone_packs, small_load().cone_packs[0]))),
        {"C7"},
    ),
    "C7 of no hole": (lambda: packs(0, peephole="H9"), {"C7"}),
    "C7 no tier": (lambda: packs(0, tier=9), {"C7"}),
    "C7 aside": (lambda: packs(0, x_mm=206), {"C7"}),
    "C7 turned": (lambda: packs(0, turn_deg=0), {"C7"}),
    "C7 lift": (lambda: packs(0, lift_mm=60), {"C7"}),
    "C7 over the edge": (
        lambda: (with_settings(small_works(), cone_depth_mm=160), small_load()),
        {"C7"},
    ),
    "C7 shelf in sight": (high_pack, {"C7"}),
    "C7 ware in sight": (lambda: moved("LOW", 2, 270, 115), {"C7"}),
    "C7 post in sight": (turned_hole, {"C7"}),
    "C8 ware": (lambda: keep_out("burner", 190, 245, 208, 215), {"C8"}),
    "C8 shelf": (lambda: keep_out("flue", 52, 300, 195, 200), {"C8"}),
    "C8 post": (lambda: keep_out("burner", 120, 185, 100, 110), {"C8"}),
    "C8 stub": (lambda: keep_out("flue", 120, 185, 5, 10), {"C8"}),
    "C10": (
        lambda: (with_settings(with_kiln(small_works(), kind=ChamberKind.CAR), car_edge_mm=150.5), on_car()),
        {"C10"},
    ),
    "C11 refire": (
        lambda: (
            replace(small_works(), lots=rewrite(small_works().lots, "MUG1", kind=LotKind.REFIRE)),
            with_standing(small_load(), "LOW", 3, x_mm=187, y_mm=263),
        ),
        {"C1"},
    ),
    "C12": (lambda: settings_and(placing_mm=60), {"C1", "C2"}),
    "W1": (lambda: works_and(with_form(small_load(), "CUP", stage=BIS)), {"W1"}),
    "W2 foot": (lambda: moved("LOW", 1, 34.5, 200), {"W2"}),
    "W2 rim": (
        lambda: (
            with_kiln(small_works(), chamber=Rectangle(w_mm=1010, d_mm=600)),
            with_standing(small_load(), "HIGH", 2, x_mm=341),
        ),
        {"W2"},
    ),
    "W3": (lambda: moved("HIGH", 2, 224.5, 120), {"C1"}),
    "W4 too many": (
        lambda: stacked("BOWL", StackWay.NESTED, 4, stacking("BOWL", most_pieces=3)),
        {"W4"},
    ),
    "W4 too heavy": (
        lambda: stacked("BOWL", StackWay.NESTED, 4, stacking("BOWL", load_limit_factor=2)),
        {"W4"},
    ),
    "W4 tight nest": (lambda: stacked("BOWL", StackWay.NESTED, 2, stacking("BOWL", loose_mm=3)), {"W4"}),
    "C10 loose pile": (
        lambda: (
            with_settings(with_kiln(small_works(), kind=ChamberKind.CAR), car_edge_mm=0),
            with_form(on_car(BIS), "PLATE", way=StackWay.PILED, pieces=3),
        ),
        {"C10"},
    ),
    "W4 bare pile": (lambda: stacked("PLATE", StackWay.PILED, 4), {"W4"}),
    "W4 spacer stock": (
        lambda: stacked(
            "PLATE", StackWay.PILED, 4, with_stock(small_works(), "spacers", "SP", count_pieces=17), spacer="SP"
        ),
        {"W4"},
    ),
    "W4 with a lid": (
        lambda: stacked(
            "CUP",
            StackWay.BOXED,
            2,
            replace(
                small_works(),
                shapes=rewrite(small_works().shapes, "CUP", lid=small_works().shape("POT").lid),
                settings=replace(small_works().settings, headroom_mm=0),
            ),
        ),
        {"W4", "C3"},
    ),
    "W5 two at one place": (lambda: works_and(with_form(small_load(BIS), "SAUCER", pieces=2)), {"W5"}),
    "W5 stacked in glost": (
        lambda: works_and(with_form(small_load(), "BOWL", way=StackWay.NESTED, pieces=2)),
        {"W5"},
    ),
    "W5 raw with glazed": (lambda: works_and(with_fills(small_load(), lot_for("CUP1", "CUP0"))), {"W5"}),
    "W6": (lambda: (with_step(small_works(), "CUP", 1, foot=FootState.GLAZED), small_load()), {"W6"}),
    "W7 points": (
        lambda: on("SAUCER", "STILT", DEC, works=with_stock(small_works(), "stilts", "STILT", points=2)),
        {"W7"},
    ),
    "W7 points outside the foot": (
        lambda: on("SAUCER", "STILT", DEC, works=with_stock(small_works(), "stilts", "STILT", contact_r_mm=31)),
        {"W7"},
    ),
    "W7 overhang": (
        lambda: on("SAUCER", "STILT", DEC, works=with_settings(small_works(), stilt_overhang_mm=29)),
        {"W7"},
    ),
    "W7 hard porcelain": (
        lambda: on("SAUCER", "STILT", works=with_stock(small_works(), "stilts", "STILT", top_degc=1700)),
        {"W7"},
    ),
    "W7 stock": (
        lambda: on("SAUCER", "STILT", DEC, works=with_stock(small_works(), "stilts", "STILT", count_pieces=1)),
        {"W7"},
    ),
    "W8 asked for": (lambda: (with_step(small_works(), "PLATE", 1, supports=("SET",)), small_load()), {"W8"}),
    "W8 another": (
        lambda: on("SAUCER", "DISC", works=with_step(small_works(), "SAUCER", 1, supports=("SET",))),
        {"W8"},
    ),
    "W8 too many": (
        lambda: on("SAUCER", "SET", pieces=2, works=with_stock(small_works(), "setters", "SET", most_pieces=1)),
        {"W8"},
    ),
    "W8 too wide": (
        lambda: on("SAUCER", "SET", works=with_stock(small_works(), "setters", "SET", inner_mm=99)),
        {"W8"},
    ),
    "W8 too high": (
        lambda: on("SAUCER", "SET", pieces=2, works=with_stock(small_works(), "setters", "SET", pitch_mm=14)),
        {"W8"},
    ),
    "W8 stock": (
        lambda: on("SAUCER", "SET", pieces=2, works=with_stock(small_works(), "setters", "SET", count_pieces=3)),
        {"W8"},
    ),
    "W9": (lid_alone, {"W9"}),
    "W10 no disc": (lambda: (glaze(runny=True), small_load()), {"W10"}),
    "W10 disc too small": (
        lambda: on("SAUCER", "DISC", works=with_stock(small_works(), "catch_discs", "DISC", outer_mm=59)),
        {"W10"},
    ),
    "W10 stock": (
        lambda: on("SAUCER", "DISC", works=with_stock(small_works(), "catch_discs", "DISC", count_pieces=1)),
        {"W10"},
    ),
    "W13": (lambda: works_and(swapped()), {"W13"}),
    "Z2 too cold": (lambda: (with_step(small_works(), "CUP", 1, low_degc=1381), small_load()), {"Z2"}),
    "Z2 too hot": (lambda: (glaze(high_degc=1399), small_load()), {"Z2"}),
    "Z2 decoration": (
        lambda: (
            replace(
                with_step(small_works(), "CUP", 2, decorations=("GREEN",)),
                decorations=rewrite(small_works().decorations, "GREEN", high_degc=809),
            ),
            small_load(DEC),
        ),
        {"Z2"},
    ),
    "Z4": (lambda: (with_step(small_works(), "CUP", 1, programme="RED"), small_load()), {"Z4"}),
    "Z4 same atmosphere": (lambda: (with_step(small_works(), "CUP", 1, programme="SLOW"), small_load()), {"programme"}),
    "Z5": (chrome, {"Z5"}),
    "Z5 glaze": (lambda: (tin_with_chrome(), small_load()), {"Z5"}),
}


@pytest.mark.parametrize("stage", list(Stage))
def test_a_load_made_by_hand_has_no_finding(stage: Stage) -> None:
    """Guards against false alarms: twelve pieces in round numbers, at every stage."""
    found = audit(small_works(), small_load(stage))
    assert found.findings == ()
    assert (found.pieces, found.tiers) == (12, 4)
    assert found.tightest_headroom is not None
    assert found.tightest_headroom.mm == pytest.approx(60.0)


@pytest.mark.parametrize("name", CASES)
def test_every_rule_broken_on_purpose_is_caught_alone(name: str) -> None:
    """Guards every hard rule: one change breaks it, and the checker names it and nothing else."""
    change, wanted = CASES[name]
    works, load = change()
    assert rules_in(works, load) == wanted


def test_heights_rounded_tier_after_tier_do_not_add_up() -> None:
    """Guards F15: tiers 0.4 mm too high each are 0.8 mm off at the third, which then is no rounding any more."""
    load = small_load()
    stack, other = load.stacks
    second = replace(stack.tiers[1], posts=("P150",), room_mm=150.0, setting="LOW", fills=stack.tiers[0].fills)
    third = replace(stack.tiers[1], number=3, base_mm=354.0, room_mm=411.0)

    def raised(by_mm: float) -> Load:
        tiers = (
            stack.tiers[0],
            replace(second, base_mm=192.0 + by_mm),
            replace(third, base_mm=354.0 + 2 * by_mm, room_mm=411.0 - 2 * by_mm),
        )
        return replace(load, stacks=(replace(stack, tiers=tiers), other))

    assert [finding.field for finding in audit(small_works(), raised(0.2)).findings] == []
    assert [finding.field for finding in audit(small_works(), raised(0.4)).findings] == ["F15 stack A tier 3"]


def test_the_tightest_gap_is_named() -> None:
    """Guards the figure on the sheet: 80 mm apart less two rims of 40 mm leaves what was left."""
    works, load = moved("LOW", 2, 219, 200)
    found = audit(works, load)
    assert found.findings == ()
    assert found.tightest_gap is not None
    assert found.tightest_gap.mm == pytest.approx(9.0)
    assert (found.tightest_gap.place, found.tightest_gap.tier) == ("A", 1)
    assert found.tightest_gap.what == "CUP at place 1 and CUP at place 2"


def test_offsets_read_in_the_kiln_replace_the_spread() -> None:
    """Guards Z1: a shelf near a hot reading is judged by that reading, one near a cold reading by its own."""
    works = with_step(small_works(), "MUG", 1, high_degc=1395)
    assert rules_in(works, small_load()) == {"Z2"}
    hot = OffsetReading(x_mm=0, y_mm=0, z_mm=0, offset_k=4.0)
    works = with_kiln(works, offsets=(OffsetMap(stage=GLO, readings=(hot, replace(hot, x_mm=900, offset_k=2.0))),))
    assert rules_in(works, small_load()) == set()
    works = with_kiln(works, offsets=(OffsetMap(stage=GLO, spread_k=4.9),))
    assert rules_in(works, small_load()) == set()


def test_rims_of_neighbours_stay_in_their_half_of_the_gap() -> None:
    """Guards W2: shelves 12 mm apart leave a rim 6 mm although it may reach 10 mm over the edge."""
    works = with_kiln(
        small_works(),
        places=(
            StackPlace(code="A", shelf="S", x_mm=60, y_mm=125),
            StackPlace(code="B", shelf="S", x_mm=472, y_mm=125),
            StackPlace(code="C", shelf="NONE", x_mm=0, y_mm=0),
        ),
        peepholes=(),
    )
    load = with_standing(replace(small_load(BIS), cone_packs=()), "HIGH", 2, x_mm=335.5)
    assert rules_in(works, load) == set()
    load = with_standing(load, "HIGH", 2, x_mm=338.5)
    fields = [finding.field for finding in audit(works, load).findings]
    assert fields == ["W2 stack A tier 2 place 2"]


@pytest.mark.source("roark", "cantilever and simply supported beam, uniform load")
def test_bending_against_beams() -> None:
    """Guards F9 and F16 against the closed forms of beams.

    Four posts 280 x 230 mm: M = q L^2 / 8 with q = 9.80665 x 10 kg / 140000 mm2 = 7.0048e-4 MPa, L = 280 mm, so
    M = 6.8647 N mm/mm; W = t^2 / 6 = 16.667 mm2; sigma = 0.41188 MPa, and 1.25 times that is 0.51485 MPa.
    Three posts: the corner 340/290 is left free; from it to the line 60/290 - 340/60 the shelf's corner 400/350 is a
    cantilever of c = 240.52 mm (distance of a point from a line), M = q c^2 / 2, sigma = 3 q c^2 / t^2 = 1.2157 MPa.
    """
    from kilnpack.rules.check_stacks import bending_mpa

    shelf = small_works().furniture.shelves[0]
    assert bending_mpa(shelf, 6.0) == pytest.approx(0.51485, rel=1e-4)
    three = replace(shelf, posts_mm=(shelf.posts_mm[0], shelf.posts_mm[1], shelf.posts_mm[3]))
    a, b, p = (60.0, 290.0), (340.0, 60.0), (400.0, 350.0)
    cross = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
    free = cross / ((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5
    load_mpa = 9.80665 * 10 / 140000
    assert bending_mpa(three, 6.0) == pytest.approx(load_mpa * free**2 / 2 / (100 / 6), rel=1e-6)


def test_a_bench_of_shelf_shapes_is_judged_in_its_own_frame() -> None:
    """Guards the frames: a stack turned by a right angle is judged like the same stack unturned."""
    works = with_kiln(
        small_works(),
        chamber=Rectangle(w_mm=600, d_mm=1000),
        places=(StackPlace(code="A", shelf="S", x_mm=475, y_mm=60, turn_deg=90),),
        peepholes=(),
    )
    load = small_load(BIS)
    load = replace(load, stacks=load.stacks[:1], cone_packs=())
    assert rules_in(works, load) == set()
    near = with_standing(load, "LOW", 1, x_mm=60, y_mm=225.5)
    assert rules_in(works, near) == {"C2"}


def test_stackings_without_fault_pass() -> None:
    """Guards W4 against false alarms: nested, piled with spacers and boxed as the shapes allow."""
    for works, load in (
        stacked("BOWL", StackWay.NESTED, 4),
        stacked("PLATE", StackWay.PILED, 3),
        stacked("PLATE", StackWay.PILED, 6, with_settings(small_works()), spacer="SP"),
    ):
        broken = rules_in(works, load)
        assert broken <= {"W4"}
        assert ("W4" in broken) == (load.form("PLATE").pieces == 6)
    assert Stacking(way=StackWay.PILED, most_pieces=2, load_limit_factor=1).bare_most_pieces == 3


def test_a_hole_for_looking_only_books_nothing() -> None:
    """Guards C7: a peephole without cones asks for no pack and keeps nothing free."""
    works = small_works()
    first, second = works.kilns[0].peepholes
    works = with_kiln(works, peepholes=(first, replace(second, has_pack=False)))
    load = replace(small_load(BIS), cone_packs=small_load().cone_packs[:1])
    assert rules_in(works, load) == set()
