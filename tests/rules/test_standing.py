"""Guards how ware may stand: W4-W10, F1."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from kilnpack.model.furniture import CatchDisc, Setter, Stilt
from kilnpack.model.geometry import Disc, ExtrudedPart, RoundedPolygon, TurnedPart
from kilnpack.model.loads import BodyForm
from kilnpack.model.pieces import FootState, Lid, Stacking, StackWay, Stage
from kilnpack.rules.standing import Firing, is_lid, is_loose_pile, stacked_forms, ways_to_stand
from kilnpack.rules.supports import Barred, outline_inner_mm, outline_reach_mm, reach_mm, supports_for, unsuited
from kilnpack.shapes.bodies import stand
from tests.rules.small_rules import changed, works

if TYPE_CHECKING:
    from kilnpack.model.loads import BodyForm as Form
    from kilnpack.model.works import Works
    from kilnpack.shapes.bodies import Body

GLOST = Firing(stage=Stage.GLOST, peak_degc=1400.0, furniture_degc=1420.0)
SOFT_GLOST = Firing(stage=Stage.GLOST, peak_degc=1240.0, furniture_degc=1260.0)
BISCUIT = Firing(stage=Stage.BISCUIT, peak_degc=980.0, furniture_degc=1000.0)
DECORATION = Firing(stage=Stage.DECORATION, peak_degc=800.0, furniture_degc=820.0)
STILT = Stilt(
    code="clay", height_mm=12.0, contact_r_mm=20.0, foot_r_mm=22.0, points=3, mass_kg=0.1, top_degc=1290.0,
    count_pieces=5,
)  # fmt: skip
SETTER = Setter(
    code="crank", outer_mm=260.0, inner_mm=170.0, seat_mm=6.0, pitch_mm=45.0, most_pieces=4, mass_kg=0.8,
    top_degc=1600.0, count_pieces=10,
)  # fmt: skip
DISC = CatchDisc(code="disc", outer_mm=110.0, height_mm=9.0, mass_kg=0.15, top_degc=1600.0, count_pieces=15)


def with_stilts(**settings: Any) -> Works:
    """Return a works that has clay stilts to 1290 degC."""
    made = works(**settings)
    return replace(made, furniture=replace(made.furniture, stilts=(STILT,)))


def ways(made: Works, firing: Firing, product: str = "cup-white", **step: Any) -> tuple[tuple[Form, ...], list[str]]:
    """Return the forms of a product in a firing, its step changed, and the rules that bar it."""
    row = made.product(product)
    own = next(one for one in row.route if one.stage is firing.stage)
    forms, barred = ways_to_stand(made, firing, row, replace(own, **step))
    return forms, [why.rule for why in barred]


def bare(made: Works, shape: str, stage: Stage = Stage.DECORATION) -> Body:
    """Return a piece on the shelf."""
    return stand(made, BodyForm(code="bare", shape=shape, stage=stage))


def test_raw_ware_stands_alone_or_stacked() -> None:
    """Guards W4 and W5: boxed cups in biscuit, one cup a place in glost."""
    forms, barred = ways(works(), BISCUIT)
    assert [(form.code, form.way, form.pieces) for form in forms] == [
        ("cup-b", None, 1),
        ("cup-b-boxed2", StackWay.BOXED, 2),
    ]
    assert barred == []
    assert [form.code for form in ways(works(), GLOST)[0]] == ["cup-g"]
    assert [form.code for form in ways(works(), DECORATION)[0]] == ["cup-d"]


@pytest.mark.source("memory", "W4: a cup carries 3 times, a plate 5 times its own mass")
@pytest.mark.parametrize(
    ("factor", "most"), [(0.0, []), (1.0, [2]), (2.9, [2, 3]), (3.0, [2, 3, 4]), (9.0, [2, 3, 4, 5])]
)
def test_stacks_end_where_the_lowest_piece_bears_no_more(factor: float, most: list[int]) -> None:
    """Guards W4: n pieces put n - 1 times its own mass on the lowest one, to at most five."""
    made = works()
    way = Stacking(way=StackWay.NESTED, step_mm=10.0, most_pieces=5, load_limit_factor=factor)
    shape = replace(made.shape("bowl"), stackings=(way,))
    assert [form.pieces for form in stacked_forms(made, shape, 1000.0)] == most


def test_nested_ware_needs_play_and_lidded_ware_is_not_stacked() -> None:
    """Guards W4: 4 mm of play for nested ware; a pot with its lid in place carries nothing."""
    made = works()
    way = Stacking(way=StackWay.NESTED, step_mm=10.0, most_pieces=2, load_limit_factor=9.0, loose_mm=3.9)
    bowl = made.shape("bowl")
    assert list(stacked_forms(made, replace(bowl, stackings=(way,)), 1000.0)) == []
    assert len(list(stacked_forms(made, replace(bowl, stackings=(replace(way, loose_mm=4.0),)), 1000.0))) == 1
    lidded = replace(bowl, stackings=(replace(way, way=StackWay.BOXED),), lid=Lid(shape="cup", seat_mm=50.0))
    assert list(stacked_forms(made, lidded, 1000.0)) == []


def test_piles_above_the_bare_number_need_spacers_that_stand_the_heat() -> None:
    """Guards W4 and F1: two plates bare, more on spacers, none more without spacers or in a heat they do not stand."""
    made = works()
    plate = made.shape("plate")
    assert [(form.pieces, form.spacer) for form in stacked_forms(made, plate, 1000.0)] == [
        (2, None), (3, "pin"), (4, "pin"), (5, "pin"),
    ]  # fmt: skip
    assert [form.pieces for form in stacked_forms(made, plate, 1601.0)] == [2]
    no_pins = replace(plate, stackings=(replace(plate.stackings[0], spacer=None),))
    assert [form.pieces for form in stacked_forms(made, no_pins, 1000.0)] == [2]
    # Spacers count as weight: 3 of 0.5 kg to a gap leave room for none of them.
    heavy = changed(made, "spacers", "pin", mass_kg=0.5)
    assert [form.pieces for form in stacked_forms(heavy, plate, 1000.0)] == [2]


def test_lids_are_fired_on_their_pots_until_decoration() -> None:
    """Guards W9: alone in decoration only."""
    made = works()
    made = changed(made, "shapes", "bowl", lid=Lid(shape="cup", seat_mm=50.0))
    assert is_lid(made, made.shape("cup"))
    assert not is_lid(made, made.shape("bowl"))
    assert ways(made, BISCUIT) == ((), ["W9"])
    assert ways(made, GLOST) == ((), ["W9"])
    assert [form.code for form in ways(made, DECORATION)[0]] == ["cup-d"]


def test_a_support_that_is_asked_for_is_used_in_every_stage() -> None:
    """Guards W8: also in biscuit, where ware then does not stand on the shelf or on each other."""
    for firing, mark in ((BISCUIT, "b"), (GLOST, "g"), (DECORATION, "d")):
        assert [form.code for form in ways(works(), firing, supports=("disc",))[0]] == [f"cup-{mark}-disc"]


@pytest.mark.source("pottery-forum", "W6: glaze touches nothing where it softens")
def test_a_glazed_foot_stands_on_points_or_a_setter_where_its_glaze_softens() -> None:
    """Guards W6: barred on the bare shelf and on a disc in glost, free where the glaze stays hard."""
    made = with_stilts()
    made = changed(made, "glazes", "white", softening_degc=1200.0)
    assert ways(made, GLOST, foot=FootState.GLAZED) == ((), ["W6"])
    assert ways(made, GLOST, foot=FootState.GLAZED, supports=("disc",)) == ((), ["W6"])
    assert {form.support for form in ways(made, GLOST, foot=FootState.GLAZED, supports=("crank", "disc"))[0]} == {
        "crank"
    }
    assert [form.support for form in ways(made, DECORATION, foot=FootState.GLAZED)[0]] == [None]
    unglazed = replace(made, products=tuple(replace(row, glaze=None) for row in made.products))
    assert [form.support for form in ways(unglazed, GLOST, foot=FootState.GLAZED)[0]] == [None]


@pytest.mark.source("furniture-suppliers", "W7: all-clay stilts to about 1300; none under hard porcelain at glost")
def test_no_loose_pile_rides_on_a_car() -> None:
    """Guards C10: on a car a plate is piled on spacers or not at all, in a kiln that stands still also bare."""
    bare = BodyForm(code="p2", shape="PLATE", stage=Stage.BISCUIT, way=StackWay.PILED, pieces=2)
    assert is_loose_pile(bare)
    assert not is_loose_pile(replace(bare, spacer="PIN"))
    assert not is_loose_pile(replace(bare, way=StackWay.NESTED))


def test_stilts_stand_their_own_heat_and_never_carry_hard_porcelain() -> None:
    """Guards W7 and F1: clay to 1290 serves a glost at 1240; at 1400 heat bars it; a hotter stilt is barred as such."""
    made = with_stilts()
    assert [form.support for form in ways(made, SOFT_GLOST, supports=("clay",))[0]] == ["clay"]
    assert ways(made, GLOST, supports=("clay",)) == ((), ["F1"])
    hot = changed(made, "stilts", "clay", top_degc=1600.0)
    assert ways(hot, GLOST, supports=("clay",)) == ((), ["W7"])
    assert {form.support for form in ways(hot, GLOST, supports=("clay", "crank"))[0]} == {"crank"}
    assert [form.support for form in ways(hot, DECORATION, supports=("clay",))[0]] == ["clay"]
    bone = changed(with_stilts(hard_porcelain_degc=1200.0), "stilts", "clay", top_degc=1600.0)
    assert ways(bone, SOFT_GLOST, supports=("clay",)) == ((), ["W7"])


@pytest.mark.source("pottery-forum", "W10: runny glaze on its own disc")
def test_a_runny_glaze_stands_on_a_disc_in_glost() -> None:
    """Guards W10: on any disc where none is named, on a named one, on nothing else; free in decoration."""
    made = changed(works(), "glazes", "white", runny=True)
    assert [form.support for form in ways(made, GLOST)[0]] == ["disc"]
    assert [form.support for form in ways(made, GLOST, supports=("crank", "disc"))[0]] == ["disc"]
    assert ways(made, GLOST, supports=("crank",)) == ((), ["W10"])
    assert [form.support for form in ways(made, DECORATION)[0]] == [None]
    none = replace(made, furniture=replace(made.furniture, catch_discs=()))
    assert ways(none, GLOST) == ((), ["W10"])
    glazed = changed(made, "glazes", "white", softening_degc=1200.0)
    assert ways(glazed, GLOST, foot=FootState.GLAZED) == ((), ["W6"])


def test_the_first_reason_is_given_where_no_support_suits() -> None:
    """Guards that ware is barred with the rule of the support, and only where none of several suits."""
    made = changed(works(), "catch_discs", "disc", outer_mm=10.0)
    assert ways(made, GLOST, supports=("disc",)) == ((), ["W10"])
    assert {form.support for form in ways(made, GLOST, supports=("disc", "crank"))[0]} == {"crank"}
    product = made.product("cup-white")
    assert supports_for(made, product, product.route[1], peak_degc=1400.0, asked_degc=1420.0) == (None,)


def test_setters_stack_where_the_ware_keeps_under_the_pitch() -> None:
    """Guards W8. Pitch 45 mm: a plate of 22 mm stacks four high, a cup of 60 mm stands in one setter."""
    made = works()
    plate, _ = ways(made, DECORATION, "plate-white", supports=("crank",))
    assert [(form.code, form.pieces) for form in plate] == [(f"plate-d-crankx{n}", n) for n in (1, 2, 3, 4)]
    cup, _ = ways(made, DECORATION, "cup-white", supports=("crank",))
    assert [form.pieces for form in cup] == [1]


def test_setters_take_the_widest_ware_and_discs_the_whole_foot() -> None:
    """Guards W8 and W10: a bowl 140 mm wide on a foot of 60 mm."""
    made = works()
    body = bare(made, "bowl")
    assert reach_mm(body) == 70.0
    assert unsuited(made.settings, replace(SETTER, inner_mm=140.0), body) is None
    assert unsuited(made.settings, replace(SETTER, inner_mm=139.0), body) == Barred(
        rule="W8", reason="the setter takes 139 mm, the ware is 140 mm wide"
    )
    assert unsuited(made.settings, replace(DISC, outer_mm=60.0), body) is None
    assert unsuited(made.settings, replace(DISC, outer_mm=59.0), body) == Barred(
        rule="W10", reason="the disc is 59 mm wide, the foot 60 mm"
    )


@pytest.mark.source("glazeware-loading", "W7: three points inside the foot, overhang at most 100 mm")
def test_stilts_touch_inside_the_foot_and_carry_no_wide_rim() -> None:
    """Guards W7. The bowl's foot ends at 30 mm and its rim at 70: points within 30, overhang 50 over points at 20."""
    made = works()
    body = bare(made, "bowl")
    settings = replace(made.settings, stilt_overhang_mm=50.0)

    def why(stilt: Stilt) -> str | None:
        found = unsuited(settings, stilt, body)
        return found.reason if found else None

    assert why(STILT) is None
    assert why(replace(STILT, points=2)) == "a stilt needs 3 points"
    assert why(replace(STILT, contact_r_mm=30.0)) is None
    assert why(replace(STILT, contact_r_mm=31.0)) == "the stilt touches at 31 mm, the foot ends at 30 mm"
    assert why(replace(STILT, contact_r_mm=19.0)) == "the ware overhangs the stilt by more than 50 mm"
    # The largest piece is drawn 1.1 times; the smallest is 1.1 times smaller than drawn, its foot 30 / 1.1 = 27.3 mm.
    scattered = works(size_scatter_share=0.1)
    found = unsuited(scattered.settings, replace(STILT, contact_r_mm=28.0), bare(scattered, "bowl"))
    assert found is not None
    assert found.reason == "the stilt touches at 28 mm, the foot ends at 27 mm"


def test_reach_and_inner_radius_of_outlines() -> None:
    """Guards the geometry under W7, W8, W10: discs off the axis, rounded squares, capsules, and parts of every kind."""
    square = RoundedPolygon(corners_mm=((-30.0, -40.0), (30.0, -40.0), (30.0, 40.0), (-30.0, 40.0)), round_mm=5.0)
    off = RoundedPolygon(corners_mm=((10.0, -5.0), (20.0, -5.0), (20.0, 5.0), (10.0, 5.0)))
    capsule = RoundedPolygon(corners_mm=((-3.0, 4.0), (3.0, 4.0)), round_mm=10.0)
    disc = Disc(x_mm=3.0, y_mm=4.0, r_mm=12.0)
    assert [outline_reach_mm((one,)) for one in (square, capsule, disc)] == [55.0, 15.0, 17.0]
    assert [outline_inner_mm((one,)) for one in (square, off, capsule, disc)] == [35.0, -10.0, 6.0, 7.0]
    assert outline_inner_mm((off, disc)) == 7.0
    body = replace(
        bare(works(), "cup"),
        parts=(
            TurnedPart(profile_mm=((0.0, 5.0), (9.0, 20.0)), x_mm=6.0, y_mm=8.0),
            ExtrudedPart(from_z_mm=0.0, to_z_mm=9.0, outline=(disc,)),
        ),
    )
    assert reach_mm(body) == 30.0
